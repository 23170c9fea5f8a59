"""Room that one pose of a vehicle in plan leaves to the solids beside its way.

A gap is the distance in plan from the face of a box to a capsule, in the frame of the box. Where the two overlap it is
negative: how far the box would have to move sideways to come free. A body that leans carries each box sideways by its
height × sin(roll) towards the low side; over the heights at which box and solid can meet, the box is as wide as all of
these places together, which is the same as taking the height that brings it nearest. Wheels do not lean. The front
ones turn about their own middles.
"""

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.compiled import bare, fused
from pipeline.kernels.plan_records import LEFT, RIGHT, WHEELS, Boxes, Solids

__all__ = [
    "FAR_M",
    "Hull",
    "Nearest",
    "Pose",
    "box_gap",
    "hull_of",
    "leaning",
    "least_gap",
    "on_ground",
    "pose_of",
    "solid_gaps",
]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]
Rect = tuple[float, float, float, float]
"""Rear, front, right, left face."""
Ends = tuple[float, float, float, float]
"""ax, ay, bx, by of a capsule."""

FAR_M = 3.0
"""Nothing farther off is looked at: nobody moves over for it."""
FRONT_WHEELS = 2


class Pose(NamedTuple):
    """Where a vehicle stands, made by :func:`pose_of`."""

    x: float
    """Middle of the rear axle, world, m."""
    y: float
    cos: float
    """Of the heading."""
    sin: float
    cos_steer: float
    sin_steer: float
    lean: float
    """Sine of the roll, + right side down: sideways shift to the right of a metre of height."""


class Hull(NamedTuple):
    """What a vehicle never reaches beyond while it stands level, whatever the steering, body frame, m."""

    rear: float
    front: float
    right: float
    left: float
    high: float
    radius: float
    """Farthest point from the middle of the rear axle."""


class Nearest(NamedTuple):
    """What is nearest on each side; arrays of shape (poses, 2), last axis [left, right]."""

    gap: Float64
    """m; inf where nothing is within ``FAR_M``."""
    part: Int64
    """``terms.Part``; −1 where nothing is."""
    body_x: Float64
    """Where on the body, m ahead of the rear axle; NaN where nothing is."""
    solid: Int64
    """Index into the solids; ``EDGE`` for the edge of the trail, ``NOTHING`` for no neighbour."""


@fused
def pose_of(x: float, y: float, heading: float, steer: float, roll: float) -> Pose:
    """Make a pose: middle of the rear axle, heading, steering angle + left, roll + right side down; m and rad."""
    return Pose(x, y, math.cos(heading), math.sin(heading), math.cos(steer), math.sin(steer), math.sin(roll))


@fused
def on_ground(pose: Pose, x: float, y: float) -> tuple[float, float]:
    """Where a place of the body, *x* ahead of the rear axle and *y* to the left, stands in the world."""
    return pose.x + pose.cos * x - pose.sin * y, pose.y + pose.sin * x + pose.cos * y


@bare
def hull_of(boxes: Boxes) -> Hull:
    """Bound all boxes, front wheels in any position."""
    rear, front, right, left, high, reach = np.inf, -np.inf, np.inf, -np.inf, 0.0, 0.0
    for box in range(boxes.rear.size):
        low_x, high_x, low_y, high_y = boxes.rear[box], boxes.front[box], boxes.right[box], boxes.left[box]
        if box < FRONT_WHEELS:
            x, y = 0.5 * (low_x + high_x), 0.5 * (low_y + high_y)
            turn = 0.5 * math.hypot(high_x - low_x, high_y - low_y)
            low_x, high_x, low_y, high_y = x - turn, x + turn, y - turn, y + turn
        rear, front = min(rear, low_x), max(front, high_x)
        right, left = min(right, low_y), max(left, high_y)
        high = max(high, boxes.high[box])
        reach = max(reach, math.hypot(max(-low_x, high_x), max(-low_y, high_y)))
    return Hull(rear, front, right, left, high, reach)


