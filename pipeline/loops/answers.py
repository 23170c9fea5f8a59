"""The loops of one request: the best, then alternatives that share no more with the earlier ones than is allowed."""

from collections.abc import Sequence
from dataclasses import replace

from pipeline.loops.plan import Plan
from pipeline.loops.solve.hunt import Answer, Quest, safest, training_rich
from pipeline.terms import Objective

__all__ = ["answers_of", "hunted", "segments_of", "shared"]


def answers_of(plan: Plan) -> list[Answer]:
    """Find the loops that are asked for, best first; fewer where no more are found."""
    answers: list[Answer] = []
    for _ in range(1 + plan.request.alternatives):
        answer = hunted(plan, _apart(plan, answers))
        if answer is None:
            break
        answers.append(answer)
    return answers


def hunted(plan: Plan, quest: Quest) -> Answer | None:
    """Find the best loop of a quest by the objective of the request."""
    return (safest if plan.request.objective is Objective.SAFEST else training_rich)(quest)


def segments_of(plan: Plan, answer: Answer) -> dict[str, float]:
    """Give the segments that a loop drives, in driving order, with the plan length of its legs on each, m."""
    lengths: dict[str, float] = {}
    for leg in (plan.traversals[number] for move in answer.numbers for number in plan.moves[move].path):
        lengths[leg.segment_id] = lengths.get(leg.segment_id, 0.0) + leg.length_m
    return lengths


def shared(plan: Plan, answer: Answer, earlier: Answer) -> float:
    """Give the share of a loop's length on segments of an earlier one, 0–1."""
    lengths, before = segments_of(plan, answer), segments_of(plan, earlier)
    return sum(length for segment, length in lengths.items() if segment in before) / sum(lengths.values())


def _apart(plan: Plan, answers: Sequence[Answer]) -> Quest:
    """Ask for a loop that shares no more than the allowed share with each of *answers*."""
    earlier = []
    for answer in answers:
        driven = segments_of(plan, answer)
        earlier.append(frozenset(n for n, t in enumerate(plan.traversals) if t.segment_id in driven))
    return replace(plan.quest, rules=replace(plan.quest.rules, earlier=tuple(earlier))) if answers else plan.quest
