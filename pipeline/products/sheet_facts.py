"""What a drive sheet says, as plain texts and pictures: one source for the page and for the PDF."""

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
import shapely

from pipeline.products.cautioned import setup_warnings
from pipeline.products.facts import Facts
from pipeline.products.gpx import loop_title
from pipeline.products.lines import Leg, Profiles, legs_of, lon_lat, rows
from pipeline.products.loop_facts import weather_of
from pipeline.products.outlook_facts import outlook_lines
from pipeline.products.plain import MISSING, clean, metres, minutes, number, stamp, text, utilised
from pipeline.products.sheet_course import Course, course_of, leg_words, places_of, proof_figures, ways_round
from pipeline.products.sheet_ground import doubt_lines, fitness_lines, stop_speeds, stops
from pipeline.products.sheet_map import MapPicture, PlaceMark, outline_map
from pipeline.products.sheet_profile import ProfilePicture, profile
from pipeline.products.sheet_room import Lines, lines_past, water_lines
from pipeline.products.svg import CallMark
from pipeline.terms import ObstacleKind, Verdict
from pipeline.vehicle.envelope_model import Envelope

__all__ = [
    "BEFORE_START",
    "CallLine",
    "Gap",
    "LegLine",
    "Place",
    "SetUp",
    "Sheet",
    "build_warnings",
    "conditions_text",
    "missing",
    "sheets",
]

BEFORE_START = (
    "Tyres: pressure as briefed, no cuts, valves capped",
    "Oil, coolant, brake fluid; fuel for twice the loop",
    "Load lashed, nothing loose, roof load as in the set-up",
    "Recovery points, rope, shackles, shovel within reach",
    "Belts on, windows as briefed, thumbs off the wheel rim",
    "Radio and spotter's signals agreed and repeated back",
    "Low range and locks tried on the flat",
    "Failed climb agreed: brake, reverse gear, straight back",
    "First aid, extinguisher in the first and last vehicle",
)
"""Checks before the start: common practice, no source."""

NEAR_M = 150.0
"""Trails and places this close to the loop's box are on its map."""

_LEAD = re.compile(r"\d+ m before: ")
_REFUGES = (ObstacleKind.EXIT, ObstacleKind.MUSTER)


@dataclass(frozen=True, slots=True)
class CallLine:
    """One call, ready to print."""

    number: int
    at: str
    coming: str
    before: str
    spotter: bool


@dataclass(frozen=True, slots=True)
class LegLine:
    """One leg, ready to print."""

    seq: int
    at: str
    length: str
    trail: str
    direction: str
    verdicts: tuple[str, ...]
    """One word a set-up, in the order of the sheet's set-ups."""
    stops: str
    """How soon the worst of the set-ups stops at low grip."""


@dataclass(frozen=True, slots=True)
class SetUp:
    """One set-up, and the figures that its verdicts rest on."""

    name: str
    vehicle: str
    driver: str
    state: str
    """Suspension and loads."""
    figures: tuple[tuple[str, str], ...]
    """What to measure on the vehicle as it stands, and the figure used."""
    warnings: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Place:
    """An emergency exit or a muster point."""

    kind: str
    name: str
    along: str
    """Where it is nearest to the loop, and how far off."""
    position: str
    """Latitude and longitude, WGS 84."""
    note: str


@dataclass(frozen=True, slots=True)
class Gap:
    """Something that was not surveyed on this loop."""

    what: str
    why: str
    where: str


