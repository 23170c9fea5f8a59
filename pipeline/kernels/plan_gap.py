"""Room that one pose of a vehicle in plan leaves to the solids beside its way.

A gap is the distance in plan from the face of a box to a capsule, in the frame of the box. Where the two overlap it is
negative: how far the box would have to move sideways to come free. A body that leans carries each box sideways by its
height × sin(roll) towards the low side; over the heights at which box and solid can meet, the box is as wide as all of
these places together, which is the same as taking the height that brings it nearest. Wheels do not lean. The front
ones turn about their own middles.

Kernels take boxes and solids as rows of one array each (:func:`box_rows`, :func:`solid_rows`): handing on records of
arrays takes longer than the arithmetic.
"""

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.compiled import bare, fused
from pipeline.kernels.plan_records import LEFT, RIGHT, WHEELS, Boxes, Solids

__all__ = [
    "BODY_X",
    "FAR_M",
    "GAP",
    "PART",
    "SOLID",
    "Hull",
    "Pose",
    "box_gap",
    "box_rows",
    "hull_of",
    "leaning",
    "least_gap",
    "pose_of",
    "solid_gaps",
    "solid_rows",
]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]
Four = tuple[float, float, float, float]

FAR_M = 3.0
"""Nothing farther off is looked at: nobody moves over for it."""
FRONT_WHEELS = 2
"""The first two wheels turn with the steering."""

REAR, FRONT, RIGHT_Y, LEFT_Y, LOW, HIGH, BOX_PART, REARMOST, FOREMOST, RIGHTMOST, LEFTMOST = range(11)
"""Columns of the rows of boxes; the last four: faces that a box stays within, whatever the steering."""
AX, AY, BX, BY, RADIUS, SOLID_LOW, SOLID_HIGH, MID_X, MID_Y, HALF = range(10)
"""Columns of the rows of solids; the last three: the middle of the line from a to b and half of its length."""
GAP, PART, BODY_X, SOLID = range(4)
"""Last axis of what is found: gap, ``terms.Part``, m ahead of the rear axle, number of the solid."""


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


def box_rows(boxes: Boxes) -> Float64:
    """Give boxes as rows, shape (boxes, 11)."""
    columns = (boxes.rear, boxes.front, boxes.right, boxes.left, boxes.low, boxes.high, boxes.part)
    return np.column_stack((*columns, *_bounds(boxes))).astype(np.float64)


def _bounds(boxes: Boxes) -> tuple[Float64, Float64, Float64, Float64]:
    """Give the faces that each box stays within, whatever the steering: rear, front, right, left."""
    x, y = (boxes.rear + boxes.front) / 2.0, (boxes.right + boxes.left) / 2.0
    along, across = boxes.front - x, boxes.left - y
    along[:FRONT_WHEELS] = across[:FRONT_WHEELS] = np.hypot(along, across)[:FRONT_WHEELS]
    return x - along, x + along, y - across, y + across


def solid_rows(solids: Solids) -> Float64:
    """Give solids as rows, shape (solids, 10)."""
    half = np.hypot(solids.bx - solids.ax, solids.by - solids.ay) / 2.0
    middle = (solids.ax + solids.bx) / 2.0, (solids.ay + solids.by) / 2.0
    return np.column_stack((*solids[1:8], *middle, half))


def hull_of(boxes: Boxes) -> Hull:
    """Bound all boxes."""
    rear, front, right, left = _bounds(boxes)
    reach = np.hypot(np.maximum(-rear, front), np.maximum(-right, left))
    faces = (rear.min(), front.max(), right.min(), left.max(), boxes.high.max(), reach.max())
    return Hull(*(float(value) for value in faces))


@fused
def pose_of(x: float, y: float, heading: float, steer: float, roll: float) -> Pose:
    """Make a pose: middle of the rear axle, heading, steering angle + left, roll + right side down; m and rad."""
    return Pose(x, y, math.cos(heading), math.sin(heading), math.cos(steer), math.sin(steer), math.sin(roll))


@fused
def leaning(lean: float, right: float, left: float, low: float, high: float) -> tuple[float, float]:
    """Give the right and left face of what leans, all heights from *low* to *high* together."""
    lower, upper = lean * low, lean * high
    return right - max(lower, upper), left - min(lower, upper)


