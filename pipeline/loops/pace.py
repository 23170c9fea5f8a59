"""How long it takes to drive a traversal with one set-up.

The paces and minutes are settings (common practice, no source).
"""

from collections.abc import Sequence
from dataclasses import dataclass

from pipeline.loops.going import Stretches
from pipeline.loops.settings import DriverPace, LoopSettings
from pipeline.terms import Direction, Driver, Technique, Verdict
from pipeline.units import KMH

__all__ = ["Ride", "coaching_minutes", "driving_minutes"]


@dataclass(frozen=True, slots=True)
class Ride:
    """One traversal as it is to be driven."""

    length_m: float
    direction: Direction
    stretches: Stretches | None
    """What the ground is like; ``None``: level and firm."""


def driving_minutes(ride: Ride, verdict: Verdict, pace: DriverPace, settings: LoopSettings) -> float:  # noqa: ARG001  # grade and surface come next
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
    return ride.length_m / (pace.kmh(verdict) * KMH) / 60.0


def coaching_minutes(runs: Sequence[Technique], driver: Driver, settings: LoopSettings) -> float:
    """Give the minutes of standing for the technique *runs* of a traversal that one driver takes."""
    share = settings.pace[driver].coaching_share
    return share * sum(settings.technique[run].coaching_min for run in runs if run in settings.technique)
