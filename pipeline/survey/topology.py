"""Joins survey lines to a network: snapping, noding, splitting.

Lines are cut where they cross themselves, then where they cross, touch or
nearly touch each other, and at places. All meeting points closer than the
snap distance become one node (:mod:`pipeline.survey.cluster`), so that no end
moves farther than that. Bridges and tunnels are joined at what touches their
ends, or whose end touches them, and nowhere else.

The limit of the method: moving an end by up to the snap distance can make a
new crossing of that size, which is not noded again.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.survey.chains import Chains, Cut
from pipeline.survey.cluster import Nodes, cluster
from pipeline.survey.crossings import END, Levels, Meetings, crossings, feet, own_feet, self_meetings
from pipeline.survey.layer import Shapes
from pipeline.survey.spans import Tip, spans_of, tips

__all__ = ["Move", "Stop", "Topology", "join_lines"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
_MOVED_M = 1e-3
"""Shorter moves are rounding, not repairs, m."""


@dataclass(frozen=True, slots=True)
class Stop:
    """A place at which the network must have a node."""

    x: float
    y: float
    reach_m: float
    """A trail farther than this is not split for it."""


@dataclass(frozen=True, slots=True)
class Move:
    """An end or crossing that was moved to its node."""

    line: int
    old: tuple[float, float]
    new: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Topology:
    """Lines cut into parts between nodes; arrays have one entry a part, in order of line and chainage."""

    shapes: Shapes
    line: Ints
    """Number of the line that the part was cut from."""
    nodes: Ints
    """Nodes at start and end, (parts, 2)."""
    xy: Floats
    """Where the nodes stand, m; not all of them need be in use."""
    moves: tuple[Move, ...]
    stop_nodes: tuple[int | None, ...]
    """Node of each stop; ``None`` where the network is out of reach."""


@dataclass(frozen=True, slots=True)
class _Pieces:
    """Lines cut where they cross themselves, so that no piece does."""

    shapes: Shapes
    line: Ints
    start: Floats
    """Chainage on the line where the piece begins, m."""


def join_lines(shapes: Shapes, levels: Levels, stops: Sequence[Stop], snap_m: float) -> Topology:
    """Join lines to a network.

    Parameters
    ----------
    shapes
        LineStrings with or without Z, in a metric CRS.
    levels
        What passes over or under what.
    stops
        Places that must be nodes.
    snap_m
        Points closer than this are one node, m.
    """
    chains = Chains.of(shapes)
    pieces = _pieces(shapes, chains, levels)
    own = levels.of(pieces.line)
    ends = _ends(pieces)
    meetings = Meetings.join(
        ends, crossings(pieces.shapes, own), feet(pieces.shapes, own, snap_m), own_feet(pieces.shapes, own, snap_m)
    )
    nodes = cluster(meetings.xy, meetings.rank, snap_m)
    moves = _moves(meetings, nodes, pieces.line)
    meetings, nodes, stop_nodes = _add_stops(pieces, meetings, nodes, stops, snap_m)
    meetings, nodes = _add_tips(pieces, meetings, nodes, snap_m)
    spans = spans_of(pieces.shapes, meetings, nodes, snap_m)
    line, start = pieces.line[spans.line], pieces.start[spans.line]
    first, last = nodes.xy[spans.ends[:, 0]], nodes.xy[spans.ends[:, 1]]
    parts = chains.cut(Cut(line, start + spans.low, start + spans.high, first, last))
    return Topology(parts, line, spans.ends, nodes.xy, moves, stop_nodes)


def _pieces(shapes: Shapes, chains: Chains, levels: Levels) -> _Pieces:
    """Cut lines where they cross themselves; bridges and tunnels are left whole."""
    lengths = chains.lengths
    tangled = np.flatnonzero(~shapely.is_simple(shapes) & ~levels.apart)
    cuts = [self_meetings(shapely.force_2d(shapes[row])) for row in tangled]
    owner = np.repeat(tangled, [len(at) for at in cuts])
    inner = np.concatenate([np.empty(0), *cuts])
    rows = np.arange(len(shapes))
    line, low, high = (np.concatenate(pair) for pair in ((rows, owner), (np.zeros(len(rows)), inner), (lengths, inner)))
    order = np.lexsort((low, line))
    line, low = line[order], low[order]
    high = high[np.lexsort((high, np.concatenate((rows, owner))))]
    cut = Cut(line, low, high, chains.points(line, low), chains.points(line, high))
    return _Pieces(shapely.force_2d(chains.cut(cut)), line, low)


def _ends(pieces: _Pieces) -> Meetings:
    """List both ends of every piece."""
    count = len(pieces.shapes)
    ends = np.concatenate((shapely.get_point(pieces.shapes, 0), shapely.get_point(pieces.shapes, -1)))
    at = np.concatenate((np.zeros(count), shapely.length(pieces.shapes)))
    rank = np.full(2 * count, END, dtype=np.int64)
    return Meetings(np.tile(np.arange(count), 2), at, shapely.get_coordinates(ends), rank)


def _moves(meetings: Meetings, nodes: Nodes, line: Ints) -> tuple[Move, ...]:
    """List what moved to its node, once for each place and line."""
    new = nodes.xy[nodes.node]
    moved = np.flatnonzero(np.hypot(*(new - meetings.xy).T) > _MOVED_M)
    rows = {
        (int(line[meetings.line[row]]), tuple(meetings.xy[row].tolist()), tuple(new[row].tolist())) for row in moved
    }
    return tuple(Move(*row) for row in sorted(rows))


def _add_stops(
    pieces: _Pieces, meetings: Meetings, nodes: Nodes, stops: Sequence[Stop], snap_m: float
) -> tuple[Meetings, Nodes, tuple[int | None, ...]]:
    """Give each stop the node within the snap distance, else a new one at its foot on the nearest line."""
    found: list[int | None] = []
    tree = shapely.STRtree(pieces.shapes)
    for stop in stops:
        place = np.array([stop.x, stop.y])
        node = _near(nodes.xy, place, snap_m)
        if node is None:
            rows = tree.query_nearest(shapely.Point(place), max_distance=max(stop.reach_m, snap_m), all_matches=True)
            if len(rows):
                piece = int(rows.min())
                at = float(shapely.line_locate_point(pieces.shapes[piece], shapely.Point(place)))
                foot = shapely.get_coordinates(shapely.line_interpolate_point(pieces.shapes[piece], at))[0]
                meetings, nodes, node = _add(meetings, nodes, Tip(piece, at, foot), snap_m)
        found.append(node)
    return meetings, nodes, tuple(found)


def _add_tips(pieces: _Pieces, meetings: Meetings, nodes: Nodes, snap_m: float) -> tuple[Meetings, Nodes]:
    """Cut loops too narrow to be loops at their tips."""
    spans = spans_of(pieces.shapes, meetings, nodes, snap_m)
    for tip in list(tips(pieces.shapes, spans, nodes.xy, snap_m)):
        meetings, nodes, _ = _add(meetings, nodes, tip, snap_m)
    return meetings, nodes


def _add(meetings: Meetings, nodes: Nodes, place: Tip, snap_m: float) -> tuple[Meetings, Nodes, int]:
    """Cut a piece at a place: at the node within the snap distance of it, else at a new one."""
    node = _near(nodes.xy, place.xy, snap_m)
    xy = nodes.xy if node is not None else np.vstack((nodes.xy, place.xy))
    number = len(nodes.xy) if node is None else node
    more = Meetings(np.array([place.line]), np.array([place.at]), place.xy[None, :], np.array([END]))
    return Meetings.join(meetings, more), Nodes(np.append(nodes.node, number), xy), number


def _near(xy: Floats, place: Floats, reach_m: float) -> int | None:
    """Find the nearest node within reach; of equally near ones the first by x, then y."""
    distance = np.hypot(*(xy - place).T)
    best = int(np.lexsort((xy[:, 1], xy[:, 0], np.round(distance, 6)))[0])
    return best if distance[best] <= reach_m else None
