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

REAR, FRONT, RIGHT_Y, LEFT_Y, LOW, HIGH, BOX_PART = range(7)
"""Columns of the rows of boxes."""
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
    """Give boxes as rows, shape (boxes, 7)."""
    columns = (boxes.rear, boxes.front, boxes.right, boxes.left, boxes.low, boxes.high, boxes.part)
    return np.column_stack(columns).astype(np.float64)


def solid_rows(solids: Solids) -> Float64:
    """Give solids as rows, shape (solids, 10)."""
    half = np.hypot(solids.bx - solids.ax, solids.by - solids.ay) / 2.0
    middle = (solids.ax + solids.bx) / 2.0, (solids.ay + solids.by) / 2.0
    return np.column_stack((*solids[1:8], *middle, half))


def hull_of(boxes: Boxes) -> Hull:
    """Bound all boxes, front wheels in any position."""
    x, y = (boxes.rear + boxes.front) / 2.0, (boxes.right + boxes.left) / 2.0
    along, across = boxes.front - x, boxes.left - y
    along[:FRONT_WHEELS] = across[:FRONT_WHEELS] = np.hypot(along, across)[:FRONT_WHEELS]
    reach = np.hypot(np.abs(x) + along, np.abs(y) + across)
    faces = ((x - along).min(), (x + along).max(), (y - across).min(), (y + across).max())
    return Hull(*(float(value) for value in (*faces, boxes.high.max(), reach.max())))


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
def solid_gaps(pose: Pose, boxes: Float64, solids: Float64, which: Int64, found: Float64) -> None:
    """Find what stands nearest on each side.

    Parameters
    ----------
    pose, boxes
        The vehicle.
    solids, which
        Rows of solids, and the numbers of those that can be near.
    found
        Where the answer stands, shape (2, 4), [left, right] × [gap, part, place on the body, solid]; only what is
        nearer than what stands there already, and within ``FAR_M``, is written.
    """
    for k in which:
        for box in range(boxes.shape[0]):
            gap, x, side = box_gap(pose, boxes, box, solids, k)
            if gap < min(found[side, GAP], FAR_M):
                found[side, GAP], found[side, PART] = gap, boxes[box, BOX_PART]
                found[side, BODY_X], found[side, SOLID] = x, k


@bare
def least_gap(pose: Pose, boxes: Float64, hull: Hull, solids: Float64, which: Int64, enough: float) -> float:
    """Give the smallest gap to solids on either side; *enough* where it is at least that."""
    least = enough
    for k in which:
        x, y = _body_frame(pose, solids[k, MID_X], solids[k, MID_Y])
        apart = least + solids[k, RADIUS] + solids[k, HALF]
        if not hull.rear - apart < x < hull.front + apart:
            continue
        apart += abs(pose.lean) * hull.high
        if hull.right - apart < y < hull.left + apart:
            for box in range(boxes.shape[0]):
                least = min(least, box_gap(pose, boxes, box, solids, k)[0])
    return least


@fused
def _body_frame(pose: Pose, x: float, y: float) -> tuple[float, float]:
    """Give a place of the world in the frame of the body."""
    dx, dy = x - pose.x, y - pose.y
    return pose.cos * dx + pose.sin * dy, pose.cos * dy - pose.sin * dx


@bare
def box_gap(pose: Pose, boxes: Float64, box: int, solids: Float64, k: int) -> tuple[float, float, int]:
    """Measure one box against one capsule.

    Returns
    -------
    tuple
        Gap, m, inf where the heights do not meet; where on the body, m ahead of the rear axle; side. What lies wholly
        on one side of the body counts on that side, and comes free of a solid on that side alone unless it is a
        wheel; a box across the middle counts on the side of the solid.
    """
    low, high = max(solids[k, SOLID_LOW], boxes[box, LOW]), min(solids[k, SOLID_HIGH], boxes[box, HIGH])
    if low >= high:
        return np.inf, np.nan, LEFT
    rear, front, right, left = boxes[box, REAR], boxes[box, FRONT], boxes[box, RIGHT_Y], boxes[box, LEFT_Y]
    ax, ay = _body_frame(pose, solids[k, AX], solids[k, AY])
    bx, by = (ax, ay) if solids[k, HALF] == 0.0 else _body_frame(pose, solids[k, BX], solids[k, BY])
    side = 1 if right >= 0.0 else (-1 if left <= 0.0 else 0)
    shift, turn = 0.0, 1.0
    if box < FRONT_WHEELS:
        shift, y, turn, sin = 0.5 * (rear + front), 0.5 * (right + left), pose.cos_steer, pose.sin_steer
        ax, ay, bx, by = ax - shift, ay - y, bx - shift, by - y
        ax, ay, bx, by = turn * ax + sin * ay, turn * ay - sin * ax, turn * bx + sin * by, turn * by - sin * bx
        rear, front, right, left = rear - shift, front - shift, right - y, left - y
    elif box >= WHEELS:
        right, left = leaning(pose.lean, right, left, low, high)
    face = (rear, front, right, left)
    if solids[k, HALF] == 0.0:
        at, y = min(max(ax, rear), front), ay
        away = math.hypot(ax - at, ay - min(max(ay, right), left))
    else:
        away, at, y = _line_apart(face, (ax, ay, bx, by))
    radius = solids[k, RADIUS]
    if away > 0.0 and away >= radius:
        gap = away - radius
    else:
        gap, at, y = _depth(face, (ax, ay, bx, by), radius, side if box >= WHEELS else 0)
    return gap, shift + turn * at, LEFT if side > 0 or (side == 0 and y > 0.0) else RIGHT


@bare
def _line_apart(face: Four, ends: Four) -> tuple[float, float, float]:
    """Measure a rectangle against a line from end to end: distance, x on the box, y on the line; 0 where they cross.

    They cross unless an axis of the rectangle or the line itself keeps them apart.
    """
    rear, front, right, left = face
    ax, ay, bx, by = ends
    dx, dy = bx - ax, by - ay
    best, at, y, least, most = np.inf, ax, ay, np.inf, -np.inf
    for corner in range(4):
        px, py = rear if corner < 2 else front, right if corner % 2 == 0 else left
        share = min(max(((px - ax) * dx + (py - ay) * dy) / (dx * dx + dy * dy), 0.0), 1.0)
        away = math.hypot(ax + share * dx - px, ay + share * dy - py)
        if away < best:
            best, at, y = away, px, ay + share * dy
        beside = (px - ax) * dy - (py - ay) * dx
        least, most = min(least, beside), max(most, beside)
    for end in range(2):
        px, py = (ax, ay) if end == 0 else (bx, by)
        x = min(max(px, rear), front)
        away = math.hypot(px - x, py - min(max(py, right), left))
        if away < best:
            best, at, y = away, x, py
    meet = max(ax, bx) >= rear and min(ax, bx) <= front and max(ay, by) >= right and min(ay, by) <= left
    return 0.0 if meet and least <= 0.0 <= most else best, at, y


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
    length = math.hypot(bx - ax, by - ay)
    ux, uy = ((bx - ax) / length, (by - ay) / length) if length > 0.0 else (0.0, 1.0)
    along = at - radius * uy
    if ax < along < bx:
        return ay + (along - ax) * uy / ux - radius * ux, at
    x, y = (ax, ay) if along <= ax else (bx, by)
    return y - math.sqrt(max(radius * radius - (at - x) ** 2, 0.0)), at
