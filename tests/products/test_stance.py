"""Where wheels stand: a circle on a line of ground, the wheel in the air, places in travel."""

from dataclasses import replace

import numpy as np
import pytest

from pipeline.products.stance import Stances, resting_height, stances
from pipeline.terms import Direction, Wheel
from tests.products.ground_worlds import PLOTS
from tests.products.worlds import make_facts

FACTS = make_facts()
ENVELOPES = {envelope.setup: envelope for envelope in FACTS.envelopes}
R = 0.4


def _rest(places: list[float], heights: list[float], axle: float = 0.0) -> float:
    """Rest one circle of 0.4 m on one line."""
    found = resting_height(np.array([places]), np.array([heights]), np.array([axle]), np.array([R]))
    return float(found[0])


def _stances() -> Stances:
    assert FACTS.poses is not None
    return stances(FACTS.poses, ENVELOPES)


def test_on_a_plane_the_centre_is_a_radius_off_it() -> None:
    """Closed form: r over the level; r ÷ cos θ straight up from a slope of θ."""
    assert _rest([-2, 2], [0, 0]) == pytest.approx(R)
    slope = np.tan(np.radians(25))
    assert _rest([-2, 2], [-2 * slope, 2 * slope]) == pytest.approx(R / np.cos(np.radians(25)))


def test_before_a_step_the_circle_leans_on_its_edge() -> None:
    """Closed form: edge of height h at distance d carries the centre at h + √(r² − d²), where that is over r."""
    step = [-2, 0.2, 0.2001, 2], [0, 0, 0.15, 0.15]
    assert _rest(*step) == pytest.approx(0.15 + np.sqrt(R**2 - 0.2**2), abs=1e-3)
    assert _rest(*step, axle=-0.3) == pytest.approx(R)


def test_a_narrow_hole_is_bridged() -> None:
    """Closed form: a slot of width 2 d lets the centre down to √(r² − d²)."""
    assert _rest([-2, -0.1, -0.0999, 0.0999, 0.1, 2], [0, 0, -1, -1, 0, 0]) == pytest.approx(
        np.sqrt(R**2 - 0.1**2), abs=1e-3
    )


def test_without_ground_below_there_is_no_height() -> None:
    """A gap under the hub, or no line at all: not known, even where there is ground within the circle's reach."""
    nan = np.nan
    assert np.isnan(_rest([-2, -0.1, 0, 0.1, 2], [0, 0, nan, 0, 0]))
    assert np.isnan(_rest([-2, 2], [nan, nan]))
    assert np.isnan(_rest([1, 2], [0, 0]))
    assert _rest([-2, -1, 0.5, 2], [0, nan, 0, 0], axle=1.0) == pytest.approx(R)


def test_any_line_agrees_with_looking_at_every_place() -> None:
    """Plain twin: the highest of z(s) + √(r² − (s − x)²) over a fine grid of places."""
    rng = np.random.default_rng(7)
    places = np.arange(-1.0, 1.01, 0.1)
    for _ in range(40):
        heights = rng.normal(0.0, 0.08, len(places))
        axle = rng.uniform(-0.5, 0.5)
        grid = axle + np.linspace(-R, R, 20001)
        twin = (np.interp(grid, places, heights) + np.sqrt(np.maximum(R**2 - (grid - axle) ** 2, 0.0))).max()
        assert twin - 1e-9 <= _rest(list(places), list(heights), axle) <= twin + 1e-4


def test_places_run_in_travel() -> None:
    """Axles and worst point as the plots have them, with the line as against it."""
    found = _stances()
    for row, plot in enumerate(PLOTS):
        own = FACTS.envelopes[plot.setup]
        assert found.worst_m[row] == pytest.approx(plot.worst_m)
        assert found.apart_m[row] == pytest.approx(own.wheelbase_m * np.cos(np.arctan(plot.grade)))
    assert {plot.direction for plot in PLOTS} == set(Direction)


def test_where_all_stand_the_wheels_rest_on_their_ground() -> None:
    """On a plane of grade and cross slope: each centre r ÷ cos(grade) over the ground below it."""
    found = _stances()
    for row in (0, 1, 3):
        grade, own = PLOTS[row].grade, FACTS.envelopes[PLOTS[row].setup]
        above = own.tyre_radius_m * np.hypot(1.0, grade)
        assert found.wheels_m[row] == pytest.approx(found.ground_m[row] + above, abs=1e-6)
        assert found.lifted[row] == -1
        assert found.lift_m[row] == 0


def test_the_wheel_in_the_air_hangs_at_the_wheel_travel() -> None:
    """The twist of the four centres is the travel; the other three rest; how far it is off is twist less travel."""
    assert FACTS.poses is not None
    found, own = _stances(), FACTS.envelopes[1]
    assert found.lifted[2] == Wheel.FRONT_RIGHT
    fl, fr, rl, rr = found.wheels_m[2]
    assert (fl - fr) - (rl - rr) == pytest.approx(own.wheel_travel_m)
    twist = FACTS.poses.table["twist_m"].iloc[2]
    assert found.lift_m[2] == pytest.approx(twist - own.wheel_travel_m)
    slack = {one.setup: replace(one, wheel_travel_m=2.0) for one in FACTS.envelopes}
    standing = stances(FACTS.poses, slack).wheels_m[2]
    assert standing[[0, 2, 3]] == pytest.approx(found.wheels_m[2][[0, 2, 3]])
    assert standing[1] < fr


def test_where_nothing_is_known_beside_the_middle_it_stands_on_that() -> None:
    """Wheels of an axle then are level with each other, and the ground under them stays unknown."""
    found = _stances()
    fl, fr, rl, rr = found.wheels_m[6]
    assert (fl, rl) == (fr, rr)
    assert np.isfinite(fl)
    assert np.isnan(found.ground_m[6]).all()
