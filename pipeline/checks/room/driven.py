"""Lines as they are driven: poses, gaps, parts, what is swept, and whether things stay between or under the wheels."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.plan_records import LEFT, RIGHT, Boxes, Solids, Tracks
from pipeline.kernels.plan_sweep import Swept, sweep
from pipeline.terms import Part

__all__ = ["HELD", "Driven", "driven_along"]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]
Flags = NDArray[np.bool_]

HELD = -3
"""Stands for the thing that holds the line where the number of a solid is asked for."""


@dataclass(frozen=True, slots=True)
class Driven:
    """Lines along tracks, one pose a point; arrays of shape (points,), or (points, 2) by side in travel."""

    x: Float64
    """Middle of the rear axle."""
    y: Float64
    heading: Float64
    steer: Float64
    """rad, + left."""
    rear_offset: Float64
    """m, + right."""
    gap: Float64
    """Smallest gap on each side; inf where nothing is near."""
    part: Int64
    body_x: Float64
    """m ahead of the rear axle."""
    solid: Int64
    """Number of the solid; ``EDGE``, ``NOTHING`` or :data:`HELD`."""
    reach: Float64
    """Farthest that each part comes from the way when it passes, (points, parts, 2)."""
    offtracking: Float64
    tail_swing: Float64

    @property
    def poses(self) -> tuple[Float64, Float64, Float64, Float64]:
        """Where the middle of the rear axle stands, heading and steering angle."""
        return self.x, self.y, self.heading, self.steer

    def with_others(self, point: Int64, others: "Driven") -> "Driven":
        """Put other lines in at some points."""
        columns = {name: getattr(self, name).copy() for name in self.__dataclass_fields__}
        for name, column in columns.items():
            column[point] = getattr(others, name)
        return Driven(**columns)

    def where(self, point: Int64) -> "Driven":
        """Take some of the points."""
        return Driven(*(getattr(self, name)[point] for name in self.__dataclass_fields__))

    def coarser(self, offsets: Int64, times: int) -> "Driven":
        """Take every *times*-th pose of lines along tracks, with the smallest gaps of the poses round it.

        Parameters
        ----------
        offsets
            Where the poses of each track begin, length tracks + 1.
        times
            Poses a point.
        """
        track = np.repeat(np.arange(offsets.size - 1), (np.diff(offsets) - 1) // times + 1)
        nth = np.arange(track.size) - np.flatnonzero(np.diff(track, prepend=-1))[track]
        pose = offsets[track] + times * nth
        near = pose[:, None] + np.arange(-(times // 2), times // 2 + 1)
        near = np.clip(near, offsets[track][:, None], offsets[track + 1][:, None] - 1)
        taken = self.where(pose)
        pick = self.gap[near].argmin(axis=1)
        least = np.take_along_axis(near, pick, axis=1)
        sides = np.arange(self.gap.shape[1])
        by_side = {name: getattr(self, name)[least, sides] for name in ("gap", "part", "body_x", "solid")}
        return replace(taken, **by_side, reach=self.reach[near].max(axis=1))

    def renumbered(self, source: Int64) -> "Driven":
        """Give solids the numbers that *source* has for them."""
        real = self.solid >= 0
        return (
            replace(self, solid=np.where(real, source[np.where(real, self.solid, 0)], self.solid))
            if source.size
            else self
        )


def driven_along(
    poses: tuple[Float64, Float64, Float64, Float64], vehicle: Boxes, tracks: Tracks, solids: Solids, slack_m: float
) -> Driven:
    """Sweep a vehicle along poses, one a point of the tracks.

    Parameters
    ----------
    poses
        x and y of the middle of the rear axle, heading, steering angle.
    vehicle, tracks, solids
        What is driven where.
    slack_m
        How far both axles may be off the offset that a thing asks for.
    """
    x, y, heading, steer = (np.ascontiguousarray(column) for column in poses)
    swept = sweep(vehicle, tracks, solids, (x, y, heading, steer))
    gaps = _held(swept, vehicle, tracks, slack_m)
    measured = (swept.reach, swept.offtracking, swept.tail_swing)
    return Driven(x, y, heading, steer, swept.rear_offset, *gaps, *measured)


def _held(swept: Swept, vehicle: Boxes, tracks: Tracks, slack_m: float) -> tuple[Float64, Int64, Float64, Int64]:
    """Lay what things under or between the wheels ask for over the gaps; it counts where it is not kept."""
    gap, part = swept.near.gap.copy(), swept.near.part.copy()
    body_x, solid = swept.near.body_x.copy(), swept.near.solid.copy()
    track = np.repeat(np.arange(tracks.offsets.size - 1), np.diff(tracks.offsets))
    front = np.minimum(np.arange(track.size) + round(vehicle.wheelbase / tracks.step), tracks.offsets[track + 1] - 1)
    for offset, point, x in (
        (swept.rear_offset, np.arange(track.size), 0.0),
        (swept.front_offset, front, vehicle.wheelbase),
    ):
        off = offset - tracks.hold[point]
        left = slack_m - np.abs(off)
        side = np.where(off > 0.0, RIGHT, LEFT)
        worse = np.flatnonzero((left < 0.0) & (left < gap[np.arange(track.size), side]))
        gap[worse, side[worse]], part[worse, side[worse]] = left[worse], Part.WHEEL
        body_x[worse, side[worse]], solid[worse, side[worse]] = x, HELD
    return gap, part, body_x, solid
