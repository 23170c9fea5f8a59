"""Times worked by hand."""

import math

import numpy as np
import pytest

from pipeline.loops.calls import Lesson
from pipeline.loops.going import Stretches
from pipeline.loops.pace import Ride, coaching_minutes, driving_minutes
from pipeline.loops.pace_settings import GradePace, SurfacePace
from pipeline.loops.settings import DriverPace, LoopSettings
from pipeline.terms import Direction, Driver, Technique, Verdict, Wetness

SLOW = DriverPace(ample_kmh=6.0, watch_kmh=3.0, spot_kmh=1.5, coaching_share=1.0, grade_share=0.5)
LEVEL = Ride(1000.0, Direction.WITH, None)


@pytest.fixture
def plain(settings: LoopSettings) -> LoopSettings:
    """Give paces that are easy to work with: 12 km/h at 10° up, 4 km/h at 10° down, half on wet clay."""
    grade = GradePace(up_deg=[0, 10], up_kmh=[60, 12], down_deg=[0, 10], down_kmh=[60, 4])
    surface = {"clay": SurfacePace(dry=0.8, wet=0.5), "other": SurfacePace(dry=0.25, wet=0.25)}
    return settings.model_copy(update={"grade": grade, "surface": surface})


def ride(
    grades: list[float], direction: Direction = Direction.WITH, surface: str | None = None, wet: Wetness = Wetness.DRY
) -> Ride:
    """Make a kilometre of stretches of equal length."""
    length = np.full(len(grades), 1000.0 / len(grades))
    return Ride(1000.0, direction, Stretches(length, np.array(grades), surface, wet))


@pytest.mark.parametrize(("verdict", "minutes"), [(Verdict.AMPLE, 10.0), (Verdict.WATCH, 20.0), (Verdict.SPOT, 40.0)])
def test_level_ground_is_driven_at_the_pace_of_the_verdict(
    plain: LoopSettings, verdict: Verdict, minutes: float
) -> None:
    """A kilometre must take what the pace of driver and verdict says, whether the ground is known as level or not."""
    assert driving_minutes(LEVEL, verdict, SLOW, plain) == pytest.approx(minutes, rel=1e-12)
    assert driving_minutes(ride([0.0, 0.0]), verdict, SLOW, plain) == pytest.approx(minutes, rel=1e-12)


@pytest.mark.parametrize(
    ("grades", "direction", "verdict", "minutes"),
    [
        ([10.0], Direction.WITH, Verdict.AMPLE, 10.0),  # half of 12 km/h: the grade does not slow this driver
        ([10.0], Direction.AGAINST, Verdict.AMPLE, 30.0),  # half of 4 km/h downhill
        ([-10.0], Direction.WITH, Verdict.AMPLE, 30.0),
        ([-10.0], Direction.WITH, Verdict.SPOT, 40.0),  # the spotter is slower still
        ([0.0, -10.0], Direction.WITH, Verdict.AMPLE, 20.0),  # half a kilometre each
        ([0.0, float("nan")], Direction.WITH, Verdict.AMPLE, 15.0),  # not known: as where the driver must attend
        ([float("nan")], Direction.WITH, Verdict.SPOT, 40.0),
    ],
)
def test_grade_caps_the_pace(
    plain: LoopSettings, grades: list[float], direction: Direction, verdict: Verdict, minutes: float
) -> None:
    """The slower of verdict and grade must decide, stretch by stretch, uphill and downhill by the direction driven."""
    assert driving_minutes(ride(grades, direction), verdict, SLOW, plain) == pytest.approx(minutes, rel=1e-12)


@pytest.mark.parametrize(
    ("surface", "wet", "minutes"),
    [
        (None, Wetness.SOAKED, 10.0),
        ("clay", Wetness.DAMP, 12.5),
        ("clay", Wetness.WET, 20.0),
        ("cobbles", Wetness.DRY, 40.0),
    ],
)
def test_surface_and_wetness_take_their_share(
    plain: LoopSettings, surface: str | None, wet: Wetness, minutes: float
) -> None:
    """A share of the pace is left on each class, wet or not; a class without one has that of the others."""
    told = driving_minutes(ride([0.0], surface=surface, wet=wet), Verdict.AMPLE, SLOW, plain)
    assert told == pytest.approx(minutes, rel=1e-12)


def test_pieces_do_not_matter(shipped: LoopSettings) -> None:
    """Cut finer, the same ground must take the same time; an integral of 1/v must come out where the grade changes."""
    pace = shipped.pace[Driver.EXPERT]
    coarse = driving_minutes(ride([12.0, -9.0, 3.0]), Verdict.AMPLE, pace, shipped)
    fine = driving_minutes(ride([12.0] * 4 + [-9.0] * 4 + [3.0] * 4), Verdict.AMPLE, pace, shipped)
    assert fine == pytest.approx(coarse, rel=1e-12)
    # From 15° to 25° the cap falls from 10 to 6 km/h: 1000 m of evenly growing grade take ln(10/6)/4 h.
    growing = driving_minutes(ride(np.linspace(15.0, 25.0, 4001).tolist()), Verdict.AMPLE, pace, shipped)
    assert growing == pytest.approx(60.0 * math.log(10.0 / 6.0) / 4.0, rel=1e-4)


def test_nobody_is_faster_uphill_in_the_wet(shipped: LoopSettings) -> None:
    """Harder in any respect must never be quicker, on any class but sand, which wet is firmer."""
    for driver in Driver:
        pace = shipped.pace[driver]
        times = [driving_minutes(ride([g]), Verdict.AMPLE, pace, shipped) for g in (0.0, 8.0, 15.0, 25.0, 35.0, 50.0)]
        assert times == sorted(times)
        for surface in set(shipped.surface) - {"sand"}:
            dry, wet = (
                driving_minutes(ride([4.0], surface=surface, wet=w), Verdict.WATCH, pace, shipped)
                for w in (Wetness.DRY, Wetness.SOAKED)
            )
            assert dry <= wet


def test_coaching_is_the_share_that_the_driver_takes(settings: LoopSettings) -> None:
    """Minutes of the stops times the share of the driver."""
    lessons = [Lesson(0.0, Technique.CLIMB, (), 1.0), Lesson(9.0, Technique.WATER, (Technique.DIP,), 2.0)]
    for driver in Driver:
        assert coaching_minutes(lessons, driver, settings) == pytest.approx(3.0 * settings.pace[driver].coaching_share)
    assert coaching_minutes([], Driver.FIRST_TIMER, settings) == 0.0
