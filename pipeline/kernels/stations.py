"""Points along many polylines at once: stations at equal steps, samples of runs that cross from line to line.

Polylines are ragged: line ``i`` owns vertices ``offsets[i]:offsets[i + 1]``. All distances are plan metres along the
line; lines run through their vertices without gaps and may repeat a vertex. Nothing here walks a line from its start
for each point (that grows with the square of the length): points come in order, and so does the search.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.compiled import inner, kernel

__all__ = [
    "Lines",
    "Pieces",
    "count_stations",
    "line_heights",
    "line_slopes",
    "place_samples",
    "place_stations",
    "vertex_chainages",
]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]

AT_VERTEX = 1e-6
"""A point nearer to a vertex than this (m along the line) lies on it."""


class Lines(NamedTuple):
    """Polylines, one after another."""

    x: Float64
    """Easting of every vertex, m."""
    y: Float64
    """Northing of every vertex, m."""
    chainage: Float64
    """Distance of every vertex from the start of its line, m."""
    offsets: Int64
    """Length lines + 1."""


class Pieces(NamedTuple):
    """The pieces of runs: run ``r`` is made of pieces ``offsets[r]:offsets[r + 1]``, by rising run coordinate."""

    offsets: Int64
    segment: Int64
    """Line that the piece lies on."""
    zero: Float64
    """Run coordinate of that line's chainage 0, m."""
    sign: Int64
    """+1 or −1: run coordinate = zero + sign × chainage."""
    end: Float64
    """Highest run coordinate of the piece, m."""


@kernel
def vertex_chainages(x: Float64, y: Float64, offsets: Int64) -> Float64:
    """Give the distance of every vertex from the start of its line, m."""
    chainage = np.zeros(x.size)
    for line in range(offsets.size - 1):
        for k in range(offsets[line] + 1, offsets[line + 1]):
            chainage[k] = chainage[k - 1] + np.hypot(x[k] - x[k - 1], y[k] - y[k - 1])
    return chainage


@kernel
def count_stations(lines: Lines, spacing: float) -> Int64:
    """Give the station offsets (length lines + 1) for equal steps of at most *spacing* m, both ends included."""
    offsets = np.zeros(lines.offsets.size, dtype=np.int64)
    for line in range(lines.offsets.size - 1):
        length = lines.chainage[lines.offsets[line + 1] - 1]
        steps = max(1, int(np.ceil(length / spacing - 1e-9)))
        offsets[line + 1] = offsets[line] + steps + 1
    return offsets


@kernel
def place_stations(lines: Lines, offsets: Int64) -> tuple[Float64, Float64, Float64, Float64]:
    """Place the stations that :func:`count_stations` counted.

    Parameters
    ----------
    lines
        The polylines.
    offsets
        Station offsets, length lines + 1.

    Returns
    -------
    tuple
        Chainage (m), x, y (m) and grid bearing (rad, clockwise from north, 0 to 2π) of every station. The bearing is
        that of the piece of line that the station lies on; a station on a vertex takes the piece that follows.
    """
    chainage, x = np.empty(offsets[-1]), np.empty(offsets[-1])
    y, bearing = np.empty(offsets[-1]), np.empty(offsets[-1])
    for line in range(offsets.size - 1):
        first, last = lines.offsets[line], lines.offsets[line + 1] - 1
        steps = offsets[line + 1] - offsets[line] - 1
        k, turned, towards = first, -1, 0.0
        for i in range(steps + 1):
            s = lines.chainage[last] * (i / steps)
            k = _advance(lines.chainage, k, last, s)
            if k != turned:
                turned, towards = k, _bearing(lines, k)
            at = offsets[line] + i
            chainage[at], bearing[at] = s, towards
            x[at], y[at] = _point(lines, k, s)
    return chainage, x, y, bearing


@kernel
def place_samples(
    lines: Lines, pieces: Pieces, offsets: Int64, start: Float64, step: Float64
) -> tuple[Float64, Float64, Int64, Float64]:
    """Place samples along runs that are made of pieces of lines.

    Parameters
    ----------
    lines, pieces
        The polylines, and how runs are made of them.
    offsets
        Sample offsets, length runs + 1.
    start, step
        Run coordinate of the first sample and distance between samples of every run, m.

    Returns
    -------
    tuple
        x, y (m), line and chainage on it (m) of every sample.
    """
    x, y = np.empty(offsets[-1]), np.empty(offsets[-1])
    segment, chainage = np.empty(offsets[-1], dtype=np.int64), np.empty(offsets[-1])
    for run in range(offsets.size - 1):
        piece, fresh, k = pieces.offsets[run], True, lines.offsets[0]
        for at in range(offsets[run], offsets[run + 1]):
            along = start[run] + step[run] * (at - offsets[run])
            while along > pieces.end[piece] + AT_VERTEX and piece + 1 < pieces.offsets[run + 1]:
                piece, fresh = piece + 1, True
            line = pieces.segment[piece]
            first, last = lines.offsets[line], lines.offsets[line + 1] - 1
            s = min(max((along - pieces.zero[piece]) * pieces.sign[piece], 0.0), lines.chainage[last])
            if fresh:
                k, fresh = _find(lines.chainage, first, last, s), False
            elif pieces.sign[piece] > 0:
                k = _advance(lines.chainage, k, last, s)
            else:
                k = _retreat(lines.chainage, k, first, s)
            x[at], y[at] = _point(lines, k, s)
            segment[at], chainage[at] = line, s
    return x, y, segment, chainage