@bare
def solid_gaps(pose: Pose, boxes: Float64, hull: Hull, solids: Float64, which: Int64, found: Float64) -> None:
    """Find what stands nearest on each side.

    Parameters
    ----------
    pose, boxes, hull
        The vehicle.
    solids, which
        Rows of solids, and the numbers of those that can be near.
    found
        Where the answer stands, shape (2, 4), [left, right] × [gap, part, place on the body, solid]; only what is
        nearer than what stands there already, and within ``FAR_M``, is written.
    """
    for k in which:
        apart, ends = _near(pose, hull, solids, k, min(max(found[0, GAP], found[1, GAP]), FAR_M))
        if apart < 0.0:
            continue
        for box in range(boxes.shape[0]):
            if _out_of(boxes, box, ends, apart):
                continue
            gap, x, side = box_gap(pose, boxes, box, solids, k, ends)
            if gap < min(found[side, GAP], FAR_M):
                found[side, GAP], found[side, PART] = gap, boxes[box, BOX_PART]
                found[side, BODY_X], found[side, SOLID] = x, k


@bare
def least_gap(pose: Pose, boxes: Float64, hull: Hull, solids: Float64, which: Int64, enough: float) -> float:
    """Give the smallest gap to solids on either side; *enough* where it is at least that."""
    least = enough
    for k in which:
        apart, ends = _near(pose, hull, solids, k, least)
        if apart < 0.0:
            continue
        for box in range(boxes.shape[0]):
            if not _out_of(boxes, box, ends, apart):
                least = min(least, box_gap(pose, boxes, box, solids, k, ends)[0])
    return least


@fused
def _near(pose: Pose, hull: Hull, solids: Float64, k: int, enough: float) -> tuple[float, Four]:
    """See a solid from the body.

    Returns
    -------
    tuple
        How far from its middle line, sideways shift of what leans included, a box must be to leave *enough* in any
        case; −1 where all of the vehicle is. The ends of the line, in the frame of the body.
    """
    x, y = _body_frame(pose, solids[k, MID_X], solids[k, MID_Y])
    apart, half = max(enough, 0.0) + solids[k, RADIUS], solids[k, HALF]
    shift = apart + abs(pose.lean) * hull.high
    ends = (x, y, x, y)
    if not (
        hull.rear - half - apart < x < hull.front + half + apart
        and hull.right - half - shift < y < hull.left + half + shift
    ):
        return -1.0, ends
    if half > 0.0:
        dx, dy = solids[k, BX] - solids[k, MID_X], solids[k, BY] - solids[k, MID_Y]
        along, across = pose.cos * dx + pose.sin * dy, pose.cos * dy - pose.sin * dx
        ends = (x - along, y - across, x + along, y + across)
    return shift, ends


@fused
def _out_of(boxes: Float64, box: int, ends: Four, apart: float) -> bool:
    """Whether a box is certainly *apart* from a line, or farther."""
    return bool(
        min(ends[0], ends[2]) >= boxes[box, FOREMOST] + apart
        or max(ends[0], ends[2]) <= boxes[box, REARMOST] - apart
        or min(ends[1], ends[3]) >= boxes[box, LEFTMOST] + apart
        or max(ends[1], ends[3]) <= boxes[box, RIGHTMOST] - apart
    )


@fused
def _body_frame(pose: Pose, x: float, y: float) -> tuple[float, float]:
    """Give a place of the world in the frame of the body."""
    dx, dy = x - pose.x, y - pose.y
    return pose.cos * dx + pose.sin * dy, pose.cos * dy - pose.sin * dx


