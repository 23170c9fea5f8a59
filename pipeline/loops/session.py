"""How long it takes to drive a traversal with a group.

The group drives at the pace of its slowest set-up and stops for the coaching
of the set-up that takes most of it. The paces and minutes are settings
(common practice, no source).
"""

from collections.abc import Mapping, Sequence

from pipeline.loops.settings import DriverPace, LoopSettings
from pipeline.terms import Driver, Technique, Verdict
from pipeline.units import KMH

__all__ = ["coaching_minutes", "driving_minutes"]


def driving_minutes(length_m: float, verdicts: Mapping[str, Verdict], paces: Mapping[str, DriverPace]) -> float:
    """Give the minutes of driving over *length_m* at the pace of the slowest set-up.

    Parameters
    ----------
    length_m
        Plan length of the traversal, m.
    verdicts
        Verdict of each set-up on the traversal; ample, watch or spot.
    paces
        Pace of the driver of each set-up.
    """
    slowest = min(paces[setup].kmh(verdict) for setup, verdict in verdicts.items())
    return length_m / (slowest * KMH) / 60.0


def coaching_minutes(runs: Sequence[Technique], drivers: Sequence[Driver], settings: LoopSettings) -> float:
    """Give the minutes of standing for the technique *runs* of a traversal, for the driver who takes most coaching."""
    share = max(settings.pace[driver].coaching_share for driver in drivers)
    return share * sum(settings.technique[run].coaching_min for run in runs if run in settings.technique)
