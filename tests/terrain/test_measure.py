"""The terrain stage on tiny worlds: exact planes at every bearing, profiles, blocks, mappers."""

import pickle
from collections.abc import Callable, Iterable
from dataclasses import fields
from pathlib import Path
from typing import TypeVar

import numpy as np
import pytest
import shapely

from pipeline.errors import DataError, InputMissingError
from pipeline.survey.model import Network
from pipeline.terms import Basis
from pipeline.terrain import measure
from pipeline.terrain.measure import measure_terrain
from pipeline.terrain.model import Profiles, Terrain, TerrainParameters
from tests.worlds import (
    Floats,
    Grid,
    Surface,
    at,
    bowl,
    crest,
    network_of,
    plane,
    step,
    surface_terrain,
    write_elevation,
)

Block = TypeVar("Block")
Result = TypeVar("Result")


def terrain_on(tmp_path: Path, network: Network, surface: Surface, grid: Grid | None = None) -> Terrain:
    """Write a surface as a file and measure a network on it."""
    path = write_elevation(tmp_path / "ground.tif", surface, grid)
    return measure_terrain(network, TerrainParameters(elevation=(path,)))


def star(bearings: Iterable[float], length: float = 24.0) -> Network:
    """Give a segment a bearing, all from the middle of the tiny world (they share one node)."""
    lines = {}
    for bearing in bearings:
        turn = np.radians(bearing)
        lines[f"b{bearing:g}"] = at((30, 30), (30 + length * np.sin(turn), 30 + length * np.cos(turn)))
    return network_of(lines)


def test_a_tilted_plane_is_exact_at_every_bearing(tmp_path: Path) -> None:
    """Grade = ∇z·t and cross = ∇z·n to 0.01°, and grade² + cross² = |∇z|², all round the compass."""
    bearings = np.arange(0.0, 360.0, 15.0)
    east, north = 0.45, -0.3
    terrain = terrain_on(tmp_path, star(bearings), plane(east, north))
    s = terrain.stations
    for row, bearing in enumerate(np.radians(bearings)):
        part = slice(s.offsets[row], s.offsets[row + 1])
        grade = east * np.sin(bearing) + north * np.cos(bearing)
        cross = east * np.cos(bearing) - north * np.sin(bearing)
        assert np.degrees(np.arctan(s.grade[part])) == pytest.approx(np.degrees(np.arctan(grade)), abs=0.01)
        assert np.degrees(np.arctan(s.cross[part])) == pytest.approx(np.degrees(np.arctan(cross)), abs=0.01)
        assert np.degrees(s.bearing_rad[part]) == pytest.approx(np.degrees(bearing), abs=1e-4)
    assert s.grade**2 + s.cross**2 == pytest.approx(east**2 + north**2, abs=1e-4)


def test_stations_are_those_of_the_closed_form(tmp_path: Path) -> None:
    """Every column of a crooked network on a bowl, as a plain twin without files has it."""
    shape = bowl(*at((30, 30))[0], 0.01)
    network = network_of(
        {"a": at((5, 5), (20, 9), (33, 30)), "b": at((33, 30), (50, 52.3)), "c": at((33, 30), (40, 10), (52, 9))}
    )
    got, twin = (
        terrain_on(tmp_path, network, shape, Grid(dtype="float64")).stations,
        surface_terrain(network, shape).stations,
    )
    assert got.offsets.tolist() == twin.offsets.tolist()
    for name in ("chainage_m", "x", "y", "z", "bearing_rad"):
        assert getattr(got, name) == pytest.approx(getattr(twin, name), abs=1e-5), name
    for name in ("grade", "cross"):
        assert getattr(got, name) == pytest.approx(getattr(twin, name), abs=2e-4), name
    assert (got.basis == Basis.DEM).all()
    assert (got.cell_m == 1.0).all()


