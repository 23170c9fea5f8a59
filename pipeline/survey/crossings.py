"""Finds where lines cross, touch or nearly touch each other or themselves.

Crossings are found with a spatial index over whole lines, so that the work
grows with the number of meetings, not with the square of the lines.
"""

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.survey.chains import Chains
from pipeline.survey.layer import Shapes

__all__ = ["CROSSING", "END", "FOOT", "TOUCH_M", "Levels", "Meetings", "crossings", "feet", "own_feet", "self_meetings"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

CROSSING, FOOT, END = 0, 1, 2
"""How ready a meeting is to move: a crossing stands firmest, the free end of a line moves first."""
TOUCH_M = 0.01
"""Ends this near to a bridge or tunnel touch it; only then do they join it, m."""
_EPSILON_M = 1e-6


@dataclass(frozen=True, slots=True)
class Levels:
    """What passes over or under what."""

    apart: NDArray[np.bool_]
    """Bridges and tunnels: never joined where others cross them."""
    layer: Ints
    """Order of crossing without a bridge or tunnel; only equal ones meet."""

    def of(self, rows: Ints) -> "Levels":
        """Take the levels of some lines."""
        return Levels(self.apart[rows], self.layer[rows])

    def separated(self, left: Ints, right: Ints) -> NDArray[np.bool_]:
        """Tell which pairs of lines pass each other on different levels."""
        return np.asarray(self.apart[left] | self.apart[right] | (self.layer[left] != self.layer[right]))


@dataclass(frozen=True, slots=True)
class Meetings:
    """Places on lines where something meets them; all arrays have one entry a place."""

    line: Ints
    at: Floats
    """Chainage, m."""
    xy: Floats
    """Where it is, (n, 2), m."""
    rank: Ints

    @classmethod
    def join(cls, *all_of: "Meetings") -> "Meetings":
        """Put several together."""
        return cls(
            np.concatenate([one.line for one in all_of]),
            np.concatenate([one.at for one in all_of]),
            np.concatenate([one.xy for one in all_of]),
            np.concatenate([one.rank for one in all_of]),
        )

    @classmethod
    def on(cls, shapes: Shapes, line: Ints, points: Shapes, rank: int) -> "Meetings":
        """Place *points* on the lines they belong to, without those at the lines' ends."""
        at = shapely.line_locate_point(shapes[line], points)
        inner = (at > _EPSILON_M) & (at < shapely.length(shapes[line]) - _EPSILON_M)
        xy = shapely.get_coordinates(points[inner])
        return cls(line[inner], at[inner], xy, np.full(len(xy), rank, dtype=np.int64))


def crossings(shapes: Shapes, levels: Levels) -> Meetings:
    """Find where different lines of one level cross or touch, and where overlaps begin and end.

    Parameters
    ----------
    shapes
        Plane lines, none crossing itself.
    levels
        Levels of the lines.
    """
    left, right = shapely.STRtree(shapes).query(shapes, predicate="intersects")
    chosen = (left < right) & ~levels.separated(left, right)
    left, right = left[chosen], right[chosen]
    common = shapely.intersection(shapes[left], shapes[right])
    points, pair = _points_of(common)
    both = np.concatenate((left[pair], right[pair]))
    return Meetings.on(shapes, both, np.concatenate((points, points)), CROSSING)


def _points_of(common: Shapes) -> tuple[Shapes, Ints]:
    """Take the points of intersections, and the ends of their lines, with the number of the pair each belongs to."""
    parts, pair = shapely.get_parts(common, return_index=True)
    kind = shapely.get_type_id(parts)
    points, owners = [parts[kind == 0]], [pair[kind == 0]]
    for number in np.unique(pair[kind == 1]):
        lines = shapely.multilinestrings(parts[(pair == number) & (kind == 1)])
        ends = shapely.get_parts(shapely.boundary(shapely.line_merge(lines)))
        points.append(ends)
        owners.append(np.full(len(ends), number))
    return np.concatenate(points), np.concatenate(owners).astype(np.int64)


def feet(shapes: Shapes, levels: Levels, snap_m: float) -> Meetings:
    """Find where the end of one line comes within *snap_m* of the inside of another.

    A bridge or tunnel is joined only by an end that touches it.
    """
    ends = np.concatenate((shapely.get_point(shapes, 0), shapely.get_point(shapes, -1)))
    owner = np.tile(np.arange(len(shapes)), 2)
    end, line = shapely.STRtree(shapes).query(ends, predicate="dwithin", distance=snap_m)
    other = owner[end] != line
    end, line = end[other], line[other]
    gap = shapely.distance(ends[end], shapes[line])
    at = shapely.line_locate_point(shapes[line], ends[end])
    length = shapely.length(shapes[line])
    near_start = (shapely.distance(ends[end], shapely.get_point(shapes[line], 0)) <= snap_m) & (at <= 2.0 * snap_m)
    near_end = (shapely.distance(ends[end], shapely.get_point(shapes[line], -1)) <= snap_m) & (
        at >= length - 2.0 * snap_m
    )
    passing = levels.separated(owner[end], line) & (gap > TOUCH_M)
    chosen = ~near_start & ~near_end & ~passing
    points = shapely.line_interpolate_point(shapes[line[chosen]], at[chosen])
    return Meetings.on(shapes, line[chosen], points, FOOT)


def own_feet(shapes: Shapes, levels: Levels, snap_m: float) -> Meetings:
    """Find where the end of a line comes back within *snap_m* of its own inside.

    Only the stretch farther than twice *snap_m* along the line from both its ends counts.
    """
    chains = Chains.of(shapes)
    owner = np.repeat(np.arange(len(shapes)), np.diff(chains.offsets))
    first = np.flatnonzero(owner[:-1] == owner[1:])
    line, xy = owner[first], chains.xyz[:, :2]
    low, high = chains.chainage[first], chains.chainage[first + 1]
    free_low, free_high = 2.0 * snap_m, chains.lengths[line] - 2.0 * snap_m
    found = []
    for end in (chains.offsets[:-1], chains.offsets[1:] - 1):
        start, step = xy[first], xy[first + 1] - xy[first]
        share = np.einsum("ij,ij->i", xy[end[line]] - start, step) / np.einsum("ij,ij->i", step, step)
        at = np.clip(low + share * (high - low), np.maximum(low, free_low), np.minimum(high, free_high))
        usable = (at >= np.maximum(low, free_low)) & (at <= np.minimum(high, free_high)) & ~levels.apart[line]
        share = np.where(high > low, (at - low) / (high - low), 0.0)
        gap = np.hypot(*(start + share[:, None] * step - xy[end[line]]).T)
        near = np.flatnonzero(usable & (gap <= snap_m))
        near = near[np.lexsort((at[near], gap[near], line[near]))]
        best = near[np.unique(line[near], return_index=True)[1]]
        found.append((line[best], at[best]))
    lines, places = (np.concatenate(part) for part in zip(*found, strict=True))
    points = chains.points(lines, places)
    return Meetings(lines, places, points, np.full(len(lines), FOOT, dtype=np.int64))


def self_meetings(shape: shapely.LineString) -> Floats:
    """Find the chainages where one line crosses, touches or retraces itself, its ends left out, sorted, m.

    A stretch that is driven twice is cut where it begins and where it ends, not at each vertex on the way.
    """
    vertices = shapely.get_coordinates(shape)
    chainage = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(vertices, axis=0).T))))
    pieces = shapely.linestrings(np.stack((vertices[:-1], vertices[1:]), axis=1))
    tree = shapely.STRtree(pieces)
    left, right = tree.query(pieces, predicate="intersects")
    left, right = left[left < right], right[left < right]
    common = shapely.intersection(pieces[left], pieces[right])
    flat = shapely.get_dimensions(common) == 0
    twice = shapely.line_merge(shapely.union_all(common[~flat]))
    points = shapely.get_parts(common[flat & (right != left + 1)])
    points = points[shapely.distance(points, twice) > _EPSILON_M] if not twice.is_empty else points
    turns = _open_ends(shapely.get_parts(twice))
    points = np.concatenate((points, turns))
    point, piece = tree.query(points, predicate="dwithin", distance=_EPSILON_M)
    start = vertices[piece]
    at = np.sort(chainage[piece] + np.hypot(*(shapely.get_coordinates(points)[point] - start).T))
    at = at[(at > 2.0 * _EPSILON_M) & (at < chainage[-1] - 2.0 * _EPSILON_M)]
    return np.asarray(at[np.diff(at, prepend=-1.0) > 3.0 * _EPSILON_M])


def _open_ends(lines: Shapes) -> Shapes:
    """Give the end points of *lines*; of a closed one the point where it begins."""
    ends = np.concatenate((shapely.get_point(lines, 0), shapely.get_point(lines, -1)))
    return np.asarray(ends[~shapely.is_missing(ends)], dtype=object)
