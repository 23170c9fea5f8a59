"""A body swept along driven ways: gaps on either side, what it sweeps across the way, off-tracking, tail swing."""

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.compiled import kernel
from pipeline.kernels.plan_edge import edge_gaps, see_way
from pipeline.kernels.plan_gap import (
    BODY_X,
    FAR_M,
    GAP,
    PART,
    SOLID,
    box_rows,
    hull_of,
    pose_of,
    solid_gaps,
    solid_rows,
)
from pipeline.kernels.plan_records import NOTHING, Boxes, Solids, Tracks
from pipeline.kernels.plan_way import COS, HEADING, ROLL, SIN, X, Y, locate, near_solids, way_rows
from pipeline.kernels.steering import Driven, follow

__all__ = ["PARTS", "Drives", "Swept", "drive", "sweep"]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]
Poses = tuple[Float64, Float64, Float64, Float64]
"""x and y of the middle of the rear axle, heading, steering angle; one a point of the tracks, abreast of it."""
Ways = tuple[Float64, Float64, Float64]
"""Rows of ways: the tracks, and those of the middles of the rear and the front axle."""

PARTS = 4
"""``terms.Part`` has so many."""
SILL = 1.0
"""``terms.Part.SILL``: the body at its full width."""
MARGIN = 4
"""Points of the way behind and ahead of the vehicle that are looked at."""
REAR_OFFSET, FRONT_OFFSET, OFFTRACKING, TAIL_SWING = range(4)
"""Columns of what is measured of a pose."""


class Nearest(NamedTuple):
    """What is nearest on each side; arrays of shape (points, 2), last axis [left, right]."""

    gap: Float64
    """m; inf where no solid is within ``FAR_M`` and no edge known."""
    part: Int64
    """``terms.Part``; −1 where nothing is."""
    body_x: Float64
    """Where on the body, m ahead of the rear axle; NaN where nothing is."""
    solid: Int64
    """Index into the solids; ``EDGE`` for the edge of the trail, ``NOTHING`` for no neighbour."""


class Swept(NamedTuple):
    """What a body sweeps; one row a point of the tracks."""

    near: Nearest
    """Gaps of the pose there."""
    reach: Float64
    """Farthest from the way that each part comes when it passes there, m, shape (points, 4 parts, 2 sides);
    −inf where that part never passes."""
    rear_offset: Float64
    """Middle of the rear axle, m, + right of the way."""
    front_offset: Float64
    """Middle of the front axle."""
    offtracking: Float64
    """How far the rear axle runs beside the way of the front axle, m, never negative."""
    tail_swing: Float64
    """How far a rear corner swings out beyond the way of the body's side at the rear axle, m, never negative."""


class Drives(NamedTuple):
    """Ways as driven, and what is swept."""

    poses: Driven
    swept: Swept


def drive(boxes: Boxes, tracks: Tracks, solids: Solids, rate: float) -> Drives:
    """Drive along the middle lines as well as steering allows, and sweep the body along.

    Parameters
    ----------
    boxes, tracks, solids
        The vehicle, the ways and what stands beside them.
    rate
        Most that the steering angle can change, rad per metre driven; inf for no limit.
    """
    poses = follow(boxes, tracks, rate)
    return Drives(poses, sweep(boxes, tracks, solids, (poses.x, poses.y, poses.heading, poses.steer)))


def sweep(boxes: Boxes, tracks: Tracks, solids: Solids, poses: Poses) -> Swept:
    """Sweep a body along given poses, one a point of the tracks.

    Parameters
    ----------
    boxes, tracks, solids
        The vehicle, the ways and what stands beside them.
    poses
        x and y of the middle of the rear axle, heading and steering angle of each pose; it stands abreast of the
        point of its number, and steers as it does until the next.
    """
    count, hull = tracks.x.size, hull_of(boxes)
    found = np.full((count, 2, 4), (np.inf, -1.0, np.nan, NOTHING))
    reach = np.full((count, PARTS, 2), -np.inf)
    measured = np.zeros((count, 4))
    aside = np.hypot(poses[0] - tracks.x, poses[1] - tracks.y).max(initial=0.0)
    ways = (way_rows(tracks), *_axle_ways(boxes.wheelbase, tracks, poses))
    rows = (
        box_rows(boxes),
        solid_rows(solids),
        np.empty((math.ceil((hull.front - hull.rear) / tracks.step) + 2 * MARGIN, ROLL)),
    )
    lengths = (tracks.step, boxes.wheelbase, -hull.rear, *_tail(boxes))
    near = near_solids(tracks, solids, hull.radius + FAR_M + aside)
    sweep_ways((tracks.offsets, *near), ways, lengths, rows, np.ascontiguousarray(poses[3]), (found, reach, measured))
    part, solid = (found[..., column].astype(np.int64) for column in (PART, SOLID))
    return Swept(Nearest(found[..., GAP], part, found[..., BODY_X], solid), reach, *measured.T)


