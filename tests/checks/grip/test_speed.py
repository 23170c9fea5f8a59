"""Bends and stopping: published worked examples and limits."""

import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.checks.grip.speed import bank_speed, braking_distance, curve_radius, sideways
from pipeline.kernels.four_track import MOST_SIDEWAYS
from pipeline.units import GRAVITY, KMH, degrees_to_grade, percent_to_degrees
from tests.checks.worlds import LIMITS

# Braking: Fundamentals of Transportation, section 7.1 "Sight Distance" (Levinson et al.)


def test_braking_on_a_slight_descent() -> None:
    """66 km/h, f 0.3, 3 % down, g 9.8: 63.5 m (0.1 m)."""
    found = float(braking_distance(66.0 * KMH, 0.3, 0.03, gravity=9.8))
    assert found == pytest.approx(63.5, abs=0.1)


def test_friction_that_stops_in_a_given_distance() -> None:
    """150 km/h in 200 m on 3 % down needs f 0.47 (0.005); 100 km/h in 75 m on 2.5 % up needs 0.50."""
    for speed, grade, distance, needed in ((150.0, 0.03, 200.0, 0.47), (100.0, -0.025, 75.0, 0.50)):
        firm = float(braking_distance(speed * KMH, needed + 0.005, grade, gravity=9.8))
        loose = float(braking_distance(speed * KMH, needed - 0.005, grade, gravity=9.8))
        assert firm < distance < loose


@pytest.mark.parametrize(("speed", "distance"), [(80, 73.4), (90, 92.9), (100, 114.7), (110, 138.8)])
def test_braking_distances_of_the_design_table(speed: int, distance: float) -> None:
    """Braking distance on the level at 3.4 m/s² (AASHTO stopping sight distance, in section 7.4), 0.1 m.

    The table is made with 0.039·V²/a, V in km/h, where 1/(2·3.6²) = 0.03858 is meant: the exact distance is 1.1 %
    shorter, and equals the table with its rounded constant.
    """
    exact = float(braking_distance(speed * KMH, 3.4 / GRAVITY, 0.0))
    assert exact * 0.039 / (KMH**2 / 2.0) == pytest.approx(distance, abs=0.1)
    assert exact == pytest.approx(distance, rel=0.011)


def test_what_cannot_stop_says_so() -> None:
    """Grip 0.40 on 40 % down: μ·cos θ = sin θ, infinite; a little more grip stops, far away."""
    assert np.isinf(braking_distance(20.0 * KMH, 0.40, 0.40))
    assert np.isinf(braking_distance(20.0 * KMH, 0.15, 0.40))
    assert 100.0 < float(braking_distance(20.0 * KMH, 0.401, 0.40)) < np.inf


def test_braking_at_trail_speed() -> None:
    """20 km/h, f 0.55: 5.405 m on 25 % down, 2.860 m on the level (g 9.81, derived)."""
    assert float(braking_distance(20.0 * KMH, 0.55, 0.25, gravity=9.81)) == pytest.approx(5.405, abs=0.001)
    assert float(braking_distance(20.0 * KMH, 0.55, 0.0, gravity=9.81)) == pytest.approx(2.860, abs=0.001)


@settings(derandomize=True, deadline=None)
@given(st.floats(0.5, 15.0), st.floats(0.05, 0.9), st.floats(-0.6, 0.6))
def test_braking_equals_step_by_step(speed: float, mu: float, downhill: float) -> None:
    """Slowing down in equal small drops of speed² covers the same way; steeper and slipperier take longer."""
    whole = float(braking_distance(speed, mu, downhill))
    parts = np.sqrt(np.linspace(0.0, speed**2, 6))
    steps = [float(braking_distance(parts[k + 1], mu, downhill, end_speed=parts[k])) for k in range(5)]
    assert sum(steps) == pytest.approx(whole) or np.isinf(whole)
    assert float(braking_distance(speed, mu, downhill + 0.05)) >= whole
    assert float(braking_distance(speed, 0.9 * mu, downhill)) >= whole


# Bends: section 7.4 "Horizontal Curves", and its exact form


def test_radius_of_a_curve() -> None:
    """110 km/h, e 0.06, f 0.10, g 9.8: 595 m."""
    assert float(curve_radius(110.0 * KMH, 0.06, 0.10, gravity=9.8)) == pytest.approx(595.4, abs=0.5)
    assert np.isinf(curve_radius(10.0, -0.1, 0.05))


