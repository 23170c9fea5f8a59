"""Building trail beds into a hillside whose shape is known."""

import numpy as np
import pytest
import shapely
from maker.grid import Floats, bilinear, cell_centres
from maker.terraces import build_trails, lay_beds
from maker.trails import Trail, cut_edges

SLOPE = np.tan(np.radians(25.0))


@pytest.fixture(scope="module")
def hillside() -> Floats:
    """Give a plane of 25° that rises to the north."""
    _, y = cell_centres()
    return 100.0 + SLOPE * y


def trail(name: str, points: list[tuple[float, float]], **settings: object) -> Trail:
    """Draw a trail of straight pieces."""
    shape = {key: settings.pop(key) for key in ("crests", "off_camber", "bed_m", "even") if key in settings}
    line = shapely.segmentize(shapely.LineString(points), 1.0)
    return Trail(id=name, attributes={"width_m": 3.0, **settings}, shape=shape, line=line)


def built(ground: Floats, *trails: Trail) -> Floats:
    """Build *trails* into *ground*."""
    return build_trails(lay_beds(cut_edges(list(trails)), ground), ground)


def side_slope(height: Floats, x: Floats, y: Floats) -> Floats:
    """Give the slope to the north at places of an east-west trail, degrees."""
    return np.degrees(np.arctan((bilinear(height, x, y + 0.8) - bilinear(height, x, y - 0.8)) / 1.6))


def test_a_terrace_is_nearly_level_across(hillside: Floats) -> None:
    """Along the contour of a 25° hillside the bed falls 3° to the valley, and its centre keeps the hill's height."""
    height = built(hillside, trail("A", [(100.0, 300.0), (300.0, 300.0)]))
    x = np.arange(130.0, 270.0)
    y = np.full(x.shape, 300.0)
    assert side_slope(height, x, y) == pytest.approx(np.full(x.shape, 3.0), abs=1.0)
    assert bilinear(height, x, y) == pytest.approx(bilinear(hillside, x, y), abs=0.05)


def test_beyond_the_batter_the_hill_is_as_it_was(hillside: Floats) -> None:
    """Ten metres from the trail only the texture of the forest floor differs."""
    height = built(hillside, trail("A", [(100.0, 300.0), (300.0, 300.0)]))
    assert np.abs(height[315:330, 100:300] - hillside[315:330, 100:300]).max() < 0.09


def test_off_camber_stretches_are_tilted_as_asked(hillside: Floats) -> None:
    """A stretch of 14° is 14° in its middle and 3° far from it."""
    height = built(hillside, trail("A", [(100.0, 300.0), (300.0, 300.0)], off_camber=[[80, 120, 14.0]]))
    tilt = side_slope(height, np.array([200.0, 270.0]), np.array([300.0, 300.0]))
    assert tilt == pytest.approx([14.0, 3.0], abs=1.0)


def test_a_lead_in_turns_the_bed_as_slowly_as_asked(hillside: Floats) -> None:
    """Half of a lead-in of 16 m before the stretch the bed has half of the tilt; of the usual 6 m it has none yet."""
    slow, usual = (
        built(hillside, trail("A", [(100.0, 300.0), (300.0, 300.0)], off_camber=[[80, 120, 15.0, *lead_in]]))
        for lead_in in ([16.0], [])
    )
    half = np.degrees(np.arctan((np.tan(np.radians(15.0)) + np.tan(np.radians(3.0))) / 2.0))
    at = np.array([172.0]), np.array([300.0])
    assert side_slope(slow, *at) == pytest.approx([half], abs=0.8)
    assert side_slope(usual, *at) == pytest.approx([3.0], abs=0.8)


def test_a_crest_stands_as_high_as_asked(hillside: Floats) -> None:
    """A brow of 0.5 m over 2.6 m either way stands 0.5 m above the bed around it, in cells of a metre."""
    height = built(hillside, trail("A", [(100.5, 300.5), (300.5, 300.5)], crests=[[100, 0.5, 2.6]]))
    brow, before = bilinear(height, np.array([200.5, 190.5]), np.array([300.5, 300.5]))
    assert brow - before == pytest.approx(0.5, abs=0.06)


def test_a_bed_straight_up_the_hill_has_no_steps(hillside: Floats) -> None:
    """Off the grid's own directions too, heights of cells follow the bed's grade: within a degree, metre by metre."""
    line = trail("A", [(100.0, 300.0), (190.0, 345.0)], bed_m=4.0)
    height = built(hillside, line)
    at = np.arange(40.0, line.line.length - 40.0, 1.0)
    x, y = shapely.get_coordinates(shapely.line_interpolate_point(line.line, at)).T
    expected = np.degrees(np.arctan(SLOPE * 45.0 / np.hypot(90.0, 45.0)))
    grade = np.degrees(np.arctan(np.diff(bilinear(height, x, y))))
    assert grade == pytest.approx(np.full(grade.shape, expected), abs=1.0)


def test_an_even_trail_is_a_ramp_over_any_ground(hillside: Floats) -> None:
    """Over a hump of 4 m a bed that is all ramp keeps one grade away from its ends, where it is level."""
    x, _ = cell_centres()
    humped = hillside + 4.0 * np.exp(-np.square((x - 200.0) / 20.0))
    line = trail("A", [(100.0, 300.0), (300.0, 350.0)], even=1.0)
    (bed,) = lay_beds(cut_edges([line]), humped)
    grade = np.diff(bed.z) / np.diff(bed.at)
    inside = (bed.at[1:] > 36.0) & (bed.at[1:] < bed.at[-1] - 36.0)
    rise = bed.z[-1] - bed.z[0]
    assert grade[inside] == pytest.approx(np.full(inside.sum(), rise / (bed.at[-1] - 2 * 4.0 - 18.0)), rel=0.01)
    assert np.abs(grade[[0, -1]]).max() < 0.01
    (soft,) = lay_beds(cut_edges([trail("A", [(100.0, 300.0), (300.0, 350.0)])]), humped)
    assert np.ptp(np.diff(soft.z)) > 2.0 * np.ptp(np.diff(bed.z))


def test_trails_meet_at_one_height(hillside: Floats) -> None:
    """Up to a junction no trail steps: along each, a metre changes the height by less than the steepest grade built."""
    across = trail("A", [(100.0, 300.0), (200.0, 300.0), (300.0, 300.0)])
    climb = trail("B", [(200.0, 300.0), (260.0, 325.0), (320.0, 350.0)])
    height = built(hillside, across, climb)
    for line, steepest in ((across.line, 0.06), (climb.line, 0.40)):
        at = np.arange(10.0, line.length - 10.0, 1.0)
        x, y = shapely.get_coordinates(shapely.line_interpolate_point(line, at)).T
        assert np.abs(np.diff(bilinear(height, x, y))).max() < steepest


def test_a_bridge_leaves_the_ground_alone(hillside: Floats) -> None:
    """Under a bridge the ground stays as it was."""
    height = built(hillside, trail("A", [(100.0, 300.0), (130.0, 300.0)], bridge=True))
    assert np.abs(height - hillside).max() < 0.09
