"""Attaches obstacles to the segments they lie on or beside: chainage, offset, extent.

A point belongs to the nearest segment. A line or polygon belongs to every
segment that it touches (a stream crosses many), and to the nearest when it
touches none; then it has one row for each, ``<id>-1``, ``<id>-2`` ….
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.survey.attributes import Value
from pipeline.survey.findings import Findings, Repair
from pipeline.survey.layer import Shapes
from pipeline.survey.places import PLACE_KINDS, Thing

__all__ = ["Attached", "attach"]

_CHORD_M = 0.5
"""Length of the stretch from which the direction of the trail is taken, m."""


@dataclass(frozen=True, slots=True)
class Attached:
    """One thing at one segment, or at none."""

    thing: Thing
    obstacle_id: str
    segment: int | None
    """Row of the segment; ``None`` when none is near."""
    row: dict[str, Value]
    """Attributes, with ``chainage_m`` and whatever else follows from the geometry."""


def attach(things: Sequence[Thing], shapes: Shapes, attach_m: float, findings: Findings) -> list[Attached]:
    """Attach things to segments.

    Parameters
    ----------
    things
        Obstacles and places in the working CRS.
    shapes
        Segments.
    attach_m
        Farther than this from every segment, a thing is attached to none; recorded unless it is a place.
    findings
        Collects the repairs.
    """
    flat = shapely.force_2d(shapes)
    tree = shapely.STRtree(flat)
    return [row for thing in things for row in _attach(thing, flat, tree, attach_m, findings)]


def _attach(
    thing: Thing, shapes: Shapes, tree: shapely.STRtree, attach_m: float, findings: Findings
) -> Iterator[Attached]:
    """Yield the rows of one thing."""
    rows = np.sort(tree.query(thing.shape, predicate="intersects")) if thing.shape.geom_type != "Point" else np.empty(0)
    if not rows.size:
        rows = np.sort(tree.query_nearest(thing.shape, max_distance=attach_m, all_matches=True))[:1]
    if not rows.size:
        if thing.kind not in PLACE_KINDS:
            detail = f"{thing.kind.value} {thing.obstacle_id} is farther than {attach_m:g} m from every segment"
            findings.repairs.append(Repair("not attached", thing.source, thing.feature, detail, thing.point))
        yield Attached(thing, thing.obstacle_id, None, {**thing.row, "chainage_m": None})
        return
    for number, row in enumerate(rows.astype(np.int64).tolist(), start=1):
        name = thing.obstacle_id if len(rows) == 1 else f"{thing.obstacle_id}-{number}"
        yield Attached(thing, name, row, _measured(thing, shapes[row]))


def _measured(thing: Thing, segment: shapely.LineString) -> dict[str, Value]:
    """Fill in what the geometry tells about a thing at *segment*."""
    on_trail = shapely.get_coordinates(thing.shape.intersection(segment)) if thing.shape is not thing.point else ()
    if len(on_trail):
        places = shapely.line_locate_point(segment, shapely.points(on_trail))
        at = float(places.min() + places.max()) / 2.0
    else:
        at = float(shapely.line_locate_point(segment, thing.point))
    foot, along = _frame(segment, at)
    row = {**thing.row, "chainage_m": at}
    if row["offset_m"] is None:
        row["offset_m"] = _offset(thing.point, segment, foot, along, on_trail=bool(len(on_trail)))
    if thing.shape.geom_type != "Point":
        _measure_extent(row, shapely.get_coordinates(thing.shape) - foot, along)
    return row


def _frame(segment: shapely.LineString, at: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Find the point at chainage *at* and the unit vector along the trail there."""
    places = [max(at - _CHORD_M / 2.0, 0.0), min(at + _CHORD_M / 2.0, segment.length), at]
    before, after, foot = shapely.get_coordinates(shapely.line_interpolate_point(segment, places))
    step = after - before
    return foot, step / max(float(np.hypot(*step)), 1e-12)


def _offset(
    point: shapely.Point,
    segment: shapely.LineString,
    foot: NDArray[np.float64],
    along: NDArray[np.float64],
    *,
    on_trail: bool,
) -> float:
    """Measure how far a point lies from the centre line, + right of the digitised direction, m."""
    away = np.array([point.x, point.y]) - foot
    right = float(away[0] * along[1] - away[1] * along[0])
    if on_trail:
        return right
    return float(np.copysign(segment.distance(point), right)) if right else 0.0


def _measure_extent(row: dict[str, Value], corners: NDArray[np.float64], along: NDArray[np.float64]) -> None:
    """Fill in the extent along and across the trail where it was not surveyed."""
    lengthwise = corners @ along
    across = corners @ np.array([along[1], -along[0]])
    if row["length_m"] is None:
        row["length_m"] = float(np.ptp(lengthwise))
    if row["width_m"] is None:
        row["width_m"] = float(np.ptp(across))
