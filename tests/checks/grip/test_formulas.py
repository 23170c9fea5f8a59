"""Grip on a slope: published values, limits and properties of the formulas."""

import math

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from pipeline.checks.grip import formulas as grip
from pipeline.checks.grip.formulas import Balance
from pipeline.terms import Drive

CENTRED = Balance(wheelbase=2.8, to_front=1.4, height=0.72)
DRIVES = list(Drive)
VEHICLES = st.builds(
    lambda wheelbase, share, slim: Balance(wheelbase, share * wheelbase, slim * wheelbase),
    st.floats(1.8, 3.6),
    st.floats(0.35, 0.65),
    st.floats(0.15, 0.4),
)
ADHESION = st.floats(0.05, 0.9)
ROLLING = st.floats(0.0, 0.35)
SLOPE = st.floats(-0.9, 0.9)


def plain_forces(grade: float, cross: float, turning: float) -> tuple[float, float]:
    """Slow twin: weight and inertia resolved with vectors on the plane z = g·x − c·y (x ahead, y left)."""
    normal = np.array([-grade, cross, 1.0]) / math.sqrt(1.0 + grade**2 + cross**2)
    ahead = np.array([1.0, 0.0, grade]) / math.sqrt(1.0 + grade**2)
    left = np.cross(normal, ahead)
    force = np.array([0.0, -turning, -1.0])
    load = -force @ normal
    return -force @ ahead / load, force @ left / load


# Fundamentals of Transportation, section 7.2 "Grade" (Levinson et al.), and its slope form


def test_worked_example_of_the_greatest_tractive_force() -> None:
    """W 10 kN, L 3, l_f 1, H 0.5, μ 0.6, f 0.016: 2 204 N, and less drag 183 N and rolling 160 N a grade of 0.1861."""
    force = float(grip.max_tractive_force(Drive.REAR, Balance(3.0, 1.0, 0.5), 10_000.0, 0.6, 0.016))
    assert force == pytest.approx(2204.0, abs=1.0)
    assert force == pytest.approx(2204.44, abs=0.01)
    assert (force - 183.0 - 160.0) / 10_000.0 == pytest.approx(0.1861, abs=0.0005)
    # Level: (2204 − 160 − 183) N on 10 kN of weight, at 9.8 m/s²
    assert (force - 343.0) / 10_000.0 * 9.8 == pytest.approx(1.82, abs=0.005)


def test_front_drive_has_the_arm_to_the_rear_axle() -> None:
    """The page prints l_f for front drive, a slip: with the weight further back a front drive pushes less (Wong)."""
    front = [float(grip.max_tractive_force(Drive.FRONT, Balance(3.0, at, 0.5), 10_000.0, 0.6, 0.016)) for at in (1, 2)]
    assert front[0] == pytest.approx(0.6 * 10_000.0 * (2.0 + 0.016 * 0.5) / 3.0 / (1.0 + 0.6 * 0.5 / 3.0))
    assert front[1] < front[0]


def test_all_wheels_push_with_the_whole_load() -> None:
    """All-wheel drive, locked or ideal: μ·W."""
    assert float(grip.max_tractive_force(Drive.FOUR_WHEEL, CENTRED, 10_000.0, 0.6, 0.016)) == 6000.0


@pytest.mark.parametrize(
    ("drive", "grade", "degrees"),
    [(Drive.FOUR_WHEEL, 0.55, 28.811), (Drive.REAR, 0.295608, 16.468), (Drive.FRONT, 0.216584, 12.221)],
)
def test_gradeability_of_the_three_drives(drive: Drive, grade: float, degrees: float) -> None:
    """μ 0.6, f 0.05, l_f = l_r = 1.40, H 0.72, L 2.80: 0.55, 0.295608, 0.216584 (slope form, derived; 1e-5)."""
    found = float(grip.gradeability(drive, CENTRED, 0.6, 0.05))
    assert found == pytest.approx(grade, abs=1e-5)
    assert math.degrees(math.atan(found)) == pytest.approx(degrees, abs=0.001)


