"""A site as one set-up finds it on the ground: its tracks and solids, and what stands where along them."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.obstacles import IN_PROFILE
from pipeline.checks.room.driven import HELD, Driven
from pipeline.checks.room.tracks import SiteTracks
from pipeline.checks.room.windows import Windows
from pipeline.checks.scene import Scene
from pipeline.kernels.plan_records import NOTHING, Solids, Tracks

__all__ = ["ALIKE", "Ground", "Searched", "width_of"]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]
Flags = NDArray[np.bool_]


ALIKE = 1e-6
"""Values that differ by less than this, m or 1/m, are equal: on a straight it is the last digit of a coordinate."""


@dataclass(frozen=True, slots=True)
class Searched:
    """What the search found for one set-up."""

    windows: Windows
    middle_m: Float64
    """Smallest gap of the middle line, driven as well as steering allows; all points."""
    line: Driven
    """The best line; all points."""
    share: Float64
    """Largest curvature allowed ÷ that at full lock, (windows,); above 1 nobody can drive it."""
    shunt: Int64
    """1 where one reverse would do it, 0 where it would not, (windows,)."""
    barring: Int64
    """Index into the scene's things of a branch that the line leads neither under nor round, (windows,); −1: none."""


@dataclass(frozen=True, slots=True)
class Ground:
    """Tracks of a site with what stands beside them for one set-up."""

    scene: Scene
    site: SiteTracks
    tracks: Tracks
    solids: Solids
    own: Flags
    """Points of poses that count for the segment of their track, (points,)."""

    @property
    def count(self) -> int:
        """Number of tracks."""
        return self.tracks.offsets.size - 1

    def track_of(self, point: Int64) -> Int64:
        """Give the track of each point; a missing point (−1) counts to the first."""
        return np.maximum(np.searchsorted(self.tracks.offsets, point, side="right") - 1, 0)

    def lowest(self, value: Float64, point: Int64, offsets: Int64) -> Int64:
        """Find the own point of each group where a value is lowest, the first of equal ones; −1 without any.

        Parameters
        ----------
        value
            One a point of all tracks; NaN is nowhere lowest.
        point, offsets
            Points of the groups one after another, and where each group's begin.
        """
        groups = offsets.size - 1
        lowest = np.full(groups, -1, dtype=np.int64)
        if groups == 0:
            return lowest
        own = np.where(self.own[point], value[point], np.nan)
        least = np.fmin.reduceat(own, offsets[:-1])
        group = np.repeat(np.arange(groups), np.diff(offsets))
        hit = np.flatnonzero(own <= least[group] + ALIKE)[::-1]
        lowest[group[hit]] = point[hit]
        return lowest

    def abreast(self, line: Driven, point: Int64, side: Int64) -> Int64:
        """Find the points of the tracks that what is nearest on a side of poses stands abreast of."""
        ahead = np.rint(np.nan_to_num(line.body_x[point, side]) / self.tracks.step).astype(np.int64)
        track = self.track_of(point)
        last = self.tracks.offsets[track + 1] - 1
        return np.asarray(np.clip(point + ahead, self.tracks.offsets[track], last))

    def chainage(self, point: Int64) -> Float64:
        """Give chainages of points; those beyond the ends of a segment count as its ends."""
        chainage: Float64 = np.clip(self.site.chainage[point], 0.0, self.scene.length_m[self.track_of(point) // 2])
        return chainage

    def thing(self, solid: Int64, point: Int64) -> Int64:
        """Turn numbers of solids near points into indices of the scene's things; what is no thing stays."""
        thing = np.where(solid >= 0, np.append(self.solids.thing, NOTHING)[np.maximum(solid, 0)], solid)
        for place in np.argwhere(solid == HELD):
            thing[tuple(place)] = self._holder(int(point[tuple(place)]))
        return thing

    def _holder(self, point: int) -> int:
        """Find the thing on the ground that is nearest to a point along its way, on whichever segment it lies."""
        track = int(self.track_of(np.array(point)))
        first, last = self.tracks.offsets[track], self.tracks.offsets[track + 1] - 1
        along = float(point - first if track % 2 == 0 else last - point) * self.tracks.step
        placed = self.site.placed
        own = np.isin(self.scene.things.kind[placed.thing], [kind.value for kind in IN_PROFILE])
        own &= placed.segment == track // 2
        if not own.any():
            return NOTHING
        return int(placed.thing[np.argmin(np.where(own, np.abs(placed.at - along), np.inf))])


def width_of(line: Driven, point: Int64, part: Int64) -> Float64:
    """Give the width that a part sweeps across the way at points, m; NaN where it never passes."""
    reach = line.reach[point, np.maximum(part, 0)].sum(axis=-1)
    return np.where(np.isfinite(reach), reach, np.nan)
