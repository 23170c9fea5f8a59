"""What a loop is worth: credits of techniques and the curve that turns them into points.

Each technique has a concave gain curve of five linear pieces of equal width.
The amount practised is counted in whole credits, 100 of them at saturation;
piece *k* = 1 … 5 is 20 credits wide and gives ``weight * (6 - k)`` units a
credit. Gains are therefore whole units, the same for solver, local search and
report. 3 units are one point, so full practice gives 100 points a unit of
weight.

Diminishing returns in a linear model: the slopes decrease, so a maximiser
fills the pieces in order (separable piecewise-linear programming; Dantzig,
*Linear Programming and Extensions*, 1963, ch. 24; from memory, not verified).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import fsum

import numpy as np
from numpy.typing import NDArray

from pipeline.loops.request import LoopInputs, LoopRequest
from pipeline.loops.settings import LoopSettings
from pipeline.terms import Technique

__all__ = ["FULL_CREDITS", "PIECES", "PIECE_CREDITS", "UNITS_PER_POINT", "GainCurve", "gain_curve"]

PIECES = 5
"""Linear pieces of a gain curve."""
PIECE_CREDITS = 20
"""Width of a piece, credits."""
FULL_CREDITS = PIECES * PIECE_CREDITS
"""Credits at saturation."""
UNITS_PER_POINT = 3
"""Integer gain units in a point."""

Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class GainCurve:
    """Gain curves of the techniques that are worth anything."""

    techniques: tuple[Technique, ...]
    weights: Ints
    """Shape (techniques,)."""
    saturation: NDArray[np.float64]
    """Amount that gives 100 credits, shape (techniques,), m or number."""

    @property
    def slopes(self) -> Ints:
        """Units a credit, shape (techniques, pieces), decreasing along a row."""
        return self.weights[:, None] * np.arange(PIECES, 0, -1, dtype=np.int64)[None, :]

    @property
    def table(self) -> Ints:
        """Units of 0, 1, … credits up to saturation, shape (techniques, credits + 1)."""
        each = np.repeat(self.slopes, PIECE_CREDITS, axis=1)
        return np.concatenate((np.zeros((len(each), 1), dtype=np.int64), np.cumsum(each, axis=1)), axis=1)

    @property
    def largest(self) -> int:
        """Units when every technique is saturated."""
        return int(self.slopes.sum()) * PIECE_CREDITS

    def units_each(self, credits_of: Ints) -> Ints:
        """Give the gain of each technique, units, from its credits, both of shape (techniques,)."""
        filled = np.minimum(credits_of, FULL_CREDITS)
        return np.asarray(self.table[np.arange(len(self.weights)), filled], dtype=np.int64)

    def units(self, credits_of: Ints) -> int:
        """Give the gain of a loop, units, from its credits of each technique, shape (techniques,)."""
        return int(self.units_each(credits_of).sum())


def gain_curve(inputs: LoopInputs, request: LoopRequest) -> GainCurve:
    """Make the gain curves for a request.

    Windows longer than the reference loop saturate later in proportion. Where the ground is so rich that an average
    loop would come near saturation, a technique saturates later still, so that loops can be told apart.
    """
    settings, weights = inputs.settings, inputs.practice.aims[request.aim]
    worth = tuple(t for t in Technique if t in settings.technique and weights.get(t, 0) > 0)
    ratio = _budget_ratio(settings, request)
    usual = np.array([settings.technique[t].saturation for t in worth], dtype=np.float64) * max(1.0, ratio)
    average = _density(inputs, request, worth) * ratio * settings.reference_length_m
    return GainCurve(
        techniques=worth,
        weights=np.array([weights[t] for t in worth], dtype=np.int64),
        saturation=np.maximum(usual, inputs.practice.spread * average),
    )


def _density(inputs: LoopInputs, request: LoopRequest, techniques: Sequence[Technique]) -> NDArray[np.float64]:
    """Give what a metre of trail has of each technique, m or number, as it fits the drivers on the mean.

    All segments count in both directions, whatever is closed, one-way or barred: what full practice is does not
    change with what may be driven today.
    """
    bands = [inputs.practice.band[inputs.drivers[setup]] for setup in request.setups]
    runs = inputs.techniques.sort_values(["technique", "amount", "intensity"])
    fits = np.array([np.mean([band.share(x) for band in bands]) for x in runs["intensity"].tolist()], dtype=np.float64)
    whole = max(1.0, 2.0 * fsum(inputs.network.segments["length_m"]))
    sums = (runs["amount"] * fits).groupby(runs["technique"].astype("str")).sum()
    return np.array([sums.get(technique.value, 0.0) for technique in techniques]) / whole


def _budget_ratio(settings: LoopSettings, request: LoopRequest) -> float:
    """Give the longest loop allowed over the reference loop."""
    if request.length_m is not None:
        return request.length_m[1] / settings.reference_length_m
    if request.time_min is not None:
        return request.time_min[1] / settings.reference_time_min
    return 1.0
