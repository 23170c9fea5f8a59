"""Angles of approach, breakover and departure of an underbody in side view.

Definitions of 49 CFR 523.2: the lines touch the underbody and are tangent to the static loaded radius arc of the
tyre, a circle about the wheel centre that touches the ground. An underbody is an array of shape (n, 2), columns x and
z in metres, x descending, joined by straight lines; the front axle is at x = 0, the rear axle at x = −wheelbase.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "Tyres",
    "approach_angle",
    "breakover_angle",
    "departure_angle",
    "height_at_angle",
    "lowest_between",
    "merged",
    "tangent_angle",
]

Floats = NDArray[np.float64]

_SAMPLES = 201
_ZOOMS = 4
"""Each zoom narrows the place of the smallest breakover by a factor of 100."""


class Tyres(NamedTuple):
    """Where the tyres are in side view."""

    wheelbase_m: float
    radius_m: float
    """Static loaded radius."""


def tangent_angle(ahead_m: ArrayLike, height_m: ArrayLike, radius_m: float) -> Floats:
    """Give the angle of the line through a point that is tangent to a tyre's loaded arc from below.

    With a the distance ahead of the axle, h the height and r the radius the angle b solves
    a·sin b + (r − h)·cos b = r, so b = asin(r / √(a² + (r − h)²)) − atan((r − h) / a).

    Parameters
    ----------
    ahead_m
        Horizontal distance from the axle, away from the wheel on the side looked at; > 0.
    height_m
        Height above flat ground.
    radius_m
        Static loaded radius; 0 gives the line through the contact point.

    Returns
    -------
    Floats
        Degrees; inf for a point inside the arc, which the tyre hides.

    Notes
    -----
    Derived from the definition in 49 CFR 523.2.
    """
    ahead, below = np.asarray(ahead_m, dtype=np.float64), radius_m - np.asarray(height_m, dtype=np.float64)
    distance = np.hypot(ahead, below)
    hidden = (distance < radius_m) | (distance == 0.0)
    ratio = np.divide(radius_m, distance, out=np.zeros_like(distance), where=~hidden)
    angle = np.degrees(np.arcsin(ratio) - np.arctan2(below, ahead))
    return np.asarray(np.where(hidden, np.inf, angle), dtype=np.float64)


def height_at_angle(ahead_m: ArrayLike, angle_deg: float, radius_m: float) -> Floats:
    """Height of the tangent line of *angle_deg* at a distance ahead of the axle: the inverse of `tangent_angle`.

    Parameters
    ----------
    ahead_m
        Horizontal distance from the axle, m.
    angle_deg
        Angle of the line, 0 to below 90°.
    radius_m
        Static loaded radius, m.
    """
    angle = np.radians(angle_deg)
    height: Floats = np.asarray(ahead_m, dtype=np.float64) * np.tan(angle) + radius_m * (1.0 - 1.0 / np.cos(angle))
    return height


def approach_angle(underbody: Floats, tyres: Tyres) -> float:
    """Smallest tangent angle of the points ahead of the front axle, degrees; inf without one.

    Between two points the angle is nowhere smaller than at the worse of them, because the tangent line of that
    angle has both on its upper side.
    """
    points = underbody[underbody[:, 0] > 0.0]
    return _smallest(tangent_angle(points[:, 0], points[:, 1], tyres.radius_m))


def departure_angle(underbody: Floats, tyres: Tyres) -> float:
    """Smallest tangent angle of the points behind the rear axle, degrees; inf without one."""
    points = underbody[underbody[:, 0] < -tyres.wheelbase_m]
    return _smallest(tangent_angle(-tyres.wheelbase_m - points[:, 0], points[:, 1], tyres.radius_m))


def breakover_angle(underbody: Floats, tyres: Tyres, *, along: bool = True) -> float:
    """Breakover angle of the part between the axles, degrees; inf without one.

    The supplement of the largest angle that a line tangent to the front arc and one tangent to the rear arc enclose
    when they meet at the underbody: the smallest sum of the two tangent angles.

    Parameters
    ----------
    underbody
        Hard points, x descending.
    tyres
        Wheelbase and radius.
    along
        Look along the straight lines between the points too: the smallest sum may lie inside one. ``False`` looks
        at the points alone.
    """
    if not along:
        inside = underbody[(underbody[:, 0] < 0.0) & (underbody[:, 0] > -tyres.wheelbase_m)]
        return _smallest(_sum_of_tangents(inside[:, 0], inside[:, 1], tyres))
    start, step = underbody[:-1], np.diff(underbody, axis=0)
    low, high = np.zeros(len(step)), np.ones(len(step))
    best = np.inf
    for _ in range(_ZOOMS):
        share = np.linspace(low, high, _SAMPLES, axis=1)
        x = start[:, :1] + share * step[:, :1]
        z = start[:, 1:] + share * step[:, 1:]
        sums = _sum_of_tangents(x, z, tyres)
        best = min(best, _smallest(sums.ravel()))
        around = np.argmin(sums, axis=1)
        rows = np.arange(len(step))
        low, high = share[rows, np.maximum(around - 1, 0)], share[rows, np.minimum(around + 1, _SAMPLES - 1)]
    return best


def lowest_between(underbody: Floats, tyres: Tyres) -> float:
    """Height of the lowest point of the polyline from axle to axle, m: the running clearance."""
    rising = underbody[::-1]
    ends = np.interp([-tyres.wheelbase_m, 0.0], rising[:, 0], rising[:, 1])
    inside = underbody[(underbody[:, 0] <= 0.0) & (underbody[:, 0] >= -tyres.wheelbase_m), 1]
    return float(min(*ends, *inside))


def merged(underbody: Floats, points: Floats) -> Floats:
    """Add *points* to an underbody where they hang below it or reach beyond its ends.

    Parameters
    ----------
    underbody
        Hard points, x descending, shape (n, 2).
    points
        Points of an overhang, in any order, shape (k, 2). Those above the underbody line change nothing in side
        view.

    Returns
    -------
    Floats
        A new array, x descending.
    """
    rising = underbody[::-1]
    line = np.interp(points[:, 0], rising[:, 0], rising[:, 1], left=np.inf, right=np.inf)
    everything = np.concatenate([underbody, points[points[:, 1] < line]])
    return everything[np.argsort(-everything[:, 0], kind="stable")]


def _sum_of_tangents(x: Floats, z: Floats, tyres: Tyres) -> Floats:
    """Sum of the tangent angles at front and rear, degrees; inf outside the axles and inside a tyre."""
    between = (x < 0.0) & (x > -tyres.wheelbase_m)
    ahead = np.where(between, -x, tyres.wheelbase_m / 2.0)
    front = tangent_angle(ahead, z, tyres.radius_m)
    rear = tangent_angle(tyres.wheelbase_m - ahead, z, tyres.radius_m)
    return np.where(between, front + rear, np.inf)


def _smallest(angles: Floats) -> float:
    """Smallest of *angles*, inf when there is none."""
    return float(np.min(angles, initial=np.inf))
