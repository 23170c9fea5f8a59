"""The outline of a body along its way: how far it reaches across the way, and what that leaves to the trail's edges.

Places of the outline, its feelers, are followed one by one along all poses of a way: corners of every box, and of long
boxes the sides between them, for in a bend a side comes farthest in at the rear axle.
"""

import math

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.compiled import bare, fused
from pipeline.kernels.plan_gap import FRONT_WHEELS
from pipeline.kernels.plan_records import WHEELS, Boxes
from pipeline.kernels.plan_way import BEND, BODY, COS, SIN, TURNED_IN, WHEEL, X, Y

__all__ = ["FEELER_X", "PART_OF", "beside", "feel", "feelers_of", "pad_way"]

Float64 = NDArray[np.float64]

FEELER_X, FEELER_Y, ARM_X, ARM_Y, LOW, HIGH, OUT, PART_OF, LONG = range(9)
"""Columns of feelers: pivot, arm from there that turns with the steering, heights, −1 on the left and +1 on the right
side, ``terms.Part``, where it stands straight on."""
POSE_X, POSE_Y, POSE_COS, POSE_SIN, COS_STEER, SIN_STEER, LEAN = range(7)
"""Rows of poses: rear axle, heading, steering, sine of the roll."""
APART = 0.35
"""Sides of the body are felt at least this often, in wheelbases: about every metre."""


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


@fused
def beside(way: Float64, j: int, x: float, y: float) -> float:
    """Give how far a place is to the right of a way, as seen from point *j* of it that is not far off.

    The way is taken as the circle through its neighbours, to the second order.
    """
    dx, dy = x - way[X, j], y - way[Y, j]
    on, right = way[COS, j] * dx + way[SIN, j] * dy, way[SIN, j] * dx - way[COS, j] * dy
    return float(right + 0.5 * way[BEND, j] * on * on / max(1.0 + way[BEND, j] * right, TURNED_IN))


@bare
def pad_way(rows: Float64, step: float, pad: int, way: Float64) -> None:
    """Lay out a way in columns, with *pad* points more at either end, straight on; shape (columns, points + 2 pad)."""
    last = rows.shape[0] - 1
    for j in range(last + 1 + 2 * pad):
        i = min(max(j - pad, 0), last)
        over = (j - pad - i) * step
        for column in range(rows.shape[1]):
            way[column, j] = rows[i, column]
        way[X, j] += over * rows[i, COS]
        way[Y, j] += over * rows[i, SIN]
        if over != 0.0:
            way[BEND, j] = 0.0


@bare
def feel(feelers: Float64, f: int, poses: Float64, points: tuple[int, int, int], way: Float64, out: Float64) -> None:
    """Follow one feeler along all poses of a way.

    Parameters
    ----------
    feelers, f
        Feelers, and the number of this one.
    poses
        Of all ways, shape (7, points).
    points
        First pose, number of poses, and the point of the way that the feeler is beside in the first.
    way
        One way in columns, padded.
    out
        Raised where more, and lowered where less, shape (parts × 2 + 4, poses): how far each part reaches on each
        side; least room on each side, and the feeler there.
    """
    first, count, begin = points
    px, py, ax, ay = feelers[f, FEELER_X], feelers[f, FEELER_Y], feelers[f, ARM_X], feelers[f, ARM_Y]
    low, high, side = feelers[f, LOW], feelers[f, HIGH], feelers[f, OUT]
    part, right = int(feelers[f, PART_OF]), 1 if side > 0.0 else 0
    reach, room, who = out[2 * part + right], out[8 + right], out[10 + right]
    limit = way[(BODY if part > 0 else WHEEL) + right]
    for i in range(count):
        k, j = first + i, begin + i
        lean = side * poses[LEAN, k]
        x = px + poses[COS_STEER, k] * ax - poses[SIN_STEER, k] * ay
        y = py + poses[SIN_STEER, k] * ax + poses[COS_STEER, k] * ay - side * max(lean * low, lean * high)
        world_x = poses[POSE_X, k] + poses[POSE_COS, k] * x - poses[POSE_SIN, k] * y
        world_y = poses[POSE_Y, k] + poses[POSE_SIN, k] * x + poses[POSE_COS, k] * y
        outwards = side * beside(way, j, world_x, world_y)
        reach[i] = max(reach[i], outwards)
        if limit[j] - outwards < room[i]:
            room[i] = limit[j] - outwards
            who[i] = f
