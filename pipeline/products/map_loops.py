"""The loops as the map page carries them: figures and proof, legs, calls, and all that comes with a loop."""

from typing import Any

import numpy as np
import shapely

from pipeline.products.facts import Facts
from pipeline.products.lines import Profiles, legs_of, lon_lat, rows
from pipeline.products.loop_facts import (
    company_of,
    detours_of,
    legs_round,
    own_rows,
    place_along,
    practice_of,
    practice_total,
    proof,
    stages_of,
    weather_of,
)
from pipeline.products.map_codes import WAYS
from pipeline.products.plain import clean
from pipeline.terms import Stop

__all__ = ["loops"]


def loops(facts: Facts, index: dict[str, int]) -> list[dict[str, Any]]:
    """Give every loop of the page; a leg is a segment and 0 with | 1 against, a place longitude and latitude.

    ``practice`` and ``company`` are rows of texts in the order of the page's columns, ``named`` holds words and places
    that stand on the map.
    """
    profiles = Profiles(facts.stations.iloc[:0])
    return [_loop(facts, index, row, profiles) for row in rows(facts.loops)]


def _loop(facts: Facts, index: dict[str, int], row: Any, profiles: Profiles) -> dict[str, Any]:  # noqa: ANN401 — a row of LOOPS
    own = (row.loop, row.rank)
    legs = list(legs_of(facts, *own, profiles))
    course = shapely.LineString([point for leg in legs for point in leg.points(50.0)[:, :2].tolist()])
    return {
        **_head(facts, row),
        "legs": [[index[leg.segment_id], WAYS.index(leg.direction)] for leg in legs],
        "calls": _calls(facts, *own),
        "detours": _detours(facts, index, own, course),
        "session": _session(facts, own, course),
        "practice": [
            [*(one.technique, one.available, one.in_loop, one.fitting, one.full), one.points_of, one.weight]
            for one in practice_of(facts, *own)
        ],
        "points": list(practice_total(facts, *own)),
        "company": [[one.at, one.trail, one.order, one.apart, one.spotter] for one in company_of(facts, *own)],
        "named": _named(facts, own, course),
    }


def _head(facts: Facts, row: Any) -> dict[str, Any]:  # noqa: ANN401 — a row of LOOPS
    """Say what was asked for and what was found, with its proof."""
    told = proof(row)
    return {
        "loop": clean(row.loop),
        "rank": int(row.rank),
        "objective": row.objective,
        "aim": clean(row.aim),
        "laps": int(row.laps),
        "weather": weather_of(facts, row),
        "length": round(row.length_m),
        "time": round(row.time_min),
        "worst": round(row.worst_utilisation, 4),
        "value": told.value,
        "bound": told.bound,
        "proof": told.words,
        "setups": [clean(setup) for setup in facts.loop_setups.get(row.loop, ())],
    }


def _calls(facts: Facts, loop: str, rank: int) -> list[dict[str, Any]]:
    calls = own_rows(facts.calls, loop, rank)
    degrees = np.round(lon_lat(shapely.get_coordinates(calls["geometry"].to_numpy()), facts.crs), 6).tolist()
    return [
        {
            "n": int(row.call),
            "at": round(row.at_m),
            "coming": clean(row.coming),
            "before": clean(row.before),
            "spotter": bool(row.spotter),
            "lonlat": place,
        }
        for row, place in zip(rows(calls), degrees, strict=True)
    ]


def _places(facts: Facts, course: shapely.LineString, along: list[float]) -> list[list[float]]:
    """Give longitude and latitude of distances along the loop."""
    points = np.array([[place.x, place.y] for place in (place_along(course, at) for at in along)]).reshape(-1, 2)
    degrees: list[list[float]] = np.round(lon_lat(points, facts.crs), 6).tolist()
    return degrees


def _detours(
    facts: Facts, index: dict[str, int], own: tuple[str, int], course: shapely.LineString
) -> list[dict[str, Any]]:
    """Give every way round with its legs and both its ends."""
    table = own_rows(facts.bypasses, *own).sort_values(["bypass", "setup"], kind="stable")
    return [
        {
            "n": one.number,
            "setup": one.setup,
            "split": one.split,
            "meet": one.meet,
            "way": one.way,
            "takes": one.takes,
            "waits": one.waits,
            "worst": one.worst,
            "reason": one.reason,
            "legs": [[index[segment], WAYS.index(way)] for segment, way in legs_round(row.way)],
            "ends": _places(facts, course, [row.split_m, row.meet_m]),
        }
        for one, row in zip(detours_of(facts, *own), rows(table), strict=True)
    ]


def _session(facts: Facts, own: tuple[str, int], course: shapely.LineString) -> list[dict[str, Any]]:
    """Give the lines of the session plan with their places."""
    along = own_rows(facts.session, *own).sort_values("seq")["at_m"].tolist()
    return [
        {
            "clock": one.clock,
            "at": one.at,
            "stop": one.stop,
            "words": one.words,
            "takes": one.takes,
            "home": one.home,
            "lonlat": place,
        }
        for one, place in zip(stages_of(facts, *own), _places(facts, course, along), strict=True)
    ]


def _named(facts: Facts, own: tuple[str, int], course: shapely.LineString) -> list[list[Any]]:
    """Name where the loop is left and met again, and the last place to turn back."""
    splits = own_rows(facts.bypasses, *own).drop_duplicates("bypass")
    session = own_rows(facts.session, *own)
    named = [(f"split {row.bypass}", row.split_m) for row in rows(splits)]
    named += [(f"meet {row.bypass}", row.meet_m) for row in rows(splits)]
    named += [("last turn", at) for at in session.loc[session["stop"] == Stop.LAST_TURN, "at_m"].tolist()]
    places = _places(facts, course, [at for _, at in named])
    return [[words, place] for (words, _), place in zip(named, places, strict=True)]
