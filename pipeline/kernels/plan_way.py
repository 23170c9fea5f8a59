"""Where things stand along a way of equally spaced points, and what stands near each of its points."""

import math

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.compiled import bare, fused
from pipeline.kernels.plan_records import Solids, Tracks

__all__ = [
    "BEND",
    "BODY",
    "COS",
    "HEADING",
    "ROLL",
    "SIN",
    "TURNED_IN",
    "WHEEL",
    "X",
    "Y",
    "beside",
    "locate",
    "near_solids",
    "place_on",
    "way_rows",
]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]

X, Y, HEADING, COS, SIN, BEND, ROLL, WHEEL = range(8)
BODY = WHEEL + 2
"""Columns of the rows of a way: a point and its tangent, curvature, 1/m, + left, roll, and how far to the left and
right tyres and body may stand."""
TRIES = 8
"""Steps along a way until a place is given up as far from the guess."""
BLOCK = 8
"""Points of a way that are looked at together."""
TURNED_IN = 0.2
"""Places inside a bend are told apart up to this share of its radius from its centre."""


def way_rows(tracks: Tracks) -> Float64:
    """Give the points of tracks as rows, shape (points, 11).

    A way goes straight on at its ends; a tyre may nowhere stand where the body may not.
    """
    heading = tracks.heading
    bend = (np.roll(heading, -1) - np.roll(heading, 1)) / (2.0 * tracks.step)
    bend[tracks.offsets[:-1]] = bend[tracks.offsets[1:] - 1] = 0.0
    columns = (tracks.x, tracks.y, heading, np.cos(heading), np.sin(heading), bend, tracks.roll)
    return np.column_stack((*columns, np.minimum(tracks.wheel, tracks.body), tracks.body))


@fused
def beside(x: float, y: float, way: Float64, i: int) -> tuple[float, float]:
    """Give where a place stands as seen from point *i* of a way that is not far off: m beyond it, m to the right.

    The way is taken as the circle through the neighbours of the point, to the second order.
    """
    dx, dy = x - way[i, X], y - way[i, Y]
    on, right = way[i, COS] * dx + way[i, SIN] * dy, way[i, SIN] * dx - way[i, COS] * dy
    along = on / max(1.0 + way[i, BEND] * right, TURNED_IN)
    return along, right + 0.5 * way[i, BEND] * on * along


@bare
def locate(x: float, y: float, way: Float64, step: float, guess: int) -> tuple[int, float, float]:
    """Find the point of a way that a place is abreast of.

    Parameters
    ----------
    x, y
        The place.
    way, step, guess
        Rows of one way, about *step* apart; the search starts at point *guess*.

    Returns
    -------
    tuple
        Number of the point nearest along the way, m beyond it, m to the right of the way. Between points the way is
        taken as a circle, to the second order; straight on beyond its ends.
    """
    last = way.shape[0] - 1
    i, on, right = min(max(guess, 0), last), 0.0, 0.0
    for _ in range(TRIES):
        on, right = beside(x, y, way, i)
        j = min(max(i + math.floor(on / step + 0.5), 0), last)
        if j == i:
            break
        i = j
    return i, on, right


@bare
def place_on(way: Float64, step: float, at: float) -> tuple[float, float]:
    """Give the place *at* metres from the first point; between points on an arc, straight on beyond the ends."""
    last = way.shape[0] - 1
    i = min(max(math.floor(at / step), 0), last)
    over = at - i * step
    if i == last or over < 0.0:
        return way[i, X] + over * way[i, COS], way[i, Y] + over * way[i, SIN]
    share = over / step
    dx, dy = way[i + 1, X] - way[i, X], way[i + 1, Y] - way[i, Y]
    bulge = 0.5 * share * (1.0 - share) * (way[i + 1, HEADING] - way[i, HEADING])
    return way[i, X] + share * dx + bulge * dy, way[i, Y] + share * dy - bulge * dx


def near_solids(tracks: Tracks, solids: Solids, radius: float) -> tuple[Int64, Int64]:
    """List, for each point of all tracks, the solids of its track that are near.

    Parameters
    ----------
    tracks, solids
        The ways and what stands beside them.
    radius
        m, from the point to the face of a solid; long ones count by the circle round them.

    Returns
    -------
    tuple
        Offsets, shape (points + 1,), and numbers of solids, ascending: point ``i`` has
        ``which[offsets[i]:offsets[i + 1]]``.
    """
    track = np.repeat(np.arange(solids.offsets.size - 1), np.diff(solids.offsets))
    first, end = tracks.offsets[track], tracks.offsets[track + 1]
    # the middle points of blocks first: those of a block are at most half a block off
    which, block = _pairs(-(-(end - first) // BLOCK))
    begin = first[which] + block * BLOCK
    apart = _apart(tracks, solids, which, np.minimum(begin + BLOCK // 2, end[which] - 1))
    close = np.flatnonzero(apart <= radius + BLOCK // 2 * tracks.step)
    which, begin = np.repeat(which[close], BLOCK), np.repeat(begin[close], BLOCK)
    point = begin + np.tile(np.arange(BLOCK), close.size)
    own = np.flatnonzero(point < end[which])
    own = own[_apart(tracks, solids, which[own], point[own]) <= radius]
    which, point = which[own], point[own]
    offsets = np.concatenate(([0], np.cumsum(np.bincount(point, minlength=tracks.x.size))))
    return offsets, which[np.argsort(point, kind="stable")]


def _pairs(counts: Int64) -> tuple[Int64, Int64]:
    """Give all pairs of a number and what counts from 0 to below its count."""
    which = np.repeat(np.arange(counts.size), counts)
    return which, np.arange(which.size) - np.repeat(np.cumsum(counts) - counts, counts)


def _apart(tracks: Tracks, solids: Solids, which: Int64, point: Int64) -> Float64:
    """Give how far points are from the circles round solids."""
    half = np.hypot(solids.bx - solids.ax, solids.by - solids.ay) / 2.0 + solids.radius
    x, y = (solids.ax + solids.bx) / 2.0, (solids.ay + solids.by) / 2.0
    return np.hypot(tracks.x[point] - x[which], tracks.y[point] - y[which]) - half[which]
