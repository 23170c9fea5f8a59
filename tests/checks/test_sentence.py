"""The verdict in a sentence."""

import numpy as np

from pipeline.checks.check import Outcome
from pipeline.checks.sentence import reasons, with_chance
from pipeline.terms import CheckName, Driver


def told(name: CheckName, demand: float, limit: float, unit: str, **parts: object) -> str:
    """Write the sentence of one row."""
    effective = np.full((1, 1), parts.pop("effective", 0.5))
    known = np.full((1, 1), parts.pop("known", True))
    arrays = {
        key: np.array([[value]], dtype=object if isinstance(value, str) else None) for key, value in parts.items()
    }
    outcome = Outcome.of(np.array([[demand]]), np.array([[limit]]), unit, **arrays)
    return reasons(name, outcome, effective, Driver.FIRST_TIMER, known)[0]


def test_numbers_units_and_place() -> None:
    """What is asked, of what, where: readable by a driver."""
    assert told(CheckName.BREAKOVER, 19.4, 20.8, "°", at_m=132.2) == "breakover 19.4° of 20.8° at 132 m"
    assert told(CheckName.SLIDE, 0.3, 0.5, "μ") == "slide 0.30 of 0.50 μ"
    assert told(CheckName.SOFT, 56.8, 200.0, "kPa") == "pressure of the tyres 57 of 200 kPa"


def test_an_overrun_never_reads_as_the_limit() -> None:
    """Demands are rounded up and limits down."""
    assert told(CheckName.ROLL, 20.81, 20.79, "°") == "roll 20.9° of 20.7°"
    assert told(CheckName.WIDTH, 2.401, 2.4, "m") == "width 2.41 of 2.40 m"


def test_a_pass_never_reads_as_an_overrun() -> None:
    """Where two digits would turn the order round or make demand and limit the same, three are written."""
    assert told(CheckName.BELLY, 0.160404, 0.165, "m") == "ground under the belly 0.161 of 0.165 m"
    assert told(CheckName.BELLY, 0.1504, 0.165, "m") == "ground under the belly 0.151 of 0.165 m"
    assert told(CheckName.WIDTH, 2.4, 2.4, "m") == "width 2.40 of 2.40 m"
    assert told(CheckName.SOFT, 57.31, 57.89, "kPa") == "pressure of the tyres 57.4 of 57.8 kPa"


def test_share_of_the_driver_is_told_when_it_decides() -> None:
    """A row barred by the driver's share says what share that is."""
    text = told(CheckName.ROLL, 30.0, 48.0, "°", effective=1.25)
    assert text == "roll 30.0° of 48.0°, 125 % of what a first-timer may use"


def test_unknown_and_half_known() -> None:
    """What is not known says why; a known overrun says what else is open."""
    assert told(CheckName.HEIGHT, 2.0, np.nan, "m", known=False, unknown="no survey") == "height not known: no survey"
    text = told(CheckName.BREAKOVER, 24.0, 20.8, "°", effective=1.1, unknown="a coarse cell")
    assert text.endswith("may use; besides, a coarse cell")


def test_what_more_there_is_to_say_follows_the_numbers() -> None:
    """After place and share, before what is not known."""
    more = "front right lifts"
    assert told(CheckName.ARTICULATION, 0.3, 0.45, "m", at_m=12.0, more=more) == (
        "articulation 0.30 of 0.45 m at 12 m; front right lifts"
    )
    text = told(CheckName.ARTICULATION, 0.5, 0.45, "m", effective=1.2, more=more, unknown="a gap")
    assert text == (
        "articulation 0.50 of 0.45 m, 120 % of what a first-timer may use; front right lifts; besides, a gap"
    )
    assert told(CheckName.ARTICULATION, 0.5, 0.45, "m", known=False, more=more, unknown="a gap").endswith("a gap")


def test_notes_and_radii() -> None:
    """A note stands in place of numbers; bends are told as radii, rounded to the unfavourable side."""
    assert told(CheckName.HEIGHT, 2.0, np.nan, "m", note="no branch found") == "height: no branch found"
    assert told(CheckName.TURN, 1.0 / 7.28, 1.0 / 6.0, "1/m", at_m=40.0) == (
        "turn radius 7.2 m, turning circle radius 6.0 m at 40 m"
    )
    assert told(CheckName.TURN, 0.0, 1.0 / 6.0, "1/m") == "turn nearly straight, turning circle radius 6.0 m"


def test_a_worsened_verdict_says_its_chance() -> None:
    """Only where doubt made a verdict worse; never none or all, as nobody knows that."""
    told = ["roll 20.0° of 40.0°"] * 4
    p, changed = np.array([[0.124, 0.001], [0.9999, 0.3]]), np.array([[True, True], [True, False]])
    assert with_chance(told, p, changed) == [
        "roll 20.0° of 40.0°; 12 % chance of being over the limit",
        "roll 20.0° of 40.0°; 1 % chance of being over the limit",
        "roll 20.0° of 40.0°; 99 % chance of being over the limit",
        "roll 20.0° of 40.0°",
    ]


def test_nobody_is_told_that_anything_is_safe() -> None:
    """No sentence carries that word."""
    for name in CheckName:
        assert "safe" not in told(name, 0.1, 0.2, "m", at_m=3.0)
