"""What the map page shows without JavaScript: a still picture of the network, loops and verdicts as tables."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any
from xml.etree import ElementTree as ET

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.products.facts import Facts
from pipeline.products.gpx import loop_title
from pipeline.products.lines import rows
from pipeline.products.loop_facts import proof, weather_of
from pipeline.products.map_codes import LARGE
from pipeline.products.palette import INK, PATTERNS, UNKNOWN, colour
from pipeline.products.plain import clean, metres, minutes, text, utilised
from pipeline.terms import Direction, Verdict

__all__ = ["ROWS", "Cell", "LoopRow", "Row", "VerdictTable", "loop_table", "overview", "verdict_table"]

ROWS = 500
"""The table on the page stops here; the whole of it is in the other products."""
WIDTH, MARGIN = 900.0, 20.0


@dataclass(frozen=True, slots=True)
class Cell:
    """One verdict in the table."""

    word: str
    utilisation: str
    check: str


@dataclass(frozen=True, slots=True)
class Row:
    """One segment in the table."""

    segment_id: str
    name: str
    length: str
    status: str
    cells: tuple[Cell, ...]
    """Set-up by set-up: with, then against."""


@dataclass(frozen=True, slots=True)
class VerdictTable:
    """The verdicts of every segment, set-up and direction."""

    setups: tuple[str, ...]
    rows: tuple[Row, ...]
    left_out: int
    """Segments beyond the last row."""


@dataclass(frozen=True, slots=True)
class LoopRow:
    """One loop in the table of loops."""

    title: str
    setups: tuple[str, ...]
    asked: str
    """Objective, aim, laps and weather."""
    length: str
    time: str
    value: str
    bound: str
    gap: str
    proof: str


def loop_table(facts: Facts) -> tuple[LoopRow, ...]:
    """Lay out the loops as a table, each with what is proven of it."""
    return tuple(_loop_row(facts, row) for row in rows(facts.loops))


def _loop_row(facts: Facts, row: Any) -> LoopRow:  # noqa: ANN401 — a row of LOOPS
    told, weather = proof(row), weather_of(facts, row)
    laps = f", {row.laps} laps" if row.laps > 1 else ""
    return LoopRow(
        title=loop_title(row.loop, row.rank),
        setups=tuple(clean(setup) for setup in facts.loop_setups.get(row.loop, ())),
        asked=f"{row.objective}, aim {clean(row.aim)}{laps}" + (f"; under {weather}" if weather else ""),
        length=metres(row.length_m),
        time=minutes(row.time_min),
        value=told.value,
        bound=told.bound,
        gap=told.gap,
        proof=told.words,
    )


def verdict_table(facts: Facts) -> VerdictTable:
    """Lay out the verdicts as a table, segments in the order of the network."""
    setups = [envelope.setup for envelope in facts.envelopes]
    shown = facts.segments.iloc[:ROWS]
    own = facts.verdicts[facts.verdicts["segment_id"].isin(shown["segment_id"])]
    cells = {
        (row.segment_id, row.setup, row.direction): Cell(
            row.verdict, utilised(row.utilisation), str(row.check).replace("_", " ")
        )
        for row in rows(own)
    }
    ways = [(setup, way.value) for setup in setups for way in Direction]
    none = Cell(Verdict.UNSURVEYED.value, utilised(None), "")
    lines = (
        Row(
            segment_id=clean(row.segment_id),
            name=text(row.name),
            length=metres(row.length_m),
            status=row.status,
            cells=tuple(cells.get((row.segment_id, *way), none) for way in ways),
        )
        for row in rows(shown)
    )
    return VerdictTable(tuple(clean(setup) for setup in setups), tuple(lines), max(0, len(facts.segments) - ROWS))


def overview(facts: Facts) -> str:
    """Draw the network with the worst verdict of each segment; empty for a large or an empty network."""
    if not 0 < len(facts.segments) <= LARGE:
        return ""
    west, south, east, north = facts.segments.total_bounds
    scale = (WIDTH - 2 * MARGIN) / max(east - west, north - south, 1.0)
    height = (north - south) * scale + 2 * MARGIN
    root = ET.Element(
        "svg", {"xmlns": "http://www.w3.org/2000/svg", "viewBox": f"0 0 {WIDTH:g} {height:.0f}", "role": "img"}
    )
    ET.SubElement(root, "title").text = "Trails with their worst verdict, north up"
    worst = _worst(facts)
    for segment_id, line in zip(facts.segments["segment_id"], facts.segments.geometry, strict=True):
        points = shapely.get_coordinates(line) * [scale, -scale] + [MARGIN - west * scale, MARGIN + north * scale]
        _draw(root, points, *worst.get(segment_id, (Verdict.UNSURVEYED, np.nan)))
    return ET.tostring(root, encoding="unicode")


def _worst(facts: Facts) -> dict[str, tuple[Verdict, float]]:
    """Worst verdict over set-ups and directions, and its largest utilisation, of every segment."""
    frame = facts.verdicts[["segment_id", "verdict", "utilisation"]].assign(
        rank=facts.verdicts["verdict"].map({verdict.value: verdict.rank for verdict in Verdict})
    )
    frame = frame.sort_values(["rank", "utilisation"], ascending=False, kind="stable", na_position="last")
    frame = frame.drop_duplicates("segment_id")
    worst = zip(frame["segment_id"], frame["verdict"], frame["utilisation"], strict=True)
    return {segment_id: (Verdict(verdict), float(share)) for segment_id, verdict, share in worst}


def _draw(root: ET.Element, points: NDArray[np.float64], verdict: Verdict, utilisation: float) -> None:
    """One segment: white casing, its line, and what its pattern lays on top."""
    pattern = PATTERNS[verdict]
    _line(root, points, "#ffffff", pattern.width + 4)
    own = {Verdict.BARRED: INK, Verdict.UNSURVEYED: UNKNOWN}.get(verdict, colour(utilisation))
    _line(root, points, own, pattern.width, pattern.dash)
    if verdict is Verdict.BARRED:
        _line(root, points, INK, 11, (2, 6))
    if verdict is Verdict.UNSURVEYED:
        _line(root, points, "#ffffff", 4)


def _line(root: ET.Element, points: NDArray[np.float64], stroke: str, width: float, dash: Sequence[float] = ()) -> None:
    options = {"points": " ".join(f"{x:.1f},{y:.1f}" for x, y in points), "fill": "none", "stroke": stroke}
    options["stroke-width"] = f"{width:g}"
    if dash:
        options["stroke-dasharray"] = " ".join(f"{length:g}" for length in dash)
    ET.SubElement(root, "polyline", options)
