"""How a network lies to the water: valleys, banks and bowls in closed form, and odd worlds."""

from dataclasses import fields, replace
from pathlib import Path

import numpy as np
import pytest
from pyproj import Transformer

from pipeline.terrain.drainage import LEAST_SLOPE, measure_drainage, wetness_index
from pipeline.terrain.drainage_model import Drainage
from pipeline.terrain.flow import accumulate, lead_water
from pipeline.terrain.measure import measure_terrain
from pipeline.terrain.model import TerrainParameters
from tests.terrain.water_worlds import (
    BANKED,
    BOWL,
    BOWL_DEEP_M,
    BOWL_M,
    GRID,
    MIDDLE,
    PARAMETERS,
    TRAIL,
    VALLEY,
    Floats,
    crossing_network,
    drained,
    drained_on,
    surface_of,
    valley_height,
)
from tests.worlds import ORIGIN, UTM, Grid, at, network_of, plane, surface_terrain, write_elevation


def same(one: Drainage, other: Drainage) -> bool:
    """Tell whether two drainages are equal to the last digit."""
    pairs = [(getattr(one, f.name), getattr(other, f.name)) for f in fields(one) if f.name != "crossings"]
    pairs += [(getattr(one.crossings, f.name), getattr(other.crossings, f.name)) for f in fields(one.crossings)]
    return all(np.array_equal(a, b, equal_nan=True) for a, b in pairs)


def test_the_index_of_a_published_case() -> None:
    """200 cells of 30 m one above the other on a slope of 8 %: ln(200 · 30 ÷ 0.08) = 11.2252.

    The formula is Beven and Kirkby's (1979); the case is worked in published transcriptions of it.
    """
    z = np.repeat(np.linspace(600.0, 600.0 - 2.4 * 200, 201)[:, None], 3, axis=1)
    flow = lead_water((np.round(z * 1024) / 1024).astype(np.float32), 30.0, np.zeros(0, dtype=np.int64))
    area = accumulate(flow, np.full(z.size, 900.0))
    index = wetness_index(area, flow.slope, 30.0).reshape(z.shape)
    assert area.reshape(z.shape)[199, 1] == 200 * 900.0
    assert index[199, 1] == pytest.approx(11.225243, abs=1e-3)
    assert wetness_index(np.array([180_000.0]), np.array([0.08]), 30.0)[0] == pytest.approx(11.225243, abs=1e-6)


def test_level_ground_has_a_finite_index() -> None:
    """The least slope counts; where there is no ground there is no index."""
    index = wetness_index(np.array([900.0, 0.0]), np.zeros(2), 30.0)
    assert index[0] == pytest.approx(np.log(30.0 / LEAST_SLOPE))
    assert np.isnan(index[1])


def test_a_stream_crosses_the_trail_where_the_valley_does(tmp_path: Path) -> None:
    """In the middle, with the land to the north: 120 m by 60 m, give or take two rows of cells."""
    got = drained(tmp_path, VALLEY)
    crossings = got.crossings
    assert crossings.row.tolist() == [0]
    assert crossings.at_m[0] == pytest.approx(50.0, abs=3.0)
    assert (crossings.x[0], crossings.y[0]) == pytest.approx((ORIGIN[0] + MIDDLE, ORIGIN[1] + MIDDLE), abs=3.0)
    assert crossings.catchment_m2[0] == pytest.approx(120.0 * 60.0, abs=2 * 360.0)
    assert crossings.from_m[0] <= crossings.at_m[0] <= crossings.to_m[0]
    assert crossings.to_m[0] - crossings.from_m[0] <= 6.0
    assert not crossings.hollow[0]
    assert crossings.hollow_m[0] == crossings.dammed_m[0] == 0.0
    assert crossings.least[0]  # the model ends on the sides and above
    assert got.hollow_m[0] == got.hollow_share[0] == 0.0
    assert got.twi[0] < got.twi_high[0]


def test_a_smaller_flow_path_does_not_count(tmp_path: Path) -> None:
    """Least catchment above the valley's."""
    assert drained(tmp_path, VALLEY, stream_catchment_m2=9000.0).crossings.row.size == 0


