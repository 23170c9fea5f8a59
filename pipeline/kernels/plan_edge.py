"""Room that one pose leaves to the edges of the trail, and how far each part of the body reaches across it.

Corners are followed along the way; between them the sides of long boxes are cut where each point of the way is abreast
of them, for in a bend a side comes farthest in near the rear axle.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.compiled import bare, fused
from pipeline.kernels.plan_gap import FRONT_WHEELS, Nearest, Pose, leaning, on_ground
from pipeline.kernels.plan_records import EDGE, LEFT, RIGHT, WHEELS, Boxes
from pipeline.kernels.plan_way import Way, locate

__all__ = ["Edges", "edge_gaps"]

Float64 = NDArray[np.float64]
Place = tuple[int, float, float]
"""Point of the way, m to the right of it, m ahead of the rear axle on the body."""


class Edges(NamedTuple):
    """How far from the middle line of one track tyres and body may stand, m, shape (points, 2), [left, right]."""

    wheel: Float64
    body: Float64


@bare
def edge_gaps(pose: Pose, boxes: Boxes, way: Way, edges: Edges, i: int, out: Nearest, row: int, reach: Float64) -> None:
    """Find where the edge of the trail is nearest on each side, and note how far each part reaches.

    Parameters
    ----------
    pose, boxes
        The vehicle.
    way, edges, i
        The way, its edges, and the point that the rear axle is abreast of.
    out, row
        Where gaps stand; only what is nearer than what *out* holds there already is written.
    reach
        Farthest that each part was seen from the way, m, shape (points of the way, parts, 2); raised where more.
    """
    for box in range(boxes.rear.size):
        rear, front = boxes.rear[box], boxes.front[box]
        right, left = boxes.right[box], boxes.left[box]
        middle = right + left
        if box >= WHEELS:
            right, left = leaning(pose.lean, right, left, boxes.low[box], boxes.high[box])
        for side, y in ((LEFT, left), (RIGHT, right)):
            if (box < WHEELS or abs(middle) > left - right) and (middle > 0.0) != (side == LEFT):
                continue
            a = _corner(pose, boxes, box, (rear, y), way, i)
            b = _corner(pose, boxes, box, (front, y), way, i)
            _note(boxes, box, side, a, edges, out, row, reach)
            _note(boxes, box, side, b, edges, out, row, reach)
            if box >= WHEELS:
                for j in range(a[0] + 1, b[0]):
                    off, x = _abreast(pose, way, j, y)
                    if rear < x < front:
                        _note(boxes, box, side, (j, off, x), edges, out, row, reach)


@bare
def _corner(pose: Pose, boxes: Boxes, box: int, at: tuple[float, float], way: Way, i: int) -> Place:
    """Follow one corner along the way; *at* is its place on the body, wheels straight."""
    x, y = at
    if box < FRONT_WHEELS:
        mx, my = 0.5 * (boxes.rear[box] + boxes.front[box]), 0.5 * (boxes.right[box] + boxes.left[box])
        dx, dy = x - mx, y - my
        x = mx + pose.cos_steer * dx - pose.sin_steer * dy
        y = my + pose.sin_steer * dx + pose.cos_steer * dy
    world = on_ground(pose, x, y)
    j, _, off = locate(world[0], world[1], way, i + round(x / way.step))
    return j, off, x


@fused
def _abreast(pose: Pose, way: Way, j: int, y: float) -> tuple[float, float]:
    """Where the line across the way at point *j* cuts the side at *y* of the body: m to the right, x on the body."""
    dx, dy = way.x[j] - pose.x, way.y[j] - pose.y
    px, py = pose.cos * dx + pose.sin * dy, pose.cos * dy - pose.sin * dx
    sin = way.sin[j] * pose.cos - way.cos[j] * pose.sin
    cos = way.cos[j] * pose.cos + way.sin[j] * pose.sin
    off = (py - y) / max(cos, 0.1)
    return off, px + off * sin


@bare
def _note(
    boxes: Boxes, box: int, side: int, place: Place, edges: Edges, out: Nearest, row: int, reach: Float64
) -> None:
    """Note one place of the body."""
    j, off, x = place
    outwards = off if side == RIGHT else -off
    reach[j, boxes.part[box], side] = max(reach[j, boxes.part[box], side], outwards)
    limit = min(edges.wheel[j, side], edges.body[j, side]) if box < WHEELS else edges.body[j, side]
    if limit - outwards < out.gap[row, side]:
        out.gap[row, side] = limit - outwards
        out.part[row, side] = boxes.part[box]
        out.body_x[row, side] = x
        out.solid[row, side] = EDGE
