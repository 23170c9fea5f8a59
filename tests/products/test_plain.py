"""Numbers, units and escaping as people and parsers see them."""

import json
import math

import pytest

from pipeline.products.plain import (
    CAUTION,
    clean,
    counts,
    json_block,
    metres,
    minutes,
    number,
    odds,
    per_cent,
    rounded,
    stamp,
    text,
    utilised,
)
from tests.products.worlds import HOSTILE


@pytest.mark.parametrize(
    ("value", "digits", "shown"),
    [
        (3.14159, 2, "3.14"),
        (-2.5, 1, "−2.5"),
        (-0.004, 2, "0.00"),
        (math.nan, 1, "–"),
        (math.inf, 1, "–"),
        (None, 0, "–"),
    ],
)
def test_numbers_carry_a_true_minus_and_no_false_zero(value: float | None, digits: int, shown: str) -> None:
    """A rounded zero has no sign; what is not a number is an en dash."""
    assert number(value, digits) == shown


@pytest.mark.parametrize(
    ("value", "shown"), [(0.4, "0 m"), (340.2, "340 m"), (999.4, "999 m"), (999.6, "1.00 km"), (12345, "12.35 km")]
)
def test_lengths_change_to_kilometres_where_they_read_better(value: float, shown: str) -> None:
    """Whole metres below one kilometre, two decimals of kilometres above; never "1000 m"."""
    assert metres(value) == shown


@pytest.mark.parametrize(("value", "shown"), [(4.6, "5 min"), (59.6, "1 h 00 min"), (65, "1 h 05 min"), (None, "–")])
def test_durations_in_hours_and_minutes(value: float | None, shown: str) -> None:
    """Minutes are rounded before they are split, so that no "0 h 60 min" comes out."""
    assert minutes(value) == shown


@pytest.mark.parametrize(
    ("chance", "said"),
    [
        (0.0, "less than 1 in 1000"),
        (0.0005, "less than 1 in 1000"),
        (0.0012, "about 1 in 1000"),
        (0.02, "about 1 in 50"),
        (0.125, "about 1 in 8"),
        (0.5, "about 1 in 2"),
        (0.52, "about 1 in 2"),
        (0.66, "about 2 in 3"),
        (0.9, "about 9 in 10"),
        (0.98, "about 49 in 50"),
        (0.9996, "all but certain"),
        (1.0, "all but certain"),
        (math.nan, ""),
        (None, ""),
    ],
)
def test_chances_are_said_as_people_say_them(chance: float | None, said: str) -> None:
    """One in so many, by ratio the nearest of a few round numbers; above one half so many of them."""
    assert odds(chance) == said


def test_said_chances_never_stray_far() -> None:
    """From one in a thousand to all but one, what is said is within half of the rarer side, and never falls."""
    said = [odds(step / 2000) for step in range(3, 1998)]
    values = [int(words.split()[1]) / int(words.split()[3]) for words in said]
    assert values == sorted(values)
    for step, value in zip(range(3, 1998), values, strict=True):
        exact = step / 2000
        assert min(value, 1 - value) == pytest.approx(min(exact, 1 - exact), rel=0.45)


def test_counts_are_ordered_and_clean() -> None:
    """Most frequent first, ties by name; what is missing counts as an empty text."""
    assert counts(["b", "a", "b", "c\x07", "a", None]) == {"a": 2, "b": 2, "": 1, "c\ufffd": 1}


def test_rounding_for_json_knows_no_nan() -> None:
    """What is not finite is None."""
    assert [rounded(value, 2) for value in (1.234, math.nan, math.inf, None)] == [1.23, None, None, None]


@pytest.mark.parametrize(
    ("value", "shown"), [(0.83, "0.83"), (0.8301, "0.84"), (1.0, "1.00"), (1.0004, "1.01"), (math.nan, "–")]
)
def test_a_utilisation_never_reads_lower_than_it_is(value: float, shown: str) -> None:
    """An overrun of the limit by half a per mille must not be printed as 1.00."""
    assert utilised(value) == shown


def test_shares_in_per_cent() -> None:
    """A share is shown in per cent, missing ones as a dash."""
    assert per_cent(0.0879, 1) == "8.8 %"
    assert per_cent(math.nan) == "–"


def test_stamp_is_the_time_to_the_minute() -> None:
    """Seconds and offset are for the manifest, not for people."""
    assert stamp("2025-03-01T14:05:09+00:00") == "2025-03-01 14:05 UTC"
    assert stamp("2025-03-01T14:05:09") == "2025-03-01 14:05"


@pytest.mark.parametrize("bad", ["\x00", "\x07", "\x1b", "\x7f", "\x9b", "\ud800", "\ufffe", "\uffff"])
def test_characters_that_xml_cannot_carry_become_visible(bad: str) -> None:
    """XML 1.0, section 2.2: none of these is a Char; each is shown as U+FFFD, not dropped in silence."""
    assert clean(f"a{bad}b") == "a\ufffdb"


def test_clean_keeps_every_letter() -> None:
    """Other scripts, accents and emoji pass; runs of white space become one space."""
    assert clean("  Äußerer\n\tWeg \u05d0\u05d1 \U0001f698 ") == "Äußerer Weg \u05d0\u05d1 \U0001f698"


@pytest.mark.parametrize("value", [None, math.nan, 3.0])
def test_a_missing_text_is_the_word_for_it(value: object) -> None:
    """NaN and None in a text column read as the given word."""
    assert text(value, "none") == "none"


@pytest.mark.parametrize("hostile", [*HOSTILE, "</SCRIPT >", "<!--", "]]>", "\\", '\\"', "\\u003c", "%{a}&amp;"])
def test_json_block_gives_back_what_went_in_and_holds_nothing_html_knows(hostile: str) -> None:
    """JSON.parse reads the same data; no character of the block can end a script, open a tag or start a template."""
    block = json_block({"name": hostile, hostile: [hostile]})
    assert json.loads(block) == {"name": hostile, hostile: [hostile]}
    outside_structure = block.replace("{", "", 1)[:-1]
    for char in "<>&%\u2028\u2029":
        assert char not in block
    for char in "{}":
        assert char not in outside_structure


def test_json_block_refuses_what_json_has_no_word_for() -> None:
    """NaN would end up as a syntax error in the page."""
    with pytest.raises(ValueError, match="JSON"):
        json_block({"value": math.nan})


def test_the_caution_never_says_safe() -> None:
    """No product promises safety."""
    assert "safe" not in CAUTION.lower()
    assert all(word in CAUTION for word in ("Walk the trail", "spotter", "instructor"))
