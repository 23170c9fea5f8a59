"""Sums of moves in which the group is split."""

import pytest

from pipeline.loops.moves import Move, Round, Terms, sum_up
from pipeline.loops.settings import LoopSettings
from pipeline.terms import Direction, Technique
from tests.loops.parts import plan_of
from tests.loops.worlds import Trail, World

ROCK = ((Technique.ROCK, Direction.WITH, 1.0),)


@pytest.mark.parametrize("laps", [1, 2, 4])
@pytest.mark.parametrize("again", [0.5, 1.0])
def test_the_slower_part_decides_on_every_lap(settings: LoopSettings, laps: int, again: float) -> None:
    """On further laps both parts take less coaching, so that the other part may be the slower one."""
    world = World([Trail(0, 1, 100.0), Trail(0, 1, 30.0, runs=ROCK), Trail(1, 0, 50.0)])
    legs = plan_of(world, settings).traversals
    sums = sum_up(Move((0,), (Round(0, (2,)),)), legs, Terms(0.2, laps, again))
    stays, goes, talks = legs[0].driving[1], legs[2].driving[0], legs[2].coaching[0]
    assert talks > stays
    later = max(stays, goes + again * talks)
    assert sums.minutes == pytest.approx(max(stays, goes + talks) + (laps - 1) * later)
    assert sums.coaching_min == 0.0
    assert sums.length_m == laps * 100.0
    assert sums.exposure_m == pytest.approx(laps * (100.0 * max(0.0, 0.15 - 0.2) + 30.0 * (0.3 - 0.2)))
    assert sums.utilisation == 0.3


def test_together_they_keep_to_the_slowest(settings: LoopSettings) -> None:
    """Without anybody away, pace is the slowest driver's and coaching that of who takes most, less on further laps."""
    world = World([Trail(0, 1, 100.0, runs=ROCK), Trail(1, 0, 50.0)])
    leg = plan_of(world, settings).traversals[0]
    sums = sum_up(Move((0,)), [leg], Terms(0.5, 3, 0.5))
    assert sums.driving_min == pytest.approx(3 * max(leg.driving))
    assert sums.coaching_min == pytest.approx(2 * max(leg.coaching))
