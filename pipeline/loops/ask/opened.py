"""What is shut and would have to be open for a loop: the fewest directions of segments, with all that shuts them."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from pipeline.loops.ask.change import Change
from pipeline.loops.ask.refusals import refusals
from pipeline.loops.moves import Move
from pipeline.loops.plan import Plan, make_plan
from pipeline.loops.request import LoopInputs, LoopRequest
from pipeline.loops.solve.exact import Outcome, solve
from pipeline.loops.solve.hunt import pruned
from pipeline.loops.solve.local_search import local_search
from pipeline.loops.solve.model import Goal, Problem
from pipeline.loops.traversals import Traversal
from pipeline.terms import Status, Verdict

__all__ = ["all_open", "opened"]

_STOPS = (Verdict.BARRED, Verdict.UNSURVEYED)


def opened(inputs: LoopInputs, plan: Plan) -> Iterator[Change]:
    """Yield the fewest directions of segments that would have to be opened for a loop; nothing where none is enough.

    Parameters
    ----------
    inputs
        What was searched in.
    plan
        A request that no loop was found for.
    """
    wide = make_plan(all_open(inputs, plan.request), replace(plan.request, avoid=()))
    arcs, turns = pruned(wide.quest.arcs, wide.quest.rules)
    shut = [_shut_on(wide.moves[number], plan) for number in arcs.number.tolist()]
    if not any(shut):
        return
    cost = np.array([len(numbers) for numbers in shut], dtype=np.int64)
    problem = Problem(arcs, turns, wide.quest.rules, Goal(cost=cost))
    solved = solve(problem, plan.quest.effort, local_search(problem, plan.quest.effort, plan.quest.seed))
    if solved.walk is None or not solved.value:
        return
    needed = sorted({number for arc in solved.walk.tolist() for number in shut[arc]})
    told = [_what_shuts(inputs, plan, number) for number in needed]
    fewest = "" if solved.outcome is Outcome.SOLVED else " (fewer may do)"
    yield Change.ground(float(len(needed)), f"if this were not so: {', and '.join(told)}{fewest}")


def all_open(inputs: LoopInputs, request: LoopRequest) -> LoopInputs:
    """Give the site with every segment open both ways, and what stops those who do not go round driven with care."""
    network, verdicts = inputs.network, inputs.verdicts.copy()
    stays = ~verdicts["setup"].isin(request.bypass)
    verdicts.loc[stays & verdicts["verdict"].isin([word.value for word in _STOPS]), "verdict"] = Verdict.SPOT.value
    segments = network.segments.assign(status=Status.OPEN.value, oneway=0)
    segments = segments.astype({name: network.segments[name].dtype for name in ("status", "oneway")})
    return replace(inputs, network=replace(network, segments=segments), verdicts=verdicts)


def _shut_on(move: Move, plan: Plan) -> set[int]:
    """Give the traversals of a move that are shut now: to those who stay on it, or to all where somebody goes round."""
    legs = plan.traversals
    own = {number for number in move.path if legs[number].shut or _stopped(plan, legs[number])}
    return own | {number for way in move.rounds for number in way.path if legs[number].shut}


def _stopped(plan: Plan, leg: Traversal) -> bool:
    """Tell whether any of those who do not go round is stopped."""
    return any(Verdict(word or Verdict.UNSURVEYED) in _STOPS for _, word in _staying(plan, leg).verdicts)


def _staying(plan: Plan, leg: Traversal) -> Traversal:
    """Give a traversal with the verdicts of those only who do not go round."""
    return replace(leg, verdicts=tuple(pair for pair in leg.verdicts if pair[0] not in plan.request.bypass))


def _what_shuts(inputs: LoopInputs, plan: Plan, number: int) -> str:
    """Give a segment and direction with all that stops the group there."""
    leg = plan.traversals[number]
    return f"{leg.segment_id} {leg.direction.value} ({'; '.join(refusals(inputs, _staying(plan, leg)))})"
