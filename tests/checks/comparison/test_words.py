"""A change in words: the figures that moved, none that did not, and what a load, a driver and rain do."""

from dataclasses import replace

import numpy as np
import pytest

from pipeline.checks.comparison.words import Side, change_sentence, effect_text
from pipeline.terms import CheckName, Driver, Wetness
from tests.checks.worlds import LIMITS, envelope, ground_of

NAN = float("nan")


def side(demand: float = 10.0, limit: float = 20.0, share: float = 0.5, p_over: float = NAN, unit: str = "°") -> Side:
    """Make one side by its figures."""
    return Side(demand, limit, share, demand / limit / share, p_over, unit, known=True, reason="as told")


def test_only_what_moved_is_told() -> None:
    """Limit, demand and share each appear when, and only when, they differ."""
    text = change_sentence(CheckName.ROLL, side(), side(limit=16.0))
    assert text == "roll 100 % → 125 % of what the driver may use: limit 20.0° → 16.0°"
    text = change_sentence(CheckName.BELLY, side(unit="m"), side(demand=12.0, share=0.6, unit="m"))
    assert text == (
        "ground under the belly 100 % → 100 % of what the driver may use: demand 10.00 m → 12.00 m; "
        "the driver may use 50 % → 60 % of the limit"
    )


def test_figures_of_different_units_are_not_mixed() -> None:
    """A check that changes its kind, such as a climb on to an edge instead of a grade, is told whole on both sides."""
    text = change_sentence(CheckName.CLIMB, side(), side(demand=0.12, limit=0.1, unit="m"))
    assert text.endswith("of what the driver may use: before 10.0° of 20.0°, after 0.12 m of 0.10 m")


def test_an_overrun_never_reads_as_the_limit() -> None:
    """Shares are rounded up: 100.1 % is 101 %."""
    assert change_sentence(CheckName.ROLL, side(), side(demand=10.01)).startswith("roll 100 % → 101 %")


def test_doubt_alone_changes_a_verdict_too() -> None:
    """Where every figure stays but the probability, that is the cause."""
    text = change_sentence(CheckName.ROLL, side(p_over=0.014), side(p_over=0.12))
    assert text.endswith(": 1 % → 12 % chance of being over the limit")
    text = change_sentence(CheckName.ROLL, side(p_over=0.0), side(p_over=1.0))
    assert text.endswith(": under 1 % → over 99 % chance of being over the limit")


def test_figures_that_are_told_read_differently() -> None:
    """What moved by less than the usual digits show gets another digit; a chance that reads the same is left out."""
    before = side(demand=0.1712, limit=0.35, share=0.8, unit="μ", p_over=0.0150)
    after = side(demand=0.1653, limit=0.35, share=0.7, unit="μ", p_over=0.0160)
    text = change_sentence(CheckName.SLIDE, before, after)
    assert text.endswith(": demand 0.171 μ → 0.165 μ; the driver may use 80 % → 70 % of the limit")


def test_bends_are_told_as_radii() -> None:
    """Nobody thinks in curvatures: of the turning circle, and of what the line needs; a straight has no radius."""
    before, after = side(1.0 / 7.0, 1.0 / 6.0, unit="1/m"), side(1.0 / 6.25, 1.0 / 6.0, unit="1/m")
    assert change_sentence(CheckName.TURN, before, after).endswith("demand radius 7.0 m → radius 6.2 m")
    before = side(0.0005, 1.0 / 6.0, unit="1/m")
    assert "demand nearly straight → radius 6.2 m" in change_sentence(CheckName.TURN, before, after)


def test_a_small_figure_does_not_read_as_nothing() -> None:
    """An edge of 4 mm where almost none can be climbed is no 0.00 m of 0.00 m."""
    text = change_sentence(CheckName.CLIMB, side(), side(demand=0.004, limit=0.0004, unit="m"))
    assert text.endswith("after 0.004 m of 0.0004 m")


def test_what_is_not_known_is_told_by_its_reason() -> None:
    """An unsurveyed side has no figures, but a reason; what is known after it comes first: it is what decides."""
    blind = Side(NAN, 20.0, 0.5, NAN, NAN, "°", known=False, reason="roll not known: no heights along it")
    assert change_sentence(CheckName.ROLL, side(), blind) == "roll not known: no heights along it"
    seen = side()._replace(reason="roll 10.0° of 20.0°")
    assert change_sentence(CheckName.ROLL, blind, seen) == (
        "roll 10.0° of 20.0°; before: roll not known: no heights along it"
    )


def test_a_side_is_read_from_a_row() -> None:
    """Used is utilisation ÷ share, and missing utilisation is not known."""
    row = {"demand": 3.0, "limit": 6.0, "utilisation": 0.5, "p_over": 0.1, "unit": "m", "reason": "r"}
    assert Side.of(row, 0.8) == Side(3.0, 6.0, 0.8, 0.625, 0.1, "m", known=True, reason="r")
    assert not Side.of({**row, "utilisation": NAN}, 0.8).known


def test_a_roof_load_is_told_with_its_figures() -> None:
    """Mass, height of the centre of gravity and tip angle, and what stays is left out.

    2,200 kg at 0.72 m and 75 kg at 1.95 m: 0.7605 m, static angle 48.0° → 46.4° (mass-weighted mean, derived).
    """
    before = envelope()
    z = (2200.0 * 0.72 + 75.0 * 1.95) / 2275.0
    tip = float(np.degrees(np.arctan(0.8 / z)))
    after = replace(before, mass_kg=2275.0, cg_m=(-1.4, 0.0, z), roll_limit_deg=tip, height_m=2.1)
    assert effect_text(before, after, (ground_of(1), None), LIMITS) == (
        "mass 2200 → 2275 kg; centre of gravity 0.041 m higher; static tip angle across 48.0° → 46.4°; "
        "overall height 1.90 → 2.10 m"
    )


@pytest.mark.parametrize(("to", "words"), [((-1.4, 0.03, 0.70), "0.020 m lower; 0.030 m farther left")])
def test_low_and_lopsided_loads(to: tuple[float, float, float], words: str) -> None:
    """Passengers may lower the centre of gravity and move it sideways; both are told by their direction."""
    assert words in effect_text(envelope(), replace(envelope(), cg_m=to), (ground_of(1), None), LIMITS)


def test_another_driver_and_other_ground() -> None:
    """Shares that differ, speeds, and the grip of each surface whose grip differs."""
    after = replace(envelope(), driver=Driver.FIRST_TIMER)
    wet = replace(ground_of(2, mu_low=0.3), wetness=Wetness.WET)
    text = effect_text(envelope(), after, (ground_of(2, mu_low=0.55), wet), LIMITS)
    assert "a first-timer driver instead of expert" in text
    assert "roll 70 % → 50 %" in text
    assert "speed 10 → 6 km/h; front wheels turned at 20 → 10 °/s" in text
    assert text.endswith("ground damp → wet; low adhesion earth 0.55 → 0.30")


def test_no_change_is_said_plainly() -> None:
    """A comparison that moves no figure does not pretend to."""
    assert effect_text(envelope(), envelope(), (ground_of(1), None), LIMITS) == "none of the figures changes"
