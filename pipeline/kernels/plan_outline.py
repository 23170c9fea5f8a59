"""The outline of a body along its way: how far it reaches across the way, and what that leaves to the trail's edges.

Places of the outline, its feelers, are followed one by one along all poses of a way: corners of every box, and of long
boxes the sides between them, for in a bend a side comes farthest in at the rear axle.
"""

import math

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.compiled import bare
from pipeline.kernels.plan_gap import BODY_X, FRONT_WHEELS, GAP, PART, SOLID
from pipeline.kernels.plan_records import EDGE, WHEELS, Boxes
from pipeline.kernels.plan_way import BODY, TURNED_IN, WHEEL, beside

__all__ = ["FEELER_X", "PART_OF", "beside_path", "feel", "feelers_of"]

Float64 = NDArray[np.float64]
Out = tuple[Float64, Float64]

FEELER_X, FEELER_Y, ARM_X, ARM_Y, LOW, HIGH, OUT, PART_OF, LONG = range(9)
"""Columns of feelers: pivot, arm from there that turns with the steering, heights, −1 on the left and +1 on the right
side, ``terms.Part``, where it stands straight on."""
POSE_X, POSE_Y, POSE_COS, POSE_SIN, COS_STEER, SIN_STEER, LEAN = range(7)
"""Columns of poses: rear axle, heading, steering, sine of the roll."""
APART = 0.35
"""Sides of the body are felt at least this often, in wheelbases: about every metre."""
TINY = 1e-9


def feelers_of(boxes: Boxes) -> Float64:
    """Place feelers on the outline, shape (feelers, 9); of a box wholly on one side on its outer face alone."""
    rows = []
    for box in range(boxes.rear.size):
        rear, front, right, left = (float(face[box]) for face in boxes[:4])
        heights = (float(boxes.low[box]), float(boxes.high[box])) if box >= WHEELS else (0.0, 0.0)
        places = _places(rear, front, APART * boxes.wheelbase)
        for out, y in ((-1.0, left), (1.0, right)):
            if (out < 0.0 and left <= 0.0) or (out > 0.0 and right >= 0.0):
                continue
            for x in places:
                pivot = ((rear + front) / 2.0, (right + left) / 2.0) if box < FRONT_WHEELS else (x, y)
                rows.append((*pivot, x - pivot[0], y - pivot[1], *heights, out, float(boxes.part[box]), x))
    return np.array(rows)


def _places(rear: float, front: float, apart: float) -> list[float]:
    """Give where a side is felt: its ends; where it is long, the rear axle too and every *apart* from there on."""
    first = max(rear, 0.0)
    pieces = max(math.ceil((front - first) / apart), 1)
    if pieces == 1:
        return [rear, front]
    return sorted({rear, *(first + (front - first) * piece / pieces for piece in range(pieces)), front})


@bare
def feel(feelers: Float64, f: int, poses: Float64, ahead: int, way: Float64, out: Out) -> None:
    """Follow one feeler along all poses of a way.

    Parameters
    ----------
    feelers, f
        Feelers, and the number of this one.
    poses
        Rows of the poses, one a point of the way.
    ahead
        How many points of the way the feeler is ahead of them.
    way
        Rows of the way.
    out
        How far each part reaches, shape (points, parts, 2), raised where it is more; and what is nearest, shape
        (points, 2, 4) as of :func:`plan_gap.solid_gaps`, where only what is nearer than what stands there is written.
    """
    px, py, ax, ay = feelers[f, FEELER_X], feelers[f, FEELER_Y], feelers[f, ARM_X], feelers[f, ARM_Y]
    low, high, side = feelers[f, LOW], feelers[f, HIGH], feelers[f, OUT]
    part, right = int(feelers[f, PART_OF]), 1 if side > 0.0 else 0
    limit = (BODY if part > 0 else WHEEL) + right
    reach, found = out[0][:, part, right], out[1][:, right]
    for i in range(way.shape[0]):
        j = max(min(i + ahead, way.shape[0] - 1), 0)
        c, s, lean = poses[i, COS_STEER], poses[i, SIN_STEER], side * poses[i, LEAN]
        x, y = px + c * ax - s * ay, py + s * ax + c * ay - side * max(lean * low, lean * high)
        c, s = poses[i, POSE_COS], poses[i, POSE_SIN]
        outwards = side * beside(poses[i, POSE_X] + c * x - s * y, poses[i, POSE_Y] + s * x + c * y, way, j)[1]
        reach[i] = max(reach[i], outwards)
        if way[j, limit] - outwards < found[i, GAP]:
            found[i, GAP], found[i, PART], found[i, BODY_X], found[i, SOLID] = way[j, limit] - outwards, part, x, EDGE


@bare
def beside_path(poses: Float64, k: int, ahead: float, bend: float, at: tuple[float, float]) -> float:
    """Give how far a place is to the right of the path that a point of the middle line drew from pose *k* to the next.

    Parameters
    ----------
    poses, k
        Rows of the poses of a way.
    ahead, bend
        The point, m ahead of the rear axle; curvature of its path there, 1/m, + left.
    at
        The place, not far off.
    """
    x = poses[k, POSE_X] + ahead * poses[k, POSE_COS]
    y = poses[k, POSE_Y] + ahead * poses[k, POSE_SIN]
    dx = poses[k + 1, POSE_X] + ahead * poses[k + 1, POSE_COS] - x
    dy = poses[k + 1, POSE_Y] + ahead * poses[k + 1, POSE_SIN] - y
    chord = max(math.sqrt(dx * dx + dy * dy), TINY)
    on = (dx * (at[0] - x) + dy * (at[1] - y)) / chord - 0.5 * chord
    right = (dy * (at[0] - x) - dx * (at[1] - y)) / chord
    return float(right + 0.5 * bend * (on * on / max(1.0 + bend * right, TURNED_IN) - 0.25 * chord * chord))