@settings(derandomize=True, deadline=None)
@given(st.sampled_from(DRIVES), VEHICLES, ADHESION, ROLLING)
def test_gradeability_is_the_greatest_force_less_rolling(
    drive: Drive, balance: Balance, mu: float, rolling: float
) -> None:
    """Identity tan θ + f = F_max ÷ (W·cos θ) of the published force formula."""
    force = float(grip.max_tractive_force(drive, balance, 1.0, mu, rolling))
    found = float(grip.gradeability(drive, balance, mu, rolling))
    if 1.0 - (balance.to_front + balance.height * found) / balance.wheelbase > 1e-6:
        assert found + rolling == pytest.approx(force, abs=1e-9)


def test_no_steeper_than_where_the_other_axle_lifts() -> None:
    """Rear drive with the weight far back and high: the front axle leaves the ground at l_r ÷ H."""
    tall = Balance(2.0, 1.8, 1.0)
    assert float(grip.gradeability(Drive.REAR, tall, 0.9, 0.0)) == pytest.approx(0.2 / 1.0)


@pytest.mark.parametrize("mu", [0.2, 0.4, 0.6, 0.8])
def test_order_of_the_drives_and_its_reverse_downhill(mu: float) -> None:
    """Centred weight: all wheels ≥ rear > front uphill; reversing up and holding downhill front before rear."""
    up = {drive: float(grip.gradeability(drive, CENTRED, mu, 0.02)) for drive in DRIVES}
    assert up[Drive.FOUR_WHEEL] >= up[Drive.REAR] > up[Drive.FRONT]
    back = {drive: float(grip.gradeability(*grip.reversing(drive, CENTRED), mu, 0.02)) for drive in DRIVES}
    assert back[Drive.FOUR_WHEEL] >= back[Drive.FRONT] > back[Drive.REAR]
    down = {drive: float(grip.held_by_driven(drive, CENTRED, mu)) for drive in DRIVES}
    assert down[Drive.FOUR_WHEEL] >= down[Drive.FRONT] > down[Drive.REAR]


@settings(derandomize=True, deadline=None)
@given(st.sampled_from(DRIVES), VEHICLES)
def test_reversing_is_its_own_inverse(drive: Drive, balance: Balance) -> None:
    """Turned round twice a vehicle stands as before."""
    again = grip.reversing(*grip.reversing(drive, balance))
    assert again[0] is drive
    assert again[1] == pytest.approx(balance)


def test_engine_braking_by_hand() -> None:
    """Nose down, μ 0.6, f 0.05: rear 0.35/(1 + 0.6·0.72/2.8), front 0.35/(1 − …), all wheels 0.65 (derived)."""
    gain = 0.6 * 0.72 / 2.8
    assert float(grip.held_by_driven(Drive.REAR, CENTRED, 0.6, 0.05)) == pytest.approx(0.35 / (1.0 + gain))
    assert float(grip.held_by_driven(Drive.FRONT, CENTRED, 0.6, 0.05)) == pytest.approx(0.35 / (1.0 - gain))
    assert float(grip.held_by_driven(Drive.FOUR_WHEEL, CENTRED, 0.6, 0.05)) == pytest.approx(0.65)
    # Weight further back, 1.6 of 2.8 behind the front axle: the rear one carries 1.6/2.8 of it.
    back = CENTRED._replace(to_front=1.6)
    assert float(grip.held_by_driven(Drive.REAR, back, 0.6)) == pytest.approx(0.6 * 1.6 / 2.8 / (1.0 + gain))
    assert float(grip.held_by_driven(Drive.FRONT, back, 0.6)) == pytest.approx(0.6 * 1.2 / 2.8 / (1.0 - gain))
    assert grip.reversing(Drive.REAR, back) == (Drive.FRONT, CENTRED._replace(to_front=pytest.approx(1.2)))


@settings(derandomize=True, deadline=None)
@given(st.sampled_from(DRIVES), VEHICLES, ADHESION, st.floats(-0.9, 0.9))
def test_driven_wheels_never_hold_more_than_all_brakes(drive: Drive, balance: Balance, mu: float, aside: float) -> None:
    """Where the other axle keeps its place sideways, engine braking holds no more than brakes on all wheels."""
    held = float(grip.held_by_driven(drive, balance, mu, 0.0, aside))
    rear = drive is Drive.REAR
    share = (balance.to_front if rear else balance.wheelbase - balance.to_front) / balance.wheelbase
    load = share + (-1.0 if rear else 1.0) * balance.height / balance.wheelbase * held
    if drive is Drive.FOUR_WHEEL or abs(aside) * (1.0 - share) <= mu * (1.0 - load):
        assert held <= float(grip.left_lengthwise(mu, aside)) + 1e-9