def test_arrays_have_the_types_of_the_model(tmp_path: Path) -> None:
    """Coordinates in double, heights in single precision, offsets as 64-bit integers."""
    terrain = terrain_on(tmp_path, star([0, 90]), plane())
    kinds = {"f": {"z", "bearing_rad", "grade", "cross", "curvature", "cell_m"}, "d": {"chainage_m", "x", "y"}}
    for char, names in kinds.items():
        assert {getattr(terrain.stations, name).dtype.char for name in names} == {char}
    assert terrain.stations.basis.dtype == np.uint8
    for field in fields(Profiles):
        value = getattr(terrain.profiles, field.name)
        if field.name.endswith("_m") and field.name != "step_m":
            assert value.dtype == np.float64, field.name
        elif isinstance(value, np.ndarray) and field.name not in {"z", "basis"}:
            assert value.dtype == np.int64, field.name


def plain_heights(network: Network, profiles: Profiles, run: int, surface: Surface) -> list[float]:
    """Give the heights of a run plainly: piece by piece, shapely for the place, the closed form for the height."""
    heights = []
    for k in range(profiles.offsets[run + 1] - profiles.offsets[run]):
        along = profiles.start_m[run] + k * profiles.step_m
        pieces = range(profiles.piece_offsets[run], profiles.piece_offsets[run + 1])
        p = next(p for p in pieces if profiles.piece_from_m[p] - 1e-6 <= along <= profiles.piece_to_m[p] + 1e-6)
        chainage = (along - profiles.piece_zero_m[p]) * profiles.piece_sign[p]
        point = shapely.line_interpolate_point(network.segments.geometry.iloc[profiles.piece_segment[p]], chainage)
        heights.append(float(surface.height(np.float64(point.x), np.float64(point.y))))
    return heights


def test_profiles_are_the_ground_under_their_pieces(tmp_path: Path) -> None:
    """All runs of a junction: own stretch, continuation and ways across, against a plain twin on a paraboloid."""
    shape = bowl(*at((30, 30))[0], 0.02)
    network = network_of(
        {
            "a": at((8, 30), (33, 31)),
            "b": at((52, 33), (33, 31)),
            "c": at((33, 31), (30, 36)),
            "d": at((30, 36), (31, 55)),
        }
    )
    terrain = terrain_on(tmp_path, network, shape, Grid(dtype="float64"))
    profiles = terrain.profiles
    assert profiles.segment.size > 4
    assert profiles.segment[:4].tolist() == [0, 1, 2, 3]
    for run in range(profiles.segment.size):
        got = profiles.z[profiles.offsets[run] : profiles.offsets[run + 1]]
        assert got == pytest.approx(plain_heights(network, profiles, run, shape), abs=2e-3)
        assert got.size > 100
    assert (profiles.basis == Basis.DEM).all()


def test_a_run_covers_its_own_stretch_and_ten_metres_beyond(tmp_path: Path) -> None:
    """The first sample lies at −10 m where there is a neighbour, at 0 where there is none; likewise at the end."""
    network = network_of({"a": at((5, 30), (30, 30)), "b": at((30, 30), (55, 30))})
    profiles = terrain_on(tmp_path, network, plane()).profiles
    last = profiles.start_m + (np.diff(profiles.offsets) - 1) * profiles.step_m
    assert profiles.start_m == pytest.approx([0.0, -10.0])
    assert last == pytest.approx([35.0, 25.0])


def test_heights_end_where_the_model_ends(tmp_path: Path) -> None:
    """A segment that leaves the model: heights inside the outermost centres, NaN beyond, basis to match."""
    network = network_of({"a": at((40, 30), (80, 30))})
    s = terrain_on(tmp_path, network, plane(0.1)).stations
    known = s.chainage_m <= 19.5
    assert np.isnan(s.z).tolist() == (~known).tolist()
    assert (s.basis == np.where(known, Basis.DEM, Basis.NONE)).all()
    assert np.isnan(s.grade).tolist() == (~known).tolist()
    assert np.isnan(s.cell_m).tolist() == (~known).tolist()


def test_side_slope_of_a_surveyed_line_is_the_models(tmp_path: Path) -> None:
    """Heights and grade from the line (flat at 7 m), cross slope from the ground model (20 %)."""
    line = [(*p, 7.0) for p in at((10, 30), (50, 30))]
    network = network_of({"a": line}, profile="survey")
    s = terrain_on(tmp_path, network, plane(0.3, -0.2)).stations
    assert (s.z == 7.0).all()
    assert (s.grade == 0.0).all()
    assert s.cross == pytest.approx(0.2, abs=1e-4)
    assert (s.basis == Basis.SURVEYED).all()


