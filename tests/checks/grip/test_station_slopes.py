"""The slopes at every station and the worst of them."""

import numpy as np
import pytest

from pipeline.checks.grip.station_slopes import slopes_of, ways
from pipeline.checks.scene import make_scene
from pipeline.terms import Basis
from tests.checks.worlds import site_on, with_stations
from tests.worlds import ORIGIN, network_of, plane

EAST, NORTH = ORIGIN
TWO = network_of(
    {
        "a": [(EAST, NORTH), (EAST + 3.0, NORTH)],
        "b": [(EAST + 3.0, NORTH), (EAST + 5.0, NORTH)],
    }
)
"""Two segments to the east, of seven and five stations."""
SITE = site_on(TWO, plane(east=0.3, north=-0.2))


def test_slopes_are_those_of_the_plane() -> None:
    """Rising 0.3 ahead and 0.2 to the right: segments in order, weight resolved on the plane."""
    slopes = slopes_of(SITE.terrain.stations)
    assert slopes.row.tolist() == [0] * 7 + [1] * 5
    np.testing.assert_allclose(slopes.grade, 0.3, atol=1e-6)
    np.testing.assert_allclose(slopes.cross, 0.2, atol=1e-6)
    np.testing.assert_allclose(np.hypot(slopes.along, slopes.across), np.hypot(0.3, 0.2), atol=1e-6)
    assert make_scene(SITE).slopes.along.tolist() == slopes.along.tolist()


def test_worst_of_each_segment_and_direction() -> None:
    """The first largest station of each; NaN is passed over, and a segment of nothing else has none."""
    stations = with_stations(SITE, basis=np.arange(12, dtype=np.uint8)).terrain.stations
    slopes = slopes_of(stations)
    there = np.array([0, 3, np.nan, 3, 1, 0, 0, 9, 9, 8, 7, 0], dtype=np.float64)
    back = np.array([5, 0, 0, 0, 0, 0, 6, *[np.nan] * 5], dtype=np.float64)
    worst = slopes.worst((there, back))
    assert worst.station.tolist() == [[1, 6], [7, 0]]
    assert worst.known.tolist() == [[True, True], [True, False]]
    np.testing.assert_array_equal(worst.take(there, back), [[3.0, 6.0], [9.0, np.nan]])
    np.testing.assert_array_equal(worst.take(there), [[3.0, 0.0], [9.0, np.nan]])
    np.testing.assert_array_equal(slopes.at_m(worst), [[0.5, 3.0], [0.0, np.nan]])
    assert slopes.basis(worst).tolist() == [[1, 6], [7, Basis.NONE]]


def test_the_other_way_everything_changes_sign() -> None:
    """Uphill becomes downhill."""
    with_, against = ways(np.array([0.2, -0.1]))
    assert with_.tolist() == [0.2, -0.1]
    assert against.tolist() == pytest.approx([-0.2, 0.1])
