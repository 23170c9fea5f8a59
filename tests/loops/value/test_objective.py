"""Gain curves: worked values, diminishing returns, scaling with the window."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.loops.request import LoopRequest
from pipeline.loops.settings import LoopSettings
from pipeline.loops.value.objective import UNITS_PER_POINT, GainCurve, gain_curve
from pipeline.terms import Objective, Technique
from tests.loops.worlds import PLAIN, Trail, World

CURVE = GainCurve((Technique.CLIMB, Technique.ROCK), np.array([1, 3]), np.array([400.0, 6.0]))


@pytest.mark.parametrize(
    ("got", "units"),
    [
        ([0, 0], 0),
        ([1, 0], 5),
        ([20, 0], 100),
        ([21, 0], 104),
        ([50, 0], 100 + 80 + 30),
        ([100, 0], 300),
        ([1000, 0], 300),
        ([0, 20], 300),
        ([100, 100], 1200),
    ],
)
def test_worked_values(got: list[int], units: int) -> None:
    """Pieces of 20 credits at 5, 4, 3, 2, 1 units a credit, times the weight, worked by hand."""
    assert CURVE.units(np.array(got)) == units


def test_full_practice_is_a_hundred_points_a_weight() -> None:
    """Saturation must give 100 points a unit of weight."""
    assert CURVE.largest / UNITS_PER_POINT == 100 * (1 + 3)
    assert CURVE.table[:, -1].tolist() == [300, 900]


@given(st.integers(0, 300), st.integers(0, 300), st.integers(0, 60))
def test_the_same_more_is_worth_less_later(early: int, later: int, more: int) -> None:
    """Gains must never fall, and the gain of some more must not grow with what is there already (concavity)."""
    low, high = sorted((early, later))

    def units(got: int) -> int:
        return CURVE.units(np.array([got, 0]))

    assert units(low) <= units(high)
    assert units(low + more) - units(low) >= units(high + more) - units(high)


def test_table_equals_the_slopes() -> None:
    """Steps of the table must be the slopes."""
    assert np.array_equal(np.diff(CURVE.table, axis=1)[:, ::20], CURVE.slopes)


@pytest.mark.parametrize(
    ("length_m", "time_min", "ratio"),
    [
        ((1.0, 3000.0), None, 1.0),
        ((1.0, 12_000.0), None, 2.0),
        (None, (1.0, 270.0), 3.0),
        ((1.0, 6000.0), (1.0, 900.0), 1.0),
    ],
)
def test_longer_windows_saturate_later(
    settings: LoopSettings, length_m: tuple[float, float] | None, time_min: tuple[float, float] | None, ratio: float
) -> None:
    """Saturation must grow with the longest loop allowed, and never shrink below the setting."""
    request = LoopRequest("x", Objective.TRAINING_RICH, length_m, time_min, ("wagon",))
    curve = gain_curve(World([Trail(0, 1)]).inputs(settings), request)
    listed = [settings.technique[t].saturation * ratio for t in curve.techniques]
    assert curve.saturation == pytest.approx(listed)


def test_techniques_without_weight_are_left_out(settings: LoopSettings) -> None:
    """A weight of 0 must take a technique out of the curve."""
    aims = {"all-round": {Technique.CLIMB: 3, Technique.ROCK: 0}}
    practice = PLAIN.model_copy(update={"aims": aims})
    request = LoopRequest("x", Objective.TRAINING_RICH, (1.0, 2.0), None, ("wagon",))
    assert gain_curve(World([Trail(0, 1)]).inputs(settings, practice), request).techniques == (Technique.CLIMB,)
