"""Things at and near nodes: what was surveyed on one trail can stand in the way of another that begins there.

The survey puts a point on the nearest segment alone. At a node several are equally near, and where trails part at a
small angle a rock beside one lies on the other. So every thing is also looked at from the segments that share a node
with its own, and copied to those that it reaches. Trails that share no node (over and under a bridge) share nothing.
"""

from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.checks.obstacles import Things
from pipeline.survey.model import Network
from pipeline.terms import ObstacleKind

__all__ = ["with_neighbours"]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]
Flags = NDArray[np.bool_]

BESIDE_M = 1.5
"""A thing whose edge is this close to a centre line may touch a vehicle there: half of the widest one and a margin.
Assumption, no source."""
AT_NODE_M = 0.1
"""A thing of no length this close to a node is on all trails that meet there: the spacing of the profiles."""
CHORD_M = 0.5
"""Length of the stretch from which the direction of a trail is taken."""
SQUARE_COS = 0.7
"""Trails that cross at more than about 45° see a thing's length as its width."""


def with_neighbours(things: Things, network: Network) -> Things:
    """Add to *things* a copy for every further segment that they reach.

    Parameters
    ----------
    things
        What lies on the segments.
    network
        The segments and their nodes.

    Returns
    -------
    Things
        All of them, sorted by segment, then chainage; copies have ``copied`` set. Chainage, offset, extent and the
        sense of a step are those seen along the other segment.
    """
    thing, row = _candidates(things, network)
    if thing.size == 0:
        return things
    lines = np.asarray(shapely.force_2d(network.segments.geometry.to_numpy()))
    own = things.where(thing)
    foot, along = _frames(lines[own.row], own.at_m)
    aside = np.nan_to_num(own.offset_m, nan=0.0)[:, None] * _right(along)
    place = foot + aside
    at = shapely.line_locate_point(lines[row], shapely.points(place))
    near, direction = _frames(lines[row], at)
    away = place - near
    beyond, offset = (away * direction).sum(axis=1), (away * _right(direction)).sum(axis=1)
    cosine = (along * direction).sum(axis=1)
    copies = _seen_from(own, row, (at, offset, cosine))
    reach = np.maximum(np.nan_to_num(copies.length_m, nan=0.0) / 2.0, AT_NODE_M)
    close = np.abs(offset) - np.nan_to_num(copies.width_m, nan=0.0) / 2.0 <= BESIDE_M
    joined = _joined(things, copies.where(close & (np.abs(beyond) <= reach)))
    return joined.where(np.lexsort((joined.number, joined.at_m, joined.row)))


def _candidates(things: Things, network: Network) -> tuple[Int64, Int64]:
    """Pair every thing with the segments that share a node with its own."""
    ends = network.segments[["node_a", "node_b"]].to_numpy(np.int64)
    segments = len(ends)
    node, row = ends.T.ravel(), np.tile(np.arange(segments), 2)
    order = np.argsort(node, kind="stable")
    pairs = []
    for end in (0, 1):
        asked = ends[things.row, end]
        low = np.searchsorted(node[order], asked, side="left")
        counts = np.searchsorted(node[order], asked, side="right") - low
        thing = np.repeat(np.arange(things.row.size), counts)
        nth = np.arange(thing.size) - np.repeat(np.cumsum(counts) - counts, counts)
        pairs.append(np.column_stack([thing, row[order[np.repeat(low, counts) + nth]]]))
    unique = np.unique(np.concatenate(pairs), axis=0)
    unique = unique[things.row[unique[:, 0]] != unique[:, 1]]
    return unique[:, 0], unique[:, 1]


def _frames(lines: NDArray[np.object_], at_m: Float64) -> tuple[Float64, Float64]:
    """Point at a chainage of each line, and the unit vector along it there, each of shape (n, 2)."""
    length = shapely.length(lines)
    before = shapely.line_interpolate_point(lines, np.maximum(at_m - CHORD_M / 2.0, 0.0))
    after = shapely.line_interpolate_point(lines, np.minimum(at_m + CHORD_M / 2.0, length))
    step = shapely.get_coordinates(after) - shapely.get_coordinates(before)
    foot = shapely.get_coordinates(shapely.line_interpolate_point(lines, np.clip(at_m, 0.0, length)))
    return foot, step / np.maximum(np.hypot(*step.T), 1e-12)[:, None]


def _right(along: Float64) -> Float64:
    """Turn vectors to the right."""
    return np.column_stack([along[:, 1], -along[:, 0]])


def _seen_from(own: Things, row: Int64, seen: tuple[Float64, Float64, Float64]) -> Things:
    """Describe things as they are seen along other segments."""
    at, offset, cosine = seen
    square = np.abs(cosine) < SQUARE_COS
    turned = (own.kind == ObstacleKind.STEP.value) & (cosine < 0.0)
    return replace(
        own,
        row=row,
        at_m=at,
        offset_m=offset,
        height_m=np.where(turned, -own.height_m, own.height_m),
        length_m=np.where(square, own.width_m, own.length_m),
        width_m=np.where(square, own.length_m, own.width_m),
        copied=np.ones(row.size, dtype=np.bool_),
    )


def _joined(one: Things, other: Things) -> Things:
    """Put things one after another."""
    names = Things.__dataclass_fields__
    return Things(*(np.concatenate([getattr(one, name), getattr(other, name)]) for name in names))
