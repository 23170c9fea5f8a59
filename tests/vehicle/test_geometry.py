"""Tangent angles against the definition of 49 CFR 523.2, closed forms and a slow twin."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from pipeline.vehicle.geometry import (
    Tyres,
    approach_angle,
    breakover_angle,
    departure_angle,
    height_at_angle,
    lowest_between,
    merged,
    tangent_angle,
)

TYRES = Tyres(2.8, 0.38)


def half_angle_form(a: float, h: float, r: float) -> float:
    """Second form of the tangent angle, degrees: (2r − h)t² − 2at + h = 0 with t = tan(b/2)."""
    if abs(2 * r - h) < 1e-12:
        return float(np.degrees(2 * np.arctan(h / (2 * a))))
    t = (a - np.sqrt(a * a - h * (2 * r - h))) / (2 * r - h)
    return float(np.degrees(2 * np.arctan(t)))


@pytest.mark.parametrize(
    ("h", "a", "contact", "tangent"),
    [(0.500, 0.85, 30.466, 34.310), (0.450, 0.90, 26.565, 29.342), (0.350, 1.10, 17.650, 18.640)],
)
def test_tangent_rule_of_the_regulation(h: float, a: float, contact: float, tangent: float) -> None:
    """Angles by the tangent rule (49 CFR 523.2, values recomputed); radius 0 gives the line from the contact point.

    The second row straddles the 28° of 49 CFR 523.5: the contact rule would fail a vehicle that the regulation passes.
    """
    assert tangent_angle(a, h, 0.38) == pytest.approx(tangent, abs=0.01)
    assert tangent_angle(a, h, 0.0) == pytest.approx(contact, abs=0.01)


@pytest.mark.parametrize(
    ("h", "wheelbase", "radius", "at", "tangent"),
    [
        (0.250, 2.80, 0.38, 1.4, 20.750),
        (0.250, 2.80, 0.38, 1.0, 22.755),
        (0.200, 2.40, 0.35, 1.2, 19.396),
        (0.300, 2.40, 0.40, 1.2, 29.275),
        (15 * 0.0254, 120 * 0.0254, 0.38, 60 * 0.0254, 28.953),
    ],
)
def test_breakover_of_one_low_point(h: float, wheelbase: float, radius: float, at: float, tangent: float) -> None:
    """Published breakover cases (49 CFR 523.2, values recomputed): one point, everything else out of the way."""
    points = np.array([[0.9, 0.8], [-at, h], [-wheelbase - 0.9, 0.8]])
    assert breakover_angle(points, Tyres(wheelbase, radius), along=False) == pytest.approx(tangent, abs=0.01)


@settings(derandomize=True, deadline=None)
@given(st.floats(0.45, 2.0), st.floats(0.01, 1.2), st.floats(0.1, 0.44))
def test_angle_solves_its_equation(a: float, h: float, r: float) -> None:
    """a·sin b + (r − h)·cos b = r, and the half-angle form gives the same."""
    b = np.radians(float(tangent_angle(a, h, r)))
    assert a * np.sin(b) + (r - h) * np.cos(b) == pytest.approx(r, abs=1e-9)
    assert np.degrees(b) == pytest.approx(half_angle_form(a, h, r), abs=1e-6)


@settings(derandomize=True, deadline=None)
@given(st.floats(0.45, 2.0), st.floats(0.01, 1.2), st.floats(0.1, 0.44))
def test_tangent_is_never_below_contact(a: float, h: float, r: float) -> None:
    """The line from the contact point is the careful one."""
    assert tangent_angle(a, h, r) >= np.degrees(np.arctan2(h, a)) - 1e-9


def test_point_at_the_top_of_the_tyre() -> None:
    """The special case h = 2r: t = h/(2a)."""
    assert tangent_angle(0.9, 0.76, 0.38) == pytest.approx(np.degrees(2 * np.arctan(0.76 / 1.8)))


def test_point_on_the_ground_and_inside_the_tyre() -> None:
    """A point on the ground gives 0; a point that the tyre hides limits nothing."""
    assert tangent_angle(0.9, 0.0, 0.38) == pytest.approx(0.0, abs=1e-9)
    assert np.isinf(tangent_angle(0.2, 0.38, 0.38))
    assert np.isinf(tangent_angle(0.0, 0.0, 0.0))


@settings(derandomize=True, deadline=None)
@given(st.floats(0.5, 2.0), st.floats(1.0, 60.0))
def test_height_is_the_inverse(a: float, angle: float) -> None:
    """The point on the tangent line of an angle is seen under that angle."""
    h = height_at_angle(a, angle, 0.3)
    if np.hypot(a, 0.3 - h) > 0.3 + 1e-6 and h > 0.3 * (1 - np.cos(np.radians(angle))) + 1e-6:
        assert tangent_angle(a, h, 0.3) == pytest.approx(angle, abs=1e-6)


def test_worst_point_decides() -> None:
    """Approach and departure are the smallest over the points on their side; no point, no limit."""
    points = np.array([[0.9, 0.45], [0.6, 0.5], [-1.4, 0.3], [-3.5, 0.6], [-3.9, 0.35]])
    assert approach_angle(points, TYRES) == pytest.approx(29.342, abs=0.01)
    assert departure_angle(points, TYRES) == pytest.approx(18.640, abs=0.01)
    assert np.isinf(approach_angle(points[2:3], TYRES))
    assert np.isinf(breakover_angle(points[:1], TYRES, along=False))


def test_smallest_breakover_may_lie_between_two_points() -> None:
    """A flat belly between points near the axles is worst in its middle, where no point is."""
    belly = np.array([[0.9, 0.45], [-0.6, 0.25], [-2.2, 0.25], [-3.9, 0.45]])
    assert breakover_angle(belly, TYRES) == pytest.approx(20.750, abs=1e-3)
    assert breakover_angle(belly, TYRES, along=False) > 22.0


@settings(derandomize=True, deadline=None)
@given(
    st.lists(st.tuples(st.floats(-2.2, -0.6), st.floats(0.15, 0.45)), min_size=2, max_size=5, unique_by=lambda p: p[0])
)
def test_breakover_equals_a_dense_walk(points: list[tuple[float, float]]) -> None:
    """The zooming search agrees with a plain walk in steps of a quarter of a millimetre."""
    belly = np.array(sorted([(0.9, 0.5), *points, (-3.9, 0.5)], reverse=True))
    walk = np.union1d(np.linspace(-2.79, -0.01, 11_121), belly[1:-1, 0])
    z = np.interp(walk, belly[::-1, 0], belly[::-1, 1])
    sums = tangent_angle(-walk, z, 0.38) + tangent_angle(2.8 + walk, z, 0.38)
    found = breakover_angle(belly, TYRES)
    assert found <= sums.min() + 1e-9
    assert found == pytest.approx(sums.min(), abs=0.02)


def test_running_clearance_is_that_from_axle_to_axle() -> None:
    """Points beyond the axles do not count, the straight lines at the axles do."""
    points = np.array([[1.0, 0.1], [-1.0, 0.3], [-2.0, 0.28], [-3.8, 0.5]])
    assert lowest_between(points, TYRES) == pytest.approx(0.2)
    assert lowest_between(points[1:], Tyres(3.0, 0.38)) == pytest.approx(0.28)


def test_overhangs_count_where_they_hang_below() -> None:
    """A hitch below the tail is added, a bar above the line changes nothing, one beyond the end is added."""
    points = np.array([[0.9, 0.45], [-1.4, 0.25], [-3.9, 0.5]])
    hung = merged(points, np.array([[-3.8, 0.3], [-1.0, 0.9], [1.1, 0.7]]))
    np.testing.assert_array_equal(hung, [[1.1, 0.7], [0.9, 0.45], [-1.4, 0.25], [-3.8, 0.3], [-3.9, 0.5]])
    assert points.shape == (3, 2)


def ramp_gap(angle: float, a: float, h: float, r: float) -> float:
    """Height of a point above a ramp of *angle* radians that just touches the tyre, measured square to the ramp, m.

    The ramp's line lies at distance r from the wheel centre; plain vector geometry, no tangent formula.
    """
    normal = np.array([-np.sin(angle), np.cos(angle)])
    return float(normal @ (np.array([a, h]) - np.array([0.0, r]))) + r


@pytest.mark.parametrize(("a", "h", "r"), [(0.9, 0.45, 0.38), (0.85, 0.5, 0.38), (1.1, 0.35, 0.38), (0.6, 1.1, 0.3)])
def test_steepest_ramp_by_root_finding(a: float, h: float, r: float) -> None:
    """Turning a ramp about the tyre until it touches the point (scipy's root finder) gives the tangent angle."""
    root = brentq(ramp_gap, 0.0, np.pi / 2, args=(a, h, r))
    assert tangent_angle(a, h, r) == pytest.approx(np.degrees(root), abs=1e-6)


def test_crest_that_the_belly_just_touches() -> None:
    """Two ramps against both tyres, meeting at the belly point, enclose the supplement of the breakover angle."""
    front = brentq(ramp_gap, 0.0, np.pi / 2, args=(1.0, 0.25, 0.38))
    rear = brentq(ramp_gap, 0.0, np.pi / 2, args=(1.8, 0.25, 0.38))
    points = np.array([[0.9, 0.9], [-1.0, 0.25], [-3.9, 0.9]])
    assert breakover_angle(points, TYRES, along=False) == pytest.approx(np.degrees(front + rear), abs=1e-6)
    assert breakover_angle(points, TYRES, along=False) == pytest.approx(22.755, abs=0.01)


@settings(derandomize=True, deadline=None)
@given(st.floats(0.0, 0.3), st.floats(0.0, 0.3))
def test_lifting_never_takes_an_angle_away(first: float, more: float) -> None:
    """The higher the underbody stands, the larger each of its angles."""
    points = np.array([[0.9, 0.45], [-1.2, 0.25], [-3.9, 0.35]])
    low, high = points + np.array([0.0, first]), points + np.array([0.0, first + more])
    for angle in (approach_angle, departure_angle, breakover_angle):
        assert angle(high, TYRES) >= angle(low, TYRES) - 1e-9
