"""What would give a loop where there is none: each change that alone does, worked out by asking again with it made.

Every change is tried by itself with everything else as it was asked for, so that each one told is enough. Numbers are
the least that is enough; of opened segments the fewest.
"""

import math
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from pipeline.loops.ask.change import Change
from pipeline.loops.ask.opened import opened
from pipeline.loops.graph import Arcs
from pipeline.loops.plan import Plan, make_plan
from pipeline.loops.request import MOST_LAPS, LoopInputs, LoopRequest
from pipeline.loops.solve.exact import solve
from pipeline.loops.solve.hunt import Quest, exists, pruned
from pipeline.loops.solve.local_search import local_search
from pipeline.loops.solve.model import Goal, Problem
from pipeline.loops.solve.rules import redriven_dm

__all__ = ["changes_of", "number_changes", "possible"]

Ints = NDArray[np.int64]
_NODES = 40
"""Places looked at, one by one, for room to turn; those that a loop with room everywhere uses come first."""
_STARTS = 2
"""Starts of the local search of one question: there are many."""


def changes_of(inputs: LoopInputs, plan: Plan) -> Iterator[Change]:
    """Yield the changes each of which alone gives a loop, in no order.

    Parameters
    ----------
    inputs
        What was searched in.
    plan
        A request that no loop was found for.
    """
    plan = _quick(plan)
    yield from number_changes(plan)
    yield from _laps(inputs, plan)
    yield from _start(plan)
    yield from _must(inputs, plan)
    yield from _group(inputs, plan)
    yield from _turning(inputs, plan)
    yield from opened(inputs, plan)


def number_changes(plan: Plan) -> Iterator[Change]:
    """Yield the changes of numbers of the request: its windows and the share that is driven twice."""
    yield from _windows(plan)
    yield from _redriven(plan)


def possible(inputs: LoopInputs, request: LoopRequest) -> bool:
    """Tell whether a loop was found for a request; a proof that it is the best is not looked for."""
    return bool(_found(_quick(make_plan(inputs, request)).quest))


def _quick(plan: Plan) -> Plan:
    """Cut the local search short."""
    effort = plan.quest.effort
    short = effort.model_copy(update={"starts": min(_STARTS, effort.starts)})
    return replace(plan, quest=replace(plan.quest, effort=short))


def _shortest(arcs: Arcs) -> Goal:
    return Goal(cost=arcs.length_dm)


def _found(quest: Quest) -> bool:
    return exists(quest, _shortest)[0] is True


def _windows(plan: Plan) -> Iterator[Change]:
    """Yield how far the end or the beginning of a window would have to move."""
    rules, arcs = plan.quest.rules, plan.quest.arcs
    for key, window, unit, scale, cost in (
        ("length_m", rules.length_dm, "m", 10.0, arcs.length_dm),
        ("time_min", rules.time_s, "min", 60.0, arcs.time_s),
    ):
        if window is None or not len(arcs):
            continue
        low, high = window
        longer = _extreme(plan.quest, key, (low, max(high, int(cost.sum()))), longest=False)
        if longer is not None and longer > high:
            to, now = math.ceil(longer / scale), high / scale
            words = f"{key} up to {to} {unit} instead of {now:g} {unit} ({to - now:g} {unit} longer)"
            yield Change.number(_share(longer - high, high), words)
        shorter = _extreme(plan.quest, key, (0, high), longest=True)
        if shorter is not None and shorter < low:
            to, now = math.floor(shorter / scale), low / scale
            words = f"{key} from {to} {unit} instead of {now:g} {unit} ({now - to:g} {unit} shorter)"
            yield Change.number(_share(low - shorter, low), words)


def _share(by: int, of: int) -> float:
    return by / of if of else math.inf


def _extreme(quest: Quest, key: str, window: tuple[int, int], *, longest: bool) -> int | None:
    """Give the smallest or largest length or time of any loop inside a wider window; ``None`` when there is none."""
    in_length = key == "length_m"
    rules = replace(quest.rules, length_dm=window) if in_length else replace(quest.rules, time_s=window)
    arcs, turns = pruned(quest.arcs, rules)
    if not len(arcs):
        return None
    amount = arcs.length_dm if in_length else arcs.time_s
    # To make a sum large, make what is left of it small: the solver minimises the negative.
    problem = Problem(arcs, turns, rules, Goal(cost=-amount if longest else amount))
    solved = solve(problem, quest.effort, local_search(problem, quest.effort, quest.seed))
    return None if solved.value is None else abs(solved.value)


def _redriven(plan: Plan) -> Iterator[Change]:
    """Yield the share driven twice that a loop would need: that of the one found with the least of it driven twice."""
    now = plan.quest.rules.redriven
    found, numbers = exists(replace(plan.quest, rules=replace(plan.quest.rules, redriven=1.0)), _shortest)
    share = _share_twice(plan.quest, numbers) if found else None
    for _ in range(_HALVINGS):
        if share is None or share <= now + 0.01:
            break
        middle = math.floor((now + share) * 50.0) / 100.0
        less, numbers = exists(replace(plan.quest, rules=replace(plan.quest.rules, redriven=middle)), _shortest)
        if less and numbers is not None:
            share = _share_twice(plan.quest, numbers)
        else:
            now = middle
    if share is not None:
        was = plan.quest.rules.redriven
        yield Change.number(share - was, f"max_redriven = {share:.2f} instead of {was:.2f}")


