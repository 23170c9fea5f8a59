"""The way past a thing in a sentence."""

from itertools import product

import pytest

from pipeline.checks.passing.words import at_an_angle, reasons_of
from pipeline.terms import Drive, Driver
from pipeline.units import KMH
from tests.checks.passing.worlds import Row, chosen, thing
from tests.checks.worlds import LIMITS, envelope


def told(row: Row, way: int = 0, **how: object) -> str:
    """Write the sentence of one thing and direction."""
    vehicle = how.setdefault("vehicle", envelope())
    return reasons_of(chosen(row, **how), vehicle, LIMITS)[way]


def test_straddling_with_its_figures() -> None:
    """What stands under what, what that leaves, and the line; to the other side in the other direction."""
    rock = thing(height_m=0.13, offset_m=0.6)
    assert told(rock) == "straddle: 0.13 m high, 0.20 m under the rear axle leaves 0.07 m; keep 0.3 m right"
    assert told(rock, 1) == "straddle: 0.13 m high, 0.20 m under the rear axle leaves 0.07 m; keep 0.3 m left"
    assert told(thing(height_m=0.13)) == "straddle: 0.13 m high, 0.20 m under the rear axle leaves 0.07 m"
    assert told(thing("hole", height_m=-0.4)) == "straddle: 0.50 m wide, 1.35 m between the tyres"


def test_treading_with_its_figures() -> None:
    """Which wheels as the driver sees them, the edge, what they climb, how fast."""
    rock = thing(height_m=0.16, offset_m=0.8, width_m=0.4)
    with_it, against = told(rock, width_m=2.5), told(rock, 1, width_m=2.5)
    assert with_it == (
        "tread: right wheels on it; 0.16 m high, as steep as an edge of 0.10 m of the 0.25 m that they climb; "
        "no faster than 1.2 km/h for the springs"
    )
    assert against.startswith("tread: left wheels on it")
    assert "on it" in told(thing("log", height_m=0.1, width_m=3.0))
    assert "through it" in told(thing("rut", height_m=-0.1, length_m=8.0))


def test_at_an_angle_is_told_apart() -> None:
    """What climbs one wheel after the other says so, with what square on would give."""
    log = thing("log", height_m=0.14, length_m=0.3, width_m=3.0)
    angled, square = told(log, grip=0.35), told(log, grip=0.8)
    assert angled.startswith("tread: both wheels on it, at an angle, one wheel after the other; 0.14 m high")
    assert "m square on)" in angled
    assert (at_an_angle(angled), at_an_angle(square)) == (True, False)


def test_creeping_is_said_in_words() -> None:
    """Less than half a kilometre an hour is no speed that anybody drives by."""
    assert "no faster than it will creep" in told(thing(height_m=0.198, length_m=0.4, offset_m=0.8), width_m=2.4)


def test_speed_is_told_where_the_driver_must_slow_down() -> None:
    """A speed that the driver does not reach anyway is none to be told; how far the springs give at his own is.

    The springs give in proportion to the speed: what they may give at 17.96 km/h is six times that at 3 km/h.
    """
    rut = thing("rut", height_m=-0.12, length_m=8.0)
    assert chosen(rut).speed_m_s / KMH == pytest.approx(17.96, abs=0.01)
    assert "no faster" not in told(rut)
    assert chosen(rut).springs_m == pytest.approx(chosen(rut).over.give_m * 3.0 / 17.96, rel=1e-3)
    assert "at 3 km/h the springs give up to 0.02 m" in told(rut)
    rock = thing(height_m=0.16, offset_m=0.8, width_m=0.4)
    speed = float(chosen(rock, width_m=2.5, vehicle=envelope()).speed_m_s[0, 0])
    for faster in (0.99, 1.01):
        slow = LIMITS.merged({"motion": {"expert": {"obstacle_kmh": faster * speed / KMH}}})
        text = reasons_of(chosen(rock, width_m=2.5, vehicle=envelope()), envelope(), slow)[0]
        assert ("for the springs" in text) == (faster > 1.0)


def test_a_centimetre_is_no_edge() -> None:
    """A long shallow dip is met like an edge of a centimetre: no figures for that."""
    assert "no edge to climb" in told(thing("rut", height_m=-0.1, length_m=8.0))


