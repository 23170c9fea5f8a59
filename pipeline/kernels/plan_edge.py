"""Room that one pose leaves to the edges of the trail, and how far each part of the body reaches across it.

Corners are followed along the way; between them the sides of long boxes are cut where each point of the way is abreast
of them, for in a bend a side comes farthest in near the rear axle.
"""

import math

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.compiled import bare
from pipeline.kernels.plan_gap import (
    BODY_X,
    BOX_PART,
    FRONT,
    FRONT_WHEELS,
    GAP,
    HIGH,
    LEFT_Y,
    LOW,
    PART,
    REAR,
    RIGHT_Y,
    SOLID,
    Pose,
    leaning,
)
from pipeline.kernels.plan_records import EDGE, RIGHT, WHEELS
from pipeline.kernels.plan_way import BEND, BODY, COS, SIN, WHEEL, X, Y, locate

__all__ = ["edge_gaps", "see_way"]

Float64 = NDArray[np.float64]
Out = tuple[Float64, Float64, Float64]
"""What :func:`edge_gaps` reads and fills."""

LEAST_COS = 0.1
"""Sides that stand across the way are cut as if at this cosine."""


@bare
def see_way(pose: Pose, way: Float64, first: int, seen: Float64) -> None:
    """Take points of a way into the frame of the body.

    Parameters
    ----------
    pose, way
        The vehicle, and rows of the way.
    first
        First point; as many as *seen* has rows.
    seen
        Filled: the columns of the way that :func:`plan_way.locate` asks for.
    """
    for row in range(seen.shape[0]):
        i = first + row
        dx, dy = way[i, X] - pose.x, way[i, Y] - pose.y
        seen[row, X], seen[row, Y] = pose.cos * dx + pose.sin * dy, pose.cos * dy - pose.sin * dx
        seen[row, COS] = way[i, COS] * pose.cos + way[i, SIN] * pose.sin
        seen[row, SIN] = way[i, SIN] * pose.cos - way[i, COS] * pose.sin
        seen[row, BEND] = way[i, BEND]


@bare
def edge_gaps(pose: Pose, boxes: Float64, seen: Float64, step: float, out: Out) -> None:
    """Find where the edge of the trail is nearest on each side, and note how far each part reaches.

    Parameters
    ----------
    pose, boxes
        The vehicle.
    seen, step
        Points of the way from behind the vehicle to ahead of it, in the frame of the body; m.
    out
        The way's rows from the first of these points on; farthest that each part was seen from the way on each side
        there, m, shape (points, parts, 2), raised where it is more; and gaps, shape (2, 4) as of
        :func:`plan_gap.solid_gaps`, where only what is nearer than what stands there already is written.
    """
    for box in range(boxes.shape[0]):
        right, left = boxes[box, RIGHT_Y], boxes[box, LEFT_Y]
        begin, end = (1 if left <= 0.0 else 0), (1 if right >= 0.0 else 2)
        if box >= WHEELS:
            right, left = leaning(pose.lean, right, left, boxes[box, LOW], boxes[box, HIGH])
        for side in range(begin, end):
            _follow_side(pose, boxes, (box, side, right if side == RIGHT else left), seen, step, out)


@bare
def _follow_side(
    pose: Pose, boxes: Float64, face: tuple[int, int, float], seen: Float64, step: float, out: Out
) -> None:
    """Follow one face of a box along the way; *face*: number of the box, side, y."""
    box, side, y = face
    part, last = int(boxes[box, BOX_PART]), seen.shape[0]
    for end in range(2):
        x, across = boxes[box, REAR + end], y
        if box < FRONT_WHEELS:
            mx, my = 0.5 * (boxes[box, REAR] + boxes[box, FRONT]), 0.5 * (boxes[box, RIGHT_Y] + boxes[box, LEFT_Y])
            dx, dy = x - mx, y - my
            x = mx + pose.cos_steer * dx - pose.sin_steer * dy
            across = my + pose.sin_steer * dx + pose.cos_steer * dy
        j, _, off = locate(x, across, seen, step, math.floor((x - seen[0, X]) / step + 0.5))
        _note(part, side, (j, off, x), out)
        for k in range(last + 1, j):
            off = (seen[k, Y] - y) / max(seen[k, COS], LEAST_COS)
            x = seen[k, X] + off * seen[k, SIN]
            if boxes[box, REAR] < x < boxes[box, FRONT]:
                _note(part, side, (k, off, x), out)
        if box >= WHEELS:
            last = j


@bare
def _note(part: int, side: int, place: tuple[int, float, float], out: Out) -> None:
    """Note one place of the body: abreast of which point, how far to the right of the way, x on the body."""
    j, off, x = place
    way, reach, found = out
    outwards = off if side == RIGHT else -off
    reach[j, part, side] = max(reach[j, part, side], outwards)
    gap = way[j, (BODY if part else WHEEL) + side] - outwards
    if gap < found[side, GAP]:
        found[side, GAP], found[side, PART], found[side, BODY_X], found[side, SOLID] = gap, part, x, EDGE
