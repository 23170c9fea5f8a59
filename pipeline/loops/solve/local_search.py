"""A good loop quickly: several starts of the iterated local search, the best of them kept."""

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.loop_search import Net, search
from pipeline.loops.settings import SearchEffort
from pipeline.loops.solve.model import Problem
from pipeline.loops.solve.rules import breaches

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
        size = search(net, seed * SEEDS_APART + start + 1, effort.moves, walk)
        found = walk[:size].copy()
        if not size or breaches(arcs, found.tolist(), problem.rules):
            continue
        value = goal.value(arcs, found)
        entry = (-value if goal.maximises else value, int(arcs.length_dm[found].sum()), found.tolist())
        best = entry if best is None else min(best, entry)
    return None if best is None else np.array(best[2], dtype=np.int64)


def make_net(problem: Problem) -> Net:
    """Lay the problem out for the kernel."""
    arcs, turns, rules, curve = problem.arcs, problem.turns, problem.rules, problem.goal.curve
    none = np.zeros(len(arcs), dtype=np.int64)
    counted, finishes = none.copy(), none.copy()
    counted[arcs.pairs.arcs[arcs.pairs.length_dm > 0].ravel()] = 1
    finishes[turns.ends] = 1
    cost = none if problem.goal.cost is None else problem.goal.cost
    scale = abs(float(cost.sum())) / float(problem.cost.sum()) * problem.longest if curve is None else curve.largest
    windows = [*(rules.length_dm or (0, UNLIMITED)), *(rules.time_s or (0, UNLIMITED))]
    shares = [rules.redriven, rules.overlap, max(1.0, float(scale))]
    groups = [rules.member(arcs, group) for group in (*(group for _, group in rules.must), *rules.earlier)]
    fan = np.append(np.bincount(turns.first, minlength=len(arcs)), len(turns.starts))
    return Net(
        offsets=np.concatenate(([0], np.cumsum(fan))).astype(np.int64),
        follow=np.concatenate((turns.second, turns.starts)),
        arc=np.stack([arcs.length_dm, arcs.time_s, problem.cost, cost, arcs.opposite, counted, finishes]),
        gains=np.ascontiguousarray(arcs.credits[:, : 0 if curve is None else None]),
        curve=np.zeros((0, 1), dtype=np.int64) if curve is None else curve.table,
        flags=np.array(groups, dtype=np.int64).reshape(len(groups), len(arcs)),
        limits=np.array([*windows, problem.longest, len(rules.must), *shares], dtype=np.float64),
    )