@dataclass(frozen=True, slots=True)
class Sheet:
    """Everything on the sheet of one loop."""

    loop: str
    title: str
    rank: int
    figures: tuple[tuple[str, str], ...]
    setups: tuple[SetUp, ...]
    lead: str
    """How far before its place a call is acted on, where the call itself says no other; empty without such calls."""
    calls: tuple[CallLine, ...]
    legs: tuple[LegLine, ...]
    stop_speeds: str
    """From what speed the stops of the legs are."""
    places: tuple[Place, ...]
    gaps: tuple[Gap, ...]
    fitness: tuple[str, ...]
    """What the elevation model cannot carry of the checks of these set-ups."""
    doubt: tuple[str, ...]
    """Verdicts of the legs that doubt made worse."""
    outlooks: tuple[str, ...]
    """Who can still drive it under other weather, a line an outlook."""
    lines: Lines
    """Lines past the tight places."""
    water: tuple[str, ...]
    """Where water crosses the loop."""
    course: Course
    surveyed: str
    map_svg: str
    profile_svg: str


def sheets(facts: Facts) -> Iterator[Sheet]:
    """Make the sheet of every loop that was found, in the order of the table."""
    profiles = Profiles(facts.stations)
    own = {envelope.setup: envelope for envelope in facts.envelopes}
    weather = outlook_lines(facts)
    for row in rows(facts.loops):
        legs = list(legs_of(facts, row.loop, row.rank, profiles))
        calls = facts.calls[(facts.calls["loop"] == row.loop) & (facts.calls["rank"] == row.rank)]
        names = facts.loop_setups.get(row.loop, ())
        lead = _lead(calls["before"])
        yield Sheet(
            loop=clean(row.loop),
            title=loop_title(row.loop, row.rank),
            rank=int(row.rank),
            figures=_figures(facts, row, legs),
            setups=tuple(_setup(own[name]) for name in names),
            lead=lead.removesuffix(" before: "),
            calls=tuple(_call_line(call, lead) for call in rows(calls)),
            legs=tuple(_leg_lines(facts, row, legs, names)),
            stop_speeds=stop_speeds(facts, names),
            places=tuple(_places(facts, legs)),
            gaps=tuple(_gaps(facts, legs, names)),
            fitness=fitness_lines(facts, names),
            doubt=() if weather_of(facts, row) else doubt_lines(facts, legs, names),
            outlooks=weather.get((row.loop, row.rank), ()),
            lines=lines_past(facts, legs, names),
            water=water_lines(facts, legs),
            course=course_of(facts, row),
            surveyed=_surveyed(facts, legs),
            map_svg=outline_map(_map_picture(facts, row, legs, calls)),
            profile_svg=profile(_profile_picture(legs, calls, loop_title(row.loop, row.rank))),
        )


def missing(facts: Facts) -> tuple[tuple[str, str], ...]:
    """List the loops that were not found, with the reason."""
    return tuple((clean(loop), clean(note)) for loop, found, note in facts.loop_notes if not found)


def build_warnings(facts: Facts) -> tuple[str, ...]:
    """List the warnings that concern every sheet; those of a set-up stand beside it, where it is driven."""
    own = set(setup_warnings(facts))
    return tuple(told for told in map(clean, facts.warnings) if told not in own)


def conditions_text(facts: Facts) -> str:
    """Say in a line what the verdicts hold for."""
    conditions = facts.conditions
    day = f", conditions of {clean(conditions.date)}" if conditions.date else ""
    rain = ", ".join(number(value, 1) for value in conditions.rain_mm)
    rains = f"; rain in mm, oldest day first: {rain}" if rain else ""
    return f"ground {clean(conditions.wetness)}{day}{rains}; built {stamp(facts.built_at)}"


def _figures(facts: Facts, row: Any, legs: Sequence[Leg]) -> tuple[tuple[str, str], ...]:  # noqa: ANN401 — a row of LOOPS
    """Give the loop in figures."""
    lap = " of a lap" if row.laps > 1 else ""
    return (
        ("Length", metres(row.length_m)),
        ("Time, with coaching stops", f"about {minutes(row.time_min)}"),
        (f"Climb / descent{lap}", _climb(legs)),
        ("Worst utilisation", f"{utilised(row.worst_utilisation)} of a limit"),
        ("Exposure", f"{number(row.exposure, 0)} m above comfort"),
        *proof_figures(facts, row),
    )