def test_speed_of_a_curve() -> None:
    """R 498 m, f 0.05, level across, g 9.8: 56.23 km/h (the page writes feet in the text and computes with metres)."""
    assert float(bank_speed(498.0, 0.0, 0.05, gravity=9.8)) / KMH == pytest.approx(56.23, abs=0.01)


@pytest.mark.parametrize(
    ("radius", "bank", "mu", "kmh"), [(12.0, 0.05, 0.30, 23.28), (12.0, -0.10, 0.30, 17.21), (25.0, 0.0, 0.30, 30.88)]
)
def test_exact_bank_speed(radius: float, bank: float, mu: float, kmh: float) -> None:
    """v² = g·R·(e + f)/(1 − e·f), g 9.81 (derived, recomputed to 0.01 km/h)."""
    assert float(bank_speed(radius, bank, mu, gravity=9.81)) / KMH == pytest.approx(kmh, abs=0.01)


def test_ends_of_the_bank_formula() -> None:
    """Adverse camber that slides it standing leaves no speed; a bank that holds any speed has none either."""
    assert float(bank_speed(20.0, -0.4, 0.3)) == 0.0
    assert np.isinf(bank_speed(20.0, 2.0, 0.6))


@settings(derandomize=True, deadline=None)
@given(st.floats(5.0, 60.0), st.floats(-0.2, 0.2), st.floats(0.25, 0.8))
def test_bank_speed_uses_the_grip_up(radius: float, bank: float, mu: float) -> None:
    """At that speed a level bend asks exactly μ sideways; without bank it is the small-bank radius formula."""
    speed = float(bank_speed(radius, bank, mu))
    turning = speed**2 / (radius * GRAVITY)
    assert (turning - bank) / (1.0 + turning * bank) == pytest.approx(mu)
    assert float(curve_radius(float(bank_speed(radius, 0.0, mu)), 0.0, mu)) == pytest.approx(radius)


def test_a_driver_slows_down_for_a_bend() -> None:
    """Sideways acceleration grows with speed² and bend, keeps its side, and ends at a quarter of g."""
    bends = np.array([0.0, 0.1, -0.1, 2.0, -2.0])
    found = sideways(2.0, bends)
    assert found == pytest.approx([0.0, 0.4 / GRAVITY, -0.4 / GRAVITY, MOST_SIDEWAYS, -MOST_SIDEWAYS])


# Trade facts


def test_shipped_drivers_crawl() -> None:
    """Controlled crawl descent is about 3 km/h, descent aids give up above about 27: common practice, no source.

    Drivers go on to obstacles at a crawl, and between them far below where aids give up.
    """
    for motion in LIMITS.motion.values():
        assert 1.5 <= motion.obstacle_kmh <= 4.0
        assert 2.0 * motion.obstacle_kmh <= motion.speed_kmh <= 27.0 / 2.0


@pytest.mark.parametrize("file", sorted(Path("configs/vehicles").glob("*.toml")), ids=lambda file: file.stem)
def test_shipped_vehicles_crawl_in_low_range(file: Path) -> None:
    """In low range engine braking holds about 3 km/h, far below 27 without: as above, no source."""
    vehicle = tomllib.loads(file.read_text(encoding="utf-8"))
    held = vehicle["min_controlled_speed_kmh"]
    assert 2.5 <= held <= 4.5 if vehicle["low_range"] else 4.5 < held <= 27.0 / 2.0


PERCENT = (5, 8, 10, 12, 15, 18, 20, 25, 30, 33, 40, 45, 50, 58, 60, 70, 100)
IN_DEGREES = (2.86, 4.57, 5.71, 6.84, 8.53, 10.20, 11.31, 14.04, 16.70, 18.26)
IN_DEGREES += (21.80, 24.23, 26.57, 30.11, 30.96, 34.99, 45.00)
DEGREES = (1, 2, 5, 10, 15, 20, 25, 28, 30, 35, 40, 45)
IN_PERCENT = (1.75, 3.49, 8.75, 17.63, 26.79, 36.40, 46.63, 53.17, 57.74, 70.02, 83.91, 100.00)


def test_percent_and_degrees() -> None:
    """10° = 17.63 %, 10 % = 5.71°, 100 % = 45° (OpenStreetMap wiki, key incline); the others recomputed to 0.01."""
    assert [percent_to_degrees(one) for one in PERCENT] == pytest.approx(list(IN_DEGREES), abs=0.01)
    assert [100.0 * degrees_to_grade(float(one)) for one in DEGREES] == pytest.approx(list(IN_PERCENT), abs=0.01)
