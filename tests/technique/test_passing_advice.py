"""The way past a thing in the words of a call."""

import math
from collections.abc import Mapping

import pandas as pd
import pytest

from pipeline.checks.passing.words import CREEP_KMH
from pipeline.technique.passing_advice import Ways, way_past
from pipeline.technique.wording import Described, Spot
from tests.technique.worlds import passings_of, techniques

HERE = Spot("a", "with", 20.0)
TREAD: Mapping[str, object] = {"passing": "tread", "wheels": "left", "reason": "tread: left wheels on it"}


def said(
    *rows: Mapping[str, object], kind: str = "rock", side: int = 0, setups: tuple[str, ...] = ("box",)
) -> str | None:
    """Say what the set-ups do about thing ``o``."""
    ways = Ways.of(passings_of(*rows), setups, techniques().passings)
    return way_past(ways, "o", HERE, Described(f"thing {kind}", 0.2, 0.0, side, None))


@pytest.mark.parametrize(
    ("row", "kind", "side", "text"),
    [
        ({}, "rock", 0, "straddle it"),
        ({"shift_m": 0.31}, "rock", 0, "straddle it, 0.3 m right of the middle"),
        ({"shift_m": -0.26}, "hole", 0, "straddle it, 0.3 m left of the middle"),
        ({"shift_m": 0.04}, "rock", 0, "straddle it"),
        (TREAD, "rock", 0, "left wheels on it"),
        ({**TREAD, "speed_kmh": 2.19}, "rock", 0, "left wheels on it, no faster than 2.1 km/h"),
        ({**TREAD, "speed_kmh": 9.0}, "rock", 0, "left wheels on it"),
        ({**TREAD, "speed_kmh": CREEP_KMH / 2.0}, "rock", 0, "left wheels on it, as slowly as it creeps"),
        ({**TREAD, "shift_m": 0.2}, "hole", 0, "left wheels through it, 0.2 m right of the middle"),
        ({**TREAD, "wheels": "both"}, "log", 0, "both wheels over it, square on"),
        ({**TREAD, "wheels": "both"}, "rut", 0, "both wheels through it"),
        ({**TREAD, "wheels": "both"}, "step", 1, "both wheels up it, square on"),
        ({**TREAD, "wheels": "both"}, "step", -1, "both wheels down it, square on"),
        (
            {**TREAD, "wheels": "both", "reason": "tread: both wheels on it, at an angle, one wheel after the other"},
            "log",
            0,
            "both wheels over it, at an angle, one wheel after the other",
        ),
        ({"passing": "go round", "shift_m": 0.9}, "rock", 0, "pass it on the right"),
        ({"passing": "go round", "shift_m": -0.9}, "rock", 0, "pass it on the left"),
        ({"passing": "barred", "shift_m": math.nan}, "rock", 0, "no way past: do not drive on"),
        ({"passing": "unsurveyed", "shift_m": math.nan}, "rock", 0, "not measured: get out and look first"),
    ],
)
def test_each_way_in_words(row: Mapping[str, object], kind: str, side: int, text: str) -> None:
    """What the wheels do, where to drive, how slowly; small shifts and fast speeds go unsaid."""
    assert said(row, kind=kind, side=side) == text


def test_the_same_for_all_is_said_once() -> None:
    """Two set-ups that do the same share one text, at the pace of the slower one."""
    rows = ({**TREAD, "speed_kmh": 2.5}, {**TREAD, "setup": "long", "speed_kmh": 1.2})
    assert said(*rows, setups=("box", "long")) == "left wheels on it, no faster than 1.2 km/h"


def test_what_differs_is_said_for_each() -> None:
    """In the order of the loop's set-ups, also for one that the thing is not in the way of."""
    rows = ({}, {**TREAD, "setup": "long"})
    assert said(*rows, setups=("long", "box")) == "long: left wheels on it; box: straddle it"
    assert said({}, setups=("box", "narrow")) == "box: straddle it; narrow: clear of it"


def test_other_set_ups_places_and_directions_do_not_count() -> None:
    """Only rows of this thing, this leg and these set-ups; without any nothing is said."""
    for other in ({"setup": "long"}, {"direction": "against"}, {"segment_id": "b"}, {"obstacle_id": "p"}):
        assert said(other) is None
    assert said({}, {"setup": "long", "passing": "barred", "shift_m": math.nan}) == "straddle it"


def test_a_table_without_rows_says_nothing() -> None:
    """No things in the way of anybody."""
    empty: pd.DataFrame = passings_of().iloc[:0]
    assert (
        way_past(Ways.of(empty, ("box",), techniques().passings), "o", HERE, Described("thing rock", 0.2, 0.0, 0, None))
        is None
    )
