"""Lines as flat arrays: vertices, chainages, and the cutting of many parts at once."""

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.survey.layer import Shapes

__all__ = ["Chains", "Cut"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Cut:
    """Parts to cut out of lines; all arrays have one entry a part."""

    line: Ints
    """Number of the line."""
    low: Floats
    """Chainage where the part begins, m."""
    high: Floats
    """Chainage where it ends, m."""
    first: Floats
    """Where its first vertex shall stand, x and y, m."""
    last: Floats
    """Where its last vertex shall stand, x and y, m."""


@dataclass(frozen=True, slots=True)
class Chains:
    """Lines as flat arrays of vertices, line after line."""

    xyz: Floats
    """Vertices (n, 3), m; z is NaN where the line has none."""
    offsets: Ints
    """First vertex of each line, and n at the end."""
    chainage: Floats
    """Plan distance of each vertex from the start of its line, m."""

    @classmethod
    def of(cls, shapes: Shapes) -> "Chains":
        """Lay out *shapes*, LineStrings of any dimension."""
        xyz, owner = shapely.get_coordinates(shapes, include_z=True, return_index=True)
        offsets = np.concatenate(([0], np.cumsum(np.bincount(owner, minlength=len(shapes))))).astype(np.int64)
        steps = np.hypot(*np.diff(xyz[:, :2], axis=0, prepend=xyz[:1, :2]).T)
        steps[offsets[:-1]] = 0.0
        total = np.cumsum(steps)
        return cls(xyz, offsets, total - np.repeat(total[offsets[:-1]], np.diff(offsets)))

    @property
    def lengths(self) -> Floats:
        """Plan length of each line, m."""
        return self.chainage[self.offsets[1:] - 1]

    @property
    def _starts(self) -> Floats:
        """Place of each line on one long axis, so that a chainage of any line is one number there."""
        return np.concatenate(([0.0], np.cumsum(self.lengths + 1.0)[:-1]))

    def _axis(self) -> Floats:
        """Place of each vertex on the long axis; strictly ordered along each line."""
        return np.repeat(self._starts, np.diff(self.offsets)) + self.chainage

    def heights(self, line: Ints, at: Floats) -> Floats:
        """Interpolate the height at chainage *at* of each of *line*; NaN where it has none."""
        inside = np.clip(at, 0.0, self.lengths[line])
        return np.interp(self._starts[line] + inside, self._axis(), self.xyz[:, 2])

    def cut(self, cut: Cut) -> Shapes:
        """Cut parts out of the lines.

        The ends of a part are put where *cut* says. When that moves an end by some distance, vertices nearer to the
        end than that, along the line, are left out, so that the line does not double back.

        Returns
        -------
        Shapes
            One LineString a part, with Z where the line has it.
        """
        axis, start = self._axis(), self._starts[cut.line]
        margin = 1e-6
        old = self.points(np.tile(cut.line, 2), np.concatenate((cut.low, cut.high)))
        shift = np.hypot(*(old - np.concatenate((cut.first, cut.last))).T).reshape(2, -1)
        shift = np.where(shift.sum(axis=0) < (cut.high - cut.low), shift, 0.0)
        begin = np.searchsorted(axis, start + cut.low + shift[0] + margin, side="right")
        end = np.maximum(np.searchsorted(axis, start + cut.high - shift[1] - margin, side="left"), begin)
        count = end - begin
        inner = np.repeat(begin - (np.cumsum(count) - count), count) + np.arange(count.sum())
        part = np.repeat(np.arange(count.size), count)
        ends = [np.column_stack((cut.first, self.heights(cut.line, cut.low))), self.xyz[inner]]
        ends.append(np.column_stack((cut.last, self.heights(cut.line, cut.high))))
        coordinates = np.concatenate(ends)
        order = np.argsort(np.concatenate((np.arange(count.size), part, np.arange(count.size))), kind="stable")
        return _linestrings(coordinates[order], np.repeat(np.arange(count.size), count + 2))

    def points(self, line: Ints, at: Floats) -> Floats:
        """Find x and y at chainage *at* of each of *line*."""
        place, axis = self._starts[line] + at, self._axis()
        return np.column_stack([np.interp(place, axis, self.xyz[:, column]) for column in (0, 1)])


def _linestrings(coordinates: Floats, owner: Ints) -> Shapes:
    """Build LineStrings from vertices in order, 2D where no vertex of the line has a height."""
    count = int(owner[-1]) + 1 if owner.size else 0
    shapes = np.empty(count, dtype=object)
    flat = np.bincount(owner, weights=np.isnan(coordinates[:, 2]), minlength=count) > 0
    for is_flat, columns in ((True, 2), (False, 3)):
        chosen = np.flatnonzero(flat == is_flat)
        rows = np.isin(owner, chosen)
        if chosen.size:
            number = np.searchsorted(chosen, owner[rows])
            shapes[chosen] = shapely.linestrings(coordinates[rows, :columns], indices=number)
    return shapes
