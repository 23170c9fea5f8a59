"""A loop driven the other way round."""

from pipeline.loops.settings import LoopSettings
from pipeline.loops.solve.walk import turned_round
from tests.loops.parts import plan_of
from tests.loops.worlds import Trail, World


def test_turned_round(settings: LoopSettings) -> None:
    """Turning round must reverse order and directions, and fail where a direction is not allowed."""
    arcs = plan_of(World([Trail(0, 1), Trail(1, 2), Trail(2, 0)], {1}), settings).quest.arcs
    assert turned_round(arcs, [0, 2, 4]) == [5, 3, 1]
    oneway = plan_of(World([Trail(0, 1), Trail(1, 2, oneway=1), Trail(2, 0)]), settings).quest.arcs
    assert turned_round(oneway, [0, 2, 3]) is None
