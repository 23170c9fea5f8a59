"""The line past tight places in the words of a call: once where all set-ups of the loop drive the same, else each.

A tight place is found again by the thing that leaves the least room there: its place differs from set-up to set-up, the
thing does not. Where only the edges of the trail are near, it belongs to the turn or gap that a call is about.
"""

import math
import re
from collections.abc import Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple, Self

import pandas as pd

from pipeline.checks.room.words import at_a_glance, without_gaps
from pipeline.technique.wording import spoken

__all__ = ["Line", "Lines", "Pinch", "told_of"]

NEAR_M = 2.0
"""A gap between two trunks and what leaves the least room in it are one place within this distance along the trail: as
far as two trunks stand apart that count as a gap. No source."""

ALIKE_M = 0.1
"""Set-ups whose lines lie no farther apart drive the same one: from a seat, a hand's width is nothing."""
_KEEP = re.compile(r"^keep (\d+\.\d) m ")


class Line(NamedTuple):
    """The line of one set-up past one tight place."""

    setup: str
    gap_m: float
    """The smaller of the gaps."""
    thing: str | None
    """``obstacle_id`` of what leaves it, or else of what stands on the other side; ``None`` between two edges."""
    things: frozenset[str]
    """All that is near."""
    at_m: float
    """Chainage of the thing, or of the tightest point."""
    advice: str


class Pinch(NamedTuple):
    """A thing that leaves little room, with the lines of the set-ups past it."""

    thing: str
    at_m: float
    lines: tuple[Line, ...]

    @property
    def gap_m(self) -> float:
        """The smallest gap of any set-up."""
        return min(line.gap_m for line in self.lines)


@dataclass(frozen=True, slots=True)
class Lines:
    """The lines past tight places for the set-ups of one loop."""

    setups: tuple[str, ...]
    """In the order in which they are told."""
    of_way: Mapping[tuple[str, str], tuple[Line, ...]]
    """Segment and direction → lines, by chainage."""

    @classmethod
    def of(cls, lines: pd.DataFrame, setups: Sequence[str]) -> Self:
        """Read the rows of some set-ups out of contract LINES."""
        found: dict[tuple[str, str], list[Line]] = {}
        mine = lines[lines["setup"].isin(setups)].drop(columns="geometry", errors="ignore")
        for row in mine.sort_values("at_m", kind="stable").to_dict("records"):
            found.setdefault((str(row["segment_id"]), str(row["direction"])), []).append(_line(row))
        return cls(tuple(dict.fromkeys(setups)), {key: tuple(rows) for key, rows in found.items()})

    def past(self, way: tuple[str, str], thing: str) -> list[Line]:
        """Give the lines past a thing, the tightest of each set-up."""
        return _tightest(line for line in self.of_way.get(way, ()) if thing in line.things)

    def at(self, way: tuple[str, str], from_m: float, to_m: float) -> list[Line]:
        """Give the lines past what is tight on a stretch, the tightest of each set-up."""
        here = self.of_way.get(way, ())
        return _tightest(line for line in here if from_m - NEAR_M <= line.at_m <= to_m + NEAR_M)

    def pinches(self, way: tuple[str, str]) -> Iterator[Pinch]:
        """Yield the things that leave least room at some tight place, in the order of chainage."""
        here = self.of_way.get(way, ())
        for thing in dict.fromkeys(line.thing for line in here):
            if thing is not None:
                lines = _tightest(line for line in here if line.thing == thing)
                yield Pinch(thing, lines[0].at_m, tuple(lines))


def _line(row: Mapping[Hashable, Any]) -> Line:
    """Read one row."""
    sides = {name: math.inf if pd.isna(row[f"{name}_m"]) else float(row[f"{name}_m"]) for name in ("left", "right")}
    near = sorted(sides, key=lambda name: sides[name])
    named = [name for name in near if not pd.isna(row[f"{name}_thing"])]
    at_m = row[f"{named[0]}_at_m"] if named else row["at_m"]
    return Line(
        setup=str(row["setup"]),
        gap_m=min(sides.values()),
        thing=str(row[f"{named[0]}_thing"]) if named else None,
        things=frozenset(str(row[f"{name}_thing"]) for name in named),
        at_m=float(at_m),
        advice=at_a_glance(str(row["advice"])),
    )


def _tightest(lines: Iterator[Line]) -> list[Line]:
    """Keep the line of each set-up with the smallest gap, the first of equal ones."""
    kept: dict[str, Line] = {}
    for line in lines:
        if line.setup not in kept or line.gap_m < kept[line.setup].gap_m:
            kept[line.setup] = line
    return list(kept.values())


def told_of(lines: Sequence[Line], setups: Sequence[str]) -> str | None:
    """Say the lines of the set-ups of a loop past one place.

    Parameters
    ----------
    lines
        At most one for each set-up.
    setups
        Set-ups of the loop, in the order in which they are told.

    Returns
    -------
    str or None
        One sentence where those that must mind the place do the same to a hand's width, with the figures of the one
        that has the least room; else one for each. Set-ups with room enough are not told of, but then the others are
        named. ``None`` without any line.
    """
    known = {line.setup: line for line in lines}
    told = []
    for group in _alike([known[setup] for setup in setups if setup in known]):
        text = min(group, key=lambda line: line.gap_m).advice
        whole = len(group) == len(setups)
        told.append(text if whole else f"{spoken([line.setup for line in group])}: {text}")
    return ". ".join(told) or None


def _alike(lines: Sequence[Line]) -> list[list[Line]]:
    """Put the lines together that a driver would not tell apart."""
    groups: list[tuple[str, float, list[Line]]] = []
    for line in lines:
        words, offset_m = _told_apart(line.advice)
        near = (own for known, at_m, own in groups if known == words and abs(at_m - offset_m) <= ALIKE_M + 1e-9)
        found = next(near, None)
        if found is None:
            groups.append((words, offset_m, [line]))
        else:
            found.append(line)
    return [own for _, _, own in groups]


def _told_apart(advice: str) -> tuple[str, float]:
    """Part what a driver does from how far off the middle, m."""
    words = without_gaps(advice)
    kept = _KEEP.match(words)
    return (_KEEP.sub("keep ", words), float(kept[1])) if kept else (words, 0.0)