def _tail(boxes: Boxes) -> tuple[float, float, float]:
    """Give the corner that swings out farthest, m behind the rear axle and m beside the middle; half the body's width."""
    body = np.flatnonzero((boxes.part == SILL) & (boxes.rear < 0.0))
    if not body.size:
        return 0.0, 0.0, 0.0
    tightest = boxes.wheelbase / np.tan(boxes.lock)
    box = body[np.argmax(np.hypot(tightest + boxes.left[body], boxes.rear[body]))]
    return -float(boxes.rear[box]), float(boxes.left[box]), float(boxes.left[body].max())


def _axle_ways(wheelbase: float, tracks: Tracks, poses: Poses) -> tuple[Float64, Float64]:
    """Give the ways of the middles of the rear and the front axle, as rows.

    Where the steering angle changes, an axle turns as at the mean of both.
    """
    x, y, heading, steer = poses
    before = np.roll(steer, 1)
    before[tracks.offsets[:-1]] = steer[tracks.offsets[:-1]]
    turned = (before + steer) / 2.0
    ways = []
    for ahead, along, bend in ((0.0, heading, np.tan(turned)), (wheelbase, heading + turned, np.sin(turned))):
        at = x + ahead * np.cos(heading), y + ahead * np.sin(heading)
        ways.append(np.column_stack((*at, along, np.cos(along), np.sin(along), bend / wheelbase)))
    return ways[0], ways[1]


@kernel
def sweep_ways(
    offsets: tuple[Int64, Int64, Int64],
    ways: Ways,
    lengths: tuple[float, ...],
    rows: tuple[Float64, Float64, Float64],
    steer: Float64,
    out: tuple[Float64, Float64, Float64],
) -> None:
    """Sweep a body along ways.

    Parameters
    ----------
    offsets
        Of the ways; of the solids near their points, and these.
    ways
        Rows of the ways, and of those of the axles.
    lengths
        Step of the ways, wheelbase, rearmost point behind the rear axle, and of the corner that swings out: m behind
        the rear axle, m beside the middle, half of the body's width.
    rows
        Boxes, solids, and room for the points of a way that a pose sees.
    steer
        Steering angles.
    out
        Filled: what is nearest, shape (points, 2, 4), how far parts reach, (points, parts, 2), and what is measured of
        each pose, (points, 4).
    """
    step, wheelbase, tail = lengths[0], lengths[1], lengths[2]
    boxes, solids, seen = rows
    found, reach, measured = out
    behind, long = math.ceil(tail / step) + MARGIN, math.floor(wheelbase / step + 0.5)
    for track in range(offsets[0].size - 1):
        first, end = offsets[0][track], offsets[0][track + 1]
        way, rear, front = ways[0][first:end], ways[1][first:end], ways[2][first:end]
        for i in range(end - first):
            k = first + i
            pose = pose_of(rear[i, X], rear[i, Y], rear[i, HEADING], steer[k], way[i, ROLL])
            solid_gaps(pose, boxes, solids, offsets[2][offsets[1][k] : offsets[1][k + 1]], found[k])
            a = max(i - behind, 0)
            view = seen[: min(seen.shape[0], end - first - a)]
            see_way(pose, way, a, view)
            edge_gaps(pose, boxes, view, step, (way[a:], reach[first + a :], found[k]))
            row = measured[k]
            row[REAR_OFFSET] = locate(rear[i, X], rear[i, Y], way, step, i)[2]
            row[FRONT_OFFSET] = locate(front[i, X], front[i, Y], way, step, i + long)[2]
            back, on, right = locate(rear[i, X], rear[i, Y], front, step, i - long)
            row[OFFTRACKING] = abs(right) if back > 0 or on >= 0.0 else 0.0
            back = i - math.floor(lengths[3] / step + 0.5)
            for side in (-1.0, 1.0):
                x = rear[i, X] - rear[i, COS] * lengths[3] - rear[i, SIN] * side * lengths[4]
                y = rear[i, Y] - rear[i, SIN] * lengths[3] + rear[i, COS] * side * lengths[4]
                row[TAIL_SWING] = max(row[TAIL_SWING], abs(locate(x, y, rear, step, back)[2]) - lengths[5])
