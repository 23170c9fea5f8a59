"""Stretches of lines between neighbouring nodes, and what becomes of loops narrower than the snap distance.

Two legs of a hairpin, or a track that goes out and comes back, can end up at
one node. Left as a loop they would say that a vehicle can come back without
turning round; so such a loop is cut at its tip, where it becomes two lines
that double each other, of which one is dropped.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.survey.cluster import Nodes
from pipeline.survey.crossings import Meetings
from pipeline.survey.layer import Shapes

__all__ = ["Spans", "Tip", "spans_of", "tips"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Spans:
    """Stretches of lines between neighbouring meetings; arrays have one entry a stretch."""

    line: Ints
    low: Floats
    """Chainage where it begins, m."""
    high: Floats
    """Chainage where it ends, m."""
    ends: Ints
    """Nodes at start and end, (stretches, 2)."""


@dataclass(frozen=True, slots=True)
class Tip:
    """The far end of a loop that is too narrow to be one."""

    line: int
    at: float
    """Chainage, m."""
    xy: Floats


def spans_of(shapes: Shapes, meetings: Meetings, nodes: Nodes, snap_m: float) -> Spans:
    """List the stretches between neighbouring meetings; what shrinks into a node is left out.

    Parameters
    ----------
    shapes
        Plane lines.
    meetings, nodes
        Where lines meet, and the node of each meeting.
    snap_m
        Snap distance, m.
    """
    order = np.lexsort((nodes.node, meetings.at, meetings.line))
    line, at, node = meetings.line[order], meetings.at[order], nodes.node[order]
    apart = (node[:-1] != node[1:]) | (at[1:] - at[:-1] > 2.0 * snap_m)
    first = np.flatnonzero((line[:-1] == line[1:]) & apart)
    spans = Spans(line[first], at[first], at[first + 1], np.column_stack((node[first], node[first + 1])))
    kept = np.ones(len(first), dtype=bool)
    for row, _, _, reach in _loops(shapes, spans, nodes.xy):
        kept[row] = reach > snap_m
    return Spans(spans.line[kept], spans.low[kept], spans.high[kept], spans.ends[kept])


def tips(shapes: Shapes, spans: Spans, xy: Floats, snap_m: float) -> Iterator[Tip]:
    """Yield the tips of loops that are narrower, on the average of their length, than the snap distance."""
    for row, points, at, _ in _loops(shapes, spans, xy):
        node = xy[spans.ends[row, 0]]
        width = 0.0
        if len(points) > 1:
            width = shapely.Polygon([node, *points]).area / ((spans.high[row] - spans.low[row]) / 2.0)
        if width < snap_m:
            far = int(np.hypot(*(points - node).T).argmax())
            yield Tip(int(spans.line[row]), float(at[far]), points[far])


def _loops(shapes: Shapes, spans: Spans, xy: Floats) -> Iterator[tuple[int, Floats, Floats, float]]:
    """Yield each stretch from a node to itself: row, its vertices, their chainages, and how far it reaches, m."""
    for row in np.flatnonzero(spans.ends[:, 0] == spans.ends[:, 1]).tolist():
        vertices = shapely.get_coordinates(shapes[spans.line[row]])
        at = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(vertices, axis=0).T))))
        inside = (at > spans.low[row]) & (at < spans.high[row])
        reach = np.hypot(*(vertices[inside] - xy[spans.ends[row, 0]]).T)
        yield row, vertices[inside], at[inside], float(reach.max(initial=0.0))