# Friction circle


@settings(derandomize=True, deadline=None)
@given(SLOPE, SLOPE, st.floats(-0.25, 0.25))
def test_forces_on_the_ground_equal_vectors_on_a_plane(grade: float, cross: float, turning: float) -> None:
    """The closed forms are those of weight and inertia resolved with vectors."""
    found = float(grip.along(grade, cross, turning)), float(grip.across(grade, cross, turning))
    assert found == pytest.approx(plain_forces(grade, cross, turning), abs=1e-12)


@settings(derandomize=True, deadline=None)
@given(st.floats(0.0, 1.0), st.floats(0.0, 2.0 * math.pi))
def test_needed_adhesion_is_the_tangent_of_the_slope_for_every_heading(slope: float, heading: float) -> None:
    """Standing on a plane, √(along² + across²) = tan β whatever the heading (friction circle, derived)."""
    grade, cross = slope * math.cos(heading), slope * math.sin(heading)
    assert math.hypot(grip.along(grade, cross), grip.across(grade, cross)) == pytest.approx(slope, abs=1e-12)


@pytest.mark.parametrize(
    ("mu", "degrees"),
    [(0.2, 11.31), (0.4, 21.80), (0.5, 26.57), (0.55, 28.81), (0.6, 30.96), (0.68, 34.22), (0.8, 38.66)],
)
def test_slope_that_an_adhesion_holds(mu: float, degrees: float) -> None:
    """The angle is atan μ to 0.01°: what is left lengthwise is 0 on a side slope of it, and not a little below."""
    aside = math.tan(math.radians(degrees))
    assert math.degrees(math.atan(mu)) == pytest.approx(degrees, abs=0.01)
    assert float(grip.left_lengthwise(mu, aside + 2e-4)) == 0.0
    assert float(grip.left_lengthwise(mu, aside - 2e-4)) > 0.0


@pytest.mark.parametrize("drive", DRIVES)
def test_a_side_slope_takes_its_part(drive: Drive) -> None:
    """0.3 aside of μ 0.5 leaves 0.4; one axle pushes along the edge of its own circle, and both ways mirror."""
    limit = float(grip.gradeability(drive, CENTRED, 0.5, 0.02, 0.3))
    assert limit == float(grip.gradeability(drive, CENTRED, 0.5, 0.02, -0.3))
    share, gain = {Drive.REAR: (0.5, 0.72 / 2.8), Drive.FRONT: (0.5, -0.72 / 2.8)}.get(drive, (1.0, 0.0))
    circle = math.hypot(limit + 0.02, 0.3 * share)
    assert circle == pytest.approx(0.5 * (share + gain * limit), abs=1e-12)


@settings(derandomize=True, deadline=None)
@given(st.sampled_from(DRIVES), VEHICLES, ADHESION, ROLLING, st.floats(0.0, 0.9), st.floats(0.0, 0.3))
def test_more_side_slope_never_raises_a_limit(
    drive: Drive, balance: Balance, mu: float, rolling: float, aside: float, more: float
) -> None:
    """Neither uphill nor held downhill nor for the brakes."""
    for limit in (grip.gradeability, grip.held_by_driven):
        before = float(limit(drive, balance, mu, rolling, aside))
        assert float(limit(drive, balance, mu, rolling, aside + more)) <= before + 1e-9
    assert grip.left_lengthwise(mu, aside + more) <= grip.left_lengthwise(mu, aside)


@example(Drive.FRONT, Balance(2.0, 1.0, 0.78125), 0.33203125, 0.234375, 0.39453125)  # the side slope takes it all
@settings(derandomize=True, deadline=None)
@given(st.sampled_from(DRIVES), VEHICLES, ADHESION, ROLLING, st.floats(0.0, 0.9))
def test_wetter_never_raises_a_limit(drive: Drive, balance: Balance, mu: float, rolling: float, aside: float) -> None:
    """Less adhesion and more rolling resistance climb less."""
    dry = float(grip.gradeability(drive, balance, mu, rolling, aside))
    assert float(grip.gradeability(drive, balance, 0.9 * mu, rolling, aside)) <= dry + 1e-9
    assert float(grip.gradeability(drive, balance, mu, rolling + 0.05, aside)) <= dry + 1e-9


