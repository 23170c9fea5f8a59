"""Gain curves: worked values, diminishing returns, scaling with the window."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.loops.request import LoopRequest
from pipeline.loops.settings import LoopSettings
from pipeline.loops.value.objective import UNITS_PER_POINT, GainCurve, gain_curve
from pipeline.terms import Direction, Objective, Status, Technique, Verdict
from tests.loops.worlds import PLAIN, SETUPS, SHIPPED, Trail, World, ground

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


RICH_GROUND = (
    (Technique.CLIMB, Direction.WITH, 600.0, 0.0, 0.6, 0.5),
    (Technique.ROCK, Direction.AGAINST, 1.0, 0, 1, 0),
)


@pytest.mark.parametrize(("longest", "full"), [(3000.0, 1800.0), (6000.0, 3600.0), (12_000.0, 7200.0)])
def test_rich_ground_saturates_later(settings: LoopSettings, longest: float, full: float) -> None:
    """Where an average loop has 0.3 m of climb a metre, full practice is twice that; what is rare is as it was."""
    practice = PLAIN.model_copy(update={"spread": 2.0})
    world = World([Trail(0, 1, 1000.0, features=RICH_GROUND), Trail(1, 0, 9000.0)])
    request = LoopRequest("x", Objective.TRAINING_RICH, (1.0, longest), None, ("wagon",))
    poor = gain_curve(world.inputs(settings, practice), request)
    usual = dict(zip(poor.techniques, poor.saturation, strict=True))
    # 600 m in 20 km of directions: 0.03 m a metre, 90 m in 3 km: below what the settings say.
    assert usual[Technique.CLIMB] == pytest.approx(400.0 * max(1.0, longest / 6000.0))
    world.trails.pop()
    curve = gain_curve(world.inputs(settings, practice), request)
    rich = dict(zip(curve.techniques, curve.saturation, strict=True))
    assert rich[Technique.CLIMB] == pytest.approx(full)
    # One rock in 2 km of directions: twice what an average loop has of it.
    assert rich[Technique.ROCK] == pytest.approx(max(6.0 * max(1.0, longest / 6000.0), longest / 1000.0))


def test_what_is_closed_or_barred_changes_no_curve(settings: LoopSettings) -> None:
    """Opening a segment, or another verdict, must leave worth comparable: the curve is the same to the last bit."""
    world = ground(30, 1)
    request = LoopRequest("x", Objective.TRAINING_RICH, (1.0, 9000.0), None, SETUPS)
    first = gain_curve(world.inputs(settings, SHIPPED), request)
    for trail in world.trails[::2]:
        trail.status, trail.verdict = Status.CLOSED, (Verdict.BARRED, Verdict.BARRED)
    for inputs in (world.inputs(settings, SHIPPED), world.inputs(settings, SHIPPED, shuffle=3)):
        again = gain_curve(inputs, request)
        assert again.saturation.tolist() == first.saturation.tolist()


def test_an_aim_weighs_the_techniques(settings: LoopSettings) -> None:
    """The aim that a request names decides weights and what is looked for."""
    for aim, weights in SHIPPED.aims.items():
        request = LoopRequest("x", Objective.TRAINING_RICH, (1.0, 9000.0), None, SETUPS, aim=aim)
        curve = gain_curve(ground(20, 1).inputs(settings, SHIPPED), request)
        assert dict(zip(curve.techniques, curve.weights.tolist(), strict=True)) == weights
