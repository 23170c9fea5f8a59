"""Values as people write them in survey files.

Outside checks: OpenStreetMap wiki, pages "Key:maxwidth", "Key:width", "Key:incline", "Key:tracktype", "Key:oneway".
"""

import math

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.survey import values
from pipeline.survey.values import Reading, ValueNotUnderstoodError

GRADES = tuple(f"grade{number}" for number in range(1, 6))


def metres(value: object) -> Reading:
    """Read a length between 0.1 and 100 m."""
    return values.length_m(value, low=0.1, high=100.0)


@pytest.mark.parametrize(
    ("written", "expected"),
    [
        # OpenStreetMap wiki, "Key:maxwidth": metres by default, with unit, feet and inches.
        ("3", 3.0),
        ("3.2", 3.2),
        ("3 m", 3.0),
        ("2.5 m", 2.5),
        ("6'7\"", 2.0066),
        ("12'6\"", 3.81),
        ("2'6\"", 0.762),
        ("8'", 2.4384),
        ("16 ft", 4.8768),
        ("8ft 6in", 2.5908),
        ('30"', 0.762),
        ("6′7″", 2.0066),
        ("250 cm", 2.5),
        ("2500 mm", 2.5),
        (2.5, 2.5),
        (3, 3.0),
        (np.float32(2.5), 2.5),
    ],
)
def test_lengths_by_the_rules(written: object, expected: float) -> None:
    """A length written by the wiki's rules reads without a note."""
    reading = metres(written)
    assert reading.value == pytest.approx(expected, abs=1e-4)
    assert reading.note == ""


@pytest.mark.parametrize(
    ("written", "expected"),
    [("0,6", 0.6), ("2,5 m", 2.5), ("12' 6\"", 3.81), ("2-3", 2.0), ("2.5;2", 2.0), ("2 m - 2.5 m", 2.0)],
)
def test_lengths_bent_to_be_understood(written: str, expected: float) -> None:
    """Documented mistakes, ranges and lists are understood, with a note that says so; the tighter value counts."""
    reading = metres(written)
    assert reading.value == pytest.approx(expected, abs=1e-4)
    assert reading.note


@pytest.mark.parametrize("value", [None, "", "  ", "none", "unknown", "default", math.nan, np.nan, pd.NaT, pd.NA])
def test_lengths_not_known(value: object) -> None:
    """Words and gaps that mean "not known" are no number and no fault."""
    if value is pd.NA:
        value = None
    assert metres(value).value is None


@pytest.mark.parametrize("value", ["narrow", "2850", 2850, "5 miles", "-3", "m", "1.2.3", "2'6'3", True, math.inf, "'"])
def test_lengths_refused(value: object) -> None:
    """Words, other units and millimetres taken for metres are refused, and what is allowed is said."""
    with pytest.raises(ValueNotUnderstoodError, match=r"0\.1 to 100 m"):
        metres(value)


@pytest.mark.parametrize("value", ["0", 0, "0 m", 0.0])
def test_no_width_is_an_unknown_width(value: object) -> None:
    """A width of 0, which tables write where nothing was measured, is not known, with a note; a depth of 0 is 0."""
    assert metres(value) == Reading(None, "0 read as not known")
    assert values.length_m(value, low=0.0, high=5.0).value == 0.0


def test_worse_of_water_is_the_deeper() -> None:
    """Of two depths the deeper counts."""
    assert values.length_m("0.3-0.5", low=0.0, high=5.0, worse=max).value == 0.5


@given(st.floats(0.1, 99.0))
def test_length_written_back(value: float) -> None:
    """A length survives being written in metres and read again."""
    assert metres(f"{value:.6f} m").value == pytest.approx(value, abs=1e-6)


@given(st.integers(1, 40), st.integers(0, 11))
def test_feet_and_inches_against_exact_inches(feet: int, inches: int) -> None:
    """Feet and inches are exactly 0.0254 m an inch (international yard and pound agreement of 1959)."""
    assert metres(f"{feet}'{inches}\"").value == pytest.approx((12 * feet + inches) * 0.0254, abs=1e-9)


@pytest.mark.parametrize(
    ("written", "expected"),
    [
        # OpenStreetMap wiki, "Key:incline": per cent, degrees with the sign, positive up in way direction.
        ("10%", 10.0),
        ("-5%", -5.0),
        ("20 %", 20.0),
        ("10°", 17.6327),
        ("-10°", -17.6327),
        ("10", 10.0),
        (12.5, 12.5),
        ("0%", 0.0),
        ("-5 - -12%", -12.0),
        ("10%;14%", 14.0),
        ("up", None),
        ("down", None),
        ("yes", None),
        (None, None),
    ],
)
def test_inclines(written: object, expected: float | None) -> None:
    """Grades read in per cent; up and down say no size; of several the steepest counts."""
    value = values.incline_pct(written).value
    assert value == (None if expected is None else pytest.approx(expected, abs=1e-4))


