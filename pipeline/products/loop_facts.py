"""What is told of a loop beside its legs: proof, practice, session plan, ways round, driving in company."""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import pandas as pd
import shapely

from pipeline.products.facts import Facts
from pipeline.products.lines import rows
from pipeline.products.plain import MISSING, clean, metres, minutes, number, per_cent, text, utilised
from pipeline.terms import Objective, Technique

__all__ = [
    "GOES_ROUND",
    "Company",
    "Detour",
    "Practised",
    "Proof",
    "Stage",
    "clock",
    "company_of",
    "course_words",
    "detours_of",
    "goes_round",
    "legs_round",
    "own_rows",
    "place_along",
    "practice_of",
    "practice_total",
    "proof",
    "stages_of",
    "stops_named",
    "weather_of",
]

GOES_ROUND = "goes round"
"""Stands for the verdict of a set-up on a leg that it does not drive."""

_LENGTHS = (Technique.CLIMB, Technique.DESCENT, Technique.SIDE_SLOPE, Technique.SOFT_GROUND, Technique.RUTS)
"""Techniques whose amounts are metres; the others are counted."""


@dataclass(frozen=True, slots=True)
class Proof:
    """How good a loop is, and how far that is proven: never a value without its bound."""

    value: str
    bound: str
    """With its name."""
    gap: str
    words: str
    """What is proven, in a sentence without its full stop."""

    @property
    def line(self) -> str:
        """All of it in a line."""
        return f"{self.value}; bound {self.bound}; {self.words}"


@dataclass(frozen=True, slots=True)
class Practised:
    """One technique of the aim, as the loop practises it."""

    technique: str
    weight: str
    available: str
    in_loop: str
    fitting: str
    full: str
    """Amount after which more teaches nothing more."""
    points: str
    points_most: str

    @property
    def points_of(self) -> str:
        """Points of the loop, and of full practice."""
        return f"{self.points} of {self.points_most}"


@dataclass(frozen=True, slots=True)
class Stage:
    """One line of the session plan."""

    clock: str
    """Hours and minutes after the start."""
    at: str
    stop: str
    words: str
    takes: str
    """Empty for what is only passed."""
    home: str
    """Quickest way home from here; empty where none is told, and at home."""


@dataclass(frozen=True, slots=True)
class Detour:
    """How one set-up goes round a part of the loop."""

    number: int
    setup: str
    split: str
    """Distance along the loop where it leaves."""
    meet: str
    way: str
    """Trails of the way round, in driving order."""
    takes: str
    waits: str
    """Who waits for whom, and how long."""
    worst: str
    reason: str


@dataclass(frozen=True, slots=True)
class Company:
    """A stretch, and how the group drives it."""

    at: str
    trail: str
    order: str
    apart: str
    spotter: str
    """Where one stands, and for whom; empty without one."""
    words: str


def own_rows(frame: pd.DataFrame, loop: str, rank: int) -> pd.DataFrame:
    """Give the rows of one loop, in the order of the table."""
    return frame[(frame["loop"] == loop) & (frame["rank"] == rank)]


def proof(row: Any) -> Proof:  # noqa: ANN401 — a row of LOOPS
    """Say how good a loop is and what is proven of it."""
    safest = row.objective == Objective.SAFEST
    unit = "m of exposure" if safest else "points"
    bound = f"{number(row.bound, 1)} {unit} ({clean(row.bound_name)})" if math.isfinite(row.bound) else "not known"
    others = "other loop" if row.rank > 1 else "loop"
    within = "within the settings and the overlap allowed" if row.rank > 1 else "within the settings"
    if row.proven:
        words = _proven_safest(row, others, within) if safest else f"proven: no {others} {within} has more"
    elif not math.isfinite(row.gap):
        words = "not proven: how much better another loop could be is not known"
    else:
        besides = ", and one of a lower worst utilisation may exist" if safest else ""
        words = f"not proven: could be bettered by at most {per_cent(row.gap, 1)}{besides}"
    return Proof(f"{number(row.value, 1)} {unit}", bound, per_cent(row.gap, 1), words)


