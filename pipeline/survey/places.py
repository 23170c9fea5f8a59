"""Reads obstacles and named places, and finds the trailhead among them."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely

from pipeline.errors import Fault
from pipeline.settings.suggest import did_you_mean
from pipeline.survey.attributes import OBSTACLE_ATTRIBUTES, Place, Value, own_id, read_row
from pipeline.survey.findings import SITE_SETTINGS, Findings, Repair
from pipeline.survey.layer import Layer
from pipeline.survey.lines import Line
from pipeline.survey.topology import Stop
from pipeline.terms import ObstacleKind

__all__ = [
    "PLACE_KINDS",
    "TRAILHEAD_REACH_M",
    "TURNING_KINDS",
    "Thing",
    "find_trailhead",
    "mentions",
    "read_things",
    "report_beside",
    "stops_of",
]

PLACE_KINDS = frozenset(
    {ObstacleKind.TRAILHEAD, ObstacleKind.TURNROUND, ObstacleKind.MUSTER, ObstacleKind.EXIT, ObstacleKind.NOTE}
)
"""Kinds that mark a place rather than a thing in the way; they may lie away from the trail."""
TURNING_KINDS = frozenset({ObstacleKind.TRAILHEAD, ObstacleKind.TURNROUND})
"""Kinds where a vehicle can turn round."""
TRAILHEAD_REACH_M = 50.0
"""A trailhead farther from every trail than this is a mistake."""
_BESIDE_M = 1000.0
"""A file of obstacles that are all farther from every trail than this belongs to other ground, or has the wrong CRS."""
_HOLLOW = frozenset({ObstacleKind.HOLE, ObstacleKind.DITCH, ObstacleKind.RUT})


@dataclass(frozen=True, slots=True)
class Thing:
    """One obstacle or named place."""

    obstacle_id: str
    kind: ObstacleKind
    shape: shapely.Geometry
    """Point, line or polygon in the working CRS."""
    point: shapely.Point
    """The point that stands for it."""
    source: str
    feature: str
    row: dict[str, Value] = field(default_factory=dict)
    """Attributes by column."""

    @property
    def name(self) -> str | None:
        """Its name; ``None`` when it has none."""
        name = self.row.get("name")
        return name if isinstance(name, str) else None


def read_things(layers: Sequence[Layer], findings: Findings) -> list[Thing]:
    """Read the obstacles and places of all layers, already in the working CRS.

    Parameters
    ----------
    layers
        Layers of obstacle files.
    findings
        Collects faults and repairs.
    """
    things: list[Thing] = []
    seen: set[str] = set()
    for layer in layers:
        for row in range(len(layer.shapes)):
            thing = _thing(layer, row, seen, findings)
            if thing is not None:
                things.append(thing)
    return things


def _thing(layer: Layer, number: int, seen: set[str], findings: Findings) -> Thing | None:
    """Read one obstacle; ``None`` when it cannot be used."""
    place = Place(layer.source, layer.features[number], own_id(layer.tags[number]))
    shape = layer.shapes[number]
    if shape is None or shape.is_empty:
        findings.faults.append(
            Fault(place.source, place.said, "an obstacle without a position", "a point, line or polygon")
        )
        return None
    before, mark = len(findings.faults), len(findings.repairs)
    row = read_row(layer.tags[number], OBSTACLE_ATTRIBUTES, place, findings)
    if len(findings.faults) > before:
        return None
    if row["kind"] is None:
        allowed = " | ".join(kind.value for kind in ObstacleKind)
        findings.faults.append(Fault(place.source, place.said, "kind is missing", allowed, "say what it is"))
        return None
    kind = ObstacleKind(str(row["kind"]))
    flat = shapely.force_2d(shape)
    if not flat.is_valid:
        flat = shapely.make_valid(flat)
        findings.repairs.append(Repair("shape repaired", place.source, place.feature, "its outline crosses itself"))
    point = _stand_in(flat)
    findings.locate_since(mark, point)
    _sink(row, kind, place, point, findings)
    name = _unique(own_id(layer.tags[number]) or f"{layer.path.stem}-{number + 1}", seen, place, point, findings)
    return Thing(name, kind, flat, point, place.source, place.feature, row)


def _stand_in(shape: shapely.Geometry) -> shapely.Point:
    """Choose the point that stands for a shape: the middle of a line, a point inside a polygon."""
    if shape.geom_type == "Point":
        return shape
    if shape.geom_type == "LineString":
        return shapely.line_interpolate_point(shape, 0.5, normalized=True)
    middle = shape.centroid
    inside = shape.geom_type == "MultiPoint" or shape.covers(middle)
    return middle if inside else shape.representative_point()


def _sink(row: dict[str, Value], kind: ObstacleKind, place: Place, point: shapely.Point, findings: Findings) -> None:
    """Read the height of a hole, ditch or rut as a depth when it was written as a positive number."""
    height = row["height_m"]
    if kind in _HOLLOW and isinstance(height, float) and height > 0.0:
        row["height_m"] = -height
        detail = f"height_m {height:g} of a {kind.value} read as {-height:g}, which is down"
        findings.repairs.append(Repair("value read", place.source, place.feature, detail, point))


def _unique(name: str, seen: set[str], place: Place, point: shapely.Point, findings: Findings) -> str:
    """Give an id that no other obstacle has."""
    number, unique = 1, name
    while unique in seen:
        number += 1
        unique = f"{name}-{number}"
    if unique != name:
        detail = f"the id {name} belongs to another obstacle; changed to {unique}"
        findings.repairs.append(Repair("id changed", place.source, place.feature, detail, point))
    seen.add(unique)
    return unique


def report_beside(things: Sequence[Thing], lines: Sequence[Line], findings: Findings) -> None:
    """Report obstacle files of which nothing lies near a trail.

    Such a file surveys some other ground, or says the wrong CRS; with it, every trail would count as surveyed and free.

    Parameters
    ----------
    things
        Obstacles and places in the working CRS.
    lines
        Lines of the network.
    findings
        Collects one fault a file.
    """
    tree = shapely.STRtree([shapely.force_2d(line.shape) for line in lines])
    for source in dict.fromkeys(thing.source for thing in things) if lines else ():
        shapes = [thing.shape for thing in things if thing.source == source and thing.kind not in PLACE_KINDS]
        if not shapes or len(tree.query(shapes, predicate="dwithin", distance=_BESIDE_M)[0]):
            continue
        _, distances = tree.query_nearest(shapes, all_matches=False, return_distance=True)
        found = f"none of its {len(shapes)} obstacles is near a trail; the nearest is {distances.min():.0f} m away"
        allowed = f"at least one within {_BESIDE_M:.0f} m"
        findings.faults.append(Fault(source, "", found, allowed, "check its CRS, or take it out of the settings"))


def find_trailhead(
    wanted: str | tuple[float, float],
    things: Sequence[Thing],
    lines: Sequence[Line],
    findings: Findings,
    *,
    explained: bool = False,
) -> shapely.Point | None:
    """Find where every loop begins and ends.

    Parameters
    ----------
    wanted
        Name of a surveyed place (a trailhead first, then any place, then anything), or coordinates in the working CRS.
    things
        Obstacles and places.
    lines
        Lines of the network.
    findings
        Collects the fault when it is not found, not unique, or too far away.
    explained
        Whether a name that no thing bears may stand where another fault is told already; it gives none then.
    """
    if isinstance(wanted, str) and explained and not _called(wanted, things):
        return None
    point = _named(wanted, things, findings) if isinstance(wanted, str) else shapely.Point(wanted)
    if point is None or not lines:
        return point
    distance = min(line.shape.distance(point) for line in lines)
    if distance > TRAILHEAD_REACH_M:
        west, south, east, north = shapely.total_bounds([line.shape for line in lines])
        findings.faults.append(
            Fault(
                SITE_SETTINGS,
                "[site] trailhead",
                f"({point.x:.6g}, {point.y:.7g}) is {distance:.0f} m from the nearest trail",
                f"at most {TRAILHEAD_REACH_M:.0f} m; the network spans x {west:.0f} to {east:.0f}, "
                f"y {south:.0f} to {north:.0f} in the working CRS",
                _mend(point),
            )
        )
    return point


def _named(wanted: str, things: Sequence[Thing], findings: Findings) -> shapely.Point | None:
    """Find the place of a name."""
    for group in _by_rank(_called(wanted, things)):
        points = {(thing.point.x, thing.point.y) for thing in group}
        if len(points) == 1:
            return group[0].point
        if group:
            where = ", ".join(f"{thing.feature} of {thing.source}" for thing in group)
            findings.faults.append(
                Fault(SITE_SETTINGS, "[site] trailhead", f"{len(group)} places are called {wanted!r}", "one", where)
            )
            return None
    names = sorted({thing.name for thing in things if thing.name is not None and thing.kind in PLACE_KINDS})
    known = ", ".join(names[:12]) or "none: no obstacle file names a place"
    findings.faults.append(
        Fault(
            SITE_SETTINGS,
            "[site] trailhead",
            f"no place is called {wanted!r}",
            f"named places: {known}",
            did_you_mean(wanted, [thing.name for thing in things if thing.name is not None])
            or "name a surveyed place, or give [x, y] in the working CRS",
        )
    )
    return None


def _mend(trailhead: shapely.Point) -> str:
    """Say what to do about a trailhead far from every trail."""
    if abs(trailhead.x) <= 180.0 and abs(trailhead.y) <= 90.0:
        return "these look like degrees: give metres in the working CRS, or name a surveyed place"
    return "correct the coordinates, or the position of the place"


def mentions(layers: Sequence[Layer], wanted: str | tuple[float, float]) -> bool:
    """Tell whether a feature bears the name of the trailhead, whether the feature can be used or not."""
    if not isinstance(wanted, str):
        return False
    plain = wanted.strip().casefold()
    return any(str(tags.get("name", "")).strip().casefold() == plain for layer in layers for tags in layer.tags)


def _called(wanted: str, things: Sequence[Thing]) -> list[Thing]:
    """List the things of a name, whatever its capitals."""
    plain = wanted.strip().casefold()
    return [thing for thing in things if thing.name is not None and thing.name.casefold() == plain]


def _by_rank(things: Sequence[Thing]) -> Iterator[list[Thing]]:
    """Yield trailheads, then other places, then the rest."""
    yield [thing for thing in things if thing.kind is ObstacleKind.TRAILHEAD]
    yield [thing for thing in things if thing.kind in PLACE_KINDS]
    yield list(things)


def stops_of(things: Sequence[Thing], trailhead: shapely.Point, attach_m: float) -> list[Stop]:
    """List the places that must be nodes: the trailhead first, then where vehicles can turn round."""
    turning = [thing.point for thing in things if thing.kind in TURNING_KINDS]
    return [
        Stop(trailhead.x, trailhead.y, TRAILHEAD_REACH_M),
        *(Stop(point.x, point.y, attach_m) for point in turning),
    ]


def near_places(things: Sequence[Thing], xy: np.ndarray, snap_m: float) -> Iterator[tuple[int, Thing]]:
    """Yield each place with the row of the node within *snap_m* of it, trailheads first."""
    order = [ObstacleKind.TRAILHEAD, ObstacleKind.TURNROUND, ObstacleKind.MUSTER, ObstacleKind.EXIT]
    for kind in order:
        for thing in things:
            if thing.kind is kind:
                distance = np.hypot(xy[:, 0] - thing.point.x, xy[:, 1] - thing.point.y)
                row = int(distance.argmin())
                if distance[row] <= snap_m:
                    yield row, thing
