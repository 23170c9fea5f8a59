"""A good loop quickly: several starts of the iterated local search, and the best of them searched on from."""

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.loop_books import Net
from pipeline.kernels.loop_search import search
from pipeline.loops.graph import Arcs
from pipeline.loops.settings import SearchEffort
from pipeline.loops.solve.model import Problem
from pipeline.loops.solve.rules import breaches
from pipeline.loops.solve.turns import measure

__all__ = ["local_search", "make_net"]

Ints = NDArray[np.int64]
UNLIMITED = 2**50
"""Upper end of a window that is not there."""
SEEDS_APART = 2000
"""Distance of the seeds of two requests, larger than the number of runs."""
HOT = 0.03
"""Temperature of a start, as a share of the scale of the goal."""
WARM = 0.003
"""The same where the best of the starts is searched on from: it keeps most of its shape."""
ARCS = 100
"""Arcs for which the moves of the settings are meant; more arcs take more moves in proportion."""


def local_search(
    problem: Problem, effort: SearchEffort, seed: int, hint: Ints | None = None, *, first: bool = False
) -> Ints | None:
    """Give the best loop found, verified against the rules, or ``None`` when none was found.

    Ties are broken by length, then by the smallest sequence of arcs.

    Parameters
    ----------
    problem
        Pruned arcs and turns, rules, goal.
    effort
        Starts, and moves of each for every hundred arcs.
    seed
        Not negative; the same seed gives the same loop on every machine.
    hint
        A loop that keeps the rules, to be bettered: the result is never worse.
    first
        Whether any loop will do: the search stops at the first.
    """
    count = len(problem.arcs)
    if not count:
        return None
    net = make_net(problem, first=first)
    moves = effort.moves * -(-count // ARCS)
    nothing = np.zeros(0, dtype=np.int64)
    best = None if hint is None else np.asarray(hint, dtype=np.int64)
    for run in range(1, effort.starts + 1):
        if first and best is not None:
            return best
        best = _better(problem, best, _run(net, (seed * SEEDS_APART + run, moves, HOT), nothing))
    if best is None or first:
        return best
    return _better(problem, best, _run(net, (seed * SEEDS_APART, moves, WARM), best))


def _run(net: Net, work: tuple[int, int, float], begin: Ints) -> Ints:
    """Run the kernel with a seed, a number of moves and a temperature; gives no arcs where it found no loop."""
    seed, moves, hot = work
    walk = np.zeros(net.arc.shape[1] + 1, dtype=np.int64)
    walk[: len(begin)] = begin
    return walk[: search(net, seed, moves, hot, walk, len(begin))]


def _better(problem: Problem, best: Ints | None, found: Ints) -> Ints | None:
    """Give the better of the best loop so far and what was found, if that is a loop at all."""
    if not len(found) or breaches(problem.arcs, found.tolist(), problem.rules):
        return best
    return found if best is None else min(best, found, key=lambda walk: _rank(problem, walk))


def _rank(problem: Problem, walk: Ints) -> tuple[int, int, list[int]]:
    """Give what loops are put in order by, the best first."""
    value = problem.goal.value(problem.arcs, walk)
    return -value if problem.goal.maximises else value, int(problem.arcs.length_dm[walk].sum()), walk.tolist()


def make_net(problem: Problem, *, first: bool = False) -> Net:
    """Lay the problem out for the kernel; *first*: it may stop at the first loop that keeps the rules."""
    arcs, turns, rules, curve = problem.arcs, problem.turns, problem.rules, problem.goal.curve
    none = np.zeros(len(arcs), dtype=np.int64)
    finishes = none.copy()
    finishes[turns.ends] = 1
    cost = none if problem.goal.cost is None else problem.goal.cost
    scale = abs(float(cost.sum())) / float(problem.cost.sum()) * problem.longest if curve is None else curve.largest
    windows = [*(rules.length_dm or (0, UNLIMITED)), *(rules.time_s or (0, UNLIMITED))]
    shares = [rules.redriven, rules.overlap, max(1.0, float(scale)), np.inf if first else -np.inf]
    things = [rules.member(arcs, group) for _, group in rules.must]
    groups = [*things, *(rules.shared_dm(arcs, earlier) for earlier in rules.earlier)]
    fan = np.append(np.bincount(turns.first, minlength=len(arcs)), len(turns.starts))
    reach = measure(arcs, turns, problem.cost)
    kin_offsets, kin, lost = _kin(arcs)
    return Net(
        offsets=np.concatenate(([0], np.cumsum(fan))).astype(np.int64),
        follow=np.concatenate((turns.second, turns.starts)),
        arc=np.stack([arcs.length_dm, arcs.time_s, problem.cost, cost, reach.there, reach.home, finishes]),
        gains=np.ascontiguousarray(arcs.credits[:, : 0 if curve is None else None]),
        curve=np.zeros((0, 1), dtype=np.int64) if curve is None else curve.table,
        kin_offsets=kin_offsets,
        kin=kin,
        lost=np.ascontiguousarray(lost[:, : 0 if curve is None else None]),
        flags=np.array(groups, dtype=np.int64).reshape(len(groups), len(arcs)),
        limits=np.array([*windows, problem.longest, len(rules.must), *shares], dtype=np.float64),
    )


def _kin(arcs: Arcs) -> tuple[Ints, Ints, Ints]:
    """Lay out the pairs and the clashes by arc: where those of each begin, what they are, credits lost."""
    pairs, clashes = arcs.pairs, arcs.clashes
    none, lossless = np.zeros(len(clashes), dtype=np.int64), np.zeros((len(clashes), arcs.credits.shape[1]), np.int64)
    each = np.concatenate((pairs.arcs, clashes))
    both = np.concatenate((pairs.length_dm, none))
    clash = np.concatenate((np.zeros(len(pairs.arcs), dtype=np.int64), none + 1))
    lost = np.concatenate((pairs.lost, lossless))
    order = np.argsort(each.T.ravel(), kind="stable")
    kin = np.stack((each[:, ::-1].T.ravel(), np.tile(both, 2), np.tile(clash, 2)))
    offsets = np.concatenate(([0], np.cumsum(np.bincount(each.ravel(), minlength=len(arcs)))))
    return offsets.astype(np.int64), np.ascontiguousarray(kin[:, order]), np.tile(lost, (2, 1))[order]