def _proven_safest(row: Any, others: str, within: str) -> str:  # noqa: ANN401 — a row of LOOPS
    """Say what is proven of a loop that stresses least: its level first, then its exposure."""
    if row.exposure <= 0.0:
        return (
            f"proven: no {others} {within} has less; all of it is within the comfort floor, below which none is better"
        )
    return (
        f"proven: no {others} {within} keeps its worst utilisation below {utilised(row.worst_utilisation)}, "
        "and of those that keep to it none has less"
    )


def course_words(facts: Facts, row: Any) -> tuple[tuple[str, str], ...]:  # noqa: ANN401 — a row of LOOPS
    """Name aim, laps and weather of a loop, where there is something to tell."""
    told = [("Aim of the course", clean(row.aim))]
    if row.laps > 1:
        told.append(("Laps", f"{row.laps}; length, time and exposure are of all of them"))
    if weather := weather_of(facts, row):
        told.append(("Searched under", weather))
    return tuple(told)


def weather_of(facts: Facts, row: Any) -> str:  # noqa: ANN401 — a row of LOOPS
    """Name the other weather that a loop was searched under, with what it is; empty for that of the day."""
    name = text(row.outlook)
    words = next((clean(one.words) for one in facts.outlooked if one.name == row.outlook), "")
    return f"{name}: {words}" if name and words else name


def practice_of(facts: Facts, loop: str, rank: int) -> tuple[Practised, ...]:
    """List what the loop practises, a line a technique of its aim: heaviest first, equals as the table has them."""
    own = own_rows(facts.practice, loop, rank).sort_values("weight", ascending=False, kind="stable")
    return tuple(
        Practised(
            technique=row.technique,
            weight=str(row.weight),
            **{
                name: _amount(row.technique, getattr(row, column))
                for name, column in (
                    ("available", "available"),
                    ("in_loop", "in_loop"),
                    ("fitting", "fitting"),
                    ("full", "saturation"),
                )
            },
            points=number(row.points, 1),
            points_most=number(row.points_most, 0),
        )
        for row in rows(own)
    )


def practice_total(facts: Facts, loop: str, rank: int) -> tuple[str, str]:
    """Sum the points of the loop, and those of full practice."""
    own = own_rows(facts.practice, loop, rank)
    return number(float(own["points"].sum()), 1), number(float(own["points_most"].sum()), 0)


def _amount(technique: str, amount: float) -> str:
    """Write metres for what is long, a bare number for what is counted."""
    if technique in _LENGTHS:
        return metres(amount)
    return number(amount, 0 if float(amount).is_integer() else 1)


def clock(after_min: float) -> str:
    """Write minutes after the start as hours and minutes: ``0:07``; whole minutes, begun ones not counted."""
    whole = math.floor(after_min + 1e-6)
    return f"{whole // 60}:{whole % 60:02d}"


def stages_of(facts: Facts, loop: str, rank: int) -> tuple[Stage, ...]:
    """List the lines of the session plan in driving order."""
    return tuple(
        Stage(
            clock=clock(row.start_min),
            at=metres(row.at_m),
            stop=row.stop,
            words=_told(row),
            takes=_takes(row.for_min),
            home="" if not row.home_m > 0.0 else f"{metres(row.home_m)}, {_takes(row.home_min) or '0 min'}",
        )
        for row in rows(own_rows(facts.session, loop, rank).sort_values("seq"))
    )


def _told(row: Any) -> str:  # noqa: ANN401 — a row of SESSION
    """Say a line of the plan without the name of its stop, which stands beside it, and with that of its place."""
    words, place = clean(row.text).removeprefix(f"{row.stop}: "), clean(row.place)
    return words if place in words else f"{words} ({place})"


def _takes(duration_min: float) -> str:
    """Write a duration; what is short of a minute says so, nothing is empty."""
    if not duration_min > 0.0:
        return ""
    return minutes(duration_min) if duration_min >= 0.95 else "under 1 min"