@pytest.mark.parametrize("value", ["steep", "400%", "90°", "1:5"])
def test_inclines_refused(value: str) -> None:
    """What is no grade, or none that ground can have, is refused."""
    with pytest.raises(ValueNotUnderstoodError, match="per cent"):
        values.incline_pct(value)


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        ("yes", 1), ("true", 1), ("1", 1), (1, 1), (1.0, 1), (True, 1), ("-1", -1), (-1, -1), ("reverse", -1),
        ("no", 0), ("false", 0), (False, 0), (0.0, 0), (None, 0), ("", 0), (math.nan, 0), ("alternating", 0),
    ],
)  # fmt: skip
def test_oneway(value: object, expected: int) -> None:
    """One-way rules as "Key:oneway" lists them; none means both directions."""
    assert values.oneway(value).value == expected


@pytest.mark.parametrize("value", ["reversible", "uphill", "2"])
def test_oneway_refused(value: str) -> None:
    """A rule that changes by the hour or means nothing is refused."""
    with pytest.raises(ValueNotUnderstoodError, match="yes"):
        values.oneway(value)


@pytest.mark.parametrize(
    ("value", "expected"),
    [("yes", True), ("true", True), ("viaduct", True), ("stepping_stones", True), (1, True), (True, True)]
    + [(word, False) for word in ("no", "false", "0", "", None, 0, False, math.nan)],
)
def test_flags(value: object, expected: bool) -> None:  # noqa: FBT001 — the expected answer
    """A kind of bridge is a bridge; nothing said is no."""
    assert values.flag(value).value is expected


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        ("grade2", "grade2"),
        ("grade2-grade3", "grade3"),
        ("grade2;grade4", "grade4"),
        ("Grade1", "grade1"),
        (None, None),
    ],
)
def test_tracktype(value: object, expected: str | None) -> None:
    """Ranges and lists, which occur in the data, read as the worse ("Key:tracktype")."""
    assert values.worst_word(value, GRADES).value == expected


def test_word_refused_names_the_nearest() -> None:
    """A misspelt word is refused with the nearest known one."""
    with pytest.raises(ValueNotUnderstoodError, match='did you mean "grade3"'):
        values.worst_word("grad3", GRADES)
    with pytest.raises(ValueNotUnderstoodError, match='did you mean "branch"'):
        values.one_word("brunch", ("rock", "branch"))
    with pytest.raises(ValueNotUnderstoodError, match="rock"):
        values.one_word("rock;branch", ("rock", "branch"))


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        ("2025-05-31", "2025-05-31"),
        ("2025-05-31T08:00:00", "2025-05-31"),
        ("2025/05/31", "2025-05-31"),
        (np.datetime64("2025-05-31"), "2025-05-31"),
        (None, None),
        ("", None),
    ],
)
def test_dates(value: object, expected: str | None) -> None:
    """ISO dates (ISO 8601), with or without a time, read as the date."""
    assert values.date(value).value == expected


@pytest.mark.parametrize("value", ["31.05.2025", "2025-02-30", "May 2025", "2025-5-31", "2025-05/31"])
def test_dates_refused(value: str) -> None:
    """Other orders and days that do not exist are refused."""
    with pytest.raises(ValueNotUnderstoodError, match="2025-05-31"):
        values.date(value)


def test_text_and_whole_numbers() -> None:
    """A whole number that a table turned into a float keeps its look; spaces are tidied; numbers are bounded."""
    assert values.text(7.0).value == "7"
    assert values.text(" Old   quarry ").value == "Old quarry"
    assert values.text("none").value == "none"
    assert values.text(math.nan).value is None
    assert values.whole("+1", low=-5, high=5).value == 1
    assert values.whole(None, low=-5, high=5).value is None
    for bad in ("1;2", 9, "1.5"):
        with pytest.raises(ValueNotUnderstoodError, match="whole number"):
            values.whole(bad, low=-5, high=5)


@pytest.mark.parametrize(
    ("value", "speed"), [(0.4, 0.4), ("0.5 m/s", 0.5), ("3.6 km/h", 1.0), ("0,4", 0.4), ("0.2-0.6", 0.6), (None, None)]
)
def test_speed(value: object, speed: float | None) -> None:
    """Metres a second, kilometres an hour (÷ 3.6 by the SI brochure), ranges of which the fastest counts."""
    read = values.speed_m_s(value, high=10.0).value
    assert read == (None if speed is None else pytest.approx(speed))


@pytest.mark.parametrize("value", ["fast", -0.1, 11, "2 m", "5 kn", True])
def test_no_speed(value: object) -> None:
    """What is no speed is refused with the units that are understood; a length is none."""
    with pytest.raises(ValueNotUnderstoodError, match="0 to 10 m/s, as"):
        values.speed_m_s(value, high=10.0)