@pytest.mark.parametrize("kind", ["bridge", "tunnel"])
def test_the_ground_under_a_bridge_is_not_the_bridge(tmp_path: Path, kind: str) -> None:
    """An unsurveyed deck has no heights, slopes or cell, here and in its neighbours' profiles; they keep their own."""
    network = network_of(
        {"a": at((5, 30), (25, 30)), "b": at((25, 30), (35, 30)), "c": at((35, 30), (55, 30))}, **{kind: {"b": True}}
    )
    terrain = terrain_on(tmp_path, network, bowl(*at((30, 30))[0], 0.1))
    s, p = terrain.stations, terrain.profiles
    deck = slice(s.offsets[1], s.offsets[2])
    for name in ("z", "grade", "cross", "cell_m"):
        assert np.isnan(getattr(s, name)[deck]).all(), name
        assert not np.isnan(getattr(s, name)[: s.offsets[1]]).any(), name
    assert (s.basis[deck] == Basis.NONE).all()
    along = p.start_m[0] + p.step_m * np.arange(p.offsets[1] - p.offsets[0])
    run = p.z[: p.offsets[1]]
    assert np.isnan(run[along > 20.01]).all()
    assert not np.isnan(run[along < 19.99]).any()


def test_a_surveyed_deck_has_its_heights_and_is_level_across(tmp_path: Path) -> None:
    """Survey heights and grade; no side slope from the bank below (decks are level: common practice, no source)."""
    deck = [(*p, z) for p, z in zip(at((10, 30), (30, 30)), (110.0, 111.0), strict=True)]
    s = terrain_on(tmp_path, network_of({"a": deck}, profile="survey", bridge=True), plane(0.0, -0.9)).stations
    assert (s.cross == 0.0).all()
    assert s.grade == pytest.approx(0.05)
    assert (s.basis == Basis.SURVEYED).all()
    assert np.isnan(s.cell_m).all()


def strip_of(terrain: Terrain, run: int) -> Floats:
    """Give the rows of the strip of one run."""
    strip = terrain.profiles.strip
    return strip.rise_m[strip.offsets[run] : strip.offsets[run + 1]].astype(np.float64)


def test_the_ground_beside_the_line_is_that_of_the_closed_form(tmp_path: Path) -> None:
    """On a paraboloid, crooked and straight lines and both ways round: a plain twin without files has the same rises.

    A line has its twin's strip where its runs end as the twin's do: at dead ends.
    """
    shape = bowl(*at((30, 30))[0], 0.02)
    network = network_of({"a": at((5, 5), (20, 9), (33, 30)), "b": at((55, 20), (50, 52.3)), "c": at((9, 50), (9, 20))})
    got, twin = terrain_on(tmp_path, network, shape, Grid(dtype="float64")), surface_terrain(network, shape)
    assert got.profiles.strip.offsets.tolist() == twin.profiles.strip.offsets.tolist()
    assert got.profiles.strip.across_m.tolist() == twin.profiles.strip.across_m.tolist()
    assert got.profiles.strip.every == twin.profiles.strip.every
    assert got.profiles.strip.rise_m == pytest.approx(twin.profiles.strip.rise_m, abs=1e-4)
    assert np.ptp(twin.profiles.strip.rise_m) > 1.0