@bare
def solid_gaps(pose: Pose, boxes: Boxes, solids: Solids, which: Int64, out: Nearest, row: int) -> None:
    """Find what stands nearest on each side.

    Parameters
    ----------
    pose, boxes
        The vehicle.
    solids, which
        Numbers of the solids that can be near.
    out, row
        Where the answer stands; only what is nearer than what *out* holds there already is written.
    """
    for number in which:
        ends = _seen(pose, solids, number)
        for box in range(boxes.rear.size):
            gap, x, side = box_gap(
                pose, boxes, box, ends, (solids.radius[number], solids.low[number], solids.high[number])
            )
            if gap < min(out.gap[row, side], FAR_M):
                out.gap[row, side] = gap
                out.part[row, side] = boxes.part[box]
                out.body_x[row, side] = x
                out.solid[row, side] = number


@bare
def least_gap(pose: Pose, boxes: Boxes, hull: Hull, solids: Solids, which: Int64, enough: float) -> float:
    """Give the smallest gap on either side; *enough* where it is at least that."""
    least = enough
    for number in which:
        ends = _seen(pose, solids, number)
        radius = solids.radius[number]
        if _clear(hull, abs(pose.lean), ends, least + radius):
            continue
        for box in range(boxes.rear.size):
            gap, _, _ = box_gap(pose, boxes, box, ends, (radius, solids.low[number], solids.high[number]))
            least = min(least, gap)
    return least


@fused
def _clear(hull: Hull, lean: float, ends: Ends, apart: float) -> bool:
    """Whether a capsule's middle line is certainly *apart* from the vehicle or farther."""
    more = apart + lean * hull.high
    return (
        min(ends[0], ends[2]) > hull.front + apart
        or max(ends[0], ends[2]) < hull.rear - apart
        or min(ends[1], ends[3]) > hull.left + more
        or max(ends[1], ends[3]) < hull.right - more
    )


@fused
def _seen(pose: Pose, solids: Solids, number: int) -> Ends:
    """Give the ends of a capsule in the frame of the body."""
    ax, ay = solids.ax[number] - pose.x, solids.ay[number] - pose.y
    bx, by = solids.bx[number] - pose.x, solids.by[number] - pose.y
    return (
        pose.cos * ax + pose.sin * ay,
        pose.cos * ay - pose.sin * ax,
        pose.cos * bx + pose.sin * by,
        pose.cos * by - pose.sin * bx,
    )


@bare
def box_gap(
    pose: Pose, boxes: Boxes, box: int, ends: Ends, solid: tuple[float, float, float]
) -> tuple[float, float, int]:
    """Measure one box against one capsule.

    Parameters
    ----------
    pose, boxes, box
        The box.
    ends
        The capsule in the frame of the body.
    solid
        Its radius, lowest and highest point.

    Returns
    -------
    tuple
        Gap, m, inf where the heights do not meet; where on the body, m ahead of the rear axle; side. What lies wholly
        on one side of the body counts on that side; a box across the middle by where the solid is.
    """
    radius, low, high = solid
    low, high = max(low, boxes.low[box]), min(high, boxes.high[box])
    if low >= high:
        return np.inf, np.nan, LEFT
    rear, front, right, left = boxes.rear[box], boxes.front[box], boxes.right[box], boxes.left[box]
    if box < FRONT_WHEELS:
        x, y = 0.5 * (rear + front), 0.5 * (right + left)
        half, wide = front - x, left - y
        gap, at, _ = _apart((-half, half, -wide, wide), _turned(pose, ends, x, y), radius, 0)
        return gap, x + at * pose.cos_steer, LEFT if y > 0.0 else RIGHT
    only = 0
    if box >= WHEELS:
        only = 1 if right > 0.0 else (-1 if left < 0.0 else 0)
        right, left = leaning(pose.lean, right, left, low, high)
    gap, at, y = _apart((rear, front, right, left), ends, radius, only)
    if right > 0.0 or left < 0.0:
        y = right + left
    return gap, at, LEFT if y > 0.0 else RIGHT


@fused
def leaning(lean: float, right: float, left: float, low: float, high: float) -> tuple[float, float]:
    """Give the right and left face of what leans, all heights from *low* to *high* together."""
    lower, upper = lean * low, lean * high
    return right - max(lower, upper), left - min(lower, upper)


