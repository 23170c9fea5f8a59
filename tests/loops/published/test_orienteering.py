"""The solver on published orienteering instances.

Tsiligirides's sets 1–3 ("Heuristic methods applied to orienteering", Journal of the Operational Research Society 35,
1984): start, end and real coordinates, Euclidean distances. The figures are those of the files that the
repositories shiladit/Orienteering and fameyer94/KinematicRoutingInstances keep. No table of optima was reachable: the
scores asked for here were proven with another formulation by mixed-integer programming; those of set 1 agree with
what is remembered from the literature (from memory, not verified).
"""

import numpy as np
import pytest

from tests.loops.published.nets import Orienteering, effort, matrix, most_score, points


@pytest.mark.parametrize(
    ("part", "limit", "score"), [(1, 15, 45), (2, 15, 120), (2, 23, 210), (2, 30, 265), (3, 15, 170), (3, 30, 320)]
)
def test_tsiligirides(part: int, limit: int, score: int) -> None:
    """The known best score must be reached and proven; a way from place to place is the graph of node and way arcs."""
    table = points(f"tsiligirides_{part}")
    distance = np.hypot(*(table[:, None, :2] - table[None, :, :2]).transpose(2, 0, 1))
    task = Orienteering(distance, table[:, 2].astype(np.int64), limit, end=len(table) - 1, scale=10_000)
    found, bound, nodes = most_score(task, effort())
    assert (found, bound) == (score, score)
    assert nodes[0] == 0
    assert nodes[-1] == len(table) - 1


@pytest.mark.parametrize("name", ["hk48", "gr48"])
def test_distances_are_the_published_ones(name: str) -> None:
    """Both matrices must be whole, with zeros on the diagonal alone, and break the triangle inequality as published."""
    way = matrix(name, 48)
    assert (way == np.round(way)).all()
    assert not np.diag(way).any()
    assert way[~np.eye(48, dtype=bool)].min() > 0
    over = (way[:, :, None] + way[None, :, :]).min(axis=1)
    assert (over < way).any()
