"""The quickest way home from every place of a loop, for all of its set-ups, under its turn rules."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.loops.day.timeline import staying
from pipeline.loops.moves import Move
from pipeline.loops.plan import Plan
from pipeline.loops.solve.turns import FAR, expand, measure

__all__ = ["Home", "Ways", "ways_home"]

Ints = NDArray[np.int64]
_MS = 60_000.0
"""Milliseconds in a minute: ways are compared in whole ones, so that ties are ties on every machine."""


@dataclass(frozen=True, slots=True)
class Home:
    """The quickest way home from the end of a move."""

    numbers: tuple[int, ...]
    """Moves to drive; none at the trailhead itself."""
    length_m: float
    minutes: float
    """Driving, and waiting for those who go round; no coaching."""


@dataclass(frozen=True, slots=True)
class Ways:
    """Where to turn for home after every move."""

    plan: Plan
    driving: dict[int, float]
    """Minutes of driving of each allowed move."""
    onward: dict[int, int | None]
    """Next move on the quickest way home after each from which one leads; ``None`` where it ends at the trailhead."""

    def after(self, number: int) -> Home:
        """Give the way home from the end of a move."""
        path: list[int] = []
        at = self.onward[number]
        while at is not None:
            path.append(at)
            at = self.onward[at]
        length = sum(self.plan.traversals[part].length_m for n in path for part in self.plan.moves[n].path)
        return Home(tuple(path), length, sum(self.driving[n] for n in path))


def ways_home(plan: Plan) -> Ways:
    """Find the quickest way home after every move that is allowed.

    A way home is driven by all set-ups of the loop, over whatever is allowed for them, whether the loop drives it or
    not, and turns only where a loop may. Of ways that are equally quick the one with the smaller next move is taken.
    Where a bypass is allowed, a way home may take it.
    """
    arcs = plan.quest.arcs
    numbers = arcs.number.tolist()
    driving = {n: _driving(plan.moves[n], plan) for n in numbers}
    cost = np.array([max(1, round(driving[n] * _MS)) for n in numbers], dtype=np.int64)
    turns = expand(arcs, np.flatnonzero(arcs.tail == arcs.trailhead).astype(np.int64))
    home = measure(arcs, turns, cost).home
    follows = _best(turns.first, turns.second, cost + home)
    onward = {
        n: None if arcs.head[arc] == arcs.trailhead else numbers[follows[arc]]
        for arc, n in enumerate(numbers)
        if home[arc] < FAR
    }
    return Ways(plan, driving, onward)


def _driving(move: Move, plan: Plan) -> float:
    """Give the minutes in which everybody has driven a move or gone round it, without any coaching."""
    stay = staying(move, len(plan.request.setups))
    own = sum(max(plan.traversals[part].driving[s] for s in stay) for part in move.path)
    return max([own, *(sum(plan.traversals[part].driving[one.setup] for part in one.path) for one in move.rounds)])


def _best(first: Ints, second: Ints, ahead: Ints) -> dict[int, int]:
    """Give for each arc the one after it that leads home quickest."""
    order = np.lexsort((second, ahead[second], first))
    leads, at = np.unique(first[order], return_index=True)
    return dict(zip(leads.tolist(), second[order][at].tolist(), strict=True))
