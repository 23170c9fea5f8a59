"""The only way in, told by hand."""

import numpy as np
import pytest

from pipeline.loops.settings import LoopSettings
from pipeline.loops.spurs import access_spurs
from tests.loops.parts import plan_of
from tests.loops.worlds import Trail, World


@pytest.mark.parametrize(
    ("trails", "spurs"),
    [
        ([(0, 1), (1, 2), (2, 3), (3, 1)], {0}),  # a lane to a triangle
        ([(0, 1), (1, 2), (2, 0), (2, 3)], set()),  # the trailhead on the triangle: its spur is a choice
        ([(0, 1), (1, 2)], set()),  # no cycle at all: out and back is all re-driven
        ([(0, 1), (0, 1), (1, 2), (2, 3), (3, 4), (4, 2)], set()),  # parallels at the trailhead are a cycle
        ([(0, 1), (1, 1)], {0}),  # a lane to a closed segment
        ([(0, 1), (1, 2), (2, 3), (3, 1), (0, 4), (4, 5), (5, 6), (6, 4)], set()),  # two lanes: either will do
        ([(0, 1), (1, 2), (2, 3), (3, 4), (4, 2), (1, 5)], {0, 1}),  # a lane of two segments with a spur beside it
    ],
)
def test_access_spurs(settings: LoopSettings, trails: list[tuple[int, int]], spurs: set[int]) -> None:
    """Only bridges with all cycles beyond them are the only way in."""
    world = World([Trail(a, b) for a, b in trails], turn_round=set(range(9)))
    plan = plan_of(world, settings)
    found = access_spurs(np.arange(2 * len(trails)), plan.traversals, 0)
    assert {number // 2 for number in found} == spurs
