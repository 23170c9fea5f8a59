"""Slide, climb and descent."""

import math

import numpy as np
import pytest

from pipeline.checks.check import STUCK
from pipeline.checks.traction import Climb, Descent, Slide, gradeability
from pipeline.terms import Basis, Drive
from tests.checks.worlds import envelope, outcome_of, site_on, straight
from tests.worlds import plane

BENCH = {"cg_m": (-1.4, 0.0, 0.72), "wheelbase_m": 2.8}


@pytest.mark.parametrize(("drive", "grade"), [(Drive.FOUR_WHEEL, 0.55), (Drive.REAR, 0.29561), (Drive.FRONT, 0.21658)])
def test_gradeability_by_drive(drive: Drive, grade: float) -> None:
    """μ 0.6, f 0.05, l_f = l_r = 1.40, H 0.72: 0.550, 0.29561, 0.21658 (solved from Levinson's force formulas)."""
    found = gradeability(envelope(drive=drive, **BENCH), np.array([0.6]), np.array([0.05]))
    assert found == pytest.approx([grade], abs=1e-4)


def test_rear_drive_matches_the_published_force() -> None:
    """W 10 kN, L 3, l_f 1, H 0.5, μ 0.6, f 0.016: Fmax 2204 N (Fundamentals of Transportation, 7.2).

    Without drag tan θ + f = Fmax ÷ (W cos θ).
    """
    vehicle = envelope(drive=Drive.REAR, wheelbase_m=3.0, cg_m=(-1.0, 0.0, 0.5))
    grade = float(gradeability(vehicle, np.array([0.6]), np.array([0.016]))[0])
    force = 0.6 * 10_000.0 * (1.0 - 0.016 * 0.5) / 3.0 / (1.0 - 0.6 * 0.5 / 3.0)
    assert force == pytest.approx(2204.4, abs=0.1)
    assert grade + 0.016 == pytest.approx(force / 10_000.0, abs=0.0005)


@pytest.mark.parametrize("heading", [(0.5, 0.0), (0.0, 0.5), (0.3, 0.4), (-0.4, 0.3)])
def test_needed_adhesion_is_the_slope_for_every_heading(heading: tuple[float, float]) -> None:
    """On a plane √(grade² + cross²) is its tangent whatever the heading (friction circle)."""
    found = outcome_of(Slide(), site_on(straight(), plane(*heading), mu_low=0.5))
    assert found.demand == pytest.approx(0.5, abs=1e-6)
    assert found.utilisation == pytest.approx(1.0, abs=1e-5)


def test_climb_takes_the_smaller_of_grip_and_torque() -> None:
    """Grip 0.55 − 0.05 against a crawl grade of 0.30 − 0.05, told in degrees; downhill asks nothing."""
    site = site_on(straight(), plane(east=0.2))
    grip, torque = outcome_of(Climb(), site), outcome_of(Climb(), site, envelope(crawl_grade=0.30))
    assert grip.limit[0, 0] == pytest.approx(math.degrees(math.atan(0.5)))
    assert torque.limit[0, 0] == pytest.approx(math.degrees(math.atan(0.25)))
    assert grip.demand[0].tolist() == pytest.approx([11.3099, 0.0], abs=1e-3)
    assert np.isnan(grip.at_m[0, 1])


def test_ground_that_holds_the_wheels_is_a_limit_of_nothing() -> None:
    """Where rolling resistance is more than grip not even the level can be driven."""
    found = outcome_of(Climb(), site_on(straight(), plane(), mu_low=0.15, rolling=0.2))
    assert found.utilisation.tolist() == [[STUCK, STUCK]]
    assert "even on the level" in found.note[0, 0]


def test_descent_without_low_range_holds_less() -> None:
    """Brakes hold atan μ; engine braking the crawl grade in low range, half of it without."""
    site = site_on(straight(), plane(east=-0.2))
    low, high = outcome_of(Descent(), site), outcome_of(Descent(), site, envelope(low_range=False))
    assert low.limit[0, 0] == pytest.approx(28.81, abs=0.01)  # atan 0.55
    assert high.limit[0, 0] == pytest.approx(math.degrees(math.atan(0.4)))
    assert low.demand[0].tolist() == pytest.approx([11.3099, 0.0], abs=1e-3)


def test_assumed_surface_lowers_the_basis() -> None:
    """Grip of a surface nobody tagged is an assumption, and the check says so."""
    found = outcome_of(Slide(), site_on(straight(), plane(), assumed=True))
    assert (found.basis == Basis.ASSUMED).all()
