"""A body swept along driven ways: gaps on either side, what it sweeps across the way, off-tracking, tail swing."""

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.compiled import bare, fused, kernel
from pipeline.kernels.plan_gap import (
    BODY_X,
    FAR_M,
    GAP,
    PART,
    SOLID,
    Hull,
    Pose,
    box_rows,
    hull_of,
    solid_gaps,
    solid_rows,
)
from pipeline.kernels.plan_outline import LONG, beside_path, feel, feelers_of
from pipeline.kernels.plan_records import NOTHING, Boxes, Solids, Tracks
from pipeline.kernels.plan_way import beside, near_solids, way_rows
from pipeline.kernels.steering import Driven, follow

__all__ = ["PARTS", "Drives", "Swept", "drive", "sweep"]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]
Poses = tuple[Float64, Float64, Float64, Float64]
"""x and y of the middle of the rear axle, heading, steering angle; one a point of the tracks, abreast of it."""
PARTS = 4
"""``terms.Part`` has so many."""
SILL = 1.0
"""``terms.Part.SILL``: the body at its full width."""
REAR_OFFSET, FRONT_OFFSET, OFFTRACKING, TAIL_SWING = range(4)
"""Columns of what is measured of poses."""


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
    """Farthest that each part of the pose is from the way, m, shape (points, 4 parts, 2 sides): the sum of both sides
    is the width that the part takes up across the way; −inf for a part that the vehicle has not."""
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
        Most that the steering angle can change, rad per metre driven; > 0, inf for no limit.
    """
    rows = way_rows(tracks)
    poses = follow(boxes, tracks, rate, rows)
    return Drives(poses, sweep(boxes, tracks, solids, (poses.x, poses.y, poses.heading, poses.steer), rows))


def sweep(boxes: Boxes, tracks: Tracks, solids: Solids, poses: Poses, rows: Float64 | None = None) -> Swept:
    """Sweep a body along given poses, one a point of the tracks.

    Parameters
    ----------
    boxes, tracks, solids
        The vehicle, the ways and what stands beside them.
    poses
        x and y of the middle of the rear axle, heading and steering angle of each pose; it stands abreast of the
        point of its number, and steers as it does until the next.
    rows
        Of :func:`pipeline.kernels.plan_way.way_rows`, where they are at hand.
    """
    count, hull, feelers = tracks.x.size, hull_of(boxes), feelers_of(boxes)
    found = np.full((count, 2, 4), (np.inf, -1.0, np.nan, NOTHING))
    reach, measured = np.full((count, PARTS, 2), -np.inf), np.zeros((count, 4))
    x, y, heading, steer = poses
    stands = np.column_stack(
        (x, y, np.cos(heading), np.sin(heading), np.cos(steer), np.sin(steer), np.sin(tracks.roll))
    )
    sweep_ways(
        (tracks.offsets, *_near(tracks, solids, (x, y), hull.radius + FAR_M)),
        (way_rows(tracks) if rows is None else rows, box_rows(boxes), solid_rows(solids), feelers, stands),
        (tracks.step, boxes.wheelbase, *_tail(boxes)),
        hull,
        (found, reach, measured),
    )
    part, solid = (found[..., column].astype(np.int64) for column in (PART, SOLID))
    return Swept(Nearest(found[..., GAP], part, found[..., BODY_X], solid), reach, *measured.T)


def _near(tracks: Tracks, solids: Solids, at: tuple[Float64, Float64], radius: float) -> tuple[Int64, Int64]:
    """List the solids that are near each pose, wherever it is beside its point."""
    apart = np.hypot(np.diff(at[0]), np.diff(at[1]))
    apart[tracks.offsets[1:-1] - 1] = 0.0
    driven = tracks._replace(x=at[0], y=at[1], step=float(np.nan_to_num(apart, nan=0.0).max(initial=0.0)))
    return near_solids(driven, solids, radius)


def _tail(boxes: Boxes) -> tuple[float, float, float]:
    """Give how far the corner that swings out is behind the rear axle and beside the middle; half the body's width."""
    body = np.flatnonzero((boxes.part == SILL) & (boxes.rear < 0.0))
    if not body.size:
        return 0.0, 0.0, 0.0
    tightest = boxes.wheelbase / np.tan(boxes.lock)
    box = body[np.argmax(np.hypot(tightest + boxes.left[body], boxes.rear[body]))]
    return -float(boxes.rear[box]), float(boxes.left[box]), float(boxes.left[body].max())


@kernel
def sweep_ways(
    offsets: tuple[Int64, Int64, Int64],
    rows: tuple[Float64, ...],
    lengths: tuple[float, ...],
    hull: Hull,
    out: tuple[Float64, Float64, Float64],
) -> None:
    """Sweep a body along ways.

    Parameters
    ----------
    offsets
        Of the ways; of the solids near their points, and these.
    rows
        Ways, boxes, solids, feelers, poses.
    lengths
        Step of the ways, wheelbase, and of the corner that swings out: m behind the rear axle, m beside the middle,
        half of the body's width.
    hull
        Bounds of the boxes.
    out
        Filled: what is nearest, shape (points, 2, 4), inf at first, how far parts reach, (points, parts, 2), −inf at
        first, and what is measured of each pose, (points, 4), 0 at first.
    """
    step, (ways, boxes, solids, feelers, poses) = lengths[0], rows
    found, reach, measured = out
    for track in range(offsets[0].size - 1):
        first, end = offsets[0][track], offsets[0][track + 1]
        way, stands = ways[first:end], poses[first:end]
        for f in range(feelers.shape[0]):
            ahead = math.floor(feelers[f, LONG] / step + 0.5)
            feel(feelers, f, stands, ahead, way, (reach[first:end], found[first:end]))
        measure(stands, way, lengths, measured[first:end])
        for k in range(first, end):
            near = offsets[2][offsets[1][k] : offsets[1][k + 1]]
            if near.size > 0:
                solid_gaps(pose_in(poses[k]), boxes, hull, solids, near, found[k])


@fused
def pose_in(row: Float64) -> Pose:
    """Take a pose from its row."""
    return Pose(row[0], row[1], row[2], row[3], row[4], row[5], row[6])


@bare
def measure(poses: Float64, way: Float64, lengths: tuple[float, ...], measured: Float64) -> None:
    """Measure offsets of the axles, off-tracking and tail swing along one way."""
    step, wheelbase, behind, corner, half = lengths
    long, back = math.ceil(wheelbase / step), math.ceil(behind / step)
    for i in range(way.shape[0]):
        x, y, cos, sin = poses[i, 0], poses[i, 1], poses[i, 2], poses[i, 3]
        front = (x + wheelbase * cos, y + wheelbase * sin)
        measured[i, REAR_OFFSET] = beside(x, y, way, i)[1]
        measured[i, FRONT_OFFSET] = beside(front[0], front[1], way, min(i + long, way.shape[0] - 1))[1]
        if i >= long:
            bend = poses[i - long, 5] / wheelbase
            measured[i, OFFTRACKING] = abs(beside_path(poses, i - long, wheelbase, bend, (x, y)))
        if i >= back > 0:
            bend = poses[i - back, 5] / (poses[i - back, 4] * wheelbase)
            for side in (-1.0, 1.0):
                at = (x - behind * cos - side * corner * sin, y - behind * sin + side * corner * cos)
                swing = abs(beside_path(poses, i - back, 0.0, bend, at)) - half
                measured[i, TAIL_SWING] = max(measured[i, TAIL_SWING], swing)
