"""Where a group stops for coaching: once for each call, as the drive sheet makes them."""

from collections.abc import Sequence
from dataclasses import dataclass

from pipeline.loops.runs import Run
from pipeline.loops.settings import LoopSettings
from pipeline.technique.grouping import grouped
from pipeline.technique.settings import Calls
from pipeline.terms import Direction, Technique

__all__ = ["Lesson", "Way", "lessons_of"]

_OF_THE_GROUND = frozenset(
    (
        Technique.CLIMB,
        Technique.DESCENT,
        Technique.SIDE_SLOPE,
        Technique.CREST,
        Technique.DIP,
        Technique.CROSS_AXLE,
        Technique.TIGHT_TURN,
    )
)
"""What the shape of the ground asks for; everything else is asked for by a thing on or beside the trail."""


@dataclass(frozen=True, slots=True)
class Way:
    """A segment in one direction."""

    length_m: float
    direction: Direction


@dataclass(frozen=True, slots=True)
class Lesson:
    """What the group stops for at one call."""

    at_m: float
    """Distance from where the traversal begins."""
    technique: Technique
    """The one of the call that takes most coaching."""
    besides: tuple[Technique, ...]
    """The others that are met within the call, in driving order."""
    minutes: float
    """Standing and talking for a driver who takes all the coaching."""


def lessons_of(runs: Sequence[Run], way: Way, settings: LoopSettings, rule: Calls | None) -> tuple[Lesson, ...]:
    """List the stops for coaching on one traversal, in driving order.

    Parameters
    ----------
    runs
        What the traversal exercises.
    way
        The traversal.
    settings
        Minutes of each technique; one without takes none.
    rule
        How calls are put together, and how demanding a run is for a call; ``None``: each run is a call of its own.

    Returns
    -------
    tuple
        One stop a call. What is met within its spacing is talked about in the same stop, which is as long as the
        technique of it that takes most coaching. A call ends with the traversal here, though the drive sheet may carry
        it on into the next leg: the minutes are never too few.
    """
    called = [run for run in runs if run.technique in settings.technique and _demands(run, rule)]
    placed = sorted(((_entry(run, way), run) for run in called), key=lambda pair: (pair[0], pair[1].technique))
    groups = [[n] for n in range(len(placed))] if rule is None else grouped([(at, False) for at, _ in placed], rule)
    return tuple(_lesson([placed[number] for number in group], settings) for group in groups)


def _demands(run: Run, rule: Calls | None) -> bool:
    """Tell whether a run is demanding enough for a call."""
    if rule is None:
        return True
    least = rule.from_intensity if run.technique in _OF_THE_GROUND else rule.thing_from_intensity
    return run.intensity >= least


def _entry(run: Run, way: Way) -> float:
    """Give the distance from where the traversal begins to where a run does."""
    return run.from_m if way.direction is Direction.WITH else way.length_m - run.to_m


def _lesson(group: Sequence[tuple[float, Run]], settings: LoopSettings) -> Lesson:
    """Make one stop; of techniques that take as much coaching the one that is met first gives it its name."""
    skills = list(dict.fromkeys(run.technique for _, run in group))
    main = max(skills, key=lambda skill: settings.technique[skill].coaching_min)
    besides = tuple(skill for skill in skills if skill is not main)
    return Lesson(max(0.0, group[0][0]), main, besides, settings.technique[main].coaching_min)
