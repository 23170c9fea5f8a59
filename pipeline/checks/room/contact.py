"""Where a set-up and what is nearest to it come closest: the two ends of a gap, for a drawing."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.plan_records import WHEELS, Boxes

__all__ = ["Met", "Near", "Stands", "touch"]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]

FRONT_WHEELS = 2
"""The first boxes turn with the steering."""
ROUNDS = 60
"""Rounds in which the nearest points of a box and a line settle to far less than a millimetre."""
SAME_M = 0.02
"""A part is met at a place that lies no farther beyond its end."""
TINY = 1e-18


class Stands(NamedTuple):
    """Poses of one set-up; arrays of shape (gaps,)."""

    x: Float64
    """Middle of the rear axle, world, m."""
    y: Float64
    heading: Float64
    steer: Float64
    lean: Float64
    """Sine of the roll, + right side down."""


class Near(NamedTuple):
    """What each pose is nearest to, on one side; arrays of shape (gaps,)."""

    gap: Float64
    part: Int64
    body_x: Float64
    """m ahead of the rear axle."""
    side: Int64
    """0 left, 1 right."""
    turn: Float64
    """Heading of the way there less that of the body, rad: the room to an edge is measured across the way."""


class Met(NamedTuple):
    """What stands there; NaN ends for the edge of the trail. Arrays of shape (gaps,), ends (gaps, 2), world."""

    a: Float64
    b: Float64
    radius: Float64
    low: Float64
    high: Float64


def touch(boxes: Boxes, stands: Stands, near: Near, met: Met) -> tuple[Float64, Float64]:
    """Find the point of the body and the point beside it that a gap runs between.

    Parameters
    ----------
    boxes
        The set-up.
    stands, near, met
        Its poses, what is nearest, where that stands.

    Returns
    -------
    body, beside
        World, m, shape (gaps, 2). Between a box and a capsule they are the closest points; where the two overlap
        the gap runs sideways from where the box is met; to the edge of the trail it runs across the way.
    """
    own, other = _closest(boxes, stands, near, met)
    sideways = np.isnan(met.radius) | (near.gap < 0.0)
    turn = np.where(np.isnan(met.radius), near.turn, 0.0)
    out = np.where(near.side == 0, near.gap, -near.gap)
    face = np.column_stack([near.body_x, _face(boxes, stands, near, met)])
    beyond = face + out[:, None] * np.column_stack([-np.sin(turn), np.cos(turn)])
    body = np.where(sideways[:, None], face, own)
    beside = np.where(sideways[:, None], beyond, other)
    return _world(stands, body), _world(stands, beside)


def _world(stands: Stands, points: Float64) -> Float64:
    """Turn points of the body into points of the world."""
    cos, sin = np.cos(stands.heading), np.sin(stands.heading)
    x, y = points.T
    return np.column_stack([stands.x + x * cos - y * sin, stands.y + x * sin + y * cos])


def _body(stands: Stands, points: Float64) -> Float64:
    """Turn points of the world into points of the body."""
    cos, sin = np.cos(stands.heading), np.sin(stands.heading)
    x, y = points[:, 0] - stands.x, points[:, 1] - stands.y
    return np.column_stack([x * cos + y * sin, y * cos - x * sin])


def _spun(points: Float64, about: Float64, angle: Float64) -> Float64:
    """Turn points about places, anticlockwise."""
    cos, sin = np.cos(angle), np.sin(angle)
    x, y = (points - about).T
    return np.column_stack([x * cos - y * sin, x * sin + y * cos]) + about


def _closest(boxes: Boxes, stands: Stands, near: Near, met: Met) -> tuple[Float64, Float64]:
    """Find the closest points of the part that is nearest and the capsule, body frame; NaN where nothing stands."""
    a, b = _body(stands, met.a), _body(stands, met.b)
    best, own, other = np.full(near.gap.size, np.inf), np.full_like(a, np.nan), np.full_like(a, np.nan)
    for box in range(boxes.rear.size):
        meets = (near.part == boxes.part[box]) & (boxes.low[box] < met.high) & (met.low < boxes.high[box])
        here = np.flatnonzero(meets & ~np.isnan(met.radius))
        angle = stands.steer[here] if box < FRONT_WHEELS else np.zeros(here.size)
        middle = np.array([boxes.rear[box] + boxes.front[box], boxes.right[box] + boxes.left[box]]) / 2.0
        faces = [side[here] for side in _sides(boxes, box, stands, met)]
        low, high = (
            np.column_stack([np.full(here.size, end), side])
            for end, side in zip((boxes.rear[box], boxes.front[box]), faces, strict=True)
        )
        point, axis = _approach(low, high, _spun(a[here], middle, -angle), _spun(b[here], middle, -angle))
        apart = np.hypot(*(axis - point).T)
        take = apart < best[here]
        nearer = here[take]
        best[nearer] = apart[take]
        own[nearer], other[nearer] = (_spun(ends, middle, angle)[take] for ends in (point, axis))
    away = np.minimum(met.radius / np.maximum(best, TINY), 1.0)
    return own, other + (own - other) * away[:, None]


def _approach(low: Float64, high: Float64, a: Float64, b: Float64) -> tuple[Float64, Float64]:
    """Step from lines to boxes and back until both points stay: alternating projections on to two convex sets."""
    along = b - a
    square = np.maximum((along**2).sum(axis=1), TINY)
    axis = a + along / 2.0
    for _ in range(ROUNDS if (square > TINY).any() else 0):
        share = ((np.minimum(np.maximum(axis, low), high) - a) * along).sum(axis=1) / square
        axis = a + np.minimum(np.maximum(share, 0.0), 1.0)[:, None] * along
    return np.minimum(np.maximum(axis, low), high), axis


def _sides(boxes: Boxes, box: int, stands: Stands, met: Met) -> tuple[Float64, Float64]:
    """Give the right and the left face of a box, as far as a body that leans carries them at the heights that meet."""
    lean = stands.lean if box >= WHEELS else np.zeros_like(stands.lean)
    shifts = [-lean * np.clip(height, boxes.low[box], boxes.high[box]) for height in (met.low, met.high)]
    return boxes.right[box] + np.minimum(*shifts), boxes.left[box] + np.maximum(*shifts)


def _face(boxes: Boxes, stands: Stands, near: Near, met: Met) -> Float64:
    """Find how far out the part that is met reaches at the place where it is met, m to the left."""
    sign = np.where(near.side == 0, 1.0, -1.0)
    best = np.full(near.gap.size, -np.inf)
    for box in range(boxes.rear.size):
        right, left = _sides(boxes, box, stands, met)
        x = np.column_stack([np.full((near.gap.size, 2), end) for end in (boxes.rear[box], boxes.front[box])])
        y = np.column_stack([right, left, right, left])
        if box < FRONT_WHEELS:
            middle = np.array([boxes.rear[box] + boxes.front[box], boxes.right[box] + boxes.left[box]]) / 2.0
            x, y = _corners(x, y, middle, stands.steer)
        apart = np.maximum(x.min(axis=1) - near.body_x, near.body_x - x.max(axis=1))
        there = (near.part == boxes.part[box]) & (apart < SAME_M)
        reach = np.where(there, (sign[:, None] * y).max(axis=1), -np.inf)
        best = np.maximum(best, reach)
    return sign * np.where(np.isfinite(best), best, 0.0)


def _corners(x: Float64, y: Float64, middle: Float64, angle: Float64) -> tuple[Float64, Float64]:
    """Turn the corners of a front wheel about its middle, as it is steered."""
    cos, sin = np.cos(angle)[:, None], np.sin(angle)[:, None]
    across, aside = x - middle[0], y - middle[1]
    return middle[0] + across * cos - aside * sin, middle[1] + across * sin + aside * cos
