"""What the sentences of grip say besides their numbers."""

import numpy as np
import pytest

from pipeline.checks.grip.words import Bend, climb_words, descent_words, slide_words
from tests.checks.worlds import envelope, ground_of


def cell(value: float) -> np.ndarray:
    """Make an array of one row and one direction."""
    return np.full((1, 1), value)


def bend(adds: float, curvature: float = 0.0, cross: float = 0.0, along: float = 0.0) -> Bend:
    """Make one bend taken at 6 km/h."""
    return Bend(cell(adds), cell(curvature), cell(cross), cell(along), speed=6.0 / 3.6)


def test_climb_says_what_limits_it() -> None:
    """Grip or the lowest gear, and the typical figure rounded down, where it reads differently."""
    assert climb_words(cell(5.0), cell(16.72), cell(28.89), cell(0) > 1)[0, 0] == (
        "limited by grip, limit 28.8° at typical grip"
    )
    assert climb_words(cell(5.0), cell(16.72), cell(16.74), cell(0) < 1)[0, 0] == "limited by the lowest gear"


@pytest.mark.parametrize(("demand", "limit"), [(0.0, 20.0), (5.0, 0.0), (np.nan, np.nan)])
def test_nothing_is_said_where_nothing_is_asked_or_left(demand: float, limit: float) -> None:
    """No climb, no descent, a note in place of the numbers, no heights."""
    assert climb_words(cell(demand), cell(limit), cell(28.0), cell(0) > 1)[0, 0] == ""
    assert descent_words(cell(demand), cell(limit), cell(28.0), cell(9.0), 1.0)[0, 0] == ""


@pytest.mark.parametrize(
    ("demand", "said"),
    [
        (9.0, "engine braking holds it at 3.5 km/h"),
        (9.1, "the brakes must hold it: engine braking alone holds 9.0°"),
        (20.0, "cannot stop at all at low grip"),
        (35.0, "cannot stop at all at low grip"),
    ],
)
def test_descent_says_what_holds_it(demand: float, said: str) -> None:
    """Engine braking up to its limit, then the brakes, then nothing: at the limit itself nothing slows it any more."""
    told = descent_words(cell(demand), cell(20.0), cell(28.89), cell(9.0), 3.5 / 3.6)
    assert told[0, 0] == f"{said}, limit 28.8° at typical grip"


def test_slide_says_what_asks_for_it() -> None:
    """Standing says nothing but the typical grip; driving and bends are named; 0.25 g slows the driver down."""
    ground = ground_of(1, mu_low=0.55)
    assert slide_words(cell(0.0), bend(0.0), ground, envelope())[0, 0] == "limit 0.60 μ at typical grip"
    assert slide_words(cell(0.05), bend(0.0), ground, envelope())[0, 0].startswith("driving asks for more")
    # v² = 9.80665·10·0.55 without a bank: 26.4 km/h; adverse 0.2: √(98.0665·0.35/1.11) = 5.56 m/s = 20.0 km/h
    flat = slide_words(cell(0.05), bend(0.03, curvature=0.1), ground, envelope())[0, 0]
    assert flat.startswith("in the bend at 6 km/h, grip gone at 26 km/h")
    adverse = slide_words(cell(0.05), bend(0.03, curvature=-0.1, cross=0.2), ground, envelope())[0, 0]
    assert adverse.startswith("in the bend at 6 km/h, grip gone at 20 km/h")
    # √(0.25·9.80665·1.0) = 1.566 m/s = 5.6 km/h; √(9.80665·0.55) = 2.32 m/s
    tight = slide_words(cell(0.2), bend(0.2, curvature=1.0), ground, envelope())[0, 0]
    assert tight.startswith("in the bend at 6 km/h, grip gone at 8 km/h")
    tightest = slide_words(cell(0.2), bend(0.2, curvature=4.0), ground, envelope())[0, 0]
    assert tightest.startswith("in the bend at 3 km/h, grip gone at 4 km/h")


def test_same_typical_grip_is_not_repeated() -> None:
    """Where low and typical grip are one, there is nothing to add; missing numbers add nothing."""
    ground = ground_of(1)
    same = type(ground)(**{**{name: getattr(ground, name) for name in ground.__slots__}, "mu_typical": ground.mu_low})
    assert slide_words(cell(0.0), bend(0.0), same, envelope())[0, 0] == ""
    assert slide_words(cell(np.nan), bend(np.nan), ground, envelope())[0, 0] == ""


def test_tipping_first_is_said() -> None:
    """Typical grip 0.60 holds a set-up that tips at atan 0.5, not one at atan 0.7."""
    said = [
        slide_words(cell(0.0), bend(0.0), ground_of(1), envelope(roll_limit_deg=float(np.degrees(np.arctan(factor)))))
        for factor in (0.5, 0.7)
    ]
    assert said[0][0, 0].endswith(", tips before it slides")
    assert "tips" not in said[1][0, 0]
