"""What a drive sheet says about room and water: lines past the tightest places, and where water crosses the loop."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from pipeline.products.facts import Facts
from pipeline.products.lines import Leg, rows
from pipeline.products.plain import clean, metres, number
from pipeline.terms import Direction

__all__ = ["CLOSE_M", "WET_M", "Line", "close_lines", "roomier", "water_lines"]

CLOSE_M = 0.25
"""Places that leave less on either side stand on the sheet, each with its line; the others are on the map."""
WET_M = 0.05
"""Water that nobody surveyed is told from this estimated depth on."""


@dataclass(frozen=True, slots=True)
class Line:
    """The line past one tight place, ready to print."""

    at: str
    trail: str
    setups: tuple[str, ...]
    """Those that the line holds for."""
    gaps: str
    """Least room left and right."""
    advice: str


def close_lines(facts: Facts, legs: Sequence[Leg], setups: Sequence[str]) -> tuple[Line, ...]:
    """List the lines past the tightest places of a loop, in driving order."""
    found: dict[tuple[float, str], list[Any]] = {}
    for at, row in _places(facts, legs, setups):
        if _least(row) < CLOSE_M:
            found.setdefault((round(at), row.advice), []).append(row)
    return tuple(_line(at, own) for (at, _), own in found.items())


def roomier(facts: Facts, legs: Sequence[Leg], setups: Sequence[str]) -> str:
    """Say how many tight places of a loop leave more room and are not listed, each counted once; empty for none."""
    places = {(row.segment_id, round(row.at_m)) for _, row in _places(facts, legs, setups) if _least(row) >= CLOSE_M}
    if not places:
        return ""
    many = "1 more tight place leaves" if len(places) == 1 else f"{len(places)} more tight places leave"
    return f"{many} {number(CLOSE_M, 2)} m or more on either side: see the map."


def _places(facts: Facts, legs: Sequence[Leg], setups: Sequence[str]) -> Iterator[tuple[float, Any]]:
    """Walk the tight places of a loop as they are met: distance along the loop, and the row of LINES."""
    table = facts.lines[facts.lines["setup"].isin(setups)]
    way = pd.MultiIndex.from_frame(table[["segment_id", "direction"]])
    for leg in legs:
        own = list(rows(table[np.asarray(way == (leg.segment_id, leg.direction.value))]))
        yield from sorted(((_along(leg, row.at_m), row) for row in own), key=lambda found: found[0])


def _along(leg: Leg, at_m: float) -> float:
    """Give the distance along the loop of a chainage on one of its legs."""
    return leg.start_m + (at_m if leg.direction is Direction.WITH else leg.length_m - at_m)


def _least(row: Any) -> float:  # noqa: ANN401 — a row of LINES
    """Give the least room on either side, m; inf where nothing stands."""
    return float(np.nanmin([row.left_m, row.right_m, np.inf]))


def _line(at: float, own: list[Any]) -> Line:
    """Put together what holds for several set-ups."""
    first = min(own, key=_least)
    return Line(
        at=metres(at),
        trail=clean(first.segment_id),
        setups=tuple(clean(row.setup) for row in own),
        gaps=", ".join(f"{side} {_gap(getattr(first, f'{side}_m'))}" for side in ("left", "right")),
        advice=clean(first.advice),
    )


def _gap(gap_m: float) -> str:
    """Write a gap, cut off so that it never reads as more than it is."""
    if np.isnan(gap_m):
        return "free"
    return f"{number(np.floor(100.0 * gap_m + 1e-6) / 100.0, 2)} m"


def water_lines(facts: Facts, legs: Sequence[Leg]) -> tuple[str, ...]:
    """List where water crosses the loop, as met: all that was surveyed, and what may be deep enough to matter."""
    table = facts.crossings
    surveyed = table["obstacle_id"].notna() | table["depth_m"].notna()
    table = table[surveyed | ~(table["depth_now_m"] < WET_M)]
    told: dict[tuple[str, float], str] = {}
    for leg in legs:
        own = list(rows(table[table["segment_id"] == leg.segment_id]))
        for row in sorted(own, key=lambda row: _along(leg, row.at_m)):
            key = (row.segment_id, row.at_m)
            where = f"At {metres(_along(leg, row.at_m))}, {clean(row.segment_id)}"
            told.setdefault(key, f"{where}: {clean(row.reason)}{_now(row.depth_now_m)}")
    return tuple(told.values())


def _now(depth_m: float) -> str:
    """Say how deep the water is on the day, rounded up."""
    return "" if np.isnan(depth_m) else f"; {number(np.ceil(100.0 * depth_m - 1e-6) / 100.0, 2)} m deep on the day"
