"""Runs of stations on which something holds: run-length encoding over all segments at once."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pipeline.terrain.model import Stations

__all__ = ["Course", "Runs", "course_of", "find_runs", "peak", "window"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

_ROUNDING_M = 1e-6


class Course(NamedTuple):
    """Where every station lies: parallel arrays of length stations."""

    row: Ints
    """Row of its segment."""
    first: Ints
    """Index of the first station of its segment."""
    last: Ints
    """Index of the last one."""
    chainage_m: Floats
    step_m: Floats
    """Distance between stations of its segment."""


class Runs(NamedTuple):
    """Runs of stations, each on one segment; indices of the first and the last station."""

    start: Ints
    stop: Ints


def course_of(stations: Stations) -> Course:
    """Lay out the stations of all segments."""
    counts = np.diff(stations.offsets)
    row = np.repeat(np.arange(len(counts)), counts)
    first, last = stations.offsets[:-1][row], stations.offsets[1:][row] - 1
    length = stations.chainage_m[last] - stations.chainage_m[first]
    return Course(row, first, last, stations.chainage_m, length / np.maximum(last - first, 1))


def find_runs(mask: Flags, course: Course, join_m: float, min_length_m: float) -> Runs:
    """Find the runs of stations where *mask* holds.

    Parameters
    ----------
    mask
        Parallel to the stations.
    course
        Where the stations lie.
    join_m
        Runs of one segment not farther apart than this are joined.
    min_length_m
        Runs shorter than this, from first to last station and after joining, are left out.
    """
    if not mask.any():
        return Runs(np.empty(0, np.int64), np.empty(0, np.int64))
    border = course.row[1:] != course.row[:-1]
    before, after = np.append(False, mask[:-1] & ~border), np.append(mask[1:] & ~border, False)
    start, stop = np.flatnonzero(mask & ~before), np.flatnonzero(mask & ~after)
    gap = course.chainage_m[start[1:]] - course.chainage_m[stop[:-1]]
    apart = (course.row[start[1:]] != course.row[stop[:-1]]) | (gap > join_m + _ROUNDING_M)
    start, stop = start[np.append(True, apart)], stop[np.append(apart, True)]
    keep = course.chainage_m[stop] - course.chainage_m[start] >= min_length_m - _ROUNDING_M
    return Runs(start[keep], stop[keep])


def peak(values: Floats, runs: Runs) -> Floats:
    """Give the largest of *values* in each run; missing ones do not count."""
    if not runs.start.size:
        return np.empty(0, np.float64)
    known = np.append(np.where(np.isnan(values), -np.inf, values), -np.inf)
    borders = np.column_stack([runs.start, runs.stop + 1]).ravel()
    largest: Floats = np.maximum.reduceat(known, borders)[::2]
    return largest


def window(course: Course, length_m: float) -> tuple[Ints, Ints]:
    """Give the stations half a window before and after every station, not beyond its segment's ends.

    Parameters
    ----------
    course
        Where the stations lie.
    length_m
        Length of the window; at least one station on either side is taken.

    Returns
    -------
    tuple[Ints, Ints]
        Indices of the station behind and ahead in the with direction.
    """
    here = np.arange(len(course.row))
    steps = np.maximum(np.rint(length_m / 2.0 / np.maximum(course.step_m, _ROUNDING_M)), 1).astype(np.int64)
    return np.maximum(here - steps, course.first), np.minimum(here + steps, course.last)
