"""What is told of a loop beside its legs, against the tables it is made from."""

from dataclasses import replace

import numpy as np
import pytest
import shapely

from pipeline.products.facts import Facts
from pipeline.products.lines import rows
from pipeline.products.loop_facts import (
    clock,
    company_of,
    course_words,
    detours_of,
    goes_round,
    legs_round,
    place_along,
    practice_of,
    practice_total,
    proof,
    stages_of,
    weather_of,
)
from tests.products.worlds import HOSTILE, hostile_facts, make_facts, mixed

FACTS = mixed(make_facts())
LOOP = ("Hill round", 1)


def _row(**changed: object) -> object:
    """Give the first loop as a row, with other values where told."""
    return next(rows(FACTS.loops.iloc[:1].assign(**changed)))


def test_a_value_never_stands_without_its_bound() -> None:
    """The line of every loop names value, bound and where the bound comes from."""
    for row in rows(FACTS.loops):
        line = proof(row).line
        assert f"{row.value:.1f} m of exposure; bound {row.bound:.1f} m of exposure ({row.bound_name})" in line


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({}, "no loop within the settings keeps its worst utilisation below 0.83, and of those"),
        ({"exposure": 0.0}, "all of it is within the comfort floor"),
        ({"rank": 2}, "no other loop within the settings and the overlap allowed"),
        ({"proven": False, "gap": 0.25}, "not proven: could be bettered by at most 25.0 %, and one of a lower worst"),
        ({"proven": False, "gap": np.inf, "bound": np.inf}, "how much better another loop could be is not known"),
        ({"objective": "training-rich"}, "proven: no loop within the settings has more"),
    ],
)
def test_what_is_proven(changed: dict[str, object], words: str) -> None:
    """Level and exposure of a loop that stresses least, points of one that teaches most; nothing that is not proven."""
    assert words in proof(_row(**changed)).words


def test_a_rich_loop_is_not_said_to_be_gentle() -> None:
    """Its proof is of points alone."""
    told = proof(_row(objective="training-rich", proven=False, gap=0.1))
    assert told.value == "41.5 points"
    assert "utilisation" not in told.line


def test_an_unknown_bound_is_said_to_be_unknown() -> None:
    """No number stands for it."""
    assert proof(_row(bound=np.inf, gap=np.inf, proven=False)).bound == "not known"


def test_laps_and_weather_are_told_where_there_are_any() -> None:
    """One lap in the weather of the day needs no words; other weather says what it is."""
    assert course_words(FACTS, _row()) == (("Aim of the course", "all-round"),)
    told = dict(course_words(FACTS, _row(laps=3, outlook="After rain")))
    assert told["Laps"].startswith("3; ")
    assert told["Searched under"] == "After rain: ground wet (rain in mm, oldest day first: 0, 4.5, 20)"
    assert weather_of(FACTS, _row()) == ""


def test_practice_is_that_of_the_table() -> None:
    """Metres for what is long, a bare number for what is counted; heaviest first; points add up."""
    climb, descent, water = practice_of(FACTS, *LOOP)
    assert (climb.technique, climb.available, climb.in_loop, climb.fitting) == ("climb", "160 m", "80 m", "72 m")
    assert (descent.in_loop, descent.points_of) == ("0 m", "0.0 of 300")
    assert (water.available, water.in_loop, water.fitting, water.full) == ("2", "1", "0.7", "1")
    assert practice_total(FACTS, *LOOP) == ("250.0", "700")
    assert practice_of(FACTS, "Hill round", 2) == ()


def test_heavier_techniques_come_first() -> None:
    """Whatever the order of the table."""
    turned = replace(FACTS, practice=FACTS.practice.iloc[::-1])
    assert [one.technique for one in practice_of(turned, *LOOP)] == ["descent", "climb", "water"]


@pytest.mark.parametrize(
    ("after_min", "shown"), [(0.0, "0:00"), (7.99, "0:07"), (8.0 - 1e-9, "0:08"), (60.0, "1:00"), (129.5, "2:09")]
)
def test_a_clock_shows_whole_minutes(after_min: float, shown: str) -> None:
    """A minute that has begun does not count; arithmetic dust does not take one away."""
    assert clock(after_min) == shown


