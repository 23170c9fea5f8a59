"""One way to write a loop down."""

from itertools import permutations

import pytest

from pipeline.loops.settings import LoopSettings
from pipeline.loops.solve.rules import Rules, breaches
from pipeline.loops.solve.walk import smallest_order, turned_round
from tests.loops.parts import plan_of
from tests.loops.worlds import Trail, World

FREE = Rules(length_dm=(0, 10**9), time_s=None, redriven=1.0)
EIGHT = World([Trail(0, 1), Trail(1, 2), Trail(2, 0), Trail(0, 3), Trail(3, 4), Trail(4, 0)], {1})


@pytest.mark.parametrize("walk", [[6, 8, 10, 0, 2, 4], [0, 2, 4, 6, 8, 10], [11, 9, 7, 0, 2, 4], [0, 1, 5, 3, 2, 4]])
def test_smallest_order_equals_trying_all(settings: LoopSettings, walk: list[int]) -> None:
    """The order must be the smallest of all permutations that are loops."""
    arcs = plan_of(EIGHT, settings).quest.arcs
    if breaches(arcs, walk, FREE):
        walk = [0, 2, 4]
    every = [list(p) for p in permutations(walk) if not breaches(arcs, list(p), FREE)]
    assert smallest_order(arcs, walk) == min(every)


def test_order_does_not_depend_on_the_order_given(settings: LoopSettings) -> None:
    """Equal sets of arcs must be written alike."""
    arcs = plan_of(EIGHT, settings).quest.arcs
    assert smallest_order(arcs, [6, 8, 10, 0, 2, 4]) == smallest_order(arcs, [0, 2, 4, 6, 8, 10])


def test_turned_round(settings: LoopSettings) -> None:
    """Turning round must reverse order and directions, and fail where a direction is not allowed."""
    arcs = plan_of(EIGHT, settings).quest.arcs
    assert turned_round(arcs, [0, 2, 4]) == [5, 3, 1]
    oneway = plan_of(World([Trail(0, 1), Trail(1, 2, oneway=1), Trail(2, 0)]), settings).quest.arcs
    assert turned_round(oneway, [0, 2, 3]) is None