def detours_of(facts: Facts, loop: str, rank: int) -> tuple[Detour, ...]:
    """List who goes round what, in driving order."""
    names = dict(zip(facts.segments["segment_id"], facts.segments["name"], strict=True))
    return tuple(
        Detour(
            number=int(row.bypass),
            setup=clean(row.setup),
            split=metres(row.split_m),
            meet=metres(row.meet_m),
            way="; ".join(_trail(segment, way, names) for segment, way in legs_round(row.way)) or "waits there",
            takes=f"{metres(row.length_m)}, {_takes(row.time_min) or '0 min'}",
            waits=_waits(row.waits_min),
            worst=utilised(row.worst_utilisation),
            reason=clean(row.reason),
        )
        for row in rows(own_rows(facts.bypasses, loop, rank).sort_values(["bypass", "setup"], kind="stable"))
    )


def legs_round(way: str) -> tuple[tuple[str, str], ...]:
    """Take a way round apart: segment and direction of every leg."""
    legs = (leg.rpartition(" ") for leg in way.split("; ") if leg)
    return tuple((segment, direction) for segment, _, direction in legs)


def _trail(segment_id: str, direction: str, names: dict[Any, Any]) -> str:
    name = text(names.get(segment_id))
    return f"{name} ({clean(segment_id)}) {direction}" if name else f"{clean(segment_id)} {direction}"


def _waits(waits_min: float) -> str:
    """Say who waits: the set-up for the others (+), or they for it (−)."""
    if abs(waits_min) < 0.5:
        return "nobody waits long"
    return f"waits {minutes(waits_min)}" if waits_min > 0 else f"the others wait {minutes(-waits_min)}"


def goes_round(verdicts: str, setup: str) -> bool:
    """Tell whether a set-up does not drive a leg with these *verdicts* (column of LEGS)."""
    return f"; {setup}: {GOES_ROUND}; " in f"; {verdicts}; "


def company_of(facts: Facts, loop: str, rank: int) -> tuple[Company, ...]:
    """List the stretches that the group drives with care, in driving order."""
    names = dict(zip(facts.segments["segment_id"], facts.segments["name"], strict=True))
    return tuple(
        Company(
            at=f"{metres(row.from_m)} to {metres(row.to_m)}",
            trail=text(names.get(row.segment_id)) or clean(row.segment_id),
            order="; then ".join(clean(row.order).split("; ")),
            apart=_apart(row),
            spotter=_spotter(row),
            words=clean(row.text),
        )
        for row in rows(own_rows(facts.convoy, loop, rank).sort_values("stretch"))
    )


def _apart(row: Any) -> str:  # noqa: ANN401 — a row of CONVOY
    """Say how far apart the vehicles keep, whole metres, rounded up; a single one keeps from nobody."""
    if "; " not in row.order:
        return MISSING
    return "one at a time" if row.one_at_a_time else f"{number(math.ceil(row.spacing_m - 1e-6), 0)} m apart"


def _spotter(row: Any) -> str:  # noqa: ANN401 — a row of CONVOY
    """Say where a spotter stands, and for whom."""
    if math.isnan(row.spotter_m):
        return ""
    whom = text(row.spotter_for)
    return f"at {metres(row.spotter_m)}" + (f", for {whom}" if whom else "")


def place_along(course: shapely.LineString, at_m: float) -> shapely.Point:
    """Give the place of a distance along a loop that is driven more than once, in the working CRS."""
    whole = course.length
    return shapely.line_interpolate_point(course, at_m % whole if at_m > whole + 1e-6 else at_m)


def stops_named(facts: Facts, loop: str, rank: int, stop: str) -> Iterator[float]:
    """Yield where along the loop the session plan has a kind of stop."""
    own = own_rows(facts.session, loop, rank)
    yield from own.loc[own["stop"] == stop, "at_m"].tolist()
