"""The order in which a loop is driven, of all those that drive the same moves: the gentlest first third.

The same set of moves can often be strung together in more than one order, and
sometimes driven the other way round, with the same value. A group warms up on
easy ground (common practice, no source): of all orders that keep the turn rules
the one is taken with the smallest mean of utilisation over the first third of
the length, then the smallest sequence of arcs. Utilisations are those of the
search: hundredths, rounded up, all up to the comfort floor alike.

All orders are looked at by depth-first search, with a bound on what the rest of
the first third adds at least, and without going where arcs would be left behind:
once with gentler arcs first, for the measure, then with smaller arcs first, for
the first sequence that has it. When a search does not end within a fixed number
of steps, the best order so far is taken: the same on every machine.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field

import numpy as np

from pipeline.loops.graph import Arcs

__all__ = ["gentlest_order", "roughness"]

_STEPS = 20_000
"""Steps of the search before the best order so far is kept."""


def roughness(arcs: Arcs, walk: Sequence[int]) -> int:
    """Sum level × length over the first third of a walk, in thirds of hundredths × dm; comparable at equal length."""
    left, total = int(arcs.length_dm[list(walk)].sum()), 0
    for arc in walk:
        on = min(left, 3 * int(arcs.length_dm[arc]))
        total += on * int(arcs.level[arc])
        left -= on
    return total


def gentlest_order(arcs: Arcs, walk: Sequence[int], begins: Collection[int] | None = None) -> list[int]:
    """Give the closed sequence of exactly the arcs of *walk* whose first third is gentlest.

    Parameters
    ----------
    arcs
        The arcs.
    walk
        A loop, arcs in driving order.
    begins
        Arcs that it may begin with; ``None``: any that leaves the trailhead.

    Returns
    -------
    list
        The order; *walk* itself when none was found within the work limit.
    """
    gentle = _Search(arcs, walk, begins)
    gentle.run()
    if gentle.best is None:
        return list(walk)
    small = _Search(arcs, walk, begins, most=gentle.least)
    small.run()
    return small.best if small.best is not None else gentle.best


@dataclass
class _Search:
    """Depth-first search over the orders of a set of arcs."""

    arcs: Arcs
    walk: Sequence[int]
    begins: Collection[int] | None
    most: int | None = None
    """Roughness up to which the smallest sequence is wanted; ``None``: the least roughness is."""
    best: list[int] | None = None
    least: int = 0
    """Roughness of the best."""
    order: list[int] = field(default_factory=list)
    spent: list[tuple[int, int]] = field(default_factory=list)
    """After each arc of the order: three times the length of the first third that is left, and the roughness so far."""

    def __post_init__(self) -> None:
        """Look the arcs up once."""
        chosen = sorted(set(self.walk), key=lambda arc: (int(self.arcs.level[arc]) if self.most is None else 0, arc))
        self.left = set(chosen)
        self.length = {arc: int(self.arcs.length_dm[arc]) for arc in chosen}
        self.level = {arc: int(self.arcs.level[arc]) for arc in chosen}
        self.head = {arc: int(self.arcs.head[arc]) for arc in chosen}
        self.tail = {arc: int(self.arcs.tail[arc]) for arc in chosen}
        self.after = self._followers(chosen)
        self.home = int(self.arcs.trailhead)
        first = [a for a in chosen if self.tail[a] == self.home and (self.begins is None or a in self.begins)]
        self.choices = [first[::-1]]
        self.spent.append((sum(self.length.values()), 0))

    def _followers(self, chosen: Sequence[int]) -> dict[int, list[int]]:
        """List which of the arcs may be driven after each, the one to be tried first last."""
        pairs = [(a, b) for a in chosen for b in reversed(chosen) if self.head[a] == self.tail[b]]
        firsts, seconds = (np.array([pair[side] for pair in pairs], dtype=np.int64) for side in (0, 1))
        may = self.arcs.may_follow(firsts, seconds).tolist()
        found: dict[int, list[int]] = {arc: [] for arc in chosen}
        for (a, b), allowed in zip(pairs, may, strict=True):
            if allowed:
                found[a].append(b)
        return found

    def run(self) -> None:
        """Search until nothing is left to try or the steps are used up."""
        for _ in range(_STEPS):
            if not self.choices or (self.best is not None and self.most is not None):
                return
            if not self.choices[-1]:
                self._step_back()
            else:
                self._step(self.choices[-1].pop())

    def _step_back(self) -> None:
        """Take the last arc off again."""
        self.choices.pop()
        if self.order:
            self.left.add(self.order.pop())
            self.spent.pop()

    def _step(self, arc: int) -> None:
        """Drive one more arc, unless that cannot lead to a better order."""
        if arc not in self.left:
            return
        third, rough = self.spent[-1]
        on = min(third, 3 * self.length[arc])
        third, rough = third - on, rough + on * self.level[arc]
        self.left.discard(arc)
        if self._hopeless(arc, third, rough):
            self.left.add(arc)
            return
        self.order.append(arc)
        self.spent.append((third, rough))
        self.choices.append(list(self.after[arc]) if self.left else [])
        if not self.left:
            self.best, self.least = list(self.order), rough

    def _hopeless(self, arc: int, third: int, rough: int) -> bool:
        """Tell whether no order that goes on after *arc* is closed, whole and better than the best so far."""
        if self._too_rough(rough + self._at_least(third)):
            return True
        return not self._all_in_reach(arc) if self.left else self.head[arc] != self.home

    def _too_rough(self, rough: int) -> bool:
        """Tell whether a roughness is more than is wanted, or no better than the best so far."""
        if self.most is not None:
            return rough > self.most
        return self.best is not None and rough >= self.least

    def _at_least(self, third: int) -> int:
        """Give the least roughness that the rest of the first third adds: the gentlest arcs that are left, first."""
        total = 0
        for level, length in sorted((self.level[a], self.length[a]) for a in self.left) if third else ():
            on = min(third, 3 * length)
            total, third = total + on * level, third - on
        return total

    def _all_in_reach(self, arc: int) -> bool:
        """Tell whether every arc that is left can still be come to after *arc*."""
        seen, stack = {arc}, [arc]
        while stack:
            for after in self.after[stack.pop()]:
                if after in self.left and after not in seen:
                    seen.add(after)
                    stack.append(after)
        return len(seen) == len(self.left) + 1
