"""Where things stand along a way of equally spaced points, and what stands near each of its points."""

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.compiled import bare, fused, inner
from pipeline.kernels.plan_records import Solids, Tracks

__all__ = ["Near", "Way", "beside", "locate", "near_solids", "place_on", "way_of"]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]

TRIES = 8
"""Steps along a way until a place is given up as far from the guess."""
TURNED_IN = 0.2
"""Places inside a bend are told apart up to this share of its radius from its centre."""


class Way(NamedTuple):
    """One line with its tangents."""

    x: Float64
    y: Float64
    heading: Float64
    cos: Float64
    """Of the heading."""
    sin: Float64
    bend: Float64
    """Curvature, 1/m, + left."""
    step: float


class Near(NamedTuple):
    """Solids near the points of one track."""

    offsets: Int64
    """Point ``i`` of the track has ``which[offsets[i]:offsets[i + 1]]``."""
    which: Int64


@inner
def way_of(tracks: Tracks, track: int) -> Way:
    """Take the way of one track; it bends at a point as between the neighbours of the point."""
    a, b = tracks.offsets[track], tracks.offsets[track + 1]
    heading, last = tracks.heading[a:b], b - a - 1
    way = Way(tracks.x[a:b], tracks.y[a:b], heading, np.cos(heading), np.sin(heading), np.zeros(b - a), tracks.step)
    for i in range(b - a):
        back, ahead = max(i - 1, 0), min(i + 1, last)
        way.bend[i] = (heading[ahead] - heading[back]) / (max(ahead - back, 1) * tracks.step)
    return way


@bare
def beside(x: float, y: float, way: Way, i: int) -> tuple[float, float]:
    """Give where a place stands as seen from point *i*: m further along the way, and m to the right of it.

    The way is taken as the circle through its neighbours, to the second order; straight on beyond its ends.
    """
    dx, dy = x - way.x[i], y - way.y[i]
    along, right = way.cos[i] * dx + way.sin[i] * dy, way.sin[i] * dx - way.cos[i] * dy
    if (i == 0 and along < 0.0) or (i == way.x.size - 1 and along > 0.0):
        return along, right
    on = along / max(1.0 + way.bend[i] * right, TURNED_IN)
    return on, right + 0.5 * way.bend[i] * along * on


@bare
def locate(x: float, y: float, way: Way, guess: int) -> tuple[int, float, float]:
    """Find the point of a way that a place is abreast of.

    Returns
    -------
    tuple
        Number of the point nearest along the way, m beyond it, m to the right of the way.
    """
    i = min(max(guess, 0), way.x.size - 1)
    on, right = beside(x, y, way, i)
    for _ in range(TRIES):
        j = min(max(i + round(on / way.step), 0), way.x.size - 1)
        if j == i:
            break
        i = j
        on, right = beside(x, y, way, i)
    return i, on, right


@bare
def place_on(way: Way, at: float) -> tuple[float, float]:
    """Give the place *at* metres from the first point; between points on an arc, straight on beyond the ends."""
    last = way.x.size - 1
    i = min(max(math.floor(at / way.step), 0), last)
    over = at - i * way.step
    if i == last or over < 0.0:
        return way.x[i] + over * way.cos[i], way.y[i] + over * way.sin[i]
    share = over / way.step
    dx, dy = way.x[i + 1] - way.x[i], way.y[i + 1] - way.y[i]
    bulge = 0.5 * share * (1.0 - share) * (way.heading[i + 1] - way.heading[i])
    return way.x[i] + share * dx + bulge * dy, way.y[i] + share * dy - bulge * dx


@inner
def near_solids(way: Way, solids: Solids, track: int, radius: float) -> Near:
    """List, for each point of the way of a track, the solids of the track within *radius* of it."""
    offsets = np.zeros(way.x.size + 1, dtype=np.int64)
    for k in range(solids.offsets[track], solids.offsets[track + 1]):
        i = _next_near(way, solids, k, 0, radius)
        while i < way.x.size:
            offsets[i + 1] += 1
            i = _next_near(way, solids, k, i + 1, radius)
    for i in range(way.x.size):
        offsets[i + 1] += offsets[i]
    which, filled = np.empty(offsets[-1], dtype=np.int64), offsets[:-1].copy()
    for k in range(solids.offsets[track], solids.offsets[track + 1]):
        i = _next_near(way, solids, k, 0, radius)
        while i < way.x.size:
            which[filled[i]] = k
            filled[i] += 1
            i = _next_near(way, solids, k, i + 1, radius)
    return Near(offsets, which)


@bare
def _next_near(way: Way, solids: Solids, k: int, i: int, radius: float) -> int:
    """Give the first point from *i* on that is near solid *k*; the number of points when none is.

    Points are at most a step apart, so a point that is too far by many steps lets as many of them out.
    """
    x, y = 0.5 * (solids.ax[k] + solids.bx[k]), 0.5 * (solids.ay[k] + solids.by[k])
    reach = radius + solids.radius[k] + 0.5 * math.hypot(solids.bx[k] - solids.ax[k], solids.by[k] - solids.ay[k])
    while i < way.x.size:
        over = math.hypot(way.x[i] - x, way.y[i] - y) - reach
        if over <= 0.0:
            return i
        i += max(math.floor(over / way.step), 1)
    return i
