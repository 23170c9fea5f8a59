"""Says what is proven about a loop, or which rule stands in the way when there is none.

The reason is found by asking again with one rule relaxed at a time: a rule
whose relaxation brings a loop back is a rule that bites.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from pipeline.loops.graph import Arcs
from pipeline.loops.plan import Plan
from pipeline.loops.solve.exact import solve
from pipeline.loops.solve.hunt import Answer, Quest, exists, pruned
from pipeline.loops.solve.local_search import local_search
from pipeline.loops.solve.model import Goal, Problem
from pipeline.loops.solve.rules import Rules, redriven_dm
from pipeline.survey.model import Network
from pipeline.terms import Objective

__all__ = ["say_found", "say_none"]

_LISTED = 6
"""Segments named in one sentence."""


def say_found(plan: Plan, answers: Sequence[Answer]) -> str:
    """Say what is proven about the best loop, and whether all the alternatives were found."""
    best = answers[0]
    if plan.request.objective is Objective.SAFEST:
        floor = round(plan.request.comfort_floor * 100)
        worst = f"worst utilisation at most {best.level / 100:.2f}"
        if best.level <= floor:
            worst += ", the comfort floor"
        text = f"{worst}; exposure {best.value / 10:.1f} m, no loop has less than {best.bound / 10:.1f} m"
    else:
        text = f"{best.value / 3:.1f} points, no loop has more than {best.bound / 3:.1f}"
        if best.bound == 0:
            text += ": no technique that counts lies on any loop"
    text += "; proven best" if best.proven else "; stopped at the work limit before the proof was complete"
    missing = 1 + plan.request.alternatives - len(answers)
    if missing:
        text += f"; {missing} of {plan.request.alternatives} alternatives not found within the overlap allowed"
    return text + "."


def say_none(plan: Plan, network: Network) -> str:
    """Say why there is no loop, and what would give one."""
    out = _trailhead(plan, network) or _no_cycle(plan) or _unreachable_must(plan)
    if out:
        return out
    quest = plan.quest
    if exists(quest, _shortest)[0] is None:
        return "No loop was found within the work limit; whether one exists is not known."
    bites = [text for rule in (_window, _redriven, _must, _turning) for text in rule(plan)]
    if bites:
        return "No loop keeps all the rules. " + " ".join(bites)
    return "No loop keeps all the rules, and no single rule relaxed alone would give one."


def _shortest(arcs: Arcs) -> Goal:
    return Goal(cost=arcs.length_dm)


def _blocked(plan: Plan, nodes: set[int]) -> str:
    """List what is barred, closed, unsurveyed, one-way or avoided around *nodes*, as ``segment direction (why)``."""
    found = [
        f"{t.segment_id} {t.direction.value} ({t.refusal})"
        for t in plan.traversals
        if t.refusal and (t.tail in nodes or t.head in nodes)
    ]
    more = f" and {len(found) - _LISTED} more" if len(found) > _LISTED else ""
    return ", ".join(found[:_LISTED]) + more


def _trailhead(plan: Plan, network: Network) -> str:
    """Say that nothing may be driven away from the trailhead, or nothing back to it."""
    node = network.trailhead_node
    away = any(not t.refusal and t.tail == node for t in plan.traversals)
    home = any(not t.refusal and t.head == node for t in plan.traversals)
    if away and home:
        return ""
    touching = any(node in (t.tail, t.head) for t in plan.traversals)
    if not touching:
        return "The trailhead lies on no segment."
    word = "leads away from" if not away else "leads back to"
    return f"No allowed segment {word} the trailhead: {_blocked(plan, {node})}."


def _no_cycle(plan: Plan) -> str:
    """Say that no allowed way from the trailhead leads back to it, whatever its length."""
    quest = _free(plan.quest)
    arcs, _ = pruned(quest.arcs, quest.rules)
    if len(arcs):
        return ""
    nodes = set(quest.arcs.nodes.tolist())
    blocked = _blocked(plan, nodes)
    text = (
        "No allowed way from the trailhead leads back to it without turning back or round a sharp corner "
        "where there is no room."
    )
    return f"{text} In the way: {blocked}." if blocked else text


def _unreachable_must(plan: Plan) -> str:
    """Name the things to take in that no allowed way reaches and leaves again."""
    arcs, _ = pruned(_free(plan.quest).arcs, _free(plan.quest).rules)
    inside = set(arcs.parts.number.tolist())
    lost = [(name, group) for name, group in plan.quest.rules.must if not group & inside]
    if not lost:
        return ""
    parts = []
    for name, group in lost:
        why = sorted({plan.traversals[n].refusal for n in group} - {""})
        parts.append(f"{name} ({'; '.join(why)})" if why else name)
    return f"No allowed way takes in {', '.join(parts)} and comes back to the trailhead."


def _free(quest: Quest) -> Quest:
    """Drop every rule but those of the turns."""
    return replace(quest, rules=Rules(length_dm=(0, int(quest.arcs.length_dm.sum())), time_s=None, redriven=1.0))


def _window(plan: Plan) -> Iterator[str]:
    """Say how near the length and time windows a loop comes, each relaxed alone."""
    rules = plan.quest.rules
    for word, window, unit, scale, cost in (
        ("length", rules.length_dm, "m", 10.0, plan.quest.arcs.length_dm),
        ("time", rules.time_s, "min", 60.0, plan.quest.arcs.time_s),
    ):
        if window is None:
            continue
        longer = _extreme(plan.quest, word, (window[0], int(cost.sum())), longest=False)
        if longer is not None:
            yield f"The {word} window ends too soon: the nearest loop above it has {longer / scale:.0f} {unit}."
        shorter = _extreme(plan.quest, word, (0, window[1]), longest=True)
        if shorter is not None:
            yield f"The {word} window begins too late: the nearest loop below it has {shorter / scale:.0f} {unit}."


def _extreme(quest: Quest, key: str, window: tuple[int, int], *, longest: bool) -> int | None:
    """Give the smallest or largest length or time of any loop inside a wider window; ``None`` when there is none."""
    in_length = key == "length"
    rules = replace(quest.rules, length_dm=window) if in_length else replace(quest.rules, time_s=window)
    arcs, turns = pruned(quest.arcs, rules)
    if not len(arcs):
        return None
    amount = arcs.length_dm if in_length else arcs.time_s
    # To make a sum large, make what is left of it small: the solver minimises the negative.
    goal = Goal(cost=-amount if longest else amount)
    problem = Problem(arcs, turns, rules, goal)
    solved = solve(problem, quest.effort, local_search(problem, quest.effort, quest.seed))
    return None if solved.value is None else abs(solved.value)


def _redriven(plan: Plan) -> Iterator[str]:
    """Say which re-driven share a loop would need."""
    wide = replace(plan.quest, rules=replace(plan.quest.rules, redriven=1.0))
    found, numbers = exists(wide, _shortest)
    if found and numbers is not None:
        arcs = plan.quest.arcs
        walk = np.searchsorted(arcs.number, numbers)
        share = redriven_dm(arcs, walk) / int(arcs.length_dm[walk].sum())
        yield f"With max_redriven = {np.ceil(share * 100) / 100:.2f} there is a loop."


def _must(plan: Plan) -> Iterator[str]:
    """Name the things each of which, left out, would give a loop."""
    must = plan.quest.rules.must
    for index, (name, _) in enumerate(must):
        rest = replace(plan.quest.rules, must=must[:index] + must[index + 1 :])
        if exists(replace(plan.quest, rules=rest), _shortest)[0]:
            yield f"Without {name} there is a loop."


def _turning(plan: Plan) -> Iterator[str]:
    """Say that room to turn round would give a loop."""
    roomy = replace(plan.quest.arcs, turn_round=np.ones(len(plan.quest.arcs.nodes), dtype=np.bool_))
    if exists(replace(plan.quest, arcs=roomy), _shortest)[0]:
        yield "With room to turn round at every junction and dead end there is a loop."
