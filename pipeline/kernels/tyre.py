"""A tyre as a circle that rolls on a profile: the path of its centre, exact for piecewise-linear ground.

The centre stands at the greatest height at which the circle touches the ground: over a vertex it follows an arc of the
circle, along a piece of ground a line parallel to it. The radius is the static loaded one, so that on level ground
the centre is at the height that 49 CFR 523.2 measures the angles from.

Parts of the ground are numbered along it: 2·k is the vertex *k*, 2·k + 1 the piece that follows it. The circle rolls
off a part for good when it moves on to a later one (two discs swept along disjoint lines cross once from above), so
that between two places it can only touch parts between those that it touches there.
"""

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.compiled import bare, bare_kernel, kernel

__all__ = ["TyrePath", "reversed_path", "tyre_between", "tyre_centre", "tyre_envelope", "tyre_path"]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]


class TyrePath(NamedTuple):
    """The path of a tyre's centre over one profile, and what it takes to follow it between the heights."""

    centre: Float64
    """Height of the centre over every height of the profile, m; NaN where ground within reach is missing."""
    touches: Int64
    """Part of the ground that the circle touches there."""
    slope: Float64
    """Rise over run of the piece after every height; of the last one 0."""
    ahead: Float64
    """How far ahead of the centre the circle touches that piece, m: r·sin of its angle."""
    above: Float64
    """Height of the centre over the line of that piece, m: r ÷ cos of its angle."""


@bare_kernel
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


@kernel
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
    return tyre_path(z, step, radius).centre


@kernel
def tyre_path(z: Float64, step: float, radius: float) -> TyrePath:
    """Follow the centre of a tyre over a whole profile.

    Parameters
    ----------
    z
        Heights of the ground, m, *step* apart.
    step
        Spacing, m.
    radius
        Static loaded radius, m.
    """
    count = z.size
    path = TyrePath(np.empty(count), np.zeros(count, dtype=np.int64), np.zeros(count), np.zeros(count), np.zeros(count))
    for k in range(count - 1):
        slope = (z[k + 1] - z[k]) / step
        steep = math.sqrt(1.0 + slope * slope)
        path.slope[k] = slope
        path.ahead[k] = radius * slope / steep
        path.above[k] = radius * steep
    reach = math.ceil(radius / step - 1e-12)
    missing = -1  # the last missing height that was seen
    seen = 0
    touched = 0
    for k in range(count):
        last = min(k + reach, count - 1)
        while seen <= last:
            if math.isnan(z[seen]):
                missing = seen
            seen += 1
        first = max(k - reach, 0)
        if missing >= first:
            path.centre[k] = math.nan
            path.touches[k] = 2 * k
            touched = 0
            continue
        path.centre[k], touched = _highest(z, path, (k, 0.0), (step, radius), (max(touched, 2 * first), 2 * last))
        path.touches[k] = touched
    return path


@bare
def _highest(
    z: Float64, path: TyrePath, at: tuple[int, float], sizes: tuple[float, float], parts: tuple[int, int]
) -> tuple[float, int]:
    """Height of the centre some way beyond a height, and the part touched, of the parts between two that can be."""
    step, radius = sizes
    node, beyond = at
    last = z.size - 2
    best, touched = -math.inf, parts[0]
    for k in range(parts[0] // 2, parts[1] // 2 + 1):
        away = (k - node) * step - beyond
        under = radius * radius - away * away
        if under > 0.0 and 2 * k >= parts[0]:
            height = z[k] + math.sqrt(under)
            if height > best:
                best, touched = height, 2 * k
        # The circle touches a piece at its own distance ahead of the centre, if the piece is there.
        if k <= last and 2 * k < parts[1]:
            spot = path.ahead[k] - away
            if (spot > 0.0 or k == 0) and (spot < step or k == last):
                height = z[k] - path.slope[k] * away + path.above[k]
                if height > best:
                    best, touched = height, 2 * k + 1
    return best, touched


@bare_kernel
def tyre_between(z: Float64, path: TyrePath, at: tuple[int, float], sizes: tuple[float, float]) -> tuple[float, int]:
    """Height of the centre of a tyre between two heights of a profile over both of which it is known.

    Parameters
    ----------
    z
        Heights of the ground, m.
    path
        Of the tyre over them.
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
    return _highest(z, path, at, sizes, (path.touches[node], path.touches[min(node + 1, z.size - 1)]))


@kernel
def reversed_path(path: TyrePath) -> TyrePath:
    """Turn a path round: that of the same tyre over the reversed profile."""
    last = path.centre.size - 1
    back = TyrePath(
        path.centre[::-1].copy(),
        2 * last - path.touches[::-1],
        np.zeros(last + 1),
        np.zeros(last + 1),
        np.zeros(last + 1),
    )
    for k in range(last):
        back.slope[k] = -path.slope[last - 1 - k]
        back.ahead[k] = -path.ahead[last - 1 - k]
        back.above[k] = path.above[last - 1 - k]
    return back
