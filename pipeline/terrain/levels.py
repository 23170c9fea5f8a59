"""Joining heights of different sources along a run without a step.

A survey may carry ellipsoidal heights and the elevation model orthometric ones, tens of metres apart; two models may
differ by decimetres. Where a run passes from one source to the next, that difference would stand in the way as a
cliff and bar the trail. For rolling a vehicle only the shape counts, so the far side is shifted until the ground
goes on at the grade it had; the heights round the run's anchor stay as they are. A real step exactly at such a
border is lost with it: steps are for the obstacle survey.
"""

import numpy as np
from numpy.typing import NDArray

__all__ = ["join_levels"]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]

SMALLEST_STEP_M = 0.03
"""Smaller differences stay: a brow right at the border makes as much between two samples, and they bar nothing."""


def join_levels(z: Float64, source: Int64, offsets: Int64, anchor: Int64) -> Float64:
    """Shift heights beyond each change of source so that the profile goes on without a step.

    Parameters
    ----------
    z
        Heights of the samples of all runs, m; NaN where there is none.
    source
        Where each height came from, as any number; negative without a height.
    offsets
        Length runs + 1.
    anchor
        Sample of each run whose height stays as it is.

    Returns
    -------
    ndarray
        Heights, m. Across a gap without heights nothing is joined.
    """
    change = np.flatnonzero((np.diff(source) != 0) & (source[1:] >= 0) & (source[:-1] >= 0)) + 1
    change = change[~np.isin(change, offsets)]
    if change.size == 0:
        return z
    jump = np.zeros(z.size)
    found = z[change] - z[change - 1] - _grade(z, source, change)
    jump[change] = np.where(np.abs(found) > SMALLEST_STEP_M, found, 0.0)
    shift = np.cumsum(jump)
    return np.asarray(z - (shift - np.repeat(shift[anchor], np.diff(offsets))))


def _grade(z: Float64, source: Int64, change: Int64) -> Float64:
    """Give the rise a sample at each change: the mean of the steps before and after it, where those are known."""
    before, after = np.maximum(change - 2, 0), np.minimum(change + 1, z.size - 1)
    step_before = np.where(source[before] == source[change - 1], z[change - 1] - z[before], np.nan)
    step_after = np.where(source[after] == source[change], z[after] - z[change], np.nan)
    known = np.stack((step_before, step_after))
    count = (~np.isnan(known)).sum(axis=0)
    return np.asarray(np.nansum(known, axis=0) / np.maximum(count, 1))
