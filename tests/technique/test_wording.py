"""Sizes, sides and distances in words."""

import math

import pytest

from pipeline.technique.wording import Described, at_a_glance, call_texts, lead_text, room_text, size_text, spoken
from pipeline.terms import Technique
from tests.technique.worlds import techniques


@pytest.mark.parametrize(("gap", "told"), [(0.2299, "0.22 m"), (0.23, "0.23 m"), (-0.1, "0.00 m")])
def test_room_is_rounded_down(gap: float, told: str) -> None:
    """Never more than there is, and no less than nothing."""
    assert room_text(gap) == told


@pytest.mark.parametrize(
    ("key", "size", "side", "text"),
    [
        (Technique.CLIMB, 16.7, 0, "17°"),
        (Technique.CREST, 9.6, 0, "10°"),
        (Technique.TIGHT_TURN, 6.54, 1, "6.5 m"),
        (Technique.TIGHT_TURN, 11.6, 1, "12 m"),
        ("thing gap", 2.3, 0, "2.30 m wide"),
        ("thing gap", math.nan, 0, "width not measured"),
        ("thing branch", 2.1, 0, "2.10 m clear"),
        ("thing branch", math.nan, 0, "height not measured"),
        ("thing water", 0.35, 0, "0.35 m deep"),
        ("thing water", math.nan, 0, "depth not measured"),
        ("thing soft", 12.4, 0, "12 m long"),
        ("thing soft", math.nan, 0, "length not measured"),
        ("thing rut", 0.2, 0, "0.20 m deep"),
        ("thing ditch", 0.3, 0, "0.30 m deep"),
        ("thing hole", 0.3, 0, "0.30 m deep"),
        ("thing rock", 0.3, 0, "0.30 m high"),
        ("thing log", math.nan, 0, "height not measured"),
        ("thing step", 0.2, 1, "0.20 m up"),
        ("thing step", 0.2, -1, "0.20 m down"),
        ("thing step", math.nan, 0, "height not measured"),
    ],
)
def test_size_has_its_unit_or_says_why_not(key: str, size: float, side: int, text: str) -> None:
    """Degrees without a point, metres as they are measured, and a missing size is said."""
    assert size_text(key, size, side) == text


def test_descent_reads_as_an_instructor_says_it() -> None:
    """Size and length stand in the text."""
    coming, before = call_texts(techniques().descent, Described(Technique.DESCENT, 17.2, 38.4, 0, None))
    assert coming == "descent 17° for 38 m"
    assert "wheels straight" in before


@pytest.mark.parametrize(("side", "high", "low"), [(1, "right", "left"), (-1, "left", "right")])
def test_side_slope_names_both_sides(side: int, high: str, low: str) -> None:
    """The ground rises on one side; the way out is steering to the other, downhill."""
    coming, before = call_texts(techniques().side_slope, Described(Technique.SIDE_SLOPE, 14.0, 22.0, side, None))
    assert coming == f"side slope 14° for 22 m, high on the {high}"
    assert f"steer {low}, downhill" in before


@pytest.mark.parametrize(("side", "to", "wide"), [(1, "right", "left"), (-1, "left", "right")])
def test_turn_names_its_side(side: int, to: str, wide: str) -> None:
    """A turn to the right is taken wide to the left, and the right rear wheel cuts in."""
    coming, before = call_texts(techniques().tight_turn, Described(Technique.TIGHT_TURN, 7.0, 9.0, side, None))
    assert coming == f"tight turn to the {to}, radius 7.0 m"
    assert f"swing wide to the {wide}" in before
    assert f"the {to} rear wheel" in before


def test_named_things_are_named_and_every_text_is_filled() -> None:
    """A thing's name follows in brackets; no text of the shipped settings keeps a brace."""
    settings = techniques()
    for key, advice in settings.advice().items():
        coming, before = call_texts(advice, Described(key, 0.3, 5.0, 0, "Old Oak"))
        assert coming.endswith(" (Old Oak)")
        assert not set("{}") & set(coming + before)


@pytest.mark.parametrize(
    ("at", "text"), [(340.0, "15 m before: "), (9.0, "9 m before: "), (0.4, "before moving off: ")]
)
def test_lead_is_never_before_the_start(at: float, text: str) -> None:
    """The driver acts a stated distance before the feature, or where the loop begins."""
    assert lead_text(15.0, at) == text


def test_no_lead_is_here() -> None:
    """Where the settings ask for no lead, the driver acts at the place."""
    assert lead_text(0.0, 100.0) == "here: "


@pytest.mark.parametrize(("words", "text"), [(["a"], "a"), (["a", "b"], "a and b"), (["a", "b", "c"], "a, b and c")])
def test_lists_are_spoken(words: list[str], text: str) -> None:
    """Commas, and an "and" before the last."""
    assert spoken(words) == text


@pytest.mark.parametrize(
    ("reason", "told"),
    [
        ("width 2.60 of 2.80 m at 12 m", "width 2.60 of 2.80 m"),
        (
            "tipping over 50.0° of 60.0° at 50.5 m, 94 % of what it may use",
            "tipping over 50.0° of 60.0°, 94 % of what it may use",
        ),
        (
            "slide 0.23 of 0.35 μ at 192 m; in the bend at 6 km/h, grip gone at 17 km/h, 0.55 μ at typical grip",
            "slide 0.23 of 0.35 μ",
        ),
        (
            "articulation 0.09 of 0.16 m at 13 m; rear left would lift first; 23 % chance of being over the limit",
            "articulation 0.09 of 0.16 m (23 % chance of being over)",
        ),
        (
            "roll 20.0° of 42.9° at 94 m; on three wheels, front left in the air",
            "roll 20.0° of 42.9° (front left in the air)",
        ),
        ("articulation 0.17 of 0.16 m at 56 m; rear left lifts", "articulation 0.17 of 0.16 m (rear left lifts)"),
        (
            "climb 0.08 of 0.10 m at 160 m; the edge that a wheel meets at log O46, momentum not counted",
            "climb 0.08 of 0.10 m (edge at log O46)",
        ),
        (
            "width 2.40 of 2.46 m at 33 m; 0.17 m between left mirror and tree Old Oak; the trees were not surveyed",
            "width 2.40 of 2.46 m (0.17 m between left mirror and tree Old Oak)",
        ),
    ],
)
def test_a_reason_is_told_at_a_glance(reason: str, told: str) -> None:
    """Numbers, a wheel in the air, the thing, the chance that called for the spotter: not what lies behind them."""
    assert at_a_glance(reason) == told
