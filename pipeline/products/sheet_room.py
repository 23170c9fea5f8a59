"""What a drive sheet says about room and water: lines past the tightest places, and where water crosses the loop."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from pipeline.products.facts import Facts
from pipeline.products.lines import Leg
from pipeline.products.plain import clean, metres, number
from pipeline.terms import Direction

__all__ = ["CLOSE_M", "WET_M", "Line", "Lines", "lines_past", "water_lines"]

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


@dataclass(frozen=True, slots=True)
class Lines:
    """The lines past the tight places of a loop."""

    close: tuple[Line, ...]
    """The tightest, in driving order."""
    roomier: str
    """How many more there are; empty for none."""


class _Place(NamedTuple):
    """A row of LINES, as far as the sheet tells it."""

    segment: str
    setup: str
    at_m: float
    left_m: float
    right_m: float
    advice: str

    @property
    def least_m(self) -> float:
        """Least room on either side; inf where nothing stands."""
        return min((gap for gap in (self.left_m, self.right_m) if not math.isnan(gap)), default=math.inf)


def lines_past(facts: Facts, legs: Sequence[Leg], setups: Sequence[str]) -> Lines:
    """Gather the lines past the tight places of a loop for its set-ups."""
    close: dict[tuple[float, str], list[_Place]] = {}
    wide = set()
    for at, place in _places(facts, legs, setups):
        if place.least_m < CLOSE_M:
            close.setdefault((round(at), place.advice), []).append(place)
        else:
            wide.add((place.segment, round(place.at_m)))
    return Lines(tuple(_line(at, own) for (at, _), own in close.items()), _roomier(len(wide), "more " if close else ""))


def _roomier(places: int, more: str) -> str:
    """Say how many tight places leave more room and are not listed; *more* where others are."""
    if not places:
        return ""
    many = f"1 {more}tight place leaves" if places == 1 else f"{places} {more}tight places leave"
    return f"{many} {number(CLOSE_M, 2)} m or more on either side: see the map."


def _places(facts: Facts, legs: Sequence[Leg], setups: Sequence[str]) -> Iterator[tuple[float, _Place]]:
    """Walk the tight places of a loop as they are met, each with its distance along the loop."""
    table = facts.lines
    told = ("segment_id", "setup", "at_m", "left_m", "right_m", "advice")
    columns = (table[name].tolist() for name in told)
    by_way: dict[tuple[str, str], list[_Place]] = {}
    for way, row in zip(table["direction"].tolist(), zip(*columns, strict=True), strict=True):
        if row[1] in setups:
            by_way.setdefault((row[0], way), []).append(_Place(*row))
    for leg in legs:
        own = by_way.get((leg.segment_id, leg.direction.value), [])
        yield from sorted(((_along(leg, place.at_m), place) for place in own), key=lambda found: found[0])


def _along(leg: Leg, at_m: float) -> float:
    """Give the distance along the loop of a chainage on one of its legs."""
    return leg.start_m + (at_m if leg.direction is Direction.WITH else leg.length_m - at_m)


def _line(at: float, own: Sequence[_Place]) -> Line:
    """Put together what holds for several set-ups."""
    first = min(own, key=lambda place: place.least_m)
    return Line(
        at=metres(at),
        trail=clean(first.segment),
        setups=tuple(clean(place.setup) for place in own),
        gaps=f"left {_gap(first.left_m)}, right {_gap(first.right_m)}",
        advice=clean(first.advice),
    )


def _gap(gap_m: float) -> str:
    """Write a gap, cut off so that it never reads as more than it is."""
    return "free" if math.isnan(gap_m) else f"{number(math.floor(100.0 * gap_m + 1e-6) / 100.0, 2)} m"


def water_lines(facts: Facts, legs: Sequence[Leg]) -> tuple[str, ...]:
    """List where water crosses the loop, as met: all that was surveyed, and what may be deep enough to matter."""
    table = facts.crossings
    surveyed = table["obstacle_id"].notna() | table["depth_m"].notna()
    shown = np.flatnonzero(surveyed | ~(table["depth_now_m"] < WET_M))
    told = ("segment_id", "at_m", "reason", "depth_now_m")
    rows = list(zip(*(table[name].iloc[shown].tolist() for name in told), strict=True))
    found: dict[tuple[str, float], str] = {}
    for leg in legs:
        own = ((_along(leg, row[1]), row) for row in rows if row[0] == leg.segment_id)
        for along, (segment, at, reason, depth) in sorted(own):
            found.setdefault((segment, at), f"At {metres(along)}, {clean(segment)}: {clean(reason)}{_now(depth)}")
    return tuple(found.values())


def _now(depth_m: float) -> str:
    """Say how deep the water is on the day, rounded up."""
    return "" if math.isnan(depth_m) else f"; {number(math.ceil(100.0 * depth_m - 1e-6) / 100.0, 2)} m deep on the day"