def test_a_trail_driven_the_other_way_round_has_its_mirror_image(tmp_path: Path) -> None:
    """Digitised from east to west: the same places, chainages from the other end."""
    one = drained(tmp_path, VALLEY).crossings
    other = drained(tmp_path, VALLEY, network_of({"a": TRAIL[::-1]})).crossings
    assert other.at_m == pytest.approx(100.0 - one.at_m)
    assert other.from_m == pytest.approx(100.0 - one.to_m, abs=1.0)
    assert (other.x, other.y) == (pytest.approx(one.x), pytest.approx(one.y))
    assert np.array_equal(other.catchment_m2, one.catchment_m2)


def test_land_mirrored_has_its_mirror_image(tmp_path: Path) -> None:
    """A valley 9 m off the middle, and its mirror image: catchments and indices are the same."""
    sides = {}
    for sign in (-1.0, 1.0):
        shift = 9.0 * sign
        made = surface_of(lambda x, y, s=shift: valley_height(x - s, y))
        network = network_of({"a": at((15.0, MIDDLE), (105.0, MIDDLE))})
        sides[sign] = drained(tmp_path, made, network)
    left, right = sides[-1.0], sides[1.0]
    assert left.crossings.at_m[0] + right.crossings.at_m[0] == pytest.approx(90.0, abs=3.0)
    assert left.crossings.catchment_m2 == pytest.approx(right.crossings.catchment_m2)
    assert left.twi == pytest.approx(right.twi, abs=0.05)


def test_no_ford_under_a_bridge(tmp_path: Path) -> None:
    """The stream goes under it, and so just beside its ends; the trail next to it is not carried over."""
    lines = {
        "west": at((10.0, 60.0), (57.0, 60.0)),
        "bridge": at((57.0, 60.0), (63.0, 60.0)),
        "east": at((63.0, 60.0), (110.0, 60.0)),
        "below": at((10.0, 30.0), (110.0, 30.0)),
    }
    got = drained(tmp_path, VALLEY, network_of(lines, bridge={"bridge": True}))
    assert got.crossings.row.tolist() == [3]
    assert np.isnan(got.twi[1])
    assert np.isnan(got.hollow_share[1])
    assert not np.isnan(got.twi[[0, 2, 3]]).any()
    beside = surface_of(lambda x, y: valley_height(x + 5.0, y))
    assert drained(tmp_path, beside, network_of(lines, bridge={"bridge": True})).crossings.row.tolist() == [3]
    assert drained(tmp_path, beside, network_of(lines)).crossings.row.tolist() == [0, 3]


def test_no_ford_in_a_tunnel(tmp_path: Path) -> None:
    """A tunnel goes under the stream."""
    assert drained(tmp_path, VALLEY, crossing_network(tunnel=True)).crossings.row.size == 0


def test_a_bank_without_a_culvert_dams_the_stream(tmp_path: Path) -> None:
    """It runs over the lowest place of the bank; how deep it stands behind: 102 − (100 + 0.02 · 64) m at its foot."""
    got = drained(tmp_path, BANKED).crossings
    paths = got.of(~got.hollow)
    assert paths.at_m[0] == pytest.approx(53.0, abs=3.0)
    assert paths.dammed_m[0] == pytest.approx(0.72, abs=0.15)
    assert drained(tmp_path, BANKED, runoff_mm=5.0).crossings.row.size == 0  # it never comes as far as the crest


def bowl_reach_m(runoff_m: float) -> float:
    """How far from the middle the water of the bowl comes: a paraboloid of volume π r² h ÷ 2."""
    volume = np.pi * BOWL_M**2 * runoff_m
    high = np.sqrt(volume * 2.0 * BOWL_DEEP_M / (np.pi * BOWL_M**2))
    return float(BOWL_M * np.sqrt(high / BOWL_DEEP_M))


@pytest.mark.parametrize("runoff_mm", [20.0, 50.0, 200.0])
def test_a_bowl_holds_the_rain_that_falls_on_it(tmp_path: Path, runoff_mm: float) -> None:
    """The trail is under water where a paraboloid of that volume reaches; the depth told is that below the rim."""
    got = drained(tmp_path, BOWL, runoff_mm=runoff_mm)
    reach = bowl_reach_m(runoff_mm / 1000.0)
    assert got.crossings.hollow.tolist() == [True]
    assert got.crossings.from_m[0] == pytest.approx(50.0 - reach, abs=2.5)
    assert got.crossings.to_m[0] == pytest.approx(50.0 + reach, abs=2.5)
    assert got.crossings.at_m[0] == pytest.approx(50.0, abs=3.0)
    assert got.crossings.hollow_m[0] == pytest.approx(BOWL_DEEP_M, abs=0.1)  # cells on the rim are averages
    assert got.crossings.catchment_m2[0] == pytest.approx(np.pi * BOWL_M**2, rel=0.15)
    assert got.hollow_m[0] == got.crossings.hollow_m[0]
    assert got.hollow_share[0] == pytest.approx(2.0 * reach / 100.0, abs=0.05)