@bare
def box_gap(pose: Pose, boxes: Float64, box: int, solids: Float64, k: int, ends: Four) -> tuple[float, float, int]:
    """Measure one box against one capsule; *ends* of its middle line in the frame of the body.

    Returns
    -------
    tuple
        Gap, m, inf where the heights do not meet; where on the body, m ahead of the rear axle; side. What lies wholly
        on one side of the body counts on that side, for solids on that side of the middle or in its own way, and comes
        free of a solid on that side alone unless it is a wheel; a box across the middle counts on the side of the
        solid.
    """
    low, high = max(solids[k, SOLID_LOW], boxes[box, LOW]), min(solids[k, SOLID_HIGH], boxes[box, HIGH])
    if low >= high:
        return np.inf, np.nan, LEFT
    rear, front, right, left = boxes[box, REAR], boxes[box, FRONT], boxes[box, RIGHT_Y], boxes[box, LEFT_Y]
    ax, ay, bx, by = ends
    side = 1 if right >= 0.0 else (-1 if left <= 0.0 else 0)
    pivot_x, pivot_y, cos, sin = 0.0, 0.0, 1.0, 0.0
    if box < FRONT_WHEELS:
        pivot_x, pivot_y, cos, sin = 0.5 * (rear + front), 0.5 * (right + left), pose.cos_steer, pose.sin_steer
        ax, ay, bx, by = ax - pivot_x, ay - pivot_y, bx - pivot_x, by - pivot_y
        ax, ay, bx, by = cos * ax + sin * ay, cos * ay - sin * ax, cos * bx + sin * by, cos * by - sin * bx
        rear, front, right, left = rear - pivot_x, front - pivot_x, right - pivot_y, left - pivot_y
    elif box >= WHEELS:
        right, left = leaning(pose.lean, right, left, low, high)
    face = (rear, front, right, left)
    if solids[k, HALF] == 0.0:
        at, x, y = min(max(ax, rear), front), ax, ay
        away = math.sqrt((ax - at) ** 2 + (ay - min(max(ay, right), left)) ** 2)
    else:
        away, at, x, y = _line_apart(face, (ax, ay, bx, by))
    radius = solids[k, RADIUS]
    if away > 0.0 and away >= radius:
        gap = np.inf if side * (pivot_y + sin * x + cos * y) < 0.0 else away - radius
    else:
        gap, at, y = _depth(face, (ax, ay, bx, by), radius, side if box >= WHEELS else 0)
    return gap, pivot_x + cos * at, LEFT if side > 0 or (side == 0 and y > 0.0) else RIGHT


@bare
def _line_apart(face: Four, ends: Four) -> Four:
    """Measure a rectangle against a line from end to end: distance, x on the box, x and y on the line.

    They cross, at distance 0, unless an axis of the rectangle or the line itself keeps them apart.
    """
    rear, front, right, left = face
    ax, ay, bx, by = ends
    dx, dy = bx - ax, by - ay
    best, at, near_x, near_y, least, most = np.inf, ax, ax, ay, np.inf, -np.inf
    for corner in range(4):
        px, py = rear if corner < 2 else front, right if corner % 2 == 0 else left
        share = min(max(((px - ax) * dx + (py - ay) * dy) / (dx * dx + dy * dy), 0.0), 1.0)
        x, y = ax + share * dx, ay + share * dy
        away = math.sqrt((x - px) ** 2 + (y - py) ** 2)
        if away < best:
            best, at, near_x, near_y = away, px, x, y
        beside = (px - ax) * dy - (py - ay) * dx
        least, most = min(least, beside), max(most, beside)
    for end in range(2):
        px, py = (ax, ay) if end == 0 else (bx, by)
        x = min(max(px, rear), front)
        away = math.sqrt((px - x) ** 2 + (py - min(max(py, right), left)) ** 2)
        if away < best:
            best, at, near_x, near_y = away, x, px, py
    meet = max(ax, bx) >= rear and min(ax, bx) <= front and max(ay, by) >= right and min(ay, by) <= left
    return 0.0 if meet and least <= 0.0 <= most else best, at, near_x, near_y


@bare
def _depth(face: Four, ends: Four, radius: float, only: int) -> tuple[float, float, float]:
    """How far a box has to move sideways to come free of a capsule it overlaps, negative; x there, + or − for the side.

    *only* is +1 or −1 where the capsule can be left on the left or the right side alone.
    """
    best, best_x, best_side = -np.inf, 0.0, 0.0
    for side in (1.0, -1.0):
        lowest, x = _lowest(face, (ends[0], side * ends[1], ends[2], side * ends[3]), radius)
        depth = lowest - (face[3] if side > 0.0 else -face[2])
        if only != -side and depth > best:
            best, best_x, best_side = depth, x, side
    return best, best_x, best_side


@bare
def _lowest(face: Four, ends: Four, radius: float) -> tuple[float, float]:
    """Give the lowest y of a capsule between the rear and front of a box, and its x.

    The lower side of a capsule is an arc, a straight and an arc, convex as a whole: lowest below its lower end, or
    where the box ends before that.
    """
    ax, ay, bx, by = ends
    if ax > bx:
        ax, ay, bx, by = bx, by, ax, ay
    at = min(max(ax if ay <= by else bx, face[0]), face[1])
    length = math.sqrt((bx - ax) ** 2 + (by - ay) ** 2)
    ux, uy = ((bx - ax) / length, (by - ay) / length) if length > 0.0 else (0.0, 1.0)
    along = at - radius * uy
    if ax < along < bx:
        return ay + (along - ax) * uy / ux - radius * ux, at
    x, y = (ax, ay) if along <= ax else (bx, by)
    return y - math.sqrt(max(radius * radius - (at - x) ** 2, 0.0)), at
