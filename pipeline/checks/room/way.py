"""The way along every segment as a driver would take it: its line, with the noise of the survey smoothed away.

A vertex that is 0.2 m off turns a line by tens of degrees, and no driver steers for it. So the line is smoothed by a
Gaussian kernel of fourth order, which leaves straights and gentle arcs where they are, at three scales. The largest
scale whose line stays within the tolerance of the survey counts, place by place, and where none does the smallest.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.room.runs import Known, Points, sample

__all__ = ["STEP_M", "Ways", "make_ways"]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]

STEP_M = 0.5
"""Distance of the points of a way: a vehicle turns by no more than a few degrees over it."""
BEYOND_M = 10.0
"""How far a way goes on beyond the ends of its segment, less at most two steps: the length of the longest vehicle."""
SCALES_M = (4.0, 2.0, 1.0)
"""Standard deviations of the kernels, the smoothest first."""
REACH = 3.0
"""A kernel reaches this many standard deviations."""
TOLERANCE_M = 0.15
"""How far (root mean square) a line may lie off a smooth one before it counts as a bend, as for the curvature."""


@dataclass(frozen=True, slots=True)
class Ways:
    """One way a segment, in the digitised direction, with equally spaced points; ragged by segment."""

    offsets: Int64
    """Segment ``i`` owns points ``offsets[i]:offsets[i + 1]``."""
    x: Float64
    y: Float64
    heading: Float64
    """Of the tangent, rad, anticlockwise from east, without jumps within a way."""
    chainage: Float64
    """Of each point; below 0 before and above the length after the segment, rising all along."""
    row: Int64
    """Segment under each point; −1 where nobody walked: beyond a dead end, and where a junction is left straight on."""
    cross: Float64
    """Slope across, + ground rises to the right of the way; NaN where it is not known."""


def make_ways(known: Known) -> Ways:
    """Smooth the lines of all runs, and lay points along them.

    Parameters
    ----------
    known
        Where the lines of the runs are known.
    """
    pad = 2.0 * REACH * SCALES_M[0]
    count = np.ceil((known.length_m + 2.0 * (BEYOND_M + pad)) / STEP_M).astype(np.int64) + 1
    offsets = np.concatenate(([0], np.cumsum(count))).astype(np.int64)
    run = np.repeat(np.arange(count.size), count)
    # The points lie evenly to both sides of the middle, so that a line digitised the other way round gives the same.
    nth = np.arange(run.size) - offsets[run]
    at = known.length_m[run] / 2.0 + STEP_M * (nth - (count[run] - 1) / 2.0)
    raw = sample(known, run, at)
    x, y = _smoothed(raw.x, raw.y)
    inside = np.abs(at - known.length_m[run] / 2.0) <= known.length_m[run] / 2.0 + BEYOND_M
    return _evenly(run, np.flatnonzero(inside), (x, y, at), raw, known)


def _smoothed(x: Float64, y: Float64) -> tuple[Float64, Float64]:
    """Smooth lines that lie one after another; what is within twice a kernel's reach of an end is spoilt."""
    fine_x, fine_y = _scaled(x, y, SCALES_M[-1])
    for scale in SCALES_M[-2::-1]:
        wide_x, wide_y = _scaled(x, y, scale)
        off = (wide_x - x) ** 2 + (wide_y - y) ** 2
        rms = np.sqrt(np.maximum(np.convolve(off, _bell(scale), mode="same"), 0.0))
        share = np.clip(2.0 - 2.0 * rms / TOLERANCE_M, 0.0, 1.0)
        fine_x += share * (wide_x - fine_x)
        fine_y += share * (wide_y - fine_y)
    return fine_x, fine_y


def _scaled(x: Float64, y: Float64, scale: float) -> tuple[Float64, Float64]:
    """Smooth at one scale with the Gaussian kernel of fourth order, (3 − u²) φ(u) ÷ 2."""
    bell = _bell(scale)
    half = bell.size // 2
    u = np.arange(-half, half + 1) * STEP_M / scale
    second = float(bell @ u**2)
    fourth = float(bell @ u**4)
    kernel = bell * (fourth - second * u**2) / (fourth - second**2)
    return np.convolve(x, kernel, mode="same"), np.convolve(y, kernel, mode="same")


def _bell(scale: float) -> Float64:
    """Give the weights of a Gaussian on the points, of sum 1."""
    half = round(REACH * scale / STEP_M)
    weights = np.exp(-0.5 * (np.arange(-half, half + 1) * STEP_M / scale) ** 2)
    return np.asarray(weights / weights.sum())


def _evenly(run: Int64, inside: Int64, line: tuple[Float64, Float64, Float64], raw: Points, known: Known) -> Ways:
    """Lay equally spaced points along smoothed lines (x, y, chainage); *inside* are the points that are kept."""
    x, y, at = line
    run = run[inside]
    first = np.searchsorted(run, np.arange(known.length_m.size), side="left")
    last = np.searchsorted(run, np.arange(known.length_m.size), side="right") - 1
    step = np.hypot(np.diff(x[inside]), np.diff(y[inside]))
    along = np.concatenate(([0.0], np.cumsum(step)))
    length = along[last] - along[first]
    # A line that only runs to and fro is smoothed to a point; it keeps two all the same.
    count = np.maximum(np.floor(length / STEP_M + 1e-9).astype(np.int64), 1) + 1
    offsets = np.concatenate(([0], np.cumsum(count))).astype(np.int64)
    way = np.repeat(np.arange(count.size), count)
    spare = (length - (count - 1) * STEP_M) / 2.0
    wanted = (along[first] + spare)[way] + STEP_M * (np.arange(way.size) - offsets[way])
    left = np.clip(np.searchsorted(along, wanted, side="right") - 1, first[way], last[way] - 1)
    t = (wanted - along[left]) / np.maximum(along[left + 1] - along[left], 1e-12)
    i = inside[left]
    px, slope_x = _cubic(x, i, t)
    py, slope_y = _cubic(y, i, t)
    near = np.where(t < 0.5, i, i + 1)
    return Ways(
        offsets=offsets,
        x=px + known.origin[way, 0],
        y=py + known.origin[way, 1],
        heading=_unwrapped(np.arctan2(slope_y, slope_x), offsets),
        chainage=at[i] + t * (at[i + 1] - at[i]),
        row=raw.row[near],
        cross=(1.0 - t) * raw.cross[i] + t * raw.cross[i + 1],
    )


def _cubic(values: Float64, i: Int64, t: Float64) -> tuple[Float64, Float64]:
    """Interpolate from point *i* to the next with slopes by central differences: value, and slope per point."""
    before, one, two, after = values[i - 1], values[i], values[i + 1], values[i + 2]
    a = 0.5 * (two - before)
    b = before - 2.5 * one + 2.0 * two - 0.5 * after
    c = 0.5 * (after - before) + 1.5 * (one - two)
    return one + t * (a + t * (b + t * c)), a + t * (2.0 * b + 3.0 * t * c)


def _unwrapped(heading: Float64, offsets: Int64) -> Float64:
    """Take the jumps of 2π out of headings, each way beginning within half a turn of east."""
    smooth = np.unwrap(heading)
    turns = np.round(smooth[offsets[:-1]] / (2.0 * np.pi)) * 2.0 * np.pi
    return np.asarray(smooth - np.repeat(turns, np.diff(offsets)))