def _climb(legs: Sequence[Leg]) -> str:
    """Sum the climbs and the descents; a lower bound where heights are missing."""
    z = np.concatenate([leg.along[1] for leg in legs]) if legs else np.zeros(0)
    known = z[np.isfinite(z)]
    if len(known) < 2:
        return "no heights known"
    steps = np.diff(known)
    short = "" if len(known) == len(z) else "at least "
    return f"{short}{metres(float(steps[steps > 0].sum()))} / {metres(float(-steps[steps < 0].sum()))}"


def _setup(envelope: Envelope) -> SetUp:
    loads = ", ".join(clean(load).replace("_", " ") for load in envelope.loads) or "no load"
    figures = (
        ("height", f"{number(envelope.height_m, 2)} m"),
        ("width over mirrors", f"{number(envelope.width_mirrors_m, 2)} m"),
        ("lowest between the axles", f"{number(envelope.clearance_m, 2)} m"),
        ("tyre radius, loaded", f"{number(envelope.tyre_radius_m, 3)} m"),
        ("mass", f"{number(envelope.mass_kg, 0)} kg"),
    )
    return SetUp(
        name=clean(envelope.setup),
        vehicle=clean(envelope.vehicle),
        driver=envelope.driver.value,
        state=f"{clean(envelope.suspension)} suspension, {loads}",
        figures=figures,
        warnings=tuple(clean(warning) for warning in envelope.warnings),
    )


def _lead(texts: Iterable[str]) -> str:
    """Find the words that most calls begin with, so that they are printed once."""
    found = Counter(match[0] for match in map(_LEAD.match, texts) if match)
    return found.most_common(1)[0][0] if found else ""


def _call_line(call: Any, lead: str) -> CallLine:  # noqa: ANN401 — a row of CALLS
    return CallLine(
        number=int(call.call),
        at=metres(call.at_m),
        coming=clean(call.coming),
        before=clean(call.before.removeprefix(lead)),
        spotter=bool(call.spotter),
    )


def _leg_lines(
    facts: Facts,
    row: Any,  # noqa: ANN401 — a row of LOOPS
    legs: Sequence[Leg],
    setups: Sequence[str],
) -> Iterator[LegLine]:
    """Every leg with one word a set-up; how soon they stop is known in the weather of the day only."""
    stop = (MISSING,) * len(legs) if weather_of(facts, row) else stops(facts, legs, setups)
    for leg, words, stops_in in zip(legs, leg_words(facts, row, legs, setups), stop, strict=True):
        yield LegLine(
            seq=leg.seq,
            at=metres(leg.start_m),
            length=metres(leg.length_m),
            trail=_trail(leg.segment_id, leg.name),
            direction=leg.direction.value,
            verdicts=words,
            stops=stops_in,
        )


def _trail(segment_id: str, name: str) -> str:
    return f"{clean(name)} ({clean(segment_id)})" if name else clean(segment_id)


def _places(facts: Facts, legs: Sequence[Leg]) -> Iterator[Place]:
    """List exits and muster points, nearest along the loop first."""
    obstacles = facts.obstacles[facts.obstacles["kind"].isin([kind.value for kind in _REFUGES])]
    if obstacles.empty or not legs:
        return
    course = shapely.LineString(np.vstack([leg.points(50.0)[:, :2] for leg in legs]))
    along = shapely.line_locate_point(course, obstacles.geometry.to_numpy())
    away = shapely.distance(course, obstacles.geometry.to_numpy())
    degrees = lon_lat(shapely.get_coordinates(obstacles.geometry.to_numpy()), facts.crs)
    found = list(rows(obstacles))
    for index in np.argsort(along, kind="stable"):
        row, off = found[index], float(away[index])
        beside = "on the loop" if off < 10 else f"{metres(off)} off"
        yield Place(
            kind=str(row.kind),
            name=text(row.name, "without a name"),
            along=f"at {metres(float(along[index]))}, {beside}",
            position=f"{degrees[index, 1]:.5f}, {degrees[index, 0]:.5f}",
            note=text(row.note),
        )


