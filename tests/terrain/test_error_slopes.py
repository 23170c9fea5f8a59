"""Standard deviations of slopes at stations: heights, and the position of the line."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from numpy.typing import NDArray

from pipeline.survey.model import Network
from pipeline.terms import Basis
from pipeline.terrain.error_model import gradient_sd
from pipeline.terrain.error_slopes import slope_errors, vertices_apart
from pipeline.terrain.model import Terrain, TerrainParameters
from tests.worlds import Measured, Surface, at, bowl, network_of, plane, plane_world, sine_hills, surface_terrain

EXACT = TerrainParameters(dem_rmse_m=0.0, line_rmse_m=0.5)
"""Only the position is not known."""


def saddle(twist: float) -> Surface:
    """Make z = twist · x · y: no bend along the axes, but side slope that changes along the line."""
    east, north = at((20.0, 20.0))[0]
    return Surface(
        height=lambda x, y: 100.0 + twist * (x - east) * (y - north),
        gradient=lambda x, y: (twist * (y - north), twist * (x - east)),
    )


def line_east() -> Network:
    """One straight line to the east through the middle."""
    return network_of({"s": at((0.0, 20.0), (40.0, 20.0))})


def with_basis(terrain: Terrain, basis: Basis) -> Terrain:
    """Say that all stations rest on something else."""
    column = np.full(terrain.stations.basis.size, basis, dtype=np.uint8)
    return replace(terrain, stations=replace(terrain.stations, basis=column))


def test_on_a_plane_position_does_not_matter() -> None:
    """Everywhere beside the line the slope is the same."""
    network, slope = plane_world(30.0, 0.2, 0.1, 35.0)
    errors = slope_errors(network, surface_terrain(network, slope), EXACT)
    for part in (errors.grade, errors.cross, errors.whole):
        assert part == pytest.approx(0.0, abs=1e-4)


def test_a_bowl_bends_alike_along_and_across() -> None:
    """On z = ½ k r² all slopes change by k a metre either way: the deviation is σ k, also that of the steepest."""
    network = line_east()
    errors = slope_errors(network, surface_terrain(network, bowl(*at((20.0, 22.0))[0], 0.04)), EXACT)
    for part in (errors.grade, errors.cross, errors.whole):
        assert part == pytest.approx(0.5 * 0.04, rel=2e-3)


def test_a_saddle_changes_each_slope_by_a_shift_the_other_way() -> None:
    """On z = a x y: the grade changes with a shift across, the side slope with one along, by a each."""
    network = line_east()
    errors = slope_errors(network, surface_terrain(network, saddle(0.03)), EXACT)
    assert errors.grade == pytest.approx(0.5 * 0.03, rel=2e-3)
    assert errors.cross == pytest.approx(0.5 * 0.03, rel=2e-3)


def test_any_parabola_by_its_second_derivatives() -> None:
    """With H of the ground in map coordinates: σ |H t|, σ |H n| and, for the steepest slope, σ |H ∇z| ÷ |∇z|."""
    bends = np.array([[0.03, 0.02], [0.02, -0.05]])
    middle = np.array(at((20.0, 21.0))[0])
    ground = Surface(
        height=lambda x, y: (
            0.5 * (bends[0, 0] * (x - middle[0]) ** 2 + bends[1, 1] * (y - middle[1]) ** 2)
            + bends[0, 1] * (x - middle[0]) * (y - middle[1])
        ),
        gradient=lambda x, y: (
            bends[0, 0] * (x - middle[0]) + bends[0, 1] * (y - middle[1]),
            bends[0, 1] * (x - middle[0]) + bends[1, 1] * (y - middle[1]),
        ),
    )
    network = network_of({"s": at((2.0, 15.0), (38.0, 25.0))})
    terrain = surface_terrain(network, ground)
    errors = slope_errors(network, terrain, EXACT)
    bearing = float(terrain.stations.bearing_rad[0])
    steepest = np.array(ground.gradient(terrain.stations.x, terrain.stations.y))
    for part, way in (
        (errors.grade, np.array([[np.sin(bearing)], [np.cos(bearing)]])),
        (errors.cross, np.array([[np.cos(bearing)], [-np.sin(bearing)]])),
        (errors.whole, steepest / np.hypot(*steepest)),
    ):
        assert part == pytest.approx(0.5 * np.hypot(*(bends @ way)) * np.ones(part.size), rel=0.01, abs=1e-4)


def shifted(network: Network, east: float, north: float) -> Network:
    """Move all lines."""
    segments = network.segments.copy()
    segments["geometry"] = segments.geometry.translate(east, north)
    return replace(network, segments=segments)


def test_shifting_the_line_in_earnest_gives_the_same() -> None:
    """300 seeded shifts of a bent line over hills: the scatter of all slopes within 10 %."""
    network = network_of({"s": at((5.0, 8.0), (25.0, 14.0), (42.0, 33.0))})
    hills = sine_hills(35.0, 1.5)
    parameters = TerrainParameters(dem_rmse_m=0.0, line_rmse_m=0.3)
    errors = slope_errors(network, surface_terrain(network, hills), parameters)
    moves = np.random.default_rng(11).normal(0.0, 0.3, (300, 2))
    stations = [surface_terrain(shifted(network, *move), hills).stations for move in moves]
    found = {name: np.array([getattr(one, name) for one in stations]) for name in ("grade", "cross")}
    found["whole"] = np.hypot(found["grade"], found["cross"])
    for name, slopes in found.items():
        sd, scatter = getattr(errors, name), slopes.std(axis=0)
        clear = scatter > 0.5 * scatter.max()
        ratio = sd[clear] / scatter[clear]
        assert np.median(np.abs(ratio - 1.0)) < 0.10


def test_heights_and_position_add_as_squares() -> None:
    """Independent causes; each is there alone when the other error is none."""
    network = line_east()
    terrain = surface_terrain(network, bowl(*at((20.0, 20.0))[0], 0.04))
    height = slope_errors(network, terrain, TerrainParameters(dem_rmse_m=0.1, dem_correlation_m=5.0))
    place = slope_errors(network, terrain, EXACT)
    both = slope_errors(network, terrain, TerrainParameters(dem_rmse_m=0.1, dem_correlation_m=5.0, line_rmse_m=0.5))
    assert both.grade == pytest.approx(np.hypot(height.grade, place.grade))
    assert both.cross == pytest.approx(np.hypot(height.cross, place.cross))
    assert both.whole == pytest.approx(np.hypot(height.whole, place.whole))
    assert height.grade == pytest.approx(gradient_sd(np.ones(1), 0.1, 5.0)[0])


def test_survey_grade_heights_have_the_error_of_their_vertices() -> None:
    """Vertices 10 m and 5 m apart, 3 cm each: √2 · σ ÷ D; the side slope stays the model's, a shift changes nothing."""
    network = network_of({"s": [(*p, 100.0) for p in at((0.0, 20.0), (10.0, 20.0), (15.0, 20.0))]})
    terrain = with_basis(surface_terrain(network, bowl(*at((5.0, 20.0))[0], 0.04)), Basis.SURVEYED)
    parameters = TerrainParameters(dem_rmse_m=0.1, dem_correlation_m=5.0, line_rmse_m=1.0, survey_rmse_m=0.03)
    errors = slope_errors(network, terrain, parameters, np.array([4, 25]))
    assert errors.grade == pytest.approx(np.sqrt(2.0) * 0.03 / np.array([10.0, 5.0]))
    assert errors.cross == pytest.approx(gradient_sd(np.ones(1), 0.1, 5.0)[0])
    narrow = slope_errors(network, with_basis(terrain, Basis.DEM), parameters, np.array([4, 25]))
    assert (errors.grade < narrow.grade).all()