def test_runs_across_a_node_have_their_own_strip(tmp_path: Path) -> None:
    """On a plane the rise is the cross slope of the run there, whichever way a piece of it was digitised."""
    network = network_of(
        {
            "a": at((8, 30), (30, 30)),
            "b": at((52, 30), (30, 30)),
            "c": at((30, 30), (30, 52)),
            "d": at((30, 8), (30, 30)),
        }
    )
    east, north = 0.1, 0.3
    terrain = terrain_on(tmp_path, network, plane(east, north))
    profiles = terrain.profiles
    assert profiles.segment.size > 4
    counts = np.diff(profiles.strip.offsets)
    assert counts.tolist() == [-(-(n - 1) // 5) + 1 for n in np.diff(profiles.offsets)]
    across = profiles.strip.across_m
    for run, cross in ((0, -north), (1, north), (2, east), (3, east)):
        assert strip_of(terrain, run) == pytest.approx(np.tile(cross * across, (counts[run], 1)), abs=1e-4)
    allowed = np.array([north, -north, east, -east])
    for run in range(4, profiles.segment.size):
        ends = strip_of(terrain, run)[[0, -1], -1] / across[-1]
        assert all(np.abs(allowed - end).min() < 1e-4 for end in ends)


def test_beside_a_surveyed_line_lies_the_models_slope(tmp_path: Path) -> None:
    """The line's own heights along it (flat at 7 m), the rise across from the model (20 %, + to the right)."""
    network = network_of({"a": [(*p, 7.0) for p in at((10, 30), (50, 30))]}, profile="survey")
    terrain = terrain_on(tmp_path, network, plane(0.3, -0.2))
    across = terrain.profiles.strip.across_m
    assert (terrain.profiles.z == 7.0).all()
    assert strip_of(terrain, 0) == pytest.approx(np.tile(0.2 * across, (81, 1)), abs=1e-4)


def test_beside_a_surveyed_line_without_a_model_nothing_is_known() -> None:
    """Its own heights on it, none beside it."""
    network = network_of({"a": [(*p, 7.0) for p in at((10, 30), (50, 30))]}, profile="survey")
    rise = strip_of(measure_terrain(network, TerrainParameters()), 0)
    assert np.isnan(rise[:, np.arange(11) != 5]).all()
    assert (rise[:, 5] == 0.0).all()


@pytest.mark.parametrize("kind", ["bridge", "tunnel"])
def test_decks_are_level_across(tmp_path: Path, kind: str) -> None:
    """Whatever the bank below (90 % here) does; the trails on either side keep their side slope."""
    network = network_of(
        {"a": at((5, 30), (25, 30)), "b": at((25, 30), (35, 30)), "c": at((35, 30), (55, 30))}, **{kind: {"b": True}}
    )
    terrain = terrain_on(tmp_path, network, plane(0.0, -0.9))
    along = terrain.profiles.start_m[1] + 0.5 * np.arange(strip_of(terrain, 1).shape[0])
    on_deck = (along > 0.01) & (along < 9.99)
    beside = (along < -0.01) | (along > 10.01)
    assert (strip_of(terrain, 1)[on_deck] == 0.0).all()
    slope = np.tile(0.9 * terrain.profiles.strip.across_m, (beside.sum(), 1))
    assert strip_of(terrain, 1)[beside] == pytest.approx(slope, abs=1e-3)


def test_no_step_where_a_finer_model_ends_beside_the_line(tmp_path: Path) -> None:
    """Two models 5 m apart in height meet 0.7 m left of the line: the strip is the plane's all the same."""
    south, whole = Grid(height=31, dtype="float64"), Grid(30, 30, 2.0, dtype="float64")
    fine = write_elevation(tmp_path / "fine.tif", plane(0.1, 0.2), south)
    coarse = write_elevation(tmp_path / "coarse.tif", plane(0.1, 0.2, 105.0), whole)
    network = network_of({"a": at((10, 29.8), (50, 29.8))})
    terrain = measure_terrain(network, TerrainParameters(elevation=(fine, coarse)))
    across = terrain.profiles.strip.across_m
    assert strip_of(terrain, 0) == pytest.approx(np.tile(-0.2 * across, (81, 1)), abs=1e-4)


def test_a_survey_in_another_datum_meets_the_model_without_a_cliff(tmp_path: Path) -> None:
    """Ellipsoidal heights 47 m above the model's: the profile goes on at the ramp's grade across the node."""
    ramp = plane(0.1, 0.0)
    first = [(x, y, float(ramp.height(np.float64(x), np.float64(y))) + 47.0) for x, y in at((10, 30), (30, 30))]
    network = network_of({"a": first, "b": at((30, 30), (50, 30))}, profile={"a": "survey"})
    profiles = terrain_on(tmp_path, network, ramp).profiles
    for run, level in ((0, 47.0), (1, 0.0)):
        z = profiles.z[profiles.offsets[run] : profiles.offsets[run + 1]]
        assert np.diff(z) == pytest.approx(0.01, abs=1e-3)
        x = 10.0 + 20.0 * run + profiles.start_m[run] + 0.1 * np.arange(z.size)
        assert z == pytest.approx(100.0 + 0.1 * x + level, abs=0.01)


def test_a_step_in_the_ground_stays_in_the_profile(tmp_path: Path) -> None:
    """A ledge of 0.4 m in one model is ground: over at most two cells the profile rises by it."""
    network = network_of({"a": at((10, 30), (50, 30))})
    profiles = terrain_on(tmp_path, network, step(at((30, 0))[0][0], 0.4)).profiles
    assert profiles.z[0] == 100.0
    assert profiles.z[-1] == pytest.approx(100.4, abs=1e-4)
    assert profiles.z[215] - profiles.z[185] == pytest.approx(0.4, abs=0.05)


def test_a_crest_is_as_sharp_as_its_cells_allow(tmp_path: Path) -> None:
    """20 % up, 30 % down: the flanks are exact two cells from the edge, the edge itself is rounded, never sharper."""
    edge = at((30, 0))[0][0]
    terrain = terrain_on(tmp_path, network_of({"a": at((10, 30), (50, 30))}), crest(edge, 0.2, 0.3))
    s = terrain.stations
    away = s.x - edge
    assert s.grade[away < -2.0] == pytest.approx(0.2, abs=1e-4)
    assert s.grade[away > 2.0] == pytest.approx(-0.3, abs=1e-4)
    assert s.grade.max() < 0.25
    assert s.grade.min() > -0.35


def reversed_order(function: Callable[[Block], Result], blocks: Iterable[Block], /) -> list[Result]:
    """Do the last block first, each through a pickle as if in another process."""
    done = [pickle.loads(pickle.dumps(function(pickle.loads(pickle.dumps(b))))) for b in reversed(list(blocks))]  # noqa: S301 - our own
    return done[::-1]


def test_blocks_and_mappers_do_not_show(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """One block, or one a segment in any order and through pickles: the same to the last bit."""
    rng = np.random.default_rng(1)
    path = write_elevation(tmp_path / "rough.tif", rng.normal(100.0, 1.0, (60, 60)))
    network = star(np.arange(0.0, 360.0, 40.0))
    parameters = TerrainParameters(elevation=(path,))
    once = measure_terrain(network, parameters)
    monkeypatch.setattr(measure, "BLOCK_M", 7.0)
    monkeypatch.setattr(measure, "BLOCK_LINE_M", 20.0)
    parts = measure_terrain(network, parameters, reversed_order)
    strips = (once.profiles.strip, parts.profiles.strip)
    for one, other in ((once.stations, parts.stations), (once.profiles, parts.profiles), strips):
        for field in fields(one):
            if field.name != "strip":
                assert np.array_equal(getattr(one, field.name), getattr(other, field.name), equal_nan=False), field.name


def test_the_network_is_left_as_it_was(tmp_path: Path) -> None:
    """Stages change no argument."""
    network = star([10, 100, 200])
    before = network.segments.copy(deep=True)
    terrain_on(tmp_path, network, plane())
    assert network.segments.equals(before)


def test_faults_of_models_are_raised_before_any_work(tmp_path: Path) -> None:
    """A model without CRS stops the stage; one that went away too."""
    bad = write_elevation(tmp_path / "bad.tif", plane(), Grid(crs=None))
    with pytest.raises(DataError, match="no coordinate reference system"):
        measure_terrain(star([0]), TerrainParameters(elevation=(bad,)))


def test_a_model_that_cannot_be_read_half_way_is_told(tmp_path: Path) -> None:
    """Its name and the cells that failed."""
    grid = Grid(
        width=256, height=256, options={"compress": "deflate", "tiled": True, "blockxsize": 64, "blockysize": 64}
    )
    path = write_elevation(tmp_path / "cut.tif", np.random.default_rng(2).normal(100.0, 5.0, (256, 256)), grid)
    whole = path.read_bytes()
    path.write_bytes(whole[: len(whole) // 2])
    network = network_of({"a": at((250, 3), (254, 3)), "b": at((254, 3), (254, 120))})
    with pytest.raises(InputMissingError, match=r"cut\.tif"):
        measure_terrain(network, TerrainParameters(elevation=(path,)))
