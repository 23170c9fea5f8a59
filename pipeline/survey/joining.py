"""From clean lines to segments: duplicates out, joined, cut, duplicates out again, every change recorded."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.survey.cluster import cluster
from pipeline.survey.crossings import Levels
from pipeline.survey.duplicates import duplicates
from pipeline.survey.findings import Findings, Repair
from pipeline.survey.layer import Shapes
from pipeline.survey.lines import Line
from pipeline.survey.topology import Stop, Topology, join_lines
from pipeline.terms import Status

__all__ = ["Joined", "join"]

Ints = NDArray[np.int64]
_SEVERITY = (Status.OPEN.value, Status.PROPOSED.value, Status.CLOSED.value)


@dataclass(frozen=True, slots=True)
class Joined:
    """The network before its tables are made."""

    lines: tuple[Line, ...]
    """All survey lines; ``Repair.line`` counts in them."""
    parts: Topology
    """Segments; ``line`` counts in ``lines``."""


def join(lines: Sequence[Line], stops: Sequence[Stop], snap_m: float, findings: Findings) -> Joined:
    """Join lines to a network and record what changed.

    Parameters
    ----------
    lines
        Clean lines in the working CRS.
    stops
        Places that must be nodes.
    snap_m
        Snap distance, m.
    findings
        Collects the repairs.
    """
    shapes = _array([line.shape for line in lines])
    keeper = _doubled_lines(lines, shapes, snap_m)
    lines = _inherit_status(lines, keeper)
    _record_doubled(lines, keeper, findings)
    kept = np.flatnonzero(keeper == np.arange(len(lines)))
    parts = join_lines(shapes[kept], _levels([lines[row] for row in kept]), stops, snap_m)
    parts = replace(
        parts, line=kept[parts.line], moves=tuple(replace(move, line=int(kept[move.line])) for move in parts.moves)
    )
    _record_lost(lines, kept, parts, findings)
    keeper = _doubled_parts(lines, parts, snap_m)
    lines = _inherit_status(lines, parts.line[keeper], parts.line)
    parts = _drop(parts, keeper, lines, findings)
    _record_moves(lines, parts, findings)
    _record_splits(lines, parts, findings)
    return Joined(tuple(lines), parts)


def _array(shapes: Sequence[shapely.Geometry]) -> Shapes:
    """Put geometries into an object array."""
    array = np.empty(len(shapes), dtype=object)
    array[:] = shapes
    return array


def _levels(lines: Sequence[Line]) -> Levels:
    """Take the levels of the lines from their attributes."""
    apart = np.array([bool(line.row["bridge"]) or bool(line.row["tunnel"]) for line in lines], dtype=bool)
    return Levels(apart, np.array([int(line.row["layer"] or 0) for line in lines], dtype=np.int64))


def _group(line: Line) -> tuple[object, ...]:
    """Give what two lines must share to stand for one another."""
    return tuple(line.row[key] for key in ("bridge", "tunnel", "layer", "ford"))


def _preferences(lines: Sequence[Line]) -> Ints:
    """Prefer lines with survey-grade heights, then those with an id, then those of the file that was named first."""
    files = {source: number for number, source in enumerate(dict.fromkeys(line.source for line in lines))}
    rank = [(2 * (line.row["profile"] is None) + (line.own_id is None), files[line.source]) for line in lines]
    return np.array([grade * len(files) + number for grade, number in rank], dtype=np.int64)


def _doubled_lines(lines: Sequence[Line], shapes: Shapes, snap_m: float) -> Ints:
    """Find whole lines that were surveyed twice."""
    ends = np.concatenate((shapely.get_point(shapes, 0), shapely.get_point(shapes, -1)))
    nodes = cluster(shapely.get_coordinates(ends), np.zeros(len(ends), dtype=np.int64), snap_m)
    return duplicates(
        shapely.force_2d(shapes),
        nodes.node.reshape(2, -1).T,
        [_group(line) for line in lines],
        _preferences(lines),
        snap_m,
    )


def _doubled_parts(lines: Sequence[Line], parts: Topology, snap_m: float) -> Ints:
    """Find parts that run together between the same nodes."""
    groups = [_group(lines[row]) for row in parts.line]
    return duplicates(shapely.force_2d(parts.shapes), parts.nodes, groups, _preferences(lines)[parts.line], snap_m)


def _inherit_status(lines: Sequence[Line], keeper: Ints, dropped: Ints | None = None) -> list[Line]:
    """Close a line that stands for a closed one: what is dropped never opens a trail."""
    changed = list(lines)
    rows = np.arange(len(lines)) if dropped is None else dropped
    for row, kept in zip(rows.tolist(), keeper.tolist(), strict=True):
        status = max(str(changed[kept].row["status"]), str(lines[row].row["status"]), key=_SEVERITY.index)
        if status != changed[kept].row["status"]:
            changed[kept] = replace(changed[kept], row={**changed[kept].row, "status": status})
    return changed


def _record_doubled(lines: Sequence[Line], keeper: Ints, findings: Findings) -> None:
    """Record each line that is dropped because another stands for it."""
    for row in np.flatnonzero(keeper != np.arange(len(lines))).tolist():
        line, kept = lines[row], lines[keeper[row]]
        findings.repairs.append(_doubled(line, kept, line.shape, int(keeper[row])))


def _doubled(line: Line, kept: Line, shape: shapely.Geometry, row: int) -> Repair:
    """Describe a line that is dropped because *kept* stands for it."""
    lost = [
        f"{key} {value}"
        for key, value in line.row.items()
        if key != "status" and value not in (None, False, kept.row[key]) and value == value  # noqa: PLR0124 — NaN is no value
    ]
    same = "its other part" if line is kept else f"{kept.feature} of {kept.source}"
    detail = f"the same line as {same}" + (f"; not taken over: {', '.join(lost)}" if lost else "")
    where = shapely.force_2d(shape)
    return Repair("dropped duplicate", line.source, line.feature, detail, where, shapely.length(where), row)


def _record_lost(lines: Sequence[Line], kept: Ints, parts: Topology, findings: Findings) -> None:
    """Record lines so short that nothing of them is left."""
    for row in np.setdiff1d(kept, parts.line).tolist():
        line = lines[row]
        detail = f"{line.shape.length:.2f} m long: its ends are one node"
        where = shapely.force_2d(line.shape)
        findings.repairs.append(Repair("dropped", line.source, line.feature, detail, where, line.shape.length))


def _drop(parts: Topology, keeper: Ints, lines: Sequence[Line], findings: Findings) -> Topology:
    """Drop parts that double others."""
    kept = keeper == np.arange(len(keeper))
    for row in np.flatnonzero(~kept).tolist():
        line, other = int(parts.line[row]), int(parts.line[keeper[row]])
        findings.repairs.append(_doubled(lines[line], lines[other], parts.shapes[row], other))
    return replace(parts, shapes=parts.shapes[kept], line=parts.line[kept], nodes=parts.nodes[kept])


def _record_moves(lines: Sequence[Line], parts: Topology, findings: Findings) -> None:
    """Record each end or crossing that was moved."""
    for move in parts.moves:
        line = lines[move.line]
        where = shapely.LineString([move.old, move.new])
        detail = f"moved {where.length:.3f} m to the node it belongs to"
        findings.repairs.append(Repair("snapped", line.source, line.feature, detail, where, where.length, move.line))


def _record_splits(lines: Sequence[Line], parts: Topology, findings: Findings) -> None:
    """Record each line that was cut."""
    rows, first, count = np.unique(parts.line, return_index=True, return_counts=True)
    for row, start, number in zip(rows.tolist(), first.tolist(), count.tolist(), strict=True):
        if number > 1:
            line = lines[row]
            where = shapely.MultiPoint(parts.xy[parts.nodes[start : start + number - 1, 1]])
            detail = f"split into {number} segments where others meet it"
            findings.repairs.append(Repair("split", line.source, line.feature, detail, where, line=row))