def test_a_level_deck_has_the_error_of_its_survey_only() -> None:
    """Without a cell below it the side slope has no figure, and where it is none it does not hide the grade's."""
    network = network_of({"s": [(*p, 100.0) for p in at((0.0, 20.0), (10.0, 20.0))]})
    terrain = with_basis(surface_terrain(network, plane(east=0.1)), Basis.SURVEYED)
    bare = np.full(terrain.stations.x.size, np.nan, dtype=np.float32)
    terrain = replace(terrain, stations=replace(terrain.stations, cell_m=bare, cross=np.zeros_like(bare)))
    errors = slope_errors(network, terrain, TerrainParameters(dem_rmse_m=0.1))
    assert np.isnan(errors.cross).all()
    assert errors.whole == pytest.approx(errors.grade)


@pytest.mark.parametrize("basis", [Basis.NONE, Basis.DEM])
def test_nothing_is_said_without_an_error(basis: Basis) -> None:
    """No RMSE, or no heights at all: no figure, whatever is known of the position."""
    network, slope = plane_world()
    terrain = with_basis(surface_terrain(network, slope), basis)
    parameters = TerrainParameters(dem_rmse_m=None if basis is Basis.DEM else 0.1, line_rmse_m=1.0)
    errors = slope_errors(network, terrain, parameters)
    assert np.isnan([errors.grade, errors.cross, errors.whole]).all()


def plain_apart(chainages: NDArray[np.float64], place: float) -> float:
    """Find the piece by looking at one after the other."""
    for first, second in pairwise(chainages.tolist()):
        if first <= place < second:
            return second - first
    return float(chainages[-1] - chainages[-2])


def test_a_vertex_that_stands_there_twice_is_one() -> None:
    """Pieces without length, in the middle and at the end, are none: a grade over one would be off without bound."""
    network = network_of({"s": at((0.0, 0.0), (4.0, 0.0), (4.0, 0.0), (9.0, 0.0), (9.0, 0.0))})
    stations = surface_terrain(network_of({"s": at((0.0, 0.0), (9.0, 0.0))}), plane()).stations
    found = vertices_apart(network, stations, np.array([0, 7, 8, 9, 18]))
    assert found.tolist() == pytest.approx([4.0, 4.0, 5.0, 5.0, 5.0])


def test_pieces_of_several_lines_are_told_apart() -> None:
    """Two lines of uneven vertices, every station: the piece it lies on, the last one at the very end."""
    vertices = {"a": [0.0, 3.0, 4.0, 9.5], "b": [0.0, 6.0, 6.5, 12.25]}
    network = network_of({name: at(*((x, 5.0 * k) for x in row)) for k, (name, row) in enumerate(vertices.items())})
    stations = surface_terrain(network, plane(), Measured(spacing_m=0.25)).stations
    found = vertices_apart(network, stations, np.arange(stations.x.size))
    for row, name in enumerate(vertices):
        for k in range(stations.offsets[row], stations.offsets[row + 1]):
            assert found[k] == pytest.approx(plain_apart(np.array(vertices[name]), stations.chainage_m[k]))
