"""Says what is proven about a loop, or what stands in the way when there is none."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

from pipeline.loops.answers import shared
from pipeline.loops.graph import Arcs
from pipeline.loops.plan import Plan
from pipeline.loops.solve.hunt import Answer, Quest, exists, pruned
from pipeline.loops.solve.model import Goal
from pipeline.loops.solve.rules import Rules
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
    text += f" (bound: {best.bound_name})"
    text += "".join(f"; {told}" for told in _alternatives(plan, answers))
    missing = 1 + plan.request.alternatives - len(answers)
    if missing:
        text += f"; {missing} of {plan.request.alternatives} alternatives not found within the overlap allowed"
    return text + "."


def _alternatives(plan: Plan, answers: Sequence[Answer]) -> Iterator[str]:
    """Yield how much each alternative has in common with the loops before it."""
    for number, answer in enumerate(answers[1:], start=2):
        most = max(shared(plan, answer, earlier) for earlier in answers[: number - 1])
        yield f"loop {number} shares {most * 100:.0f} % of its length with an earlier one"


def say_none(plan: Plan, network: Network) -> str:
    """Say why there is no loop."""
    out = _trailhead(plan, network) or _no_cycle(plan) or _unreachable_must(plan)
    if out:
        return out
    if exists(plan.quest, _shortest)[0] is None:
        return "No loop was found within the work limit; whether one exists is not known."
    return "No loop keeps all the rules."


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