def test_a_trail_above_the_water_of_a_pit_stays_dry(tmp_path: Path) -> None:
    """It runs 15 m from the middle, half a metre below the rim; the water of the bowl comes 9 m far."""
    network = network_of({"a": at((10.0, 75.0), (110.0, 75.0))})
    assert drained(tmp_path, BOWL, network).crossings.row.size == 0
    assert drained(tmp_path, BOWL, network, runoff_mm=1000.0).crossings.hollow.tolist() == [True]


def test_errors_of_the_model_are_no_hollows(tmp_path: Path) -> None:
    """A bowl of 1.5 m is one at an RMSE of 0.7 m, and none at 0.8 m."""
    assert drained(tmp_path, BOWL, dem_rmse_m=0.7).crossings.hollow.tolist() == [True]
    assert drained(tmp_path, BOWL, dem_rmse_m=0.8).crossings.row.size == 0


@pytest.mark.parametrize("rough_m", [0.0, 0.03])
def test_level_ground_has_neither_streams_nor_hollows(tmp_path: Path, rough_m: float) -> None:
    """Where nothing falls no flow path can be told, however much land there is, and whatever the noise makes of it."""
    z = 100.0 + np.random.default_rng(2).normal(0.0, 1.0, (120, 120)) * rough_m
    got = drained(tmp_path, z, stream_catchment_m2=100.0)
    assert got.crossings.row.size == 0
    assert got.hollow_m.tolist() == got.hollow_share.tolist() == [0.0]
    assert np.isfinite(got.twi).all()


def test_a_trail_in_a_stream_is_one_place(tmp_path: Path) -> None:
    """It runs along the valley's bottom: one row, told from end to end, at the place with the most water."""
    network = network_of({"a": at((60.0, 100.0), (60.0, 20.0))})
    got = drained(tmp_path, VALLEY, network).crossings
    assert got.row.tolist() == [0]
    assert got.from_m[0] < 10.0
    assert got.to_m[0] == pytest.approx(80.0)
    assert got.at_m[0] > 75.0


def test_no_elevation_model_leaves_the_terrain_as_it_is() -> None:
    """Nothing is known of water."""
    network = crossing_network()
    terrain = surface_terrain(network, plane())
    assert measure_drainage(network, terrain, TerrainParameters()) is terrain
    assert terrain.drainage is None


def test_the_rest_of_the_terrain_stays(tmp_path: Path) -> None:
    """Stations and profiles are handed on, and however many blocks they were measured in, the water is the same."""
    path = write_elevation(tmp_path / "land.tif", VALLEY, GRID)
    network, parameters = crossing_network(), replace(PARAMETERS, elevation=(path,))

    def backwards(function: object, blocks: object, /) -> list[object]:
        return [function(block) for block in reversed(list(blocks))][::-1]  # type: ignore[operator, call-overload]

    one, other = (measure_terrain(network, parameters), measure_terrain(network, parameters, backwards))
    drained_one, drained_other = (measure_drainage(network, terrain, parameters) for terrain in (one, other))
    assert drained_one.stations is one.stations
    assert drained_one.profiles is one.profiles
    assert drained_one.drainage is not None
    assert drained_other.drainage is not None
    assert same(drained_one.drainage, drained_other.drainage)


def test_a_model_smaller_than_the_network(tmp_path: Path) -> None:
    """Segments beyond it are not known; one that runs out of it counts by what is known of it."""
    lines = {"in": TRAIL, "out": at((10.0, 500.0), (110.0, 500.0)), "half": at((100.0, 40.0), (200.0, 40.0))}
    got = drained(tmp_path, VALLEY, network_of(lines))
    assert np.isnan(got.twi).tolist() == [False, True, False]
    assert np.isnan(got.hollow_m).tolist() == [False, True, False]
    assert got.crossings.row.tolist() == [0]


