"""What a loop teaches, technique by technique: rows of the table PRACTICE."""

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from pipeline.loops.plan import Plan
from pipeline.loops.solve.hunt import Answer, pruned
from pipeline.loops.value.credits import practised_on, repeated
from pipeline.loops.value.objective import FULL_CREDITS, UNITS_PER_POINT, GainCurve

__all__ = ["practice_table"]

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]


def practice_table(plan: Plan, answer: Answer, rank: int) -> list[dict[str, object]]:
    """Tell for every technique of the aim what there is, what the loop has of it, and what that is worth.

    Parameters
    ----------
    plan
        The request made ready.
    answer
        One loop that was found for it.
    rank
        Its place among the alternatives.

    Returns
    -------
    list of dict
        Rows of PRACTICE, for either objective, in the order of the techniques. ``available`` adds up both directions
        of all that can be reached within the windows, once; ``in_loop`` the loop's own legs, every lap; ``fitting``
        is the mean over the set-ups of what each drives, its ways round included, weighed by how its intensity fits
        the driver, repeats less. Points come from whole credits; for training-rich loops they add up to the value.
    """
    curve, arcs = plan.quest.curve, plan.quest.arcs
    walk = np.searchsorted(arcs.number, np.array(answer.numbers, dtype=np.int64))
    reachable, _ = pruned(arcs, plan.quest.rules)
    driven = arcs.parts.of(walk)
    columns = {
        "weight": curve.weights,
        "available": _amounts(plan, np.unique(reachable.parts.number)),
        "in_loop": plan.terms.laps * _amounts(plan, driven),
        "fitting": _fitting(plan, answer) / FULL_CREDITS * curve.saturation,
        "saturation": curve.saturation,
        "points": curve.units_each(arcs.credits_on(walk)) / UNITS_PER_POINT,
        "points_most": _full(curve) / UNITS_PER_POINT,
    }
    heads = [{"loop": plan.request.name, "rank": rank, "technique": t.value} for t in curve.techniques]
    return [head | {name: column[row].item() for name, column in columns.items()} for row, head in enumerate(heads)]


def _amounts(plan: Plan, numbers: Iterable[int]) -> Floats:
    """Add up the amounts on traversals, shape (techniques,), m or number."""
    row = {technique: number for number, technique in enumerate(plan.quest.curve.techniques)}
    total = np.zeros(len(row))
    for number in numbers:
        for run in plan.traversals[number].runs:
            if run.technique in row:
                total[row[run.technique]] += run.amount
    return total


def _fitting(plan: Plan, answer: Answer) -> Floats:
    """Give the credits of a loop before they are rounded, shape (techniques,)."""
    moves = [plan.moves[number] for number in answer.numbers]
    setups = range(len(plan.request.setups))
    total = np.zeros(len(plan.quest.curve.techniques))
    for setup in setups:
        staying: set[int] = set()
        for move in moves:
            round_of = {one.setup: one.path for one in move.rounds}
            path = round_of.get(setup, move.path)
            total += practised_on(path, plan.traversals, setup, plan.terms)
            # Both directions inside one move are met there already; only those of two moves are left.
            back = [n for n in move.path if setup not in round_of and n ^ 1 in staying]
            for number in back:
                one, other = plan.traversals[number], plan.traversals[number ^ 1]
                total -= repeated(one, other, plan.terms.again)[setup]
            staying.update(() if setup in round_of else move.path)
    return total / len(setups)


def _full(curve: GainCurve) -> Ints:
    """Give the units of full practice, shape (techniques,)."""
    return curve.units_each(np.full(len(curve.weights), FULL_CREDITS))
