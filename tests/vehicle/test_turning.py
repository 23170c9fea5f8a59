"""Turning against published circles and worked examples."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from pipeline.errors import DataError
from pipeline.units import FOOT_M
from pipeline.vehicle.turning import offtracking, swept_width, tail_swing, turn_circles


def test_passenger_car_of_the_green_book() -> None:
    """AASHTO passenger car P: kerb radius 24 ft gives inner 14.42 ft and wall 25.5 ft (published, within 0.1 ft)."""
    circles = turn_circles(24 * FOOT_M, 11 * FOOT_M, 7 * FOOT_M, 3 * FOOT_M)
    assert circles.inner_m / FOOT_M == pytest.approx(14.42, abs=0.1)
    assert circles.inner_m / FOOT_M == pytest.approx(14.331, abs=0.001)
    assert circles.kerb_m / FOOT_M == pytest.approx(24.0)
    assert circles.wall_m / FOOT_M == pytest.approx(25.5, abs=0.1)


@pytest.mark.parametrize(("radius", "lengths", "published"), [(50, (20,), 4.174), (50, (20, 40), 27.639)])
def test_offtracking_of_worked_examples(radius: float, lengths: tuple[float, ...], published: float) -> None:
    """R − √(R² − ΣL²), feet, worked examples that cite the AASHTO Green Book."""
    assert offtracking(radius, float(np.hypot.reduce(lengths))) == pytest.approx(published, abs=0.001)


@pytest.mark.parametrize(
    ("radius", "wheelbase", "cut"), [(6.0, 2.8, 0.6934), (6.0, 3.2, 0.9246), (12.0, 2.8, 0.3312), (25.0, 2.8, 0.1573)]
)
def test_offtracking_in_metres(radius: float, wheelbase: float, cut: float) -> None:
    """The same relation, metric values recomputed."""
    assert offtracking(radius, wheelbase) == pytest.approx(cut, abs=1e-4)


def test_swept_width_of_the_worked_example() -> None:
    """Width 8.5 ft, R 50 ft, L 20 ft: 12.674 ft by the shorthand of the worked example (width + off-tracking).

    The exact rectangle sweeps 12.346 ft: its outer front corner stands at 53.92 ft, not at 50 + 4.25 ft.
    """
    assert 8.5 + offtracking(50.0, 20.0) == pytest.approx(12.674, abs=0.001)
    rear = np.sqrt(50.0**2 - 20.0**2)
    exact = np.hypot(rear + 4.25, 20.0) - (rear - 4.25)
    assert swept_width(50.0, 20.0, 8.5) == pytest.approx(exact, abs=1e-9)
    assert exact == pytest.approx(12.346, abs=0.001)


def test_straight_on_sweeps_the_width() -> None:
    """At an infinite radius nothing is cut and nothing swings."""
    assert offtracking(np.inf, 2.8) == 0.0
    assert swept_width(np.inf, 2.8, 1.9, 0.9) == pytest.approx(1.9)
    assert tail_swing(np.inf, 1.1) == 0.0


def test_large_radii_keep_their_digits() -> None:
    """At 10 000 km the cut is L²/(2R), which the textbook form loses to rounding."""
    assert offtracking(1e7, 2.8) == pytest.approx(2.8**2 / 2e7, rel=1e-9)


def test_arrays_go_through() -> None:
    """Arrays give what their values give, and wider bodies, longer noses and tighter turns sweep more."""
    radii = np.array([5.0, 8.0, 20.0, np.inf])
    swept = swept_width(radii, 2.8, 1.9, 0.9)
    np.testing.assert_allclose(swept, [float(swept_width(r, 2.8, 1.9, 0.9)) for r in radii])
    assert np.all(np.diff(swept) < 0.0)
    assert np.all(swept_width(radii, 2.8, 1.9, 1.1)[:3] > swept[:3])


def test_tail_swing_of_the_passenger_car() -> None:
    """Rear radius 21.331 ft, overhang 5 ft: 0.578 ft (derived)."""
    assert tail_swing(21.331, 5.0) == pytest.approx(0.578, abs=0.001)


@pytest.mark.parametrize("radius", [2.8, 2.0, [6.0, 2.5]])
def test_radius_not_above_the_wheelbase_is_an_error(radius: float | list[float]) -> None:
    """No steady turn exists there."""
    with pytest.raises(DataError, match=r"above the wheelbase of 2\.8 m"):
        offtracking(radius, 2.8)


def tractrix_cut(radius: float, wheelbase: float, turned_rad: float) -> np.ndarray:
    """Pull the rear axle along while the front axle drives round a circle (scipy); how far it cuts inside, m."""

    def turn(angle: float, heading: np.ndarray) -> np.ndarray:
        return radius * np.sin(angle + np.pi / 2 - heading) / wheelbase

    at = np.linspace(0.0, turned_rad, 500)
    heading = solve_ivp(turn, (0.0, turned_rad), [np.pi / 2], t_eval=at, rtol=1e-10, atol=1e-12).y[0]
    x = radius * np.cos(at) - wheelbase * np.cos(heading)
    y = radius * np.sin(at) - wheelbase * np.sin(heading)
    return radius - np.hypot(x, y)


@pytest.mark.parametrize(("radius", "wheelbase"), [(6.0, 2.8), (12.0, 3.2)])
def test_tractrix_approaches_the_steady_value_from_below(radius: float, wheelbase: float) -> None:
    """A rear axle that is pulled round the circle cuts in more and more, towards the closed form and never beyond.

    Two turns of the circle are as good as forever.
    """
    cuts = tractrix_cut(radius, wheelbase, 4.0 * np.pi)
    steady = float(offtracking(radius, wheelbase))
    assert np.all(cuts <= steady + 1e-8)
    assert np.all(np.diff(cuts) >= -1e-8)
    assert cuts[-1] == pytest.approx(steady, abs=1e-6)
    assert cuts[len(cuts) // 16] < steady - 0.01


@pytest.mark.parametrize("kerb", [5.0, 6.0, 9.0])
def test_circles_stand_in_order(kerb: float) -> None:
    """Inner inside kerb inside wall, the ring of body and corner is the swept width of the middle of the front axle."""
    circles = turn_circles(kerb, 2.8, 1.9, 0.9)
    assert circles.inner_m < circles.kerb_m < circles.wall_m
    rear_middle = circles.inner_m + 0.95
    front_middle = np.hypot(rear_middle, 2.8)
    assert circles.wall_m - circles.inner_m == pytest.approx(float(swept_width(front_middle, 2.8, 1.9, 0.9)))