def test_voids_swallow_water_and_say_so(tmp_path: Path) -> None:
    """A void in the stream above: the catchment is what is left below it, and at least that."""
    x, y = np.meshgrid(np.arange(120) + 0.5, 119.5 - np.arange(120))
    z: Floats = valley_height(x, y)
    z[20:40, 40:80] = np.nan
    got = drained(tmp_path, z).crossings
    assert got.row.tolist() == [0]
    assert got.catchment_m2[0] < 6500.0
    assert got.least[0]


def test_a_catchment_inside_the_model_is_whole(tmp_path: Path) -> None:
    """A ridge all round the valley's head: nothing comes from beyond."""
    made = surface_of(lambda x, y: valley_height(x, y) - 0.3 * np.clip(np.maximum(abs(x - 60) - 45, y - 105), 0, None))
    got = drained(tmp_path, made).crossings
    assert got.row.tolist() == [0]
    assert not got.least[0]
    assert got.catchment_m2[0] == pytest.approx(90.0 * 45.0, rel=0.15)


def test_no_land_under_the_trails_at_all(tmp_path: Path) -> None:
    """The model has a void there: everything is unknown, nothing fails."""
    z = np.full((120, 120), np.nan)
    z[:5, :5] = 100.0
    got = drained(tmp_path, z)
    assert np.isnan(got.twi).all()
    assert np.isnan(got.hollow_share).all()
    assert got.crossings.row.size == 0


def test_a_void_everywhere(tmp_path: Path) -> None:
    """Not even the mean over the land is known."""
    got = drained(tmp_path, np.full((120, 120), np.nan))
    assert np.isnan(got.twi_land)
    assert got.crossings.row.size == 0


def test_a_model_of_a_single_row(tmp_path: Path) -> None:
    """One row of cells under the trail."""
    row = Grid(width=40, height=1, cell=3.0, corner=(ORIGIN[0], ORIGIN[1] + 57.0))
    got = drained_on(write_elevation(tmp_path / "row.tif", VALLEY, row))
    assert np.isfinite(got.twi).all()
    assert got.crossings.row.size == 0


def test_a_trail_on_the_edge_of_the_model(tmp_path: Path) -> None:
    """Half of it lies beside the last cells; what is on them counts."""
    network = network_of({"a": at((10.0, 120.0), (110.0, 120.0)), "b": at((0.0, 10.0), (0.0, 110.0))})
    got = drained(tmp_path, VALLEY, network)
    assert got.twi.size == 2
    assert (got.crossings.at_m >= 0.0).all()
    assert (got.crossings.at_m <= 100.0).all()


def test_a_model_in_degrees_shows_the_same_stream(tmp_path: Path) -> None:
    """Geographic coordinates, cells of about a metre."""
    to_degrees = Transformer.from_crs(UTM, "EPSG:4326", always_xy=True)
    lon, lat = to_degrees.transform(ORIGIN[0], ORIGIN[1])
    degrees = Grid(width=180, height=130, cell=1e-5, corner=(lon - 1e-4, lat - 1e-4), crs="EPSG:4326")
    x, y = Transformer.from_crs("EPSG:4326", UTM, always_xy=True).transform(*degrees.centres())
    z = valley_height(x - ORIGIN[0], y - ORIGIN[1])
    got = drained_on(write_elevation(tmp_path / "degrees.tif", z, degrees)).crossings
    assert got.row.tolist() == [0]
    assert got.at_m[0] == pytest.approx(50.0, abs=3.5)


def test_two_models_of_different_datum_are_one_valley(tmp_path: Path) -> None:
    """The fine one ends across the stream, the coarse one lies 0.7 m higher: no dam, no hollow, one stream."""
    fine = Grid(width=120, height=75)
    coarse = Grid(width=70, height=70, cell=2.0, corner=(ORIGIN[0] - 10.0, ORIGIN[1] - 10.0))
    high = surface_of(lambda x, y: valley_height(x, y) + 0.7)
    paths = [
        write_elevation(tmp_path / "fine.tif", VALLEY, fine),
        write_elevation(tmp_path / "coarse.tif", high, coarse),
    ]
    got = drained_on(paths)
    assert got.crossings.row.tolist() == [0]
    assert got.crossings.dammed_m.tolist() == [0.0]
    assert got.crossings.catchment_m2[0] == pytest.approx(140.0 * 70.0, rel=0.1)
    assert got.hollow_m.tolist() == [0.0]
