"""Turns the features of the network's layers into clean lines, and records every change.

Multi-part features are exploded, what is no line or has no length is dropped,
doubled vertices are removed, and heights are kept only where they are survey
grade.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.errors import Fault
from pipeline.survey.attributes import Place, Value, own_id, read_trail
from pipeline.survey.findings import Findings, Repair
from pipeline.survey.layer import Layer

__all__ = ["Line", "read_lines"]

_LOWEST_M, _HIGHEST_M = -500.0, 9000.0
"""Heights of dry ground: the shore of the Dead Sea lies at about -430 m, the highest summit at about 8,850 m."""


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the survey, clean but not yet joined to others."""

    shape: shapely.LineString
    """In the working CRS; with Z only where the heights are survey grade."""
    row: dict[str, Value]
    """Attributes by column."""
    source: str
    """File, and layer, it came from."""
    feature: str
    """Its id there, for messages."""
    own_id: str | None
    """The id the source gave it."""


def read_lines(layers: Sequence[Layer], findings: Findings) -> list[Line]:
    """Clean the features of all layers.

    Parameters
    ----------
    layers
        Layers of the network, all in the working CRS.
    findings
        Collects faults and repairs.
    """
    return [line for layer in layers for row in range(len(layer.shapes)) for line in _feature(layer, row, findings)]


def _feature(layer: Layer, row: int, findings: Findings) -> Iterator[Line]:
    """Yield the clean lines of one feature."""
    place = Place(layer.source, layer.features[row], own_id(layer.tags[row]))
    shape = layer.shapes[row]
    if shape is None or shape.is_empty:
        findings.repairs.append(
            Repair("dropped", place.source, place.feature, f"{place.own_id or 'it'} has no geometry, or a broken one")
        )
        return
    parts = list(_line_parts(shape))
    if not parts:
        detail = f"a {shape.geom_type}, not a line"
        findings.repairs.append(Repair("dropped", place.source, place.feature, detail, shapely.force_2d(shape)))
        return
    if len(parts) > 1 or shape.geom_type == "GeometryCollection":
        detail = f"a {shape.geom_type} taken apart into {len(parts)} lines"
        findings.repairs.append(Repair("exploded", place.source, place.feature, detail, _plan(parts)))
    mark = len(findings.repairs)
    attributes = read_trail(layer.tags[row], place, findings)
    findings.locate_since(mark, _plan(parts))
    for part in parts:
        clean = _clean(part, place, attributes.get("profile") == "survey", findings)
        if clean is not None:
            yield Line(clean, attributes, place.source, place.feature, own_id(layer.tags[row]))


def _line_parts(shape: shapely.Geometry) -> Iterator[shapely.LineString]:
    """Yield the lines inside a geometry, however deep, that have any coordinates."""
    if shape.geom_type in {"LineString", "LinearRing"}:
        if not shape.is_empty:
            yield shapely.LineString(shape.coords)
    elif shape.geom_type in {"MultiLineString", "GeometryCollection"}:
        for part in shape.geoms:
            yield from _line_parts(part)


def _plan(parts: Sequence[shapely.LineString]) -> shapely.Geometry:
    """Give *parts* as one plane geometry."""
    if len(parts) == 1:
        return shapely.force_2d(parts[0])
    return shapely.force_2d(shapely.MultiLineString(list(parts)))


def _clean(part: shapely.LineString, place: Place, surveyed: bool, findings: Findings) -> shapely.LineString | None:  # noqa: FBT001 — a property of the feature, not a switch
    """Clean one line; ``None`` when nothing of it is left."""
    coordinates = shapely.get_coordinates(part, include_z=True)
    moved = np.any(np.diff(coordinates[:, :2], axis=0) != 0.0, axis=1)
    kept = np.concatenate(([True], moved))
    doubled = int((~kept).sum())
    if kept.sum() < 2:
        detail = "all its points are in one place"
        where = shapely.Point(coordinates[0, :2])
        findings.repairs.append(Repair("dropped", place.source, place.feature, detail, where, 0.0))
        return None
    if doubled:
        detail = f"{doubled} doubled {'vertex' if doubled == 1 else 'vertices'} removed"
        where = shapely.MultiPoint(coordinates[~kept, :2])
        findings.repairs.append(Repair("vertices removed", place.source, place.feature, detail, where))
    if not surveyed:
        return shapely.LineString(coordinates[kept, :2])
    return _surveyed(coordinates[kept], place, findings)


def _surveyed(coordinates: NDArray[np.float64], place: Place, findings: Findings) -> shapely.LineString | None:
    """Keep the heights of a survey-grade line, or report why they cannot be.

    A height of exactly 0 beside others is what GDAL puts where a GeoJSON position has none.
    """
    heights = coordinates[:, 2]
    lacking = ~np.isfinite(heights) | (heights == 0.0)
    if not lacking.any():
        return _believable(coordinates, place, findings)
    findings.faults.append(
        Fault(
            place.source,
            place.said,
            f"profile = survey, but {int(lacking.sum())} of {lacking.size} vertices have no height (or exactly 0)",
            "a height at every vertex, m",
            "add the heights, or clear profile",
        )
    )
    return None


def _believable(coordinates: NDArray[np.float64], place: Place, findings: Findings) -> shapely.LineString | None:
    """Refuse heights that no ground has; they are in another unit."""
    wild = coordinates[(coordinates[:, 2] < _LOWEST_M) | (coordinates[:, 2] > _HIGHEST_M), 2]
    if not wild.size:
        return shapely.LineString(coordinates)
    found = f"profile = survey, but heights reach {wild[np.abs(wild).argmax()]:.0f} m"
    allowed = f"{_LOWEST_M:.0f} to {_HIGHEST_M:.0f} m"
    findings.faults.append(Fault(place.source, place.said, found, allowed, "bring them to metres, or clear profile"))
    return None
