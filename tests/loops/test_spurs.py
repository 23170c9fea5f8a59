"""The only way in, told by hand."""

import networkx as nx
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


def _by_definition(trails: list[tuple[int, int]]) -> set[int]:
    """Take each segment out in turn: it is one of them where that parts the trailhead, on a tree, from all cycles."""
    whole = nx.MultiGraph([(a, b, number) for number, (a, b) in enumerate(trails)])
    near = nx.node_connected_component(whole, 0)
    found = set()
    for number, (a, b) in enumerate(trails):
        rest = whole.copy()
        rest.remove_edge(a, b, key=number)
        side = nx.node_connected_component(rest, 0)
        here, there = rest.subgraph(side), rest.subgraph(near - side)
        lone = nx.number_connected_components(there) if len(there) else 0
        if near - side and here.number_of_edges() < len(here) and there.number_of_edges() > len(there) - lone:
            found.add(number)
    return found


@pytest.mark.parametrize("seed", range(40))
def test_equals_the_definition(settings: LoopSettings, seed: int) -> None:
    """On random nets of trees, rings and parallels it must be what taking out each segment says."""
    rng = np.random.default_rng(seed)
    count = int(rng.integers(3, 10))
    trails = [(int(rng.integers(node)), node) for node in range(1, count)]
    trails += [tuple(int(n) for n in rng.integers(1, count, 2)) for _ in range(int(rng.integers(0, 3)))]
    plan = plan_of(World([Trail(a, b) for a, b in trails], turn_round=set(range(count))), settings)
    found = access_spurs(np.arange(2 * len(trails)), plan.traversals, 0)
    assert {number // 2 for number in found} == _by_definition(trails)
