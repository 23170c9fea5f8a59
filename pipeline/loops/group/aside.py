"""The turns of those who go round: they must turn off and in, as the others must at either end of a chain."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.loops.moves import Move
from pipeline.loops.traversals import Traversal

__all__ = ["Aside", "make_aside"]

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Aside:
    """What each set-up that goes round anything drives first and last on every arc; its own way where it goes round.

    Who waits at a node while the others come back to it needs no turn: that is only allowed where there is room to
    turn, and the arc's own traversals stand there.
    """

    first: Ints
    """Traversal driven first, shape (arcs, set-ups)."""
    last: Ints
    """Traversal driven last, shape (arcs, set-ups)."""
    leaving: Floats
    """Unit vector of the heading where the first begins, shape (arcs, set-ups, 2)."""
    arriving: Floats
    """Unit vector of the heading where the last ends, shape (arcs, set-ups, 2)."""

    def shunts(self, first: Ints, second: Ints, least: float) -> Flags:
        """Tell where anybody would turn back or sharper than the cosine *least* from arcs *first* into *second*."""
        turn = np.einsum("ijk,ijk->ij", self.arriving[first], self.leaving[second])
        back = self.first[second] == self.last[first] ^ 1
        return np.asarray((back | (turn < least)).any(axis=1), dtype=np.bool_)

    def kept(self, keep: Flags) -> "Aside":
        """Give the rows of the arcs flagged in *keep*."""
        return Aside(self.first[keep], self.last[keep], self.leaving[keep], self.arriving[keep])


def make_aside(moves: Sequence[Move], traversals: Sequence[Traversal]) -> Aside | None:
    """Lay out the turns of those who go round any of the *moves*; ``None`` when nobody does."""
    setups = sorted({one.setup for move in moves for one in move.rounds})
    if not setups:
        return None
    driven = [[_driven(move, setup) for setup in setups] for move in moves]
    first = np.array([[path[0] for path in row] for row in driven], dtype=np.int64)
    last = np.array([[path[-1] for path in row] for row in driven], dtype=np.int64)
    leaving = np.array([t.leaving for t in traversals], dtype=np.float64)
    arriving = np.array([t.arriving for t in traversals], dtype=np.float64)
    return Aside(first, last, leaving[first], arriving[last])


def _driven(move: Move, setup: int) -> tuple[int, ...]:
    """Give what a set-up drives of a move, or the move's own path where it waits."""
    return next((one.path for one in move.rounds if one.setup == setup), ()) or move.path