def test_the_session_plan_is_in_driving_order() -> None:
    """Clock, place, stop, words; a duration only where one is spent, a way home only where there is one to go."""
    stages = stages_of(replace(FACTS, session=FACTS.session.iloc[::-1]), *LOOP)
    assert [stage.clock for stage in stages] == ["0:00", "0:00", "0:05", "0:05", "0:08", "0:08", "0:14"]
    assert (stages[1].takes, stages[1].home) == ("3 min", "")
    assert (stages[3].stop, stages[3].takes, stages[3].home) == ("way out", "", "265 m, 2 min")
    assert stages[3].words == "back by s1 is 532 m and 9 min shorter than going on. (s1, s2, s4)"
    assert (stages[0].words, stages[-1].home) == ("Set out from Gate.", "")


@pytest.mark.parametrize(
    ("waits", "words"),
    [(1.4, "waits 1 min"), (-6.2, "the others wait 6 min"), (0.3, "nobody waits long"), (-0.4, "nobody waits long")],
)
def test_who_waits_for_whom(waits: float, words: str) -> None:
    """The sign of the table: + the set-up for the others, − they for it."""
    facts = replace(FACTS, bypasses=FACTS.bypasses.assign(waits_min=waits))
    assert detours_of(facts, *LOOP)[0].waits == words


def test_a_way_round_names_its_trails() -> None:
    """Who, from where to where, by what, and why; one who waits has no way."""
    (one,) = detours_of(FACTS, *LOOP)
    assert (one.number, one.setup, one.split, one.meet) == (1, "Long wagon", "287 m", "478 m")
    assert one.way == "Meadow link (s4) with"
    assert one.reason.startswith("s2 with is barred")
    (waiting,) = detours_of(replace(FACTS, bypasses=FACTS.bypasses.assign(way="", length_m=0.0, time_min=0.0)), *LOOP)
    assert (waiting.way, waiting.takes) == ("waits there", "0 m, 0 min")


def test_ids_with_spaces_are_taken_apart_at_the_last_one() -> None:
    """The direction is the last word of a leg."""
    assert legs_round("old mill 3 against; b with") == (("old mill 3", "against"), ("b", "with"))
    assert legs_round("") == ()


def test_who_goes_round_is_read_by_name() -> None:
    """A name that ends like another is not taken for it; colons in names do no harm."""
    verdicts = "wagon: spot; long wagon: goes round; A: b: watch"
    assert [goes_round(verdicts, name) for name in ("wagon", "long wagon", "A: b")] == [False, True, False]


def test_company_says_order_distance_and_spotter() -> None:
    """Distances rounded up; one at a time in words; a spotter only where one stands."""
    first, second = company_of(FACTS, *LOOP)
    assert (first.at, first.trail, first.order) == ("400 m to 440 m", "Top traverse", "Short wagon; then Long wagon")
    assert (first.apart, first.spotter) == ("one at a time", "at 425 m, for Long wagon")
    assert (second.apart, second.spotter) == ("23 m apart", "")


def test_what_takes_less_than_a_minute_says_so() -> None:
    """Half a minute is neither nothing nor a minute."""
    short = replace(FACTS, session=FACTS.session.assign(for_min=0.5))
    assert {stage.takes for stage in stages_of(short, *LOOP)} == {"under 1 min"}


def test_one_vehicle_keeps_from_nobody() -> None:
    """No distance stands where there is nobody to keep it from."""
    alone = replace(FACTS, convoy=FACTS.convoy.assign(order="Long wagon"))
    assert [one.apart for one in company_of(alone, *LOOP)] == ["–", "–"]


def test_a_place_of_a_further_lap_lies_on_the_first() -> None:
    """Distances count all laps; the end of the last is the end of the line."""
    course = shapely.LineString([(0, 0), (100, 0)])
    assert [place_along(course, at).x for at in (30.0, 100.0, 130.0, 230.0)] == [30.0, 100.0, 30.0, 30.0]


@pytest.mark.parametrize("facts", [mixed(hostile_facts())])
def test_hostile_texts_are_cleaned(facts: Facts) -> None:
    """No control character comes through."""
    shown = repr((stages_of(facts, *LOOP), detours_of(facts, *LOOP), company_of(facts, *LOOP)))
    assert HOSTILE[0] in shown
    assert "\\u2028" not in shown
    assert "\\x07" not in shown
