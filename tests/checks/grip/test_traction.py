"""Slide, climb and descent at the station where each is closest to its limit."""

import dataclasses
import math

import numpy as np
import pytest

from pipeline.checks.check import STUCK, Outcome
from pipeline.checks.grip.formulas import crawl_limit, gradeability, held_by_driven, needed_driving
from pipeline.checks.grip.traction import Climb, Descent, Slide, balance_of
from pipeline.checks.site import CheckSite
from pipeline.terms import Basis, Drive, Driver
from pipeline.units import GRAVITY, KMH, grade_to_degrees
from tests.checks.worlds import LIMITS, envelope, outcome_of, site_on, straight, with_stations
from tests.worlds import plane

LOW, TYPICAL, ROLLING = 0.55, 0.60, 0.05
"""The ground of the worlds of the checks."""
BANKED_THEN_STEEP = (0.10, 0.25)
"""Grades of a trail that climbs gently across a bank and steeply without one."""


def stations_of(site: CheckSite, **columns: list[float]) -> CheckSite:
    """Spread values over the stations: each list in equal stretches."""
    count = site.terrain.stations.x.size
    arrays = {
        name: np.array(values, dtype=np.float32)[np.arange(count) * len(values) // count]
        for name, values in columns.items()
    }
    return with_stations(site, **arrays)


def reversed_line(**columns: list[float]) -> dict[str, list[float]]:
    """Digitise a trail the other way: stations in reverse order, grade, cross slope and bend change sign."""
    return {name: [-value for value in reversed(values)] for name, values in columns.items()}


# Climb


def test_climb_takes_the_smaller_of_grip_and_torque() -> None:
    """Grip 0.55 − 0.05 against the thrust of a crawl grade of 0.30, told in degrees; downhill asks nothing."""
    site = site_on(straight(), plane(east=0.2))
    grip, torque = outcome_of(Climb(), site), outcome_of(Climb(), site, envelope(crawl_grade=0.30))
    assert grip.limit[0, 0] == pytest.approx(grade_to_degrees(0.5))
    assert torque.limit[0, 0] == pytest.approx(grade_to_degrees(float(crawl_limit(0.30, ROLLING))))
    assert grip.more[0, 0].startswith("limited by grip")
    assert torque.more[0, 0].startswith("limited by the lowest gear")
    assert grip.demand[0].tolist() == pytest.approx([11.3099, 0.0], abs=1e-3)
    assert np.isnan(grip.at_m[0, 1])
    assert grip.more[0, 1] == ""


@pytest.mark.parametrize("drive", list(Drive))
def test_climb_by_drive(drive: Drive) -> None:
    """Without side slope the limit is the slope form of the drive, at low and at typical grip."""
    vehicle = envelope(drive=drive)
    found = outcome_of(Climb(), site_on(straight(), plane(east=0.1)), vehicle)
    for mu, limit in ((LOW, found.limit), (TYPICAL, found.limit_typical)):
        expected = grade_to_degrees(float(gradeability(drive, balance_of(vehicle), mu, ROLLING)))
        assert limit[0, 0] == pytest.approx(expected, abs=1e-4)


def test_typical_climb_has_the_middle_of_rolling_resistance() -> None:
    """Typical grip 0.60 less the middle of 0.01 and 0.05."""
    site = site_on(straight(), plane(east=0.1))
    site = dataclasses.replace(site, ground=dataclasses.replace(site.ground, rolling_low=np.array([0.01])))
    found = outcome_of(Climb(), site, envelope(crawl_grade=2.0))
    assert found.limit_typical[0, 0] == pytest.approx(grade_to_degrees(0.57), abs=1e-4)
    assert found.limit[0, 0] == pytest.approx(grade_to_degrees(0.50), abs=1e-4)
    geared = outcome_of(Climb(), site, envelope(crawl_grade=0.3))
    assert geared.limit_typical[0, 0] == pytest.approx(grade_to_degrees(float(crawl_limit(0.3, 0.03))), abs=1e-4)


def test_worst_climb_is_where_least_is_left_not_where_it_is_steepest() -> None:
    """Grade 0.10 on a bank of 0.50 uses more of what is left than grade 0.25 without one."""
    site = stations_of(site_on(straight(), plane()), grade=list(BANKED_THEN_STEEP), cross=[0.5, 0.0])
    found = outcome_of(Climb(), site)
    assert found.demand[0, 0] == pytest.approx(grade_to_degrees(0.10), abs=1e-4)
    assert found.at_m[0, 0] == 0.0
    aside = 0.5 / math.sqrt(1.01)
    left = (math.sqrt(LOW**2 - aside**2) - ROLLING) / math.sqrt(1.0 + aside**2)
    assert found.limit[0, 0] == pytest.approx(grade_to_degrees(left), abs=1e-4)
    assert found.utilisation[0, 0] == pytest.approx(found.demand[0, 0] / found.limit[0, 0])


@pytest.mark.parametrize("drive", list(Drive))
def test_climb_at_its_limit_needs_all_the_grip(drive: Drive) -> None:
    """The limit of a climb on a bank is exact at the limit: there the driven axle asks the whole adhesion (twin)."""
    vehicle, cross = envelope(drive=drive, crawl_grade=2.0), 0.2
    grade = 0.1
    for _ in range(15):
        found = outcome_of(Climb(), stations_of(site_on(straight(2.0), plane()), grade=[grade], cross=[cross]), vehicle)
        grade = math.tan(math.radians(found.limit[0, 0]))
    push = grade * math.sqrt((1.0 + grade**2 + cross**2) / (1.0 + grade**2))
    aside = cross / math.sqrt(1.0 + grade**2)
    share = {Drive.REAR: (0.5, 0.72 / 2.8), Drive.FRONT: (0.5, -0.72 / 2.8)}.get(drive, (1.0, 0.0))
    asked = math.hypot(push + ROLLING, aside * share[0]) / (share[0] + share[1] * push)
    assert asked == pytest.approx(LOW, abs=1e-5)


def test_ground_that_holds_the_wheels_is_a_limit_of_nothing() -> None:
    """Where rolling resistance is more than grip not even the level can be driven; downhill it rolls by itself."""
    found = outcome_of(Climb(), site_on(straight(), plane(), mu_low=0.15, rolling=0.2))
    assert found.utilisation.tolist() == [[STUCK, STUCK]]
    assert "even on the level" in found.note[0, 0]
    falling = outcome_of(Climb(), site_on(straight(), plane(east=-0.3), mu_low=0.15, rolling=0.2))
    assert falling.utilisation.tolist() == [[0.0, STUCK]]
    assert falling.note[0, 0] == ""
    weak = outcome_of(Climb(), site_on(straight(), plane(), mu_low=0.9, rolling=0.2), envelope(crawl_grade=0.1))
    assert weak.utilisation.tolist() == [[STUCK, STUCK]]
    assert "even on the level" in weak.note[0, 0]


def test_bank_that_takes_all_the_grip() -> None:
    """On a bank steeper than the grip nothing is left to drive with, and the note says what took it."""
    found = outcome_of(Climb(), stations_of(site_on(straight(), plane()), grade=[0.1], cross=[0.6]))
    assert found.utilisation.tolist() == [[STUCK, 0.0]]
    assert found.note.tolist() == [["the side slope takes all the grip there is", ""]]


# Descent


def test_brakes_hold_the_descent_and_engine_braking_is_told() -> None:
    """All wheels hold atan μ; the crawl grade of 0.8 covers 0.2, half of 0.3 without low range does not."""
    site = site_on(straight(), plane(east=-0.2))
    low = outcome_of(Descent(), site)
    high = outcome_of(Descent(), site, envelope(low_range=False, crawl_grade=0.3))
    assert low.limit[0, 0] == high.limit[0, 0] == pytest.approx(28.81, abs=0.01)  # atan 0.55
    assert low.limit_typical[0, 0] == pytest.approx(30.96, abs=0.01)  # atan 0.60
    assert low.demand[0].tolist() == pytest.approx([11.3099, 0.0], abs=1e-3)
    assert low.more.tolist() == [["engine braking holds it at 3.6 km/h, limit 30.9° at typical grip", ""]]
    assert high.more[0, 0].startswith("the brakes must hold it: engine braking alone holds 8.5°")  # atan 0.15


@pytest.mark.parametrize("drive", [Drive.REAR, Drive.FRONT])
def test_one_axle_holds_less_on_the_engine(drive: Drive) -> None:
    """With one driven axle engine braking ends at that axle's grip, the load gone to the front."""
    vehicle = envelope(drive=drive, crawl_grade=2.0)
    holds = grade_to_degrees(float(held_by_driven(drive, balance_of(vehicle), LOW)))
    found = outcome_of(Descent(), site_on(straight(), plane(east=-0.45)), vehicle)
    assert f"engine braking alone holds {math.floor(holds * 10.0) / 10.0:.1f}°" in found.more[0, 0]
    held = outcome_of(Descent(), site_on(straight(), plane(east=-0.2)), vehicle)
    assert held.more[0, 0].startswith("engine braking holds it")


def test_a_descent_steeper_than_grip_cannot_be_stopped_on() -> None:
    """μ·cos θ ≤ sin θ at the low value: f 0.40 on 40 % down, and with a bank already before."""
    steep = outcome_of(Descent(), site_on(straight(), plane(east=-0.4001), mu_low=0.40))
    assert steep.utilisation[0, 0] > 1.0
    assert steep.more[0, 0].startswith("cannot stop at all at low grip")
    banked = outcome_of(Descent(), stations_of(site_on(straight(), plane(), mu_low=0.40), grade=[-0.3], cross=[0.3]))
    assert banked.utilisation[0, 0] > 1.0
    buried = outcome_of(Descent(), stations_of(site_on(straight(), plane(), mu_low=0.40), grade=[-0.1], cross=[0.5]))
    assert buried.utilisation.tolist() == [[STUCK, 0.0]]
    level = outcome_of(Descent(), stations_of(site_on(straight(), plane(), mu_low=0.40), grade=[0.0], cross=[0.5]))
    assert level.utilisation.tolist() == [[0.0, 0.0]]
    assert buried.note[0, 0] == "the side slope takes all the grip there is"


def test_rising_a_little_is_no_descent() -> None:
    """0.5° up asks nothing of the brakes, nor does it have a place."""
    found = outcome_of(Descent(), site_on(straight(), plane(east=0.0087)))
    assert found.utilisation[0, 0] == found.demand[0, 0] == 0.0
    assert np.isnan(found.at_m[0, 0])
    assert found.demand[0, 1] == pytest.approx(0.4984, abs=1e-3)


def test_worst_descent_is_where_least_is_left() -> None:
    """Falling 0.10 beside a bank of 0.52 is closer to its limit than falling 0.25 without one."""
    site = stations_of(site_on(straight(), plane()), grade=[-0.25, -0.10], cross=[0.0, 0.52])
    found = outcome_of(Descent(), site)
    assert found.demand[0, 0] == pytest.approx(grade_to_degrees(0.10), abs=1e-4)
    assert found.at_m[0, 0] == pytest.approx(30.5)


# Slide


@pytest.mark.parametrize("heading", [(0.5, 0.0), (0.0, 0.5), (0.3, 0.4), (-0.4, 0.3)])
def test_needed_adhesion_is_the_slope_for_every_heading(heading: tuple[float, float]) -> None:
    """On a plane √(grade² + cross²) is its tangent whatever the heading, where nothing resists rolling."""
    found = outcome_of(Slide(), site_on(straight(), plane(*heading), mu_low=0.5, rolling=0.0))
    assert found.demand == pytest.approx(0.5, abs=1e-6)
    assert found.utilisation == pytest.approx(1.0, abs=1e-5)
    assert (found.limit_typical == 0.55).all()


def test_driving_up_asks_for_rolling_resistance_too() -> None:
    """Uphill 0.3 + 0.05 beside a bank, downhill the brakes hold the slope alone."""
    site = site_on(straight(), plane(0.3, 0.2))
    site = dataclasses.replace(site, ground=dataclasses.replace(site.ground, rolling_low=np.array([0.01])))
    found = outcome_of(Slide(), site)
    lift = math.sqrt(1.0 + 0.04 / 1.09)
    assert found.demand[0, 0] == pytest.approx(math.hypot(0.3 * lift + 0.05, 0.2 / math.sqrt(1.09)), abs=1e-6)
    assert found.demand[0, 1] == pytest.approx(math.hypot(0.3, 0.2), abs=1e-6)
    assert found.more[0, 0].startswith("driving asks for more than standing")
    assert found.more[0, 1] == "limit 0.60 μ at typical grip"


@pytest.mark.parametrize("drive", [Drive.REAR, Drive.FRONT])
def test_one_driven_axle_is_asked_for_all_of_it(drive: Drive) -> None:
    """Climbing with one axle asks more of it than of four wheels, as its own formula says."""
    vehicle, push = envelope(drive=drive), np.array([0.2])
    found = outcome_of(Slide(), site_on(straight(), plane(east=0.2)), vehicle)
    expected = needed_driving(drive, balance_of(vehicle), push, ROLLING, np.zeros(1))
    assert found.demand[0, 0] == pytest.approx(float(expected[0]), abs=1e-6)
    assert found.demand[0, 0] > 0.4
    assert found.demand[0, 1] == pytest.approx(0.2, abs=1e-6)


def test_a_bend_pushes_outwards() -> None:
    """An adverse bank asks more in the bend, a favourable one no less than standing; both directions alike."""
    speed = LIMITS.motion[Driver.EXPERT].speed_kmh * KMH
    bend = 0.1
    turning = speed**2 * bend / GRAVITY
    site = site_on(straight(), plane(), rolling=0.0)
    adverse = outcome_of(Slide(), stations_of(site, cross=[-0.2], curvature=[bend]))
    assert adverse.demand == pytest.approx((0.2 + turning) / (1.0 - 0.2 * turning), abs=1e-6)
    assert adverse.more[0, 0].startswith("in the bend at 10 km/h, grip gone at 20 km/h")
    banked = outcome_of(Slide(), stations_of(site, cross=[0.2], curvature=[bend]))
    assert banked.demand == pytest.approx(0.2, abs=1e-6)
    tight = outcome_of(Slide(), stations_of(site, cross=[0.0], curvature=[-2.0]))
    assert tight.demand == pytest.approx(0.25)


def test_a_tall_set_up_tips_before_it_slides() -> None:
    """Grip above the tangent of the static tip angle does not let it slide first, and the sentence says so."""
    site = site_on(straight(), plane())
    tall = outcome_of(Slide(), site, envelope(roll_limit_deg=30.0))
    assert tall.more[0, 0].endswith("tips before it slides")
    assert "tips" not in outcome_of(Slide(), site).more[0, 0]


# Properties


CHECKS = [Climb(), Descent(), Slide()]
ROUGH = {"grade": [0.1, -0.25, 0.3, 0.02], "cross": [0.2, -0.1, 0.15, -0.4], "curvature": [0.0, 0.1, -0.2, 0.05]}


def figures(found: Outcome) -> list[np.ndarray]:
    """Give the numbers of an outcome."""
    return [found.demand, found.limit, found.utilisation, found.limit_typical]


@pytest.mark.parametrize("check", CHECKS)
@pytest.mark.parametrize("drive", list(Drive))
def test_mirrored_trail_asks_the_same(check: Climb | Descent | Slide, drive: Drive) -> None:
    """Left and right changed round change nothing."""
    site, vehicle = site_on(straight(), plane()), envelope(drive=drive)
    mirror = {name: values if name == "grade" else [-one for one in values] for name, values in ROUGH.items()}
    pairs = zip(
        figures(outcome_of(check, stations_of(site, **ROUGH), vehicle)),
        figures(outcome_of(check, stations_of(site, **mirror), vehicle)),
        strict=True,
    )
    for one, other in pairs:
        np.testing.assert_allclose(one, other, rtol=1e-12)


@pytest.mark.parametrize("check", CHECKS)
@pytest.mark.parametrize("drive", list(Drive))
def test_reversed_line_swaps_the_directions(check: Climb | Descent | Slide, drive: Drive) -> None:
    """A trail digitised the other way asks the same, with its columns changed round."""
    site, vehicle = site_on(straight(59.5), plane()), envelope(drive=drive)
    there = figures(outcome_of(check, stations_of(site, **ROUGH), vehicle))
    back = figures(outcome_of(check, stations_of(site, **reversed_line(**ROUGH)), vehicle))
    for one, other in zip(there, back, strict=True):
        np.testing.assert_allclose(one, other[:, ::-1], rtol=1e-6)


@pytest.mark.parametrize("check", CHECKS)
def test_less_grip_never_uses_less(check: Climb | Descent | Slide) -> None:
    """Wetter ground, lower adhesion and higher rolling resistance, never lowers a utilisation nor raises a limit."""
    before = None
    for mu, rolling in ((0.6, 0.05), (0.5, 0.05), (0.5, 0.1), (0.3, 0.15), (0.1, 0.3)):
        site = stations_of(site_on(straight(), plane(), mu_low=mu, rolling=rolling), **ROUGH)
        found = outcome_of(check, site)
        if before is not None:
            assert (found.utilisation >= before - 1e-9).all()
        before = found.utilisation


@pytest.mark.parametrize("check", CHECKS)
def test_missing_heights_leave_the_rest(check: Climb | Descent | Slide) -> None:
    """Stations without heights are passed over; a segment without any has no numbers."""
    site = stations_of(site_on(straight(), plane()), grade=[0.2, np.nan], cross=[0.1, np.nan])
    found = outcome_of(check, site)
    assert np.isfinite(found.demand).all()
    assert "without heights" in found.unknown[0, 0]
    bare = outcome_of(check, stations_of(site, grade=[np.nan], cross=[np.nan]))
    assert np.isnan(bare.demand).all()
    assert np.isnan(bare.utilisation).all()
    assert (bare.basis == Basis.NONE).all()


def test_assumed_surface_lowers_the_basis() -> None:
    """Grip of a surface nobody tagged is an assumption, and the check says so."""
    found = outcome_of(Slide(), site_on(straight(), plane(), assumed=True))
    assert (found.basis == Basis.ASSUMED).all()
