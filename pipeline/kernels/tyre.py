"""A tyre as a circle that rolls on a profile: the path of its centre, exact for piecewise-linear ground.

The centre stands at the greatest height at which the circle touches the ground: over a vertex it follows an arc of the
circle, along a piece of ground a line parallel to it. The radius is the static loaded one, so that on level ground
the centre is at the height that 49 CFR 523.2 measures the angles from.
"""

import math

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.compiled import kernel

__all__ = ["tyre_centre", "tyre_envelope"]

Float64 = NDArray[np.float64]


@kernel
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
    centre = np.empty(z.size)
    for k in range(z.size):
        centre[k] = tyre_centre(z, step, radius, k * step)[0]
    return centre
