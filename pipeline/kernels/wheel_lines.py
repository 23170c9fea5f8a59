"""Ground under the tyres of both sides: heights on the line and what the ground beside it rises over them.

A tyre stands on a patch. Across, the mean over its width is a weighted sum of the heights of a row of the strip; along,
the mean over its length is taken here. Both are exact for ground that is straight between the measured heights.
"""

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.compiled import bare, kernel

__all__ = ["Ribbon", "under_tyres"]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]
UInt8 = NDArray[np.uint8]


class Ribbon(NamedTuple):
    """A line and the ground beside it, one run after another."""

    offsets: Int64
    """Run ``r`` owns samples ``offsets[r]:offsets[r + 1]``."""
    z: Float64
    """Height of every sample on the line, m; NaN where there is none."""
    basis: UInt8
    """What it rests on; smaller is worse."""
    rows: Int64
    """Run ``r`` owns rows ``rows[r]:rows[r + 1]``."""
    every: int
    """A row lies across every so many samples, and one across the last."""
    left: Float64
    """Rise of the ground under the left tyres over the line, m, one a row; NaN where there is none."""
    right: Float64
    beside: int
    """What a rise rests on where there is one."""


@kernel
def under_tyres(ribbon: Ribbon, reach: float) -> tuple[Float64, Float64, UInt8]:
    """Give the ground under the left and right tyres at every sample.

    Parameters
    ----------
    ribbon
        The line and the ground beside it.
    reach
        Half the length of the patch, in samples. At the ends of a run it is as short, to both sides, as the run
        allows, so that a plane stays a plane.

    Returns
    -------
    tuple
        Heights under the left and right tyres, m, NaN where any ground within the patch is missing; and what they
        rest on.
    """
    left, right = np.empty(ribbon.z.size), np.empty(ribbon.z.size)
    basis = ribbon.basis.copy()
    for run in range(ribbon.offsets.size - 1):
        first, last = ribbon.offsets[run], ribbon.offsets[run + 1]
        on_left, on_right = np.empty(last - first), np.empty(last - first)
        for k in range(last - first):
            row, share = _row(ribbon, run, k)
            rises = _between(ribbon.left, row, share), _between(ribbon.right, row, share)
            on_left[k], on_right[k] = ribbon.z[first + k] + rises[0], ribbon.z[first + k] + rises[1]
            if rises[0] != 0.0 or rises[1] != 0.0:
                basis[first + k] = min(basis[first + k], ribbon.beside)
        for k in range(last - first):
            half = min(reach, float(min(k, last - first - 1 - k)))
            left[first + k], right[first + k] = _mean(on_left, k, half), _mean(on_right, k, half)
    return left, right, basis


@bare
def _row(ribbon: Ribbon, run: int, k: int) -> tuple[int, float]:
    """Row at or before sample *k* of a run, and how far on towards the next row it lies, 0–1."""
    count = ribbon.offsets[run + 1] - ribbon.offsets[run]
    row = k // ribbon.every
    begin = row * ribbon.every
    if k == begin:
        return ribbon.rows[run] + row, 0.0
    end = min(begin + ribbon.every, count - 1)
    return ribbon.rows[run] + row, (k - begin) / (end - begin)


@bare
def _between(values: Float64, k: int, share: float) -> float:
    """Give the value at a share of the way from *k* to the next."""
    if share == 0.0:
        return float(values[k])
    return float(values[k] + share * (values[k + 1] - values[k]))


@bare
def _mean(z: Float64, k: int, half: float) -> float:
    """Mean of straight pieces between samples from *half* samples before *k* to as many after."""
    if half <= 0.0:
        return float(z[k])
    whole = math.floor(half)
    total = 0.0
    for j in range(k - whole, k + whole):
        total += 0.5 * (z[j] + z[j + 1])
    rest = half - whole
    if rest > 0.0:
        before, after = k - whole, k + whole
        total += rest * (z[before] + z[after])
        total += 0.5 * rest * rest * (z[before - 1] - z[before] + z[after + 1] - z[after])
    return float(total / (2.0 * half))
