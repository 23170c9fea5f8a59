"""A body swept along driven ways: gaps on either side, what it sweeps across the way, off-tracking, tail swing."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.compiled import bare, inner, kernel
from pipeline.kernels.plan_edge import Edges, edge_gaps
from pipeline.kernels.plan_gap import FAR_M, Hull, Nearest, Pose, hull_of, on_ground, pose_of, solid_gaps
from pipeline.kernels.plan_records import NOTHING, WHEELS, Boxes, Solids, Tracks
from pipeline.kernels.plan_way import Way, beside, locate, near_solids, way_of
from pipeline.kernels.steering import Driven, follow

__all__ = ["PARTS", "Drives", "Swept", "drive", "sweep"]

Float64 = NDArray[np.float64]
Flags = NDArray[np.bool_]
Poses = tuple[Float64, Float64, Float64, Float64]
"""x and y of the middle of the rear axle, heading, steering angle; one a point of the tracks, abreast of it."""

PARTS = 4
"""``terms.Part`` has so many."""
SILL = 1
"""``terms.Part.SILL``: the body at its full width."""


class Swept(NamedTuple):
    """What a body sweeps; one row a point of the tracks."""

    rear_offset: Float64
    """Middle of the rear axle, m, + right of the way."""
    front_offset: Float64
    """Middle of the front axle."""
    near: Nearest
    """Gaps of the pose there."""
    reach: Float64
    """Farthest from the way that each part comes when it passes there, m, shape (points, 4 parts, 2 sides);
    −inf where that part never passes."""
    offtracking: Float64
    """How far the rear axle runs beside the way of the front axle, m, never negative."""
    tail_swing: Float64
    """How far a rear corner swings out beyond the way of the rear axle's side, m, never negative."""


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


@kernel
def sweep(boxes: Boxes, tracks: Tracks, solids: Solids, poses: Poses) -> Swept:
    """Sweep a body along given poses, one a point of the tracks.

    Parameters
    ----------
    boxes, tracks, solids
        The vehicle, the ways and what stands beside them.
    poses
        x and y of the middle of the rear axle, heading and steering angle of each pose; it stands abreast of the
        point of its number.
    """
    count = tracks.x.size
    near = Nearest(
        np.full((count, 2), np.inf),
        np.full((count, 2), -1, dtype=np.int64),
        np.full((count, 2), np.nan),
        np.full((count, 2), NOTHING, dtype=np.int64),
    )
    reach = np.full((count, PARTS, 2), -np.inf)
    out = Swept(np.zeros(count), np.zeros(count), near, reach, np.zeros(count), np.zeros(count))
    hull = hull_of(boxes)
    for track in range(tracks.offsets.size - 1):
        _sweep_one(boxes, hull, tracks, solids, poses, out, track)
    return out


@inner
def _sweep_one(boxes: Boxes, hull: Hull, tracks: Tracks, solids: Solids, poses: Poses, out: Swept, track: int) -> None:
    """Sweep along one way."""
    first, last = tracks.offsets[track], tracks.offsets[track + 1]
    way = way_of(tracks, track)
    edges = Edges(tracks.wheel[first:last], tracks.body[first:last])
    x, y, heading, steer = poses[0][first:last], poses[1][first:last], poses[2][first:last], poses[3][first:last]
    spare = np.sqrt(np.max((x - way.x) ** 2 + (y - way.y) ** 2))
    near = near_solids(way, solids, track, hull.radius + FAR_M + spare)
    rear, front = axle_ways(boxes.wheelbase, (x, y, heading, steer), way.step)
    reach = out.reach[first:last]
    for i in range(last - first):
        k = first + i
        pose = pose_of(x[i], y[i], heading[i], steer[i], tracks.roll[k])
        solid_gaps(pose, boxes, solids, near.which[near.offsets[i] : near.offsets[i + 1]], out.near, k)
        edge_gaps(pose, boxes, way, edges, i, out.near, k, reach)
        out.rear_offset[k] = beside(x[i], y[i], way, i)[1]
        ahead = i + round(boxes.wheelbase / way.step)
        out.front_offset[k] = locate(front.x[i], front.y[i], way, ahead)[2]
        back, on, right = locate(x[i], y[i], front, i - round(boxes.wheelbase / way.step))
        out.offtracking[k] = abs(right) if back > 0 or on >= 0.0 else 0.0
        out.tail_swing[k] = _tail_swing(pose, boxes, rear, i)


@inner
def axle_ways(wheelbase: float, poses: Poses, step: float) -> tuple[Way, Way]:
    """Give the ways of the middles of the rear and the front axle."""
    x, y, heading, steer = poses
    turned = steer.copy()
    for i in range(1, steer.size):
        turned[i] = 0.5 * (steer[i - 1] + steer[i])
    cos, sin = np.cos(heading), np.sin(heading)
    rear = Way(x, y, heading, cos, sin, np.tan(turned) / wheelbase, step)
    along = heading + turned
    return rear, Way(
        x + wheelbase * cos, y + wheelbase * sin, along, np.cos(along), np.sin(along), np.sin(turned) / wheelbase, step
    )


@bare
def _tail_swing(pose: Pose, boxes: Boxes, rear: Way, i: int) -> float:
    """How far the rear corners of the body stand outside the way that its sides at the rear axle take."""
    side, swing = 0.0, 0.0
    for box in range(WHEELS, boxes.rear.size):
        if boxes.part[box] == SILL:
            side = max(side, boxes.left[box])
    for box in range(WHEELS, boxes.rear.size):
        if boxes.part[box] == SILL and boxes.rear[box] < 0.0:
            back = i + round(boxes.rear[box] / rear.step)
            for y in (boxes.right[box], boxes.left[box]):
                corner = on_ground(pose, boxes.rear[box], y)
                swing = max(swing, abs(locate(corner[0], corner[1], rear, back)[2]) - side)
    return swing
