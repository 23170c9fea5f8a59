"""Lines past tight places and water on the drive sheet: in driving order, nothing read as more room than there is."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from pipeline.products.drive_sheet import sheet_page
from pipeline.products.facts import Facts
from pipeline.products.lines import Leg, Profiles, legs_of
from pipeline.products.plain import WATER_CAUTION
from pipeline.products.sheet_room import CLOSE_M, Line, Lines, lines_past, water_lines
from pipeline.vehicle.classes import FLOOD_CAVEAT
from tests.products.ground_worlds import without_ground
from tests.products.worlds import make_facts

FACTS = make_facts()
SETUPS = ("Short wagon", "Long wagon")


def _legs(rank: int = 1, facts: Facts = FACTS) -> list[Leg]:
    """Give the legs of the loop: s1, s2, s3 with the line, or all against it."""
    return list(legs_of(facts, "Hill round", rank, Profiles(facts.stations)))


def _lines(facts: Facts = FACTS, rank: int = 1, setups: tuple[str, ...] = SETUPS) -> tuple[Line, ...]:
    return lines_past(facts, _legs(rank), setups).close


def _with(facts: Facts, **columns: object) -> Facts:
    """Give the world with other columns in its lines."""
    return replace(facts, lines=facts.lines.assign(**columns))


def test_only_the_tightest_places_are_listed_as_met() -> None:
    """On s2 with the line: 0.08 m at 30 m and 0.23 m at 70 m, counted from the start of the loop."""
    start = FACTS.segments["length_m"][0]
    assert _lines() == (
        Line(f"{start + 30:.0f} m", "s2", ("Long wagon",), "left free, right 0.08 m", FACTS.lines["advice"][3]),
        Line(f"{start + 70:.0f} m", "s2", ("Long wagon",), "left 0.23 m, right free", "straight through"),
    )
    assert _lines(setups=("Short wagon",)) == ()


def test_against_the_line_places_are_counted_from_the_other_end() -> None:
    """The loop driven the other way round: s3, s2, s1 against; 40 m from the end of s3, 36 m from that of s1."""
    lengths = FACTS.segments["length_m"]
    told = [(line.at, line.trail) for line in _lines(rank=2)]
    assert told == [(f"{lengths[2] - 40:.0f} m", "s3"), (f"{lengths[:3].sum() - 36:.0f} m", "s1")]


def test_a_gap_is_cut_off_never_rounded_up() -> None:
    """0.2399 m reads 0.23 m; what is missing keeps its sign."""
    facts = _with(FACTS, left_m=[0.2399, 0.2399, 0.2, -0.001, 0.1, 0.1], right_m=np.nan)
    assert {line.gaps for line in _lines(facts)} == {
        "left 0.23 m, right free",
        "left −0.01 m, right free",
        "left 0.10 m, right free",
    }


def test_set_ups_with_the_same_line_share_a_row() -> None:
    """At the same place, in the same words: the least room of all; other words keep their own row."""
    facts = _with(FACTS, left_m=0.2, right_m=[0.19, 0.11, 0.2, 0.2, 0.2, 0.2])
    first, *rest = _lines(facts)
    assert (first.setups, first.gaps) == (SETUPS, "left 0.20 m, right 0.11 m")
    assert len(rest) == 2
    other = _with(facts, advice=["one", "two", "", "", "", ""])
    assert [line.setups for line in _lines(other)[:2]] == [("Short wagon",), ("Long wagon",)]


@pytest.mark.parametrize(
    ("setups", "rank", "told"),
    [
        (SETUPS, 1, f"1 more tight place leaves {CLOSE_M:.2f} m or more on either side: see the map."),
        (SETUPS, 2, ""),
        ((), 1, ""),
    ],
)
def test_roomier_places_are_counted_once(setups: tuple[str, ...], rank: int, told: str) -> None:
    """Both set-ups find more room at the same place of s1."""
    assert lines_past(FACTS, _legs(rank), setups).roomier == told


def test_several_roomier_places_are_told_as_such() -> None:
    """The plural, and a place with nothing beside it."""
    facts = _with(FACTS, left_m=0.4, right_m=np.nan)
    assert lines_past(facts, _legs(), SETUPS).roomier.startswith("3 tight places leave 0.25 m or more")


def test_water_is_told_as_met_once() -> None:
    """A flow path on s2, the ford on s3; a loop that drives a leg twice tells its water once."""
    lengths = FACTS.segments["length_m"]
    told = water_lines(FACTS, _legs())
    assert [line.split(":")[0] for line in told] == [
        f"At {lengths[0] + 90:.0f} m, s2",
        f"At {lengths[:2].sum() + 208:.0f} m, s3",
    ]
    assert told[1].endswith("surveyed water Ford; 0.42 m deep on the day")
    assert "deep" not in told[0]
    assert water_lines(FACTS, [*_legs(), *_legs()]) == told


def test_shallow_water_that_nobody_surveyed_is_left_to_the_map() -> None:
    """An estimated depth below 5 cm and no survey; a surveyed one stays however shallow."""
    crossings = FACTS.crossings.assign(depth_now_m=0.02, depth_m=np.nan)
    told = water_lines(replace(FACTS, crossings=crossings), _legs())
    assert len(told) == 1
    assert "s3" in told[0]


def test_the_sheet_says_what_the_limits_of_water_are() -> None:
    """Beside the water it tells of, and nowhere else; in the words of the criteria's own caveat."""
    assert FLOOD_CAVEAT in WATER_CAUTION
    page = sheet_page(FACTS)
    assert page.count(WATER_CAUTION) == 2
    bare = sheet_page(without_ground(FACTS))
    assert WATER_CAUTION not in bare
    assert "Lines past tight places" not in bare


def test_tables_without_rows_tell_nothing() -> None:
    """A build that looked for neither."""
    facts = without_ground(FACTS)
    assert lines_past(facts, _legs(), SETUPS) == Lines((), "")
    assert water_lines(facts, _legs()) == ()
    assert isinstance(facts.lines, pd.DataFrame)
