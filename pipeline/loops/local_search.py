"""A good loop quickly: several starts of the iterated local search, the best of them kept."""

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.loop_search import Net, search
from pipeline.loops.model import Problem
from pipeline.loops.objective import PIECE_CREDITS, PIECES
from pipeline.loops.rules import breaches
from pipeline.loops.settings import SearchEffort

__all__ = ["local_search", "make_net"]

Ints = NDArray[np.int64]
UNLIMITED = 2**50
"""Upper end of a window that is not there."""
SEEDS_APART = 1000
"""Distance of the seeds of two requests, larger than the number of starts."""


def local_search(problem: Problem, effort: SearchEffort, seed: int) -> Ints | None:
    """Give the best loop of the starts, verified against the rules, or ``None`` when none was found.

    Ties are broken by length, then by the smallest sequence of arcs.
    """
    arcs, goal = problem.arcs, problem.goal
    if not len(arcs):
        return None
    net = make_net(problem)
    best: tuple[int, int, list[int]] | None = None
    walk = np.zeros(2 * len(arcs) + 2, dtype=np.int64)
    for start in range(effort.starts):
        size = search(net, abs(seed) * SEEDS_APART + start + 1, effort.moves, walk)
        found = walk[:size].copy()
        if not size or breaches(arcs, found.tolist(), problem.rules) or not goal.keeps_ties(arcs, found):
            continue
        value = goal.value(arcs, found)
        entry = (-value if goal.maximises else value, int(arcs.length_dm[found].sum()), found.tolist())
        best = entry if best is None else min(best, entry)
    return None if best is None else np.array(best[2], dtype=np.int64)


def make_net(problem: Problem) -> Net:
    """Lay the problem out for the kernel."""
    arcs, turns, rules = problem.arcs, problem.turns, problem.rules
    counted = np.zeros(len(arcs), dtype=np.uint8)
    pairs = rules.counted(arcs)
    counted[pairs] = counted[arcs.opposite[pairs]] = 1
    finishes = np.zeros(len(arcs), dtype=np.uint8)
    finishes[turns.ends] = 1
    curve = problem.goal.curve
    cost = np.zeros(len(arcs), dtype=np.int64) if problem.goal.cost is None else problem.goal.cost
    slopes = np.zeros((0, PIECES), dtype=np.int64) if curve is None else curve.slopes
    length, time = rules.length_dm or (0, UNLIMITED), rules.time_s or (0, UNLIMITED)
    mean_cost = float(cost.sum()) / float(problem.cost.sum())
    scale = max(1.0, mean_cost * problem.longest) if curve is None else float(max(1, curve.largest))
    return Net(
        offsets=np.concatenate(([0], np.cumsum(np.bincount(turns.first, minlength=len(arcs))))).astype(np.int64),
        follow=turns.second,
        starts=turns.starts,
        finishes=finishes,
        opposite=arcs.opposite,
        length=arcs.length_dm,
        time=arcs.time_s,
        way=problem.cost,
        cost=cost,
        gains=np.ascontiguousarray(arcs.credits if curve is not None else arcs.credits[:, :0]),
        slopes=slopes,
        must=_flags(arcs.number, [group for _, group in rules.must]),
        earlier=_flags(arcs.number, list(rules.earlier)),
        counted=counted,
        window=np.array([*length, *time], dtype=np.int64),
        shares=np.array([rules.redriven, rules.overlap, scale]),
        longest=problem.longest,
        piece=PIECE_CREDITS,
    )


def _flags(numbers: Ints, groups: list[frozenset[int]]) -> NDArray[np.uint8]:
    """Flag, for each group, the arcs whose number is in it; shape (groups, arcs)."""
    flags = [np.isin(numbers, np.fromiter(group, dtype=np.int64, count=len(group))) for group in groups]
    return np.array(flags, dtype=np.uint8).reshape(len(groups), len(numbers))
