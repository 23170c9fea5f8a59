"""A tyre as a circle that rolls on a profile: the path of its centre, exact for piecewise-linear ground.

The centre stands at the greatest height at which the circle touches the ground: over a vertex it follows an arc of the
circle, along a piece of ground a line parallel to it. The radius is the static loaded one, so that on level ground
the centre is at the height that 49 CFR 523.2 measures the angles from.

Parts of the ground are numbered along it: 2·k is the vertex *k*, 2·k + 1 the piece that follows it. The circle rolls
off a part for good when it moves on to a later one (two discs swept along disjoint lines cross once from above), so
that between two places it can only touch parts between those that it touches there.
"""

import math

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.compiled import bare, inner

__all__ = [
    "ABOVE",
    "AHEAD",
    "CENTRE",
    "GROUND",
    "PATH_ROWS",
    "SLOPE",
    "TOUCHES",
    "turn_path",
    "tyre_between",
    "tyre_centre",
    "tyre_envelope",
    "tyre_path",
]

Float64 = NDArray[np.float64]


GROUND = 0
"""Rows of a path: height of the ground, m."""
CENTRE = 1
"""Height of the centre over it, m; NaN where ground within reach is missing."""
TOUCHES = 2
"""Part of the ground that the circle touches there."""
SLOPE = 3
"""Rise over run of the piece that follows."""
AHEAD = 4
"""How far ahead of the centre the circle touches that piece, m: r·sin of its angle."""
ABOVE = 5
"""Height of the centre over the line of that piece, m: r ÷ cos of its angle."""
PATH_ROWS = 6


@bare
def tyre_centre(z: Float64, step: float, radius: float, at: float) -> tuple[float, float]:
    """Height of the centre of a tyre that stands on a profile, and the slope of its path there.

    Parameters
    ----------
    z
        Heights of the ground, m, *step* apart; straight lines between them. Beyond its ends the ground goes on at
        the slope it ends with.
    step
        Spacing, m.
    radius
        Static loaded radius, m.
    at
        Where the centre is, m from the first height; within the profile.

    Returns
    -------
    tuple of float
        Height of the centre, m, and rise over run of its path; NaN when any ground within reach is missing.
    """
    last = z.size - 1
    low = max(math.floor((at - radius) / step), 0)
    high = min(math.ceil((at + radius) / step), last)
    best, rise = -math.inf, 0.0
    away0, root0 = 0.0, 0.0
    for k in range(low, high + 1):
        if math.isnan(z[k]):
            return math.nan, math.nan
        away1 = k * step - at
        under = radius * radius - away1 * away1
        root1 = 0.0
        if under > 0.0:
            root1 = math.sqrt(under)
            if z[k] + root1 > best:
                best, rise = z[k] + root1, away1 / root1
        if k > low:
            # The circle touches inside a piece whose slope lies between the circle's own over the two ends.
            slope = (z[k] - z[k - 1]) / step
            begins = slope * root0 > away0 or k == 1
            if begins and (slope * root1 < away1 or k == last):
                height = z[k] - slope * away1 + radius * math.sqrt(1.0 + slope * slope)
                if height > best:
                    best, rise = height, slope
        away0, root0 = away1, root1
    return best, rise


@inner
def tyre_envelope(z: Float64, step: float, radius: float) -> Float64:
    """Heights of the centre of a tyre over every height of a profile, m; NaN where ground within reach is missing.

    Parameters
    ----------
    z
        Heights of the ground, m, *step* apart.
    step
        Spacing, m.
    radius
        Static loaded radius, m.
    """
    path = np.empty((PATH_ROWS, z.size))
    for k in range(z.size):
        path[GROUND, k] = z[k]
    tyre_path(path, step, radius)
    centre: Float64 = path[CENTRE]
    return centre


@bare
def tyre_path(path: Float64, step: float, radius: float) -> None:
    """Follow the centre of a tyre over a whole profile.

    Parameters
    ----------
    path
        Shape (:data:`PATH_ROWS` or more, heights): of the rows, the ground is given and the others are filled in.
    step
        Spacing of the heights, m.
    radius
        Static loaded radius, m.
    """
    count = path.shape[1]
    for k in range(count):
        slope = (path[GROUND, k + 1] - path[GROUND, k]) / step if k + 1 < count else 0.0
        steep = math.sqrt(1.0 + slope * slope)
        path[SLOPE, k], path[AHEAD, k], path[ABOVE, k] = slope, radius * slope / steep, radius * steep
    reach = math.ceil(radius / step - 1e-12)
    missing, seen, touched = -1, 0, 0
    for k in range(count):
        last = min(k + reach, count - 1)
        while seen <= last:
            if math.isnan(path[GROUND, seen]):
                missing = seen
            seen += 1
        first = max(k - reach, 0)
        if missing >= first:
            path[CENTRE, k], touched = math.nan, 0
        else:
            path[CENTRE, k], touched = _highest(path, (k, 0.0), (step, radius), (max(touched, 2 * first), 2 * last))
        path[TOUCHES, k] = touched


@bare
def _highest(
    path: Float64, at: tuple[int, float], sizes: tuple[float, float], parts: tuple[int, int]
) -> tuple[float, int]:
    """Height of the centre some way beyond a height, and the part touched, of the parts between two that can be."""
    step, radius = sizes
    node, beyond = at
    last = path.shape[1] - 2
    best, touched = -math.inf, parts[0]
    for k in range(parts[0] // 2, parts[1] // 2 + 1):
        away = (k - node) * step - beyond
        under = radius * radius - away * away
        if under > 0.0 and 2 * k >= parts[0]:
            height = path[GROUND, k] + math.sqrt(under)
            if height > best:
                best, touched = height, 2 * k
        # The circle touches a piece at its own distance ahead of the centre, if the piece is there.
        if k <= last and 2 * k < parts[1]:
            spot = path[AHEAD, k] - away
            if (spot > 0.0 or k == 0) and (spot < step or k == last):
                height = path[GROUND, k] - path[SLOPE, k] * away + path[ABOVE, k]
                if height > best:
                    best, touched = height, 2 * k + 1
    return best, touched


@bare
def tyre_between(path: Float64, at: tuple[int, float], sizes: tuple[float, float]) -> tuple[float, int]:
    """Height of the centre of a tyre between two heights of a profile over both of which it is known.

    Parameters
    ----------
    path
        As :func:`tyre_path` fills it in.
    at
        A height, and how far beyond it the centre is, m; from 0 to one step.
    sizes
        Spacing of the heights and static loaded radius, m.

    Returns
    -------
    tuple of float and int
        Height of the centre, m, and the part of the ground that is touched.
    """
    node = at[0]
    after = min(node + 1, path.shape[1] - 1)
    return _highest(path, at, sizes, (int(path[TOUCHES, node]), int(path[TOUCHES, after])))


@bare
def turn_path(path: Float64, back: Float64) -> None:
    """Turn a path round: fill *back*, of the same shape, with that of the same tyre over the reversed profile."""
    last = path.shape[1] - 1
    for k in range(last + 1):
        back[GROUND, k] = path[GROUND, last - k]
        back[CENTRE, k] = path[CENTRE, last - k]
        back[TOUCHES, k] = 2 * last - path[TOUCHES, last - k]
        piece = last - 1 - k if k < last else last
        back[SLOPE, k] = -path[SLOPE, piece]
        back[AHEAD, k] = -path[AHEAD, piece]
        back[ABOVE, k] = path[ABOVE, piece]