@fused
def _turned(pose: Pose, ends: Ends, x: float, y: float) -> Ends:
    """Give the ends of a capsule in the frame of a front wheel whose middle is at *x*, *y* of the body."""
    ax, ay, bx, by = ends[0] - x, ends[1] - y, ends[2] - x, ends[3] - y
    c, s = pose.cos_steer, pose.sin_steer
    return c * ax + s * ay, c * ay - s * ax, c * bx + s * by, c * by - s * bx


@fused
def _apart(rect: Rect, ends: Ends, radius: float, only: int) -> tuple[float, float, float]:
    """Give gap, x on the box and y of the solid; *only*: +1 or −1 where the solid can be passed on one side alone."""
    x, y = ends[0], ends[1]
    if x == ends[2] and y == ends[3]:
        at = min(max(x, rect[0]), rect[1])
        away = math.hypot(x - at, y - min(max(y, rect[2]), rect[3]))
    else:
        away, at, y = _capsule_apart(rect, ends)
    if away > 0.0 and away >= radius:
        return away - radius, at, y
    return _depth(rect, ends, radius, only)


@bare
def _capsule_apart(rect: Rect, ends: Ends) -> tuple[float, float, float]:
    """Measure a rectangle against a line from end to end: distance, x on the box, y on the line; 0 where they cross."""
    ax, ay, bx, by = ends
    if _crosses(rect, ends):
        return 0.0, ax, ay
    best, at, y = np.inf, ax, ay
    for px, py in ((ax, ay), (bx, by)):
        x = min(max(px, rect[0]), rect[1])
        away = math.hypot(px - x, py - min(max(py, rect[2]), rect[3]))
        if away < best:
            best, at, y = away, x, py
    dx, dy = bx - ax, by - ay
    for px, py in ((rect[0], rect[2]), (rect[0], rect[3]), (rect[1], rect[2]), (rect[1], rect[3])):
        share = min(max(((px - ax) * dx + (py - ay) * dy) / (dx * dx + dy * dy), 0.0), 1.0)
        away = math.hypot(ax + share * dx - px, ay + share * dy - py)
        if away < best:
            best, at, y = away, px, ay + share * dy
    return best, at, y


@bare
def _crosses(rect: Rect, ends: Ends) -> bool:
    """Whether a line from end to end meets a rectangle (clipped by Liang and Barsky's parameters)."""
    first, last = 0.0, 1.0
    for start, rise, low, high in (
        (ends[0], ends[2] - ends[0], rect[0], rect[1]),
        (ends[1], ends[3] - ends[1], rect[2], rect[3]),
    ):
        if rise == 0.0:
            if start < low or start > high:
                return False
            continue
        a, b = (low - start) / rise, (high - start) / rise
        first, last = max(first, min(a, b)), min(last, max(a, b))
    return first <= last


@bare
def _depth(rect: Rect, ends: Ends, radius: float, only: int) -> tuple[float, float, float]:
    """Give how far a box has to move sideways to come free of a capsule it overlaps, negative; x and y of that face."""
    low, low_x = _bottom(rect, ends, radius)
    high, high_x = _bottom(rect, (ends[0], -ends[1], ends[2], -ends[3]), radius)
    left, right = low - rect[3], high + rect[2]
    if only > 0 or (only == 0 and left >= right):
        return left, low_x, 1.0
    return right, high_x, -1.0


@bare
def _bottom(rect: Rect, ends: Ends, radius: float) -> tuple[float, float]:
    """Give the lowest y of a capsule between the rear and front of a box, and its x.

    The lower side of a capsule is an arc, a straight and an arc, convex as a whole: lowest below its lower end, or
    where the box ends before that.
    """
    ax, ay, bx, by = ends
    if ax > bx:
        ax, ay, bx, by = bx, by, ax, ay
    at = min(max(ax if ay <= by else bx, rect[0]), rect[1])
    length = math.hypot(bx - ax, by - ay)
    ux, uy = ((bx - ax) / length, (by - ay) / length) if length > 0.0 else (0.0, 1.0)
    along = at - radius * uy
    if along <= ax:
        return ay - math.sqrt(max(radius * radius - (at - ax) ** 2, 0.0)), at
    if along >= bx:
        return by - math.sqrt(max(radius * radius - (at - bx) ** 2, 0.0)), at
    return ay + (along - ax) * uy / ux - radius * ux, at