@kernel
def line_heights(lines: Lines, z: Float64, segment: Int64, chainage: Float64) -> Float64:
    """Give the height of the lines themselves at points on them, linear between vertices.

    Parameters
    ----------
    lines
        The polylines.
    z
        Height of every vertex, m; NaN where there is none.
    segment, chainage
        Line and chainage (m) of every point; a negative line asks for nothing and gets NaN.

    Returns
    -------
    ndarray
        Heights, m; NaN where one of the two vertices has none.
    """
    height = np.full(segment.size, np.nan)
    for i in range(segment.size):
        if segment[i] >= 0:
            first, last = lines.offsets[segment[i]], lines.offsets[segment[i] + 1] - 1
            k = _find(lines.chainage, first, last, chainage[i])
            share = _share(lines.chainage, k, chainage[i])
            height[i] = z[k] + share * (z[k + 1] - z[k])
    return height


@kernel
def line_slopes(lines: Lines, z: Float64, segment: Int64, chainage: Float64) -> Float64:
    """Give the grade of the lines themselves (rise over run, + uphill along the line) at points on them.

    Between vertices it is the slope of the piece; at a vertex the mean of both pieces. Parameters as in
    :func:`line_heights`.
    """
    grade = np.full(segment.size, np.nan)
    for i in range(segment.size):
        if segment[i] >= 0:
            first, last = lines.offsets[segment[i]], lines.offsets[segment[i] + 1] - 1
            k = _find(lines.chainage, first, last, chainage[i])
            grade[i] = _slope(lines.chainage, z, k)
            if k > first and chainage[i] <= lines.chainage[k] + AT_VERTEX:
                grade[i] = _mean(grade[i], _slope(lines.chainage, z, k - 1))
    return grade


@inner
def _advance(chainage: Float64, k: int, last: int, s: float) -> int:
    """Move *k* on to the piece k, k + 1 that holds *s*; a vertex belongs to the piece that follows it."""
    while k + 1 < last and s >= chainage[k + 1] - AT_VERTEX:
        k += 1
    return k


@inner
def _retreat(chainage: Float64, k: int, first: int, s: float) -> int:
    """Move *k* back to the piece k, k + 1 that holds *s*."""
    while k > first and s < chainage[k] - AT_VERTEX:
        k -= 1
    return k


@inner
def _find(chainage: Float64, first: int, last: int, s: float) -> int:
    """Find the piece k, k + 1 of the line *first* … *last* that holds *s*, by halving."""
    low, high = first, last
    while high - low > 1:
        middle = (low + high) // 2
        if s >= chainage[middle] - AT_VERTEX:
            low = middle
        else:
            high = middle
    return low


@inner
def _share(chainage: Float64, k: int, s: float) -> float:
    """Give how far along the piece k, k + 1 the chainage *s* lies, 0–1."""
    length = chainage[k + 1] - chainage[k]
    if length <= 0.0:
        return 0.0
    return float(min(max((s - chainage[k]) / length, 0.0), 1.0))


@inner
def _point(lines: Lines, k: int, s: float) -> tuple[float, float]:
    """Give the point at chainage *s* of the piece k, k + 1."""
    share = _share(lines.chainage, k, s)
    return lines.x[k] + share * (lines.x[k + 1] - lines.x[k]), lines.y[k] + share * (lines.y[k + 1] - lines.y[k])


@inner
def _bearing(lines: Lines, k: int) -> float:
    """Give the grid bearing of the piece k, k + 1, rad, clockwise from north."""
    return float(np.arctan2(lines.x[k + 1] - lines.x[k], lines.y[k + 1] - lines.y[k]) % (2.0 * np.pi))


@inner
def _slope(chainage: Float64, z: Float64, k: int) -> float:
    """Give the slope of the piece k, k + 1; NaN where it has no length."""
    length = chainage[k + 1] - chainage[k]
    if length <= 0.0:
        return np.nan
    return float((z[k + 1] - z[k]) / length)


@inner
def _mean(a: float, b: float) -> float:
    """Give the mean of two numbers, or the one that is known."""
    if np.isnan(a):
        return b
    return a if np.isnan(b) else 0.5 * (a + b)
