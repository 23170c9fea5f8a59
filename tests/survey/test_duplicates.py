"""Lines surveyed twice."""

import numpy as np
import shapely

from pipeline.survey.duplicates import duplicates
from tests.survey.worlds import at, objects

SNAP = 2.0
BOW = at((0, 0), (10, 5), (20, 0))


def keepers(
    shapes: list[shapely.LineString], groups: list[int] | None = None, preference: list[int] | None = None
) -> list[int]:
    """Find what stands for each line; all have the same ends."""
    count = len(shapes)
    ends = np.tile([0, 1], (count, 1))
    return duplicates(objects(shapes), ends, groups or [0] * count, np.array(preference or [0] * count), SNAP).tolist()


def test_same_shape_either_way() -> None:
    """The first of equal lines stands for the others, reversed ones and slightly different ones too."""
    other = at((0, 0.3), (5, 3.5), (10, 6.5), (20, 0))
    assert keepers([BOW, shapely.reverse(BOW), other]) == [0, 0, 0]


def test_other_shape_between_the_same_nodes() -> None:
    """Two trails between the same junctions are two trails."""
    assert keepers([BOW, at((0, 0), (20, 0)), at((0, 0), (10, -5), (20, 0))]) == [0, 1, 2]


def test_ford_does_not_stand_for_a_bridge() -> None:
    """Lines of different groups never stand for each other."""
    assert keepers([BOW, BOW], groups=[0, 1]) == [0, 1]


def test_preferred_line_stands() -> None:
    """The better line stands for the one before it."""
    assert keepers([BOW, BOW, BOW], preference=[2, 0, 1]) == [1, 1, 1]


def test_other_nodes() -> None:
    """Lines between other nodes are not compared."""
    ends = np.array([[0, 1], [1, 2], [1, 0]])
    assert duplicates(objects([BOW] * 3), ends, [0] * 3, np.zeros(3, dtype=np.int64), SNAP).tolist() == [0, 1, 0]
