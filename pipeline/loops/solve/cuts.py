"""Connectivity cuts in the graph of turns: what is driven must be reached from the trailhead.

For any set S of arcs and any arc *a* in it, a loop that drives *a* enters S at
least once, by a turn from outside or by starting in it:

    Σ_{turns and starts into S} s ≥ x_a

A relaxed solution that breaks one is cut off. The most broken ones are found
as minimum cuts between the trailhead and *a*, the turns taken as capacities
(the separation of generalised subtour eliminations; Fischetti, Salazar and
Toth, INFORMS Journal on Computing 10, 1998, do so for routes through nodes;
from memory, not verified).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array
from scipy.sparse.csgraph import breadth_first_order, maximum_flow

from pipeline.loops.solve.model import LoopModel

__all__ = ["Cut", "separate"]

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
_UNIT = 1_000_000
"""Capacity of a turn that is made once: the flows are worked out in whole numbers."""
_BROKEN = 0.02
"""Least violation that is worth a row."""
_MOST = 400
"""Cuts of one round."""


@dataclass(frozen=True, slots=True)
class Cut:
    """The columns of *ways in* add up to at least the column *driven*."""

    ways_in: Ints
    """Columns of the turns and starts that enter the set."""
    driven: int
    """Column of the arc."""


def separate(model: LoopModel, values: Floats) -> list[Cut]:
    """Find cuts that a relaxed solution breaks.

    Parameters
    ----------
    model
        The model.
    values
        Its columns, shape (columns,); more columns than the model has are ignored.

    Returns
    -------
    list of Cut
        At most two an arc, nearest to the trailhead and nearest to the arc; empty when all is connected.
    """
    turns, count = model.problem.turns, len(model.problem.arcs)
    driven = values[model.driven]
    made = np.maximum(0.0, values[np.concatenate((model.turn, model.start))])
    tails = np.concatenate((turns.first, np.full(len(turns.starts), count)))
    heads = np.concatenate((turns.second, turns.starts))
    room = np.rint(made * _UNIT).astype(np.int32)
    open_ = room > 0
    net = csr_array((room[open_], (tails[open_], heads[open_])), shape=(count + 1, count + 1))
    wanted = np.flatnonzero(driven > _BROKEN)
    cuts: list[Cut] = []
    seen: set[tuple[bytes, int]] = set()
    for arc in wanted[np.argsort(-driven[wanted], kind="stable")].tolist():
        for inside in _sides(net, arc, int((driven[arc] - _BROKEN) * _UNIT)):
            key = (inside.tobytes(), arc)
            if key not in seen:
                seen.add(key)
                cuts.append(_cut(model, inside, arc))
        if len(cuts) >= _MOST:
            break
    return cuts


def _sides(net: csr_array, arc: int, least: int) -> list[Flags]:
    """Give the arcs inside the minimum cuts before *arc*, where less than *least* flows there from the trailhead."""
    trailhead = net.shape[0] - 1
    flow = maximum_flow(net, trailhead, arc)
    if flow.flow_value >= least:
        return []
    left = csr_array(net - flow.flow)
    left.eliminate_zeros()
    outer = np.ones(net.shape[0], dtype=np.bool_)
    outer[breadth_first_order(left, trailhead, return_predecessors=False)] = False
    inner = np.zeros(net.shape[0], dtype=np.bool_)
    inner[breadth_first_order(csr_array(left.T), arc, return_predecessors=False)] = True
    return [outer, inner]


def _cut(model: LoopModel, inside: Flags, arc: int) -> Cut:
    """Write down the cut around a set."""
    turns = model.problem.turns
    entering = inside[turns.second] & ~inside[turns.first]
    ways_in = np.concatenate((model.turn[entering], model.start[inside[turns.starts]]))
    return Cut(ways_in, int(model.driven[arc]))