def test_less_than_the_limit_may_be_too_much() -> None:
    """What a driver may not use in full says how much it is; what is over the limit itself needs no more words."""
    learner = envelope(driver=Driver.FIRST_TIMER, wheel_travel_m=0.2)
    row = thing(height_m=0.18, offset_m=0.8)
    text = told(row, grip=0.9, width_m=2.4, vehicle=learner)
    assert "by 0.18 m of 0.20 m of wheel travel, of which a first-timer may use 0.16 m" in text
    edge = thing(height_m=0.2, length_m=0.2, offset_m=0.8)
    said = told(edge, grip=0.5, width_m=2.4, vehicle=envelope(driver=Driver.FIRST_TIMER))
    assert "at a grip of 0.50 climbs 0.23 m, of which a first-timer may use 0.16 m" in said
    higher = thing(height_m=0.3, length_m=0.2, offset_m=0.8)
    assert "climbs 0.14 m; " in told(higher, grip=0.5, width_m=2.4, vehicle=learner)
    assert "climbs nothing" in told(edge, grip=0.06, width_m=2.4)


def test_dropping_off_a_step_climbs_nothing() -> None:
    """Downwards there is no edge."""
    assert "the wheels drop off it" in told(thing("step", height_m=-0.1, length_m=None, width_m=3.0))


def test_going_round_says_the_side_and_what_is_left() -> None:
    """On 3.7 m: 1.85 + 0.8 − 2.4 m on its left, in travel; on its right coming back."""
    rock = thing(height_m=0.18, offset_m=1.0, width_m=0.4)
    assert told(rock, width_m=3.7) == (
        "go round: on its left, 0.25 m to spare beyond mirrors and margin; keep 0.4 m left"
    )
    assert told(rock, 1, width_m=3.7).endswith(
        "on its right, 0.25 m to spare beyond mirrors and margin; keep 0.4 m right"
    )


@pytest.mark.parametrize(
    ("row", "how", "parts"),
    [
        (
            thing(height_m=0.3, width_m=0.3),
            {"width_m": 2.4},
            ("0.20 m under the rear axle with 0.05 m of air is too little", "no wheel reaches it", "short of room"),
        ),
        (thing(height_m=0.18), {"grip": 0.15}, ("like an edge of 0.11 m", "at a grip of 0.15 climbs 0.0")),
        (thing(height_m=0.3, width_m=1.2), {"grip": 0.3}, ("too wide between the tyres by 0.15 m",)),
        (
            thing(height_m=0.18, offset_m=0.8),
            {"grip": 0.9, "width_m": 2.4, "vehicle": envelope(wheel_travel_m=0.17)},
            ("it twists the axles by 0.18 m of 0.17 m of wheel travel",),
        ),
        (
            thing(height_m=0.25, length_m=2.0, width_m=3.0),
            {"grip": 0.9},
            ("with wheels on it ground under the belly takes 125 % of what an expert may use",),
        ),
        (
            thing(height_m=0.1, offset_m=0.8, width_m=0.7),
            {"grip": 0.1, "width_m": 2.6, "vehicle": envelope(drive=Drive.REAR)},
            ("to straddle it takes 0.63 m to the right, more than the trail gives",),
        ),
        (thing("log", height_m=0.3, width_m=None), {}, ("it lies right across",)),
        (thing(height_m=0.3), {"width_m": None}, ("room beside it is not known",)),
        (
            thing("step", height_m=0.3, length_m=None, width_m=3.0),
            {"grip": 0.9, "vehicle": envelope(crawl_grade=0.3)},
            ("in its lowest gear climbs",),
        ),
    ],
)
def test_barred_says_every_why(row: Row, how: dict[str, object], parts: tuple[str, ...]) -> None:
    """Straddling, treading and going round, each with what speaks against it."""
    text = told(row, **how)
    assert text.startswith("barred: ")
    assert [part for part in parts if part not in text] == []


@pytest.mark.parametrize(
    ("row", "text"),
    [
        (thing(height_m=None), "unsurveyed: its height is not known"),
        (thing("hole", height_m=None), "unsurveyed: its depth is not known"),
        (thing(height_m=0.3, width_m=None), "unsurveyed: its width is not known"),
    ],
)
def test_unsurveyed_says_what_is_missing(row: Row, text: str) -> None:
    """The figure that the survey lacks."""
    assert told(row) == text


def test_odd_figures_make_sentences_too() -> None:
    """Nothing, missing, negative or huge sizes in every mix: a way and a sentence for each, without "nan" or "inf"."""
    kinds = ("rock", "log", "step", "hole", "ditch", "rut")
    sizes = product(kinds, (0.0, -0.2, 1.5, None), (0.0, 30.0, None), (0.0, 5.0, None), (0.8, None))
    rows = [
        thing(kind, height_m=height, length_m=length, width_m=width, offset_m=offset)
        for kind, height, length, width, offset in sizes
    ]
    for room in (None, 5.0):
        sentences = reasons_of(chosen(*rows, width_m=room), envelope(), LIMITS)
        assert len(sentences) == 2 * len(rows)
        assert [text for text in sentences if "nan" in text or "inf" in text] == []
