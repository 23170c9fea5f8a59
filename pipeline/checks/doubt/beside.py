"""The ground on and beside the segments' own runs, and how it slopes there."""

import numpy as np
from numpy.typing import NDArray

from pipeline.terrain.model import Profiles

__all__ = ["ground_at", "slopes_at"]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]

ALONG_M = 0.5
"""Slopes along are differences from this far before to this far behind: the rows of the strip are as far apart."""
ACROSS_M = 0.3
"""Slopes across likewise: the places of the strip."""


def ground_at(profiles: Profiles, segment: Int64, at_m: Float64, offset_m: Float64) -> Float64:
    """Give the height of the ground beside segments, read linearly along and across.

    Parameters
    ----------
    profiles
        Runs and strip; a segment's own run goes on into its straightest neighbours.
    segment
        Row of the segment at each place.
    at_m
        Chainage; beyond the end of the run that of its end.
    offset_m
        + right of the digitised direction; beyond the strip that of its edge.

    Returns
    -------
    ndarray
        m; NaN where there is none.
    """
    strip, places = profiles.strip, profiles.strip.across_m.size
    last = np.diff(profiles.offsets)[segment] - 1.0
    sample = np.clip((at_m - profiles.start_m[segment]) / profiles.step_m, 0.0, last)
    line = _between(profiles.z, profiles.offsets[segment], 1, (sample, last))
    rows = np.diff(strip.offsets)[segment] - 1.0
    row = np.minimum(sample / strip.every, rows)
    place = np.interp(offset_m, strip.across_m, np.arange(places))
    column = np.minimum(np.nan_to_num(place).astype(np.int64), places - 2)
    begin = strip.offsets[segment] * places + column
    left, right = (_between(strip.rise_m.ravel(), begin + k, places, (row, rows)) for k in (0, 1))
    return np.asarray(line + left + (place - column) * (right - left))


def _between(values: NDArray[np.float32], begin: Int64, stride: int, where: tuple[Float64, Float64]) -> Float64:
    """Read values *stride* apart from *begin* on at a place and the last place there is, linearly."""
    place, last = where
    low = np.floor(np.nan_to_num(place)).astype(np.int64)
    high = np.minimum(low + 1, last.astype(np.int64))
    first, second = (values[begin + k * stride].astype(np.float64) for k in (low, high))
    share = place - low
    return np.where(share == 0.0, first, first + share * (second - first))


def slopes_at(profiles: Profiles, segment: Int64, at_m: Float64, offset_m: Float64) -> tuple[Float64, Float64]:
    """Give the slope along (+ uphill in the digitised direction) and across (+ rises to the right), rise over run.

    Parameters are those of :func:`ground_at`; at the ends of runs and strip the slope is that just inside.
    """
    start = profiles.start_m[segment]
    end = start + (np.diff(profiles.offsets)[segment] - 1) * profiles.step_m
    middle = np.clip(at_m, start + ALONG_M, np.maximum(end - ALONG_M, start + ALONG_M))
    side = np.clip(offset_m, profiles.strip.across_m[0] + ACROSS_M, profiles.strip.across_m[-1] - ACROSS_M)
    before, after = (ground_at(profiles, segment, middle + step, offset_m) for step in (-ALONG_M, ALONG_M))
    left, right = (ground_at(profiles, segment, at_m, side + step) for step in (-ACROSS_M, ACROSS_M))
    return (after - before) / (2.0 * ALONG_M), (right - left) / (2.0 * ACROSS_M)
