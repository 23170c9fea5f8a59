"""Credits: how much of the practice of a technique a traversal gives one set-up, and what is lost by repeating it."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from pipeline.loops.request import LoopInputs
from pipeline.loops.runs import Run
from pipeline.loops.value.objective import PIECE_CREDITS, PIECES, GainCurve

if TYPE_CHECKING:
    from pipeline.loops.moves import Terms
    from pipeline.loops.traversals import Traversal

__all__ = ["credits_of", "repeated"]

Floats = NDArray[np.float64]


def credits_of(runs: Sequence[Run], inputs: LoopInputs, setup: str, curve: GainCurve) -> Floats:
    """Give the credits of each technique of *curve* for the driver of one set-up, shape (techniques,), not rounded.

    A run gives its amount times the share by which its intensity fits the driver; saturation is 100 credits.
    """
    band = inputs.practice.band[inputs.drivers[setup]]
    totals = dict.fromkeys(curve.techniques, 0.0)
    for run in runs:
        if run.technique in totals:
            totals[run.technique] += run.amount * band.share(run.intensity)
    amounts = np.array([totals[t] for t in curve.techniques], dtype=np.float64)
    return np.asarray(amounts / curve.saturation * PIECES * PIECE_CREDITS, dtype=np.float64)


def repeated(first: "Traversal", second: "Traversal", terms: "Terms") -> Floats:
    """Give the credits that are lost where both directions of a segment are driven, shape (techniques,)."""
    return np.zeros(first.practised.shape[1]) * len(second.runs) * terms.again
