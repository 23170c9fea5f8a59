"""How far the demands of the side view may be off: approach, breakover, departure, belly.

All of them follow from the height of one ground point over the set-up's ground line, which is its own height less the
chord through the ground under both wheels. Left out: that a tyre on a slope touches the ground a little before or
behind its axle.
"""

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.check import Case
from pipeline.checks.doubt.heights import Stance, height_sd
from pipeline.kernels.pose_records import APPROACH, BELLY, BREAKOVER, DEPARTURE
from pipeline.terms import CheckName

__all__ = ["VIEW", "side_view_sd"]

Float64 = NDArray[np.float64]

VIEW = {
    CheckName.APPROACH: APPROACH,
    CheckName.BREAKOVER: BREAKOVER,
    CheckName.DEPARTURE: DEPARTURE,
    CheckName.BELLY: BELLY,
}
"""Column of the side view."""
HALVINGS = 50
"""Halvings of the height that is seen under an angle: far below a micrometre."""


def side_view_sd(name: CheckName, case: Case) -> Float64:
    """Give the standard deviation of an angle of the side view, degrees, or of the belly, m, shape (segments, 2).

    An angle grows ever faster as the ground nears the tyre. So not its derivative is taken, but what it would be more
    were the ground higher by one standard deviation: the side that counts towards the limit.

    Parameters
    ----------
    name
        One of :data:`VIEW`.
    case
        The set-up on its site.
    """
    view, sweep, length = VIEW[name], case.sweep, case.envelope.wheelbase_m
    shape = sweep.demand.shape[:2]
    rear, front, at_m = (part[:, :, view].ravel() for part in (sweep.rear_m, sweep.front_m, sweep.at_m))
    apart = front - rear
    along = np.divide(at_m - rear, apart, out=np.full(apart.shape, np.nan), where=apart != 0.0)
    level = np.minimum(np.abs(apart) / length, 1.0)
    weights = level[:, None] * np.column_stack([np.ones(along.shape), along - 1.0, -along])
    segment = np.repeat(np.arange(shape[0]), 2)
    points = np.column_stack([at_m, rear, front])
    stance = Stance(segment, points, np.zeros(points.shape), weights, sweep.basis[:, :, view].ravel())
    height = height_sd(case, stance)
    if name is CheckName.BELLY:
        return height.reshape(shape)
    away = np.column_stack([(along - 1.0) * length, -along * length])
    if name is CheckName.BREAKOVER:
        away = np.abs(away)
    demand = sweep.demand[:, :, view].ravel()
    return np.degrees(_angle_sd(demand, away, height, case.envelope.tyre_radius_m)).reshape(shape)


def _angle_sd(demand: Float64, away: Float64, height_sd_m: Float64, radius: float) -> Float64:
    """Give how much larger the angle is under which the tyres see ground that is higher by a standard deviation.

    Parameters
    ----------
    demand
        The angle, rad.
    away
        Horizontal distance of the ground from both axles, m; negative for one that does not see it.
    height_sd_m
        Standard deviation of its height over the ground line, m.
    radius
        Static loaded radius, m.
    """
    low, high = np.zeros(demand.shape), np.full(demand.shape, 2.0 * radius)
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        below = _seen(middle, away, radius) < demand
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    height = np.where(np.isnan(demand), np.nan, low)
    return np.maximum(_seen(height + height_sd_m, away, radius) - _seen(height, away, radius), 0.0)


def _seen(height: Float64, away: Float64, radius: float) -> Float64:
    """Sum of the angles of the tangents to both tyres through ground of a height (kernels.pose_contact), rad.

    Ground inside the outline of a tyre is seen as from its edge.
    """
    h = np.maximum(height, 0.0)[:, None]
    root = np.sqrt(np.maximum(away**2 - h * (2.0 * radius - h), 0.0))
    reach = np.where(away > 0.0, away + root, np.inf)
    return np.asarray((2.0 * np.arctan(h / reach)).sum(axis=1))
