"""Runoff, Manning's formula and pools, against published examples and closed forms."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.checks.ford.flow import MEAN_OF_DEEPEST, discharge, manning_speed, pool_depth, risen

CONVEYANCE = 0.02**0.5 / 0.05


@pytest.mark.parametrize(
    ("radius", "grade", "n", "speed"),
    [(1.043, 0.0025, 0.015, 3.428), (0.606, 0.0025, 0.015, 2.387), (0.9375, 0.003, 0.015, 3.498)],
)
def test_manning_of_a_lecture(radius: float, grade: float, n: float, speed: float) -> None:
    """Worked answers of examinations in open-channel hydraulics, San Diego State University, CIVE 530 (2007, 2008)."""
    assert float(manning_speed(radius, grade, n)) == pytest.approx(speed, rel=1e-3)


def test_rational_form() -> None:
    """C·i·A ÷ 360 with 0.6, 100 mm/h and 5 ha is 0.833 m³/s: a published example of a calculator's help."""
    assert float(discharge(0.6 * 100.0, 1.0, 50_000.0)) == pytest.approx(0.833, abs=5e-4)


def test_dry_bed_fills_as_manning_has_it() -> None:
    """A dry bed that 0.2 m²/s runs through: mean depth and speed of uniform flow, the deepest half as much again."""
    depth, speed = risen(np.array([0.0]), np.array([np.nan]), np.array([0.2]), CONVEYANCE)
    mean = MEAN_OF_DEEPEST * depth
    np.testing.assert_allclose(mean * speed, 0.2)
    np.testing.assert_allclose(speed, manning_speed(mean, 0.02, 0.05))


def test_area_of_a_parabola_is_two_thirds() -> None:
    """The mean depth that stands for the bed is that of the shape that is laid into the profile."""
    x = np.linspace(-1.0, 1.0, 20_001)
    assert np.trapezoid(1.0 - x**2, x) / 2.0 == pytest.approx(MEAN_OF_DEEPEST, rel=1e-6)


def test_nothing_more_leaves_water_as_surveyed() -> None:
    """Depth and speed stay, also where one of them is not known."""
    depth, flow = np.array([0.3, 0.3, np.nan, 0.0]), np.array([0.5, np.nan, 0.5, np.nan])
    now = risen(depth, flow, np.zeros(4), CONVEYANCE)
    np.testing.assert_array_equal(now[0], depth)
    np.testing.assert_array_equal(now[1], flow)


def test_timed_water_keeps_its_own_bed() -> None:
    """Twice the discharge in the same bed: depth by 2^(3/5), speed by 2^(2/5): Manning's proportions."""
    depth, flow = np.array([0.3]), np.array([0.8])
    through = flow * MEAN_OF_DEEPEST * depth
    deep, fast = risen(depth, flow, through, CONVEYANCE)
    np.testing.assert_allclose(deep / depth, 2.0**0.6)
    np.testing.assert_allclose(fast / flow, 2.0**0.4)


@given(st.floats(0.01, 1.5), st.floats(0.05, 3.0), st.floats(0.0, 2.0))
def test_water_never_falls_and_keeps_its_discharge(depth: float, flow: float, more: float) -> None:
    """As deep as surveyed at least; what ran before and what runs besides run through."""
    deep, fast = risen(np.array([depth]), np.array([flow]), np.array([more]), CONVEYANCE)
    assert deep[0] >= depth * (1.0 - 1e-12)
    through = flow * MEAN_OF_DEEPEST * depth + more
    assert fast[0] * MEAN_OF_DEEPEST * deep[0] == pytest.approx(through)


@given(st.floats(0.01, 1.5), st.floats(0.001, 2.0))
def test_water_that_nobody_timed_rises_at_least_as_much(depth: float, more: float) -> None:
    """Standing water with the flow on top is the most: more than the same depth had it run at the bed's own speed."""
    own = manning_speed(MEAN_OF_DEEPEST * depth, 0.02, 0.05)
    still, _ = risen(np.array([depth]), np.array([np.nan]), np.array([more]), CONVEYANCE)
    ran, _ = risen(np.array([depth]), np.atleast_1d(own), np.array([more]), CONVEYANCE)
    assert still[0] >= ran[0] - 1e-12 >= depth - 1e-9


def test_unknown_depth_stays_unknown_and_its_speed_stays() -> None:
    """More water makes no depth known."""
    deep, fast = risen(np.array([np.nan]), np.array([0.7]), np.array([0.1]), CONVEYANCE)
    assert np.isnan(deep[0])
    assert fast[0] == 0.7


def test_pool_in_a_bowl() -> None:
    """A paraboloid 20 m across and 0.5 m deep holds π/8·400·0.5 m³; a quarter of that stands half as deep."""
    full = np.pi / 8.0 * 20.0**2 * 0.5
    volume = np.array([0.0, full / 4.0, full, 3.0 * full])
    depth = pool_depth(volume, np.full(4, 0.5), np.full(4, 20.0))
    np.testing.assert_allclose(depth, [0.0, 0.25, 0.5, 0.5])


def test_volume_of_the_bowl_by_summing_rings() -> None:
    """The closed form against rings of 1 mm."""
    r = (np.arange(10_000) + 0.5) * 0.001
    volume = np.sum(2.0 * np.pi * r * 0.001 * 0.5 * (1.0 - (r / 10.0) ** 2))
    assert float(pool_depth(np.array([volume]), np.array([0.5]), np.array([20.0]))[0]) == pytest.approx(0.5, rel=1e-6)
    assert float(pool_depth(np.array([1.0]), np.array([0.5]), np.array([0.0]))[0]) == 0.5


def test_a_pool_that_hardly_moves_rises_as_still_water_does() -> None:
    """A centimetre a second through 30 cm is no slope of a bed: it does not rise to 2 m."""
    more, conveyance = np.array([0.05]), 0.02**0.5 / 0.05
    still, _ = risen(np.array([0.3]), np.array([0.0]), more, conveyance)
    creeps, _ = risen(np.array([0.3]), np.array([0.01]), more, conveyance)
    assert creeps[0] == still[0] < 0.5
    runs, _ = risen(np.array([0.3]), np.array([0.1]), more, conveyance)
    assert runs[0] > still[0]
