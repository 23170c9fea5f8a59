"""Parts of the pose kernels, made to be called from Python: compiled without a wrapper, they cannot be otherwise."""

import numpy as np
from numba import njit
from numpy.typing import NDArray

from pipeline.kernels import pose, pose_contact, tyre
from pipeline.kernels.pose_records import LINE_ROWS, UNDER, Body, Line

__all__ = [
    "front_wheel",
    "line_over",
    "make_pose",
    "pass_over",
    "path_over",
    "turned",
    "tyre_between",
    "tyre_centre",
    "tyre_envelope",
]


Float64 = NDArray[np.float64]


@njit
def front_wheel(line: Line, body: Body, rear: float, rear_z: float) -> tuple[float, float]:
    """Call ``pose.front_wheel``."""
    return pose.front_wheel(line, body, rear, rear_z)


@njit
def make_pose(best: Float64, line: Line, body: Body, rear: float, rear_z: float) -> int:
    """Call ``pose.make_pose``."""
    return pose.make_pose(best, line, body, rear, rear_z)


@njit
def pass_over(best: Float64, line: Line, body: Body, window: tuple[int, int], stands: tuple[float, ...]) -> None:
    """Call ``pose_contact.pass_over``."""
    pose_contact.pass_over(best, line, body, window, stands)


@njit
def tyre_centre(z: Float64, step: float, radius: float, at: float) -> tuple[float, float]:
    """Call ``tyre.tyre_centre``."""
    return tyre.tyre_centre(z, step, radius, at)


@njit
def tyre_envelope(z: Float64, step: float, radius: float) -> Float64:
    """Call ``tyre.tyre_envelope``."""
    return tyre.tyre_envelope(z, step, radius)


@njit
def tyre_between(path: Float64, at: tuple[int, float], sizes: tuple[float, float]) -> tuple[float, int]:
    """Call ``tyre.tyre_between``."""
    return tyre.tyre_between(path, at, sizes)


@njit
def _fill(path: Float64, step: float, radius: float) -> None:
    tyre.tyre_path(path, step, radius)


@njit
def _turn(path: Float64, back: Float64) -> None:
    tyre.turn_path(path, back)


def path_over(z: Float64, step: float, radius: float) -> Float64:
    """Follow a tyre over heights."""
    path = np.full((LINE_ROWS, z.size), np.nan)
    path[tyre.GROUND] = path[UNDER] = z
    _fill(path, step, radius)
    return path


def turned(path: Float64) -> Float64:
    """Turn a path round."""
    back = np.full(path.shape, np.nan)
    _turn(path, back)
    return back


def line_over(z: Float64, under: Float64, step: float, radius: float) -> Line:
    """Make one run in the direction of travel, all of it its own."""
    ground = path_over(z, step, radius)
    ground[UNDER] = under
    return Line(ground, step, 0.0, (z.size - 1) * step)
