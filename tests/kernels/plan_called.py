"""Parts of the plan kernels, made to be called from Python: compiled without a wrapper, they cannot be otherwise."""

import numpy as np
from numba import njit
from numpy.typing import NDArray

from pipeline.kernels import plan_gap, plan_way, steering
from pipeline.kernels.plan_gap import Hull, Pose

__all__ = ["aim", "box_gap", "least_gap", "locate", "place_on", "pose_of", "roll_on", "solid_gaps"]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]
Four = tuple[float, float, float, float]


@njit
def pose_of(x: float, y: float, heading: float, steer: float, roll: float) -> Pose:
    """Call ``plan_gap.pose_of``."""
    return plan_gap.pose_of(x, y, heading, steer, roll)


@njit
def box_gap(pose: Pose, boxes: Float64, box: int, solids: Float64, k: int, ends: Four) -> tuple[float, float, int]:
    """Call ``plan_gap.box_gap``."""
    return plan_gap.box_gap(pose, boxes, box, solids, k, ends)


@njit
def solid_gaps(pose: Pose, boxes: Float64, hull: Hull, solids: Float64, which: Int64, found: Float64) -> None:
    """Call ``plan_gap.solid_gaps``."""
    plan_gap.solid_gaps(pose, boxes, hull, solids, which, found)


@njit
def least_gap(pose: Pose, boxes: Float64, hull: Hull, solids: Float64, which: Int64, enough: float) -> float:
    """Call ``plan_gap.least_gap``."""
    return plan_gap.least_gap(pose, boxes, hull, solids, which, enough)


@njit
def locate(x: float, y: float, way: Float64, step: float, guess: int) -> tuple[int, float, float]:
    """Call ``plan_way.locate``."""
    return plan_way.locate(x, y, way, step, guess)


@njit
def place_on(way: Float64, step: float, at: float) -> tuple[float, float]:
    """Call ``plan_way.place_on``."""
    return plan_way.place_on(way, step, at)


@njit
def aim(forward: float, left: float, wheelbase: float) -> float:
    """Call ``steering.aim``."""
    return steering.aim(forward, left, wheelbase)


@njit
def roll_on(state: Four, wheelbase: float, distance: float) -> Four:
    """Call ``steering.roll_on``."""
    return steering.roll_on(state, wheelbase, distance)