_HALVINGS = 7
"""Times that the range of the share driven twice is halved: all of it comes down to a hundredth."""


def _share_twice(quest: Quest, numbers: Ints | None) -> float | None:
    """Give the share of a loop that is driven twice, in hundredths, rounded up."""
    if numbers is None:
        return None
    walk = np.searchsorted(quest.arcs.number, numbers)
    return math.ceil(redriven_dm(quest.arcs, walk) / int(quest.arcs.length_dm[walk].sum()) * 100 - 1e-9) / 100


def _laps(inputs: LoopInputs, plan: Plan) -> Iterator[Change]:
    """Yield the number of laps nearest to that asked for by which one loop fits the windows; fewer before more."""
    now = plan.request.laps
    for laps in (*range(now - 1, 0, -1), *range(now + 1, now + 1 + _MORE_LAPS)):
        if laps <= MOST_LAPS and possible(inputs, replace(plan.request, laps=laps)):
            yield Change.number(abs(laps - now) / now, f"laps = {laps} instead of {now}")
            return


_MORE_LAPS = 2
"""How many more laps than asked for are tried: whoever wants one round seldom wants it four times."""


def _start(plan: Plan) -> Iterator[Change]:
    """Yield that the loop begins anywhere, if that gives one."""
    rules, request = plan.quest.rules, plan.request
    if rules.starts is not None and _found(replace(plan.quest, rules=replace(rules, starts=None))):
        keys = [key for key in ("start", "start_direction") if getattr(request, key) is not None]
        yield Change.group(1.0, f"without {' and '.join(keys)}")


def _must(inputs: LoopInputs, plan: Plan) -> Iterator[Change]:
    """Yield the names each of which, left out, would give a loop; where none does, that all of them left out would."""
    must = plan.request.must
    alone = False
    for name in must:
        if possible(inputs, replace(plan.request, must=tuple(other for other in must if other != name))):
            alone = True
            yield Change.group(1.0, f"without {name}")
    if len(must) > 1 and not alone and possible(inputs, replace(plan.request, must=())):
        yield Change.group(float(len(must)), f"without {' and '.join(must)}")


def _group(inputs: LoopInputs, plan: Plan) -> Iterator[Change]:
    """Yield set-ups one of which, let go round or left out, would give a loop."""
    request = plan.request
    for setup in request.setups:
        others = tuple(name for name in request.setups if name != setup)
        if not others:
            continue
        if setup not in request.bypass and set(others) - set(request.bypass):
            round_ = replace(request, bypass=(*request.bypass, setup))
            if possible(inputs, round_):
                yield Change.group(0.5, f'"{setup}" in bypass: it goes round what it may not drive')
        kept = tuple(name for name in request.bypass if name != setup)
        if set(others) - set(kept) and possible(inputs, replace(request, setups=others, bypass=kept)):
            yield Change.group(2.0, f'without the set-up "{setup}"')


def _turning(inputs: LoopInputs, plan: Plan) -> Iterator[Change]:
    """Yield the places at one of which room to turn round would give a loop, or that room everywhere would."""
    quest = plan.quest
    roomy, numbers = exists(_with_room(quest, np.arange(len(quest.arcs.nodes))), _shortest)
    if not roomy or numbers is None:
        return
    walk = np.searchsorted(quest.arcs.number, numbers)
    used = set(quest.arcs.head[walk[:-1][~quest.arcs.may_follow(walk[:-1], walk[1:])]].tolist())
    tight = np.flatnonzero(~quest.arcs.turn_round).tolist()
    ordered = sorted(tight, key=lambda node: (node not in used, node))
    for node in ordered[:_NODES]:
        if _found(_with_room(quest, np.array([node]))):
            place = _place(inputs, int(quest.arcs.nodes[node]))
            yield Change.ground(1.0, f"room to turn round at {place}")
            return
    yield Change.ground(float(len(tight)), "room to turn round at every junction and dead end")


def _with_room(quest: Quest, nodes: Ints) -> Quest:
    room = quest.arcs.turn_round.copy()
    room[nodes] = True
    return replace(quest, arcs=replace(quest.arcs, turn_round=room))


def _place(inputs: LoopInputs, node: int) -> str:
    """Name a node: by its own name, else by the segments that meet there."""
    nodes, segments = inputs.network.nodes, inputs.network.segments
    name = nodes.loc[nodes["node_id"] == node, "name"].dropna()
    if len(name):
        return str(name.iloc[0])
    ends = segments[(segments["node_a"] == node) | (segments["node_b"] == node)]["segment_id"].sort_values()
    return f"the {'end' if len(ends) == 1 else 'junction'} of {', '.join(ends)}"
