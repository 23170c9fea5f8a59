"""One way to write down a loop that can be driven in several orders.

The same set of traversals can often be strung together in more than one order,
and sometimes driven the other way round, with the same value. The one handed
over is the smallest sequence of traversal numbers.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from pipeline.loops.graph import Arcs

__all__ = ["smallest_order", "turned_round"]

Ints = NDArray[np.int64]
_STEPS = 20_000
"""Steps of the depth-first search before the best order so far is kept."""


def smallest_order(arcs: Arcs, walk: Sequence[int]) -> list[int]:
    """Give the smallest closed sequence that uses exactly the arcs of *walk* and keeps the turn rules.

    A depth-first search that always tries the smaller arc first: the first full sequence it finds is the smallest.
    When it does not end within a fixed number of steps, *walk* itself is given.
    """
    left = set(walk)
    leaving: dict[int, list[int]] = {}
    for arc in sorted(left, reverse=True):
        leaving.setdefault(int(arcs.tail[arc]), []).append(arc)
    order: list[int] = []
    choices = [list(leaving.get(arcs.trailhead, []))]
    for _ in range(_STEPS):
        if not choices:
            break
        if not left and arcs.head[order[-1]] == arcs.trailhead:
            return order
        if not choices[-1]:
            choices.pop()
            if order:
                left.add(order.pop())
            continue
        arc = choices[-1].pop()
        if arc in left and _may_follow(arcs, order, arc):
            left.discard(arc)
            order.append(arc)
            choices.append(list(leaving.get(int(arcs.head[arc]), [])))
    return list(walk)


def turned_round(arcs: Arcs, walk: Sequence[int]) -> list[int] | None:
    """Give *walk* driven the other way round; ``None`` when a traversal is not allowed that way."""
    back = [int(arcs.opposite[arc]) for arc in reversed(walk)]
    return None if -1 in back else back


def _may_follow(arcs: Arcs, order: Sequence[int], arc: int) -> bool:
    """Tell whether *arc* may be driven after *order* under the turn rules."""
    if not order:
        return True
    return bool(arcs.may_follow(np.array([order[-1]]), np.array([arc]))[0])
