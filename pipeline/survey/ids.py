"""Names segments so that the names last over rebuilds.

A segment has its source's own id where the feature was not split; the parts
of a split feature have ``<id>-1``, ``<id>-2`` … along the digitised
direction. A feature without an id gets a short hash of its ends and its
middle, rounded to a grid of :data:`GRID_SNAPS` snap distances, the same for
both directions.

The limit: rounding has edges. A feature whose point lies near the edge of a
grid cell gets another hash when a resurvey moves it across, however little;
with a resurvey that differs by a tenth of the snap distance that happens to
about one anonymous feature in ten. Files with ids of their own have no such
limit, but part numbers still move up when a new crossing splits a feature.
"""

import hashlib
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.survey.findings import Findings, Repair
from pipeline.survey.lines import Line

__all__ = ["GRID_SNAPS", "segment_ids", "shape_hash"]

GRID_SNAPS = 5.0
"""Width of the grid to which anonymous shapes are rounded, in snap distances."""


def shape_hash(shape: shapely.LineString, snap_m: float) -> str:
    """Name a line by its shape; the same for the reversed line.

    Parameters
    ----------
    shape
        The line.
    snap_m
        Snap distance, m.
    """
    points = shapely.line_interpolate_point(shape, [0.0, 0.5, 1.0], normalized=True)
    cells = np.floor(shapely.get_coordinates(points) / (GRID_SNAPS * snap_m)).astype(np.int64).tolist()
    low, high = sorted((cells[0], cells[2]))
    return "s" + hashlib.sha256(repr((low, cells[1], high)).encode()).hexdigest()[:8]


def segment_ids(lines: Sequence[Line], parts: NDArray[np.int64], snap_m: float, findings: Findings) -> list[str]:
    """Name every part of every line.

    Parameters
    ----------
    lines
        The lines that were joined.
    parts
        Line number of each part, ascending; parts of a line in its digitised direction.
    snap_m
        Snap distance, m.
    findings
        Collects a repair for each id that had to be changed because another feature has it too.
    """
    used = np.unique(parts).tolist()
    base = {row: _base(lines, row, snap_m) for row in used}
    taken: dict[str, str] = {}
    for row in used:
        base[row] = _without_clash(base[row], lines[row], taken, row, findings)
    holders = Counter(base[row] for row in used if lines[row].own_id is not None)
    for row in used:
        if holders[base[row]] > 1 and lines[row].own_id is not None:
            detail = f"the id {lines[row].own_id} belongs to {holders[base[row]]} lines; they are numbered"
            findings.repairs.append(
                Repair("id changed", lines[row].source, lines[row].feature, detail, lines[row].shape, line=row)
            )
    return _numbered([base[int(row)] for row in parts])


def _base(lines: Sequence[Line], row: int, snap_m: float) -> str:
    """Give the id of a line before it was split."""
    own = lines[row].own_id
    return shape_hash(lines[row].shape, snap_m) if own is None else own


def _without_clash(base: str, line: Line, taken: dict[str, str], row: int, findings: Findings) -> str:
    """Leave an id to the file that has it first; later files put their name before it."""
    if taken.setdefault(base, line.source) == line.source:
        return base
    changed = f"{Path(line.source).stem}:{base}"
    while taken.setdefault(changed, line.source) != line.source:
        changed += "'"
    detail = f"the id {base} is taken by {taken[base]}; changed to {changed}"
    findings.repairs.append(Repair("id changed", line.source, line.feature, detail, line.shape, line=row))
    return changed


def _numbered(bases: Sequence[str]) -> list[str]:
    """Give numbers to the parts that share an id, and step over numbers that another feature has as its own id."""
    count = Counter(bases)
    used = {base for base, times in count.items() if times == 1}
    number: Counter[str] = Counter()
    ids = []
    for base in bases:
        name = base
        while count[base] > 1 and (name == base or name in used):
            number[base] += 1
            name = f"{base}-{number[base]}"
        used.add(name)
        ids.append(name)
    return ids