def _gaps(facts: Facts, legs: Sequence[Leg], setups: Sequence[str]) -> Iterator[Gap]:
    """List the checks that could not be made on this loop, gathered by check and reason."""
    ways = pd.MultiIndex.from_tuples([(leg.segment_id, leg.direction.value) for leg in legs])
    checks = facts.checks[facts.checks["setup"].isin(setups) & (facts.checks["verdict"] == Verdict.UNSURVEYED.value)]
    own = checks[pd.MultiIndex.from_frame(checks[["segment_id", "direction"]]).isin(ways)]
    for (check, reason), group in own.groupby(["check", "reason"], sort=True):
        yield Gap(
            what=str(check).replace("_", " "),
            why=clean(str(reason)),
            where=", ".join(clean(name) for name in dict.fromkeys(group["segment_id"])),
        )


def _surveyed(facts: Facts, legs: Sequence[Leg]) -> str:
    """Say when the legs were last walked, and which have no date."""
    own = facts.segments[facts.segments["segment_id"].isin([leg.segment_id for leg in legs])]
    dates = sorted(text(date) for date in own["surveyed_on"].dropna())
    undated = [clean(name) for name in own.loc[own["surveyed_on"].isna(), "segment_id"]]
    span = (
        "no survey date"
        if not dates
        else f"surveyed {dates[0]}" + (f" to {dates[-1]}" if dates[0] != dates[-1] else "")
    )
    return span + (f"; without a survey date: {', '.join(undated)}" if undated and dates else "")


def _marks(calls: pd.DataFrame) -> tuple[CallMark, ...]:
    return tuple(
        CallMark(int(row.call), bool(row.spotter), float(row.at_m), (row.geometry.x, row.geometry.y))
        for row in rows(calls)
    )


def _map_picture(facts: Facts, row: Any, legs: Sequence[Leg], calls: pd.DataFrame) -> MapPicture:  # noqa: ANN401 — a row of LOOPS
    """Gather the loop, the trails and places round it, and its calls."""
    course = [leg.points(50.0)[:, :2] for leg in legs]
    aside = ways_round(facts, row, Profiles(facts.stations))
    around = shapely.box(*shapely.MultiLineString([*course, *aside]).bounds).buffer(NEAR_M)
    kinds = [kind.value for kind in (ObstacleKind.TRAILHEAD, *_REFUGES)]
    near = facts.obstacles[facts.obstacles.intersects(around)]
    shown = near[near["kind"].isin(kinds)]
    words = {ObstacleKind.TRAILHEAD.value: "start"}
    return MapPicture(
        network=list(facts.segments.geometry[facts.segments.intersects(around)]),
        legs=course,
        aside=aside,
        calls=_marks(calls),
        places=[
            *(PlaceMark(words.get(one.kind, one.kind), (one.geometry.x, one.geometry.y)) for one in rows(shown)),
            *places_of(facts, row, legs),
        ],
    )


def _profile_picture(legs: Sequence[Leg], calls: pd.DataFrame, title: str) -> ProfilePicture:
    courses = [leg.along for leg in legs if len(leg.profile.chainage_m)] or [(np.zeros(1), np.full(1, np.nan))]
    at, z = (np.concatenate(columns) for columns in zip(*courses, strict=True))
    keep = np.unique(np.append(np.arange(0, len(at), max(1, len(at) // 900)), len(at) - 1))
    return ProfilePicture(
        at_m=at[keep],
        z_m=z[keep],
        legs=[(leg.start_m, clean(leg.segment_id)) for leg in legs],
        calls=_marks(calls),
        title=f"Height profile of {title}",
    )
