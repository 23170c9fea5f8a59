"""How long it takes to drive a traversal with one set-up, and to stop on it for coaching.

The pace of driver and verdict, times the share that the surface leaves of it,
but nowhere faster than the grade allows in low range. The paces, shares and
minutes are settings (common practice, no source).
"""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.loops.calls import Lesson
from pipeline.loops.going import Stretches
from pipeline.loops.pace_settings import OTHER_SURFACE
from pipeline.loops.settings import DriverPace, LoopSettings
from pipeline.terms import Direction, Driver, Verdict
from pipeline.units import KMH

__all__ = ["Ride", "coaching_minutes", "driving_minutes"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Ride:
    """One traversal as it is to be driven."""

    length_m: float
    direction: Direction
    stretches: Stretches | None
    """What the ground is like; ``None``: level and firm."""


def driving_minutes(ride: Ride, verdict: Verdict, pace: DriverPace, settings: LoopSettings) -> float:
    """Give the minutes of driving of one set-up.

    Parameters
    ----------
    ride
        The traversal.
    verdict
        Of the set-up on it; ample, watch or spot.
    pace
        Of its driver.
    settings
        What grade and surface do to the pace.
    """
    if ride.stretches is None:
        return ride.length_m / (pace.kmh(verdict) * KMH) / 60.0
    kmh = _paces(ride.stretches, ride.direction, (pace.kmh(verdict), pace), settings)
    return float((ride.stretches.length_m / (kmh * KMH)).sum()) / 60.0


def _paces(
    stretches: Stretches, direction: Direction, at_most: tuple[float, DriverPace], settings: LoopSettings
) -> Floats:
    """Give the pace on each stretch, km/h; *at_most* is that of verdict and driver.

    A stretch whose grade is not known is driven no faster than where the driver must attend to the ground: what is not
    known is not quietly easy.
    """
    level, pace = at_most
    surfaces = settings.surface
    share = 1.0
    if stretches.surface is not None:
        share = surfaces.get(stretches.surface, surfaces[OTHER_SURFACE]).share(stretches.wetness)
    capped = pace.grade_share * settings.grade.kmh(stretches.grade_deg * direction.sign)
    unknown = np.isnan(stretches.grade_deg)
    capped[unknown] = pace.watch_kmh * share
    return np.asarray(np.minimum(level * share, capped), dtype=np.float64)


def coaching_minutes(lessons: Iterable[Lesson], driver: Driver, settings: LoopSettings) -> float:
    """Give the minutes of standing and talking of a traversal that one driver takes."""
    return settings.pace[driver].coaching_share * sum(lesson.minutes for lesson in lessons)
