"""Points along trails, and the figures of a segment from its points."""

import numpy as np
import pytest
import shapely

from pipeline.terrain.dem_land import Land
from pipeline.terrain.drainage_lines import high_of, mean_of, place_points, worst_of
from pipeline.terrain.lines import centre_lines
from tests.worlds import ORIGIN, at, network_of

LAND = Land(np.zeros((20, 20), dtype=np.float32), ORIGIN[0], ORIGIN[1] + 60.0, 3.0)
ROW = np.array([0, 0, 0, 2, 2, 2, 2, 2, 3])
VALUES = np.array([3.0, np.nan, 1.0, 5.0, 4.0, 1.0, 2.0, 3.0, np.nan])


def test_points_run_along_the_line_at_equal_steps() -> None:
    """Both ends included, a third of a cell apart or less, each on the line where shapely has its chainage."""
    lines = {"bent": at((4.0, 4.0), (20.0, 4.0), (20.0, 33.3)), "short": at((40.0, 40.0), (40.2, 40.0))}
    network = network_of(lines)
    points = place_points(centre_lines(network), LAND)
    for row, line in enumerate(network.segments.geometry):
        mine = points.row == row
        steps = np.diff(points.at_m[mine])
        assert steps == pytest.approx(steps[0])
        assert steps.max() <= 1.0 + 1e-9
        assert (points.at_m[mine][0], points.at_m[mine][-1]) == pytest.approx((0.0, line.length))
        on = shapely.line_interpolate_point(line, points.at_m[mine])
        assert points.x[mine] == pytest.approx(shapely.get_x(on), abs=1e-6)
        assert points.y[mine] == pytest.approx(shapely.get_y(on), abs=1e-6)
    assert points.cell[0] == 18 * 20 + 1
    assert np.array_equal(points.cell, LAND.cells_at(points.x, points.y))


def test_points_beside_the_land_have_no_cell() -> None:
    """A trail that leaves the grid."""
    points = place_points(centre_lines(network_of({"out": at((50.0, 50.0), (90.0, 50.0))})), LAND)
    assert (points.cell[points.x < ORIGIN[0] + 60.0] >= 0).all()
    assert (points.cell[points.x > ORIGIN[0] + 60.0] == -1).all()


def test_means_and_extremes_of_what_is_known() -> None:
    """NaN where nothing is: no points at all, or none known."""
    assert mean_of(VALUES, ROW, 5).tolist() == pytest.approx([2.0, np.nan, 3.0, np.nan, np.nan], nan_ok=True)
    assert worst_of(VALUES, ROW, 5).tolist() == pytest.approx([3.0, np.nan, 5.0, np.nan, np.nan], nan_ok=True)


@pytest.mark.parametrize("share", [0.0, 0.1, 0.25, 0.5, 1.0])
def test_the_high_value_is_numpys_higher_quantile(share: float) -> None:
    """On random ragged segments, one of them empty."""
    rng = np.random.default_rng(11)
    row = np.sort(rng.choice([0, 1, 2, 4], 200))
    values = rng.normal(size=200)
    values[rng.random(200) < 0.2] = np.nan
    got = high_of(values, row, 5, share)
    for k in (0, 1, 2, 4):
        known = values[(row == k) & ~np.isnan(values)]
        assert got[k] == np.quantile(known, 1.0 - share, method="higher")
    assert np.isnan(got[3])
