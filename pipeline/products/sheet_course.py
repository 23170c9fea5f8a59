"""What a drive sheet says of the day's course: practice, session plan, ways round, driving in company, weather."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import shapely

from pipeline.products.facts import Facts
from pipeline.products.lines import Leg, Profiles, legs_along, rows
from pipeline.products.loop_facts import (
    GOES_ROUND,
    Company,
    Detour,
    Practised,
    Stage,
    company_of,
    course_words,
    detours_of,
    goes_round,
    legs_round,
    own_rows,
    place_along,
    practice_of,
    practice_total,
    proof,
    stages_of,
    stops_named,
    weather_of,
)
from pipeline.products.plain import clean
from pipeline.products.sheet_map import PlaceMark
from pipeline.products.svg import Floats
from pipeline.terms import Stop, Verdict

__all__ = ["Course", "course_of", "leg_words", "places_of", "proof_figures", "ways_round"]


@dataclass(frozen=True, slots=True)
class Course:
    """What goes with a loop on its sheet."""

    weather: str
    """Other weather that it was searched under; empty for that of the day."""
    made_for: str
    """What calls and legs hold for."""
    stages: tuple[Stage, ...]
    detours: tuple[Detour, ...]
    company: tuple[Company, ...]
    practice: tuple[Practised, ...]
    points: str
    points_most: str


def course_of(facts: Facts, row: Any) -> Course:  # noqa: ANN401 — a row of LOOPS
    """Gather what goes with one loop."""
    loop, rank = row.loop, row.rank
    points, most = practice_total(facts, loop, rank)
    weather = weather_of(facts, row)
    return Course(
        weather=weather,
        made_for=clean(row.outlook) if weather else "the day it was made for",
        stages=stages_of(facts, loop, rank),
        detours=detours_of(facts, loop, rank),
        company=company_of(facts, loop, rank),
        practice=practice_of(facts, loop, rank),
        points=points,
        points_most=most,
    )


def proof_figures(facts: Facts, row: Any) -> tuple[tuple[str, str], ...]:  # noqa: ANN401 — a row of LOOPS
    """Give what was asked for, and how good the answer is, as lines of the loop's figures."""
    told = proof(row)
    return (
        ("Chosen as", f"{row.objective}"),
        *course_words(facts, row),
        ("Value", told.value),
        ("Bound, gap", f"{told.bound}, {told.gap}"),
        ("Proof", told.words),
    )


def leg_words(
    facts: Facts,
    row: Any,  # noqa: ANN401 — a row of LOOPS
    legs: Sequence[Leg],
    setups: Sequence[str],
) -> list[tuple[str, ...]]:
    """Give one word a set-up for every leg: its verdict in the loop's weather, or that it goes round."""
    table = facts.verdicts
    if weather_of(facts, row):
        table = facts.outlooks[facts.outlooks["outlook"] == row.outlook]
    own = table[table["segment_id"].isin([leg.segment_id for leg in legs])]
    words = own.set_index(["segment_id", "setup", "direction"])["verdict"].to_dict()
    return [
        tuple(
            GOES_ROUND
            if goes_round(leg.verdicts, setup)
            else str(words.get((leg.segment_id, setup, leg.direction.value), Verdict.UNSURVEYED.value))
            for setup in setups
        )
        for leg in legs
    ]


def ways_round(facts: Facts, row: Any, profiles: Profiles) -> list[Floats]:  # noqa: ANN401 — a row of LOOPS
    """Give the plan of every way round, its legs one after the other."""
    return [
        leg.points(50.0)[:, :2]
        for one in rows(own_rows(facts.bypasses, row.loop, row.rank))
        for leg in legs_along(facts, legs_round(one.way), profiles)
    ]


def places_of(facts: Facts, row: Any, legs: Sequence[Leg]) -> list[PlaceMark]:  # noqa: ANN401 — a row of LOOPS
    """Name where the loop is left and met again, and the last place to turn back, on its map."""
    course = shapely.LineString([point for leg in legs for point in leg.points(50.0)[:, :2].tolist()])
    splits = own_rows(facts.bypasses, row.loop, row.rank).drop_duplicates("bypass")
    named = [(f"split {one.bypass}", one.split_m) for one in rows(splits)]
    named += [(f"meet {one.bypass}", one.meet_m) for one in rows(splits)]
    named += [("last turn", at) for at in stops_named(facts, row.loop, row.rank, Stop.LAST_TURN)]
    marks = ((word, place_along(course, at)) for word, at in named)
    return [PlaceMark(word, (place.x, place.y)) for word, place in marks]
