"""Surveyed obstacles laid into the profiles that vehicles are rolled over.

Rocks, logs, holes and ditches are half ellipses, ruts troughs with sloping ends, steps a jump. The middle of a thing
is put on the nearest height of the profile, so that its full height is always met. Where things overlap the higher
(for depressions the deeper) one counts; steps add up.

A step is already in the elevation model, smeared over its cells. The jump is therefore laid in with a slope back on
both sides over *fade* metres: beside the step the ground is sharpened, and beyond that it stays as it was measured.
"""

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.compiled import inner, kernel

__all__ = ["ELLIPSE", "STEP", "TROUGH", "Bumps", "lay_bumps"]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]
UInt8 = NDArray[np.uint8]

ELLIPSE = 0
STEP = 1
TROUGH = 2


class Bumps(NamedTuple):
    """Things on runs, one an element; a thing that lies on several runs stands here once a run."""

    run: Int64
    """Run it lies on."""
    at: Float64
    """Run coordinate of its middle, m."""
    height: Float64
    """Height, + up, − down, m; of a step the jump in the direction of the run coordinate."""
    length: Float64
    """Extent along the run, m."""
    shape: Int64
    """``ELLIPSE``, ``STEP`` or ``TROUGH``."""
    basis: UInt8
    """What its figures rest on; the heights it touches take the smaller of theirs and this."""
    fade: float
    """Reach of a step to either side, and length of the slopes at the ends of a trough, m."""

    def take(self, which: NDArray[np.generic]) -> "Bumps":
        """Take some of the things, by flags or indices."""
        return Bumps(
            self.run[which],
            self.at[which],
            self.height[which],
            self.length[which],
            self.shape[which],
            self.basis[which],
            self.fade,
        )


@kernel
def lay_bumps(
    heights: tuple[Float64, UInt8], offsets: Int64, start: Float64, step: float, bumps: Bumps
) -> tuple[Float64, UInt8]:
    """Lay things into profiles.

    Parameters
    ----------
    heights
        Heights of all runs, m, and what each rests on; neither is changed.
    offsets
        Run ``r`` owns ``offsets[r]:offsets[r + 1]``.
    start
        Run coordinate of the first height of every run, m.
    step
        Spacing of the heights, m.
    bumps
        The things.

    Returns
    -------
    tuple of Float64, UInt8
        New heights and what they rest on.
    """
    z, basis = heights[0].copy(), heights[1].copy()
    above, below = np.zeros(z.size), np.zeros(z.size)
    for k in range(bumps.run.size):
        run = bumps.run[k]
        first, count = offsets[run], offsets[run + 1] - offsets[run]
        middle = math.floor((bumps.at[k] - start[run]) / step + 0.5)
        reach = bumps.fade if bumps.shape[k] == STEP else max(0.5 * bumps.length[k], step)
        span = math.ceil(reach / step)
        for j in range(max(middle - span, 0), min(middle + span + 1, count)):
            share = _share((j - middle) * step, reach, bumps.fade, bumps.shape[k])
            rise = bumps.height[k] * share
            if share != 0.0:
                basis[first + j] = min(basis[first + j], bumps.basis[k])
            if bumps.shape[k] == STEP:
                z[first + j] += rise
            elif rise > 0.0:
                above[first + j] = max(above[first + j], rise)
            else:
                below[first + j] = min(below[first + j], rise)
    return z + above + below, basis


@inner
def _share(away: float, reach: float, fade: float, shape: int) -> float:
    """Share of a thing's height at a distance from its middle."""
    if abs(away) >= reach:
        return 0.0
    if shape == STEP:
        back = 0.5 * (1.0 - abs(away) / reach)
        return back if away >= 0.0 else -back
    if shape == TROUGH:
        slope = min(fade, reach)
        return min((reach - abs(away)) / slope, 1.0)
    return math.sqrt(1.0 - (away / reach) ** 2)
