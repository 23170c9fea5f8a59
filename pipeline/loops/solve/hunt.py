"""The search for one loop: pruning, local search, exact solve; and the threshold search of ``safest``."""

from bisect import bisect_left
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from pipeline.loops.day.order import gentlest_order, roughness
from pipeline.loops.graph import Arcs, subset
from pipeline.loops.settings import SearchEffort
from pipeline.loops.solve.bounds import BoundName
from pipeline.loops.solve.exact import Outcome, Solved, solve
from pipeline.loops.solve.local_search import local_search
from pipeline.loops.solve.model import Goal, Problem
from pipeline.loops.solve.rules import Rules, breaches
from pipeline.loops.solve.turns import Turns, prune
from pipeline.loops.solve.walk import turned_round
from pipeline.loops.value.objective import GainCurve

__all__ = ["Answer", "Quest", "exists", "pruned", "safest", "training_rich"]

Ints = NDArray[np.int64]
GoalOf = Callable[[Arcs], Goal]


@dataclass(frozen=True, slots=True)
class Quest:
    """One loop to look for."""

    arcs: Arcs
    rules: Rules
    curve: GainCurve
    effort: SearchEffort
    seed: int


@dataclass(frozen=True, slots=True)
class Answer:
    """A loop, and what is proven about it."""

    numbers: tuple[int, ...]
    """Numbers of the moves in driving order."""
    value: int
    """Whole units of the goal: dm of exposure, or gain units."""
    bound: int
    """No loop that keeps the rules has a better value than this."""
    proven: bool
    """No better loop exists: value equals bound, and for ``safest`` no loop exists below ``level``."""
    bound_name: BoundName
    """Where the bound comes from."""
    level: int
    """Largest utilisation in hundredths, rounded up, comfort floor at least."""


def training_rich(quest: Quest) -> Answer | None:
    """Find the loop with the largest gain; ``None`` when there is none or none was found."""

    def gain(_: Arcs) -> Goal:
        return Goal(curve=quest.curve)

    arcs, _ = pruned(quest.arcs, quest.rules)
    best = _polish(quest, gain, _start(quest, gain))
    if best.walk is None or best.value is None:
        return None
    ceiling = quest.curve.units(arcs.credits.sum(axis=0))
    name, bound = best.bound_name, ceiling
    if best.bound is not None and best.bound < ceiling:
        bound = best.bound
    elif best.bound != ceiling:
        name = BoundName.SATURATION
    numbers = _settle(quest, arcs, gain(arcs), best.walk)
    return Answer(numbers, best.value, bound, bound == best.value, name, _level(quest.arcs, numbers))


def safest(quest: Quest) -> Answer | None:
    """Find the loop with the smallest worst utilisation, then the least exposure, then the shortest.

    The worst utilisation is found by bisection over the levels that occur: is there a loop on the traversals up to
    this level? Its proof is the answer that there is none on the traversals up to the level before.
    """
    found = _threshold(quest)
    if found is None:
        return None
    level, hint, certain = found
    inside = replace(quest, arcs=subset(quest.arcs, quest.arcs.level <= level))
    best = _polish(inside, _exposure, hint)
    if best.walk is None or best.value is None:
        return None
    arcs, _ = pruned(inside.arcs, quest.rules)
    numbers = _settle(quest, arcs, _exposure(arcs), best.walk)
    bound = 0 if best.bound is None else max(0, best.bound)
    return Answer(numbers, best.value, bound, certain and bound == best.value, best.bound_name, level)


def exists(quest: Quest, goal_of: GoalOf) -> tuple[bool | None, Ints | None]:
    """Tell whether any loop keeps the rules (``None``: not known), and give one as traversal numbers."""
    arcs, turns = pruned(quest.arcs, quest.rules)
    if not len(arcs):
        return False, None
    walk = local_search(Problem(arcs, turns, quest.rules, goal_of(arcs)), quest.effort, quest.seed)
    if walk is None:
        nothing = Goal(cost=np.zeros(len(arcs), dtype=np.int64), shorter=False)
        solved = solve(Problem(arcs, turns, quest.rules, nothing), quest.effort, None)
        if solved.outcome is Outcome.NONE:
            return False, None
        walk = solved.walk
    return (None, None) if walk is None else (True, arcs.number[walk])


def _exposure(arcs: Arcs) -> Goal:
    """Least exposure."""
    return Goal(cost=arcs.exposure_dm)


def _threshold(quest: Quest) -> tuple[int, Ints, bool] | None:
    """Find the smallest level that has a loop: the level, such a loop as numbers, and whether that is proven."""
    levels = np.unique(quest.arcs.level).tolist()
    if not levels:
        return None

    def at(index: int) -> Quest:
        return replace(quest, arcs=subset(quest.arcs, quest.arcs.level <= levels[index]))

    # Cheap first: below this level not even a closed walk of the allowed length is left.
    low = bisect_left(range(len(levels)), True, key=lambda k: len(pruned(at(k).arcs, quest.rules)[0]) > 0)
    high, best, certain = len(levels), None, True
    # The whole graph is asked first: without a loop there, nothing else matters.
    probe = len(levels) - 1
    while low < high:
        answer, numbers = exists(at(probe), _exposure)
        if numbers is not None:
            best = numbers
            high = bisect_left(levels, _level(quest.arcs, tuple(numbers.tolist())))
        else:
            certain = certain and answer is False
            low = probe + 1
        probe = (low + high) // 2
    return None if best is None else (levels[high], best, certain)


def _start(quest: Quest, goal_of: GoalOf) -> Ints | None:
    """Run the local search and give its loop as traversal numbers."""
    arcs, turns = pruned(quest.arcs, quest.rules)
    walk = local_search(Problem(arcs, turns, quest.rules, goal_of(arcs)), quest.effort, quest.seed)
    return None if walk is None else arcs.number[walk]


def _polish(quest: Quest, goal_of: GoalOf, hint: Ints | None) -> Solved:
    """Solve exactly, from a loop given as traversal numbers; the walk of the result is in pruned arcs."""
    arcs, turns = pruned(quest.arcs, quest.rules)
    walk = None if hint is None else np.searchsorted(arcs.number, hint)
    return solve(Problem(arcs, turns, quest.rules, goal_of(arcs)), quest.effort, walk)


def _settle(quest: Quest, arcs: Arcs, goal: Goal, walk: Ints) -> tuple[int, ...]:
    """Write a loop down in the one way that all its equals share."""
    return tuple(arcs.number[_canonical(arcs, quest.rules, goal, walk.tolist())].tolist())


def _canonical(arcs: Arcs, rules: Rules, goal: Goal, walk: list[int]) -> list[int]:
    """Give the gentlest order, driven whichever way round is gentler, then smaller, at equal value."""
    begins = frozenset(rules.begins(arcs).tolist())
    value, back = goal.value(arcs, np.array(walk)), turned_round(arcs, walk)
    ways = [gentlest_order(arcs, way, begins) for way in (walk, back) if way is not None]
    kept = [way for way in ways if not breaches(arcs, way, rules) and goal.value(arcs, np.array(way)) == value]
    return min(kept or [walk], key=lambda way: (roughness(arcs, way), way))


def pruned(arcs: Arcs, rules: Rules) -> tuple[Arcs, Turns]:
    """Drop what no loop within the windows of *rules* can use."""
    return prune(arcs, rules)


def _level(arcs: Arcs, numbers: tuple[int, ...]) -> int:
    """Give the largest level on a loop."""
    return int(arcs.level[np.searchsorted(arcs.number, numbers)].max())
