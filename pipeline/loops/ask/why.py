"""Why a segment is not driven by a loop: what stands in the way, or what the best loop with it would be worth."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from pipeline.loops.answers import answers_of, hunted, segments_of
from pipeline.loops.ask.change import in_words
from pipeline.loops.ask.mend import number_changes
from pipeline.loops.ask.refusals import refusals
from pipeline.loops.plan import Plan, make_plan
from pipeline.loops.request import LoopInputs, LoopRequest
from pipeline.loops.solve.hunt import Answer, exists, pruned
from pipeline.loops.solve.model import Goal
from pipeline.loops.solve.rules import Rules
from pipeline.loops.solve.turns import FAR, measure
from pipeline.loops.value.objective import UNITS_PER_POINT
from pipeline.terms import Objective

__all__ = ["Standing", "Way", "Why", "Worth", "why"]

Numbers = frozenset[int]
DM = 10.0


class Standing(StrEnum):
    """How a segment stands to a loop."""

    USED = "used"
    """A loop that was found drives it."""
    REFUSED = "refused"
    """The group may not drive it in either direction."""
    CUT_OFF = "cut off"
    """No allowed way leads there and back."""
    NO_ROOM = "no room to turn"
    """Ways there and back turn round, or round a sharp corner, where there is no room."""
    OUT_OF_REACH = "out of reach"
    """The shortest way there and back is too long for a window."""
    RULED_OUT = "ruled out"
    """No loop with it keeps all the rules of the request."""
    UNKNOWN = "not known"
    """No loop with it was found within the work limit."""
    ALLOWED = "allowed"
    """A loop may drive it, but the best ones do not."""


@dataclass(frozen=True, slots=True)
class Way:
    """One direction of a segment."""

    direction: str
    refusals: tuple[str, ...]
    """What stops the group; empty when nothing does."""


@dataclass(frozen=True, slots=True)
class Worth:
    """What a loop is worth; of ``safest`` metres of exposure, of ``training-rich`` points."""

    value: float
    bound: float
    """No loop that keeps the rules has a better value."""
    bound_name: str
    proven: bool
    worst_utilisation: float
    """Largest utilisation in hundredths, rounded up, the comfort floor at least."""


@dataclass(frozen=True, slots=True)
class Why:
    """What is to be said of one segment and one loop."""

    loop: str
    objective: str
    segment_id: str
    standing: Standing
    text: str
    ways: tuple[Way, ...]
    best: Worth | None = None
    """The best loop; ``None`` when there is none."""
    with_it: Worth | None = None
    """The best loop that drives the segment."""
    left_out: tuple[str, ...] = ()
    """Segments of the best loop that the one with it does not drive."""
    taken_in: tuple[str, ...] = ()
    """Segments of the one with it that the best loop does not drive."""


def why(inputs: LoopInputs, request: LoopRequest, segment_id: str) -> Why:
    """Tell how a segment stands to a loop.

    Parameters
    ----------
    inputs
        What the loop is searched in, under the weather of the request.
    request
        The loop.
    segment_id
        A segment of the network.

    Returns
    -------
    Why
        In words and figures. What a loop with the segment is worth is solved anew with the segment as one more thing
        to take in, so it has a bound of its own.
    """
    plan = make_plan(inputs, request)
    numbers = frozenset(n for n, leg in enumerate(plan.traversals) if leg.segment_id == segment_id)
    legs = [plan.traversals[number] for number in sorted(numbers)]
    ways = tuple(Way(leg.direction.value, refusals(inputs, leg)) for leg in legs)
    answers = answers_of(plan)
    best = _worth(plan, answers[0]) if answers else None
    told = Why(request.name, request.objective.value, segment_id, Standing.USED, "", ways, best)
    for rank, answer in enumerate(answers, start=1):
        driven = [plan.traversals[n] for move in answer.numbers for n in plan.moves[move].path if n in numbers]
        if driven:
            directions = " and ".join(dict.fromkeys(leg.direction.value for leg in driven))
            return replace(told, text=f"driven {directions} by {'the best loop' if rank == 1 else f'loop {rank}'}")
    hindered = _hindered(plan, numbers, ways)
    if hindered is not None:
        return replace(told, standing=hindered[0], text=hindered[1])
    return _weighed(plan, told, numbers, answers[0] if answers else None)


def _hindered(plan: Plan, numbers: Numbers, ways: tuple[Way, ...]) -> tuple[Standing, str] | None:
    """Say what keeps every loop from the segment, whatever it is worth; ``None`` when nothing does."""
    quest = plan.quest
    moves = {n for move in plan.moves if move.rounds for n in move.path}
    if all(way.refusals for way in ways) and not moves & numbers:
        return Standing.REFUSED, "the group may drive it in neither direction"
    if not _has(quest.arcs.parts.number, numbers):
        return Standing.CUT_OFF, "no allowed way leads there from the trailhead and back again"
    free = Rules(length_dm=(0, int(quest.arcs.length_dm.sum())), time_s=None, redriven=1.0, starts=quest.rules.starts)
    if not _has(pruned(quest.arcs, free)[0].parts.number, numbers):
        return Standing.NO_ROOM, (
            "every way there and back turns round, or round too sharp a corner, where there is no room for it"
        )
    if not _has(pruned(quest.arcs, quest.rules)[0].parts.number, numbers):
        return Standing.OUT_OF_REACH, "; ".join(_too_far(plan, free, numbers))
    return None


def _has(parts: NDArray[np.int64], numbers: Numbers) -> bool:
    """Tell whether any of the traversals is among the parts of arcs."""
    return bool(np.isin(parts, sorted(numbers)).any())


def _too_far(plan: Plan, free: Rules, numbers: Numbers) -> Iterator[str]:
    """Say by how much the shortest and the quickest way there and back are too long."""
    arcs, turns = pruned(plan.quest.arcs, free)
    on = plan.quest.rules.member(arcs, numbers)
    for words, key, unit, scale, cost, window in (
        ("shortest", "length_m", "m", DM, arcs.length_dm, plan.quest.rules.length_dm),
        ("quickest", "time_min", "min", 60.0, arcs.time_s, plan.quest.rules.time_s),
    ):
        reach = measure(arcs, turns, cost)
        least = int((reach.there + reach.home)[on].min(initial=FAR))
        if window is not None and least > window[1]:
            yield (
                f"the {words} way there and back takes {least / scale:.0f} {unit}, "
                f"{key} ends at {window[1] / scale:.0f} {unit}"
            )
    if plan.quest.rules.length_dm is not None and plan.quest.rules.time_s is not None:
        yield "no way there and back keeps both length_m and time_min"


def _weighed(plan: Plan, told: Why, numbers: Numbers, best: Answer | None) -> Why:
    """Search the best loop with the segment and set it beside the best of all."""
    rules = plan.quest.rules
    quest = replace(plan.quest, rules=replace(rules, must=(*rules.must, (told.segment_id, numbers))))
    answer = hunted(plan, quest)
    if answer is None and exists(quest, lambda arcs: Goal(cost=arcs.length_dm))[0] is not False:
        return replace(told, standing=Standing.UNKNOWN, text="no loop with it was found within the work limit")
    if answer is None:
        changes = in_words(number_changes(replace(plan, quest=quest)))
        text = "no loop that drives it keeps all the rules of the request"
        return replace(told, standing=Standing.RULED_OUT, text=f"{text}. {changes}" if changes else text)
    worth, mine = _worth(plan, answer), segments_of(plan, answer)
    others = {} if best is None else segments_of(plan, best)
    told = replace(
        told,
        standing=Standing.ALLOWED,
        with_it=worth,
        left_out=tuple(segment for segment in others if segment not in mine),
        taken_in=tuple(segment for segment in mine if segment not in others),
    )
    return replace(told, text=_compared(told, worth, plan.request.objective))


def _worth(plan: Plan, answer: Answer) -> Worth:
    """Give the value of a loop in the unit of its objective."""
    unit = DM if plan.request.objective is Objective.SAFEST else float(UNITS_PER_POINT)
    level, name = answer.level / 100.0, str(answer.bound_name)
    return Worth(answer.value / unit, answer.bound / unit, name, answer.proven, level)


def _compared(told: Why, worth: Worth, objective: Objective) -> str:
    """Say what the best loop with the segment is worth beside the best of all, and what it drives instead of what."""
    text = f"may be driven; the best loop with it: {_in_words(worth, objective)}"
    if told.best is None:
        return text
    text += f"; the best of all: {_in_words(told.best, objective)}"
    if told.left_out:
        text += f"; it would leave out {', '.join(told.left_out)}"
    return text + (f"; it would take in {', '.join(told.taken_in)}" if told.taken_in else "")


def _in_words(worth: Worth, objective: Objective) -> str:
    """Give a value with its bound."""
    proof = "proven best" if worth.proven else "not proven best"
    if objective is Objective.SAFEST:
        figures = (
            f"worst utilisation at most {worth.worst_utilisation:.2f}, exposure {worth.value:.1f} m "
            f"(none has less than {worth.bound:.1f} m"
        )
    else:
        figures = f"{worth.value:.1f} points (none has more than {worth.bound:.1f}"
    return f"{figures}, {worth.bound_name}; {proof})"