@settings(derandomize=True, deadline=None)
@given(st.sampled_from(DRIVES), VEHICLES, ADHESION, st.floats(0.0, 0.1), st.floats(-0.3, 0.3))
def test_need_and_limit_of_driving_agree(
    drive: Drive, balance: Balance, mu: float, rolling: float, aside: float
) -> None:
    """At the grade that grip allows, driving needs that grip (or more, where the other axle slides before)."""
    limit = grip.gradeability(drive, balance, mu, rolling, aside)
    if limit <= -rolling + 1e-9:
        return
    need = float(grip.needed_driving(drive, balance, limit, rolling, np.float64(aside)))
    assert need >= mu - 1e-6
    if drive is Drive.FOUR_WHEEL or aside == 0.0:
        lifted = 1.0 - (balance.to_front + balance.height * limit) / balance.wheelbase < 1e-6
        assert lifted or need == pytest.approx(mu, abs=1e-6)


def test_one_driven_axle_needs_more_than_four_wheels() -> None:
    """Pushing 0.25 on the level with 0.5 of the weight asks 0.5 of that axle; rolling on by itself asks nothing."""
    aside, level = np.zeros(1), Balance(2.8, 1.4, 0.0)
    needs = [float(grip.needed_driving(drive, level, np.array([0.2]), 0.05, aside)[0]) for drive in DRIVES]
    assert needs == pytest.approx([0.25, 0.5, 0.5])
    for drive in DRIVES:
        assert grip.needed_driving(drive, CENTRED, np.array([-0.1]), 0.05, np.array([0.3])).tolist() == [0.0]


def test_the_axle_that_only_steers_counts_too() -> None:
    """Rear drive on a steep climb: the lightened front axle needs more grip sideways than the driven one."""
    push, aside = np.array([0.45]), np.array([0.5])
    need = float(grip.needed_driving(Drive.REAR, Balance(2.8, 1.6, 0.9), push, 0.0, aside)[0])
    front = 1.0 - (1.6 + 0.9 * 0.45) / 2.8
    assert need == pytest.approx(0.5 * (1.2 / 2.8) / front)
    lifted = grip.needed_driving(Drive.REAR, Balance(2.0, 1.8, 1.0), np.array([0.3]), 0.0, aside)
    assert np.isinf(lifted).all()


# Torque


@settings(derandomize=True, deadline=None)
@given(st.floats(0.05, 1.5), ROLLING)
def test_crawl_limit_balances_the_forces(crawl: float, rolling: float) -> None:
    """Thrust W·sin θ₀ = W·sin θ + f·W·cos θ, solved numerically."""

    def balance(slope: float) -> float:
        return math.sin(math.atan(crawl)) - math.sin(slope) - rolling * math.cos(slope)

    found = math.atan(float(grip.crawl_limit(crawl, rolling)))
    assert found == pytest.approx(brentq(balance, -math.pi / 4, math.pi / 2 - 1e-6), abs=1e-9)


def test_crawl_limit_without_rolling_is_the_crawl_grade() -> None:
    """Nothing to deduct; less than nothing left where the gear cannot overcome rolling."""
    assert float(grip.crawl_limit(0.8, 0.0)) == pytest.approx(0.8)
    assert float(grip.crawl_limit(0.1, 0.2)) < 0.0


# Tipping


def test_slides_before_it_tips() -> None:
    """μ below the static stability factor slides first: 4x4s of 1.17 (NHTSA fleet average) on any ground of 0.9."""
    assert grip.slides_first(0.9, 1.17)
    assert not grip.slides_first(0.8, 0.75)
    assert not grip.slides_first(0.8, 0.8)


def test_missing_slopes_stay_missing() -> None:
    """NaN in, NaN out."""
    gap = np.array([np.nan])
    for drive in DRIVES:
        assert np.isnan(grip.gradeability(drive, CENTRED, 0.5, 0.02, gap)).all()
        assert np.isnan(grip.needed_driving(drive, CENTRED, gap, 0.02, gap)).all()
    assert np.isnan(grip.over(gap, np.ones(1))).all()
    assert np.isnan(grip.over(np.ones(1), gap)).all()
