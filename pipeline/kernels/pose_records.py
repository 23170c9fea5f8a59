"""What a rolled vehicle is, what it rolls over, and what is found: the records that the pose kernels share."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.tyre import PATH_ROWS

__all__ = [
    "APPROACH",
    "BELLY",
    "BREAKOVER",
    "CHECKS",
    "DEPARTURE",
    "FIELDS",
    "HARMLESS",
    "ROWS",
    "Body",
    "Line",
    "Runs",
    "Swept",
]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]
UInt8 = NDArray[np.uint8]

APPROACH = 0
BREAKOVER = 1
DEPARTURE = 2
BELLY = 3
CHECKS = 4

UTILISATION = 0
DEMAND = 1
LIMIT = 2
PLACE = 3
REAR = 4
FRONT = 5
FIELDS = 6

HARMLESS = CHECKS
"""Row, below those of the checks, of heights of ground that cannot be worse than what was found."""
ROWS = CHECKS + 1

UNDER = PATH_ROWS
LINE_ROWS = PATH_ROWS + 1
"""Rows of the ground of a line."""


class Body(NamedTuple):
    """A vehicle in side view. Axes: x forward from the front axle, z up from the ground line, m."""

    x: Float64
    """Hard points, ascending."""
    z: Float64
    wheelbase: float
    radius: float
    """Static loaded radius."""
    gap: float
    """Clearance that must be left."""
    front_axle: float
    """Height of the lowest point of the front axle housing."""
    rear_axle: float
    lowest: tuple[float, float, float]
    """Lowest height of the underbody ahead of, between and behind the axles; inf where there is none."""

    @classmethod
    def of(cls, points: Float64, wheelbase: float, radius: float, gap: float, axles: tuple[float, float]) -> "Body":
        """Make a vehicle.

        Parameters
        ----------
        points
            Hard points, m, shape (points, 2), columns x and z, x ascending.
        wheelbase, radius, gap
            As of the fields.
        axles
            Heights of the front and rear axle housing, m.
        """
        x, z = (np.ascontiguousarray(column, dtype=np.float64) for column in points.T)
        at = np.concatenate([x, [-wheelbase, 0.0]])
        height = np.interp(at, x, z, left=np.inf, right=np.inf)
        zones = (at >= 0.0, (at <= 0.0) & (at >= -wheelbase), at <= -wheelbase)
        ahead, between, behind = (float(height[zone].min()) for zone in zones)
        return cls(x, z, wheelbase, radius, gap, *axles, (ahead, between, behind))


class Runs(NamedTuple):
    """Profiles, one after another; run ``r`` owns ``offsets[r]:offsets[r + 1]``."""

    offsets: Int64
    wheel_z: Float64
    """Ground that the tyres roll on, m; NaN where there is none."""
    under_z: Float64
    """Ground that the body passes over, m."""
    basis: UInt8
    """What the heights rest on; smaller is worse."""
    own_from: Float64
    """First place whose ground counts, m from the first height of the run."""
    own_to: Float64
    step: float


class Swept(NamedTuple):
    """What a sweep found; arrays of shape (runs, 2 directions, 4 checks) unless said otherwise."""

    utilisation: Float64
    """0 where the ground asks nothing."""
    demand: Float64
    """Radians; m for the belly."""
    limit: Float64
    """NaN where the ground asks nothing."""
    place: Float64
    """Ground of the worst pose, m from the first height of the run; NaN where the ground asks nothing."""
    rear: Float64
    """Where the middle of the rear axle stands in the worst pose, m from the first height of the run; likewise NaN."""
    front: Float64
    """The same of the front axle."""
    basis: UInt8
    """Worst basis of that ground and of the ground under both wheels."""
    poses: Int64
    """Poses made, shape (runs, 2)."""
    failed: Int64
    """Poses that could not be made because ground under a wheel is missing, shape (runs, 2)."""
    failed_at: Float64
    """Place of the first of them, shape (runs, 2); NaN when there is none."""


class Line(NamedTuple):
    """One run in the direction of travel."""

    ground: Float64
    """Shape (:data:`LINE_ROWS`, heights): the path of a tyre over the ground under the wheels (kernels.tyre), and in
    row :data:`UNDER` the ground that the body passes over. One array, as every call hands on all of its arrays."""
    step: float
    low: float
    high: float
