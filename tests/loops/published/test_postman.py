"""The solver on postman problems: the shortest way that drives what is required, at most once in each direction.

A shortest postman tour on an undirected graph drives no edge more than twice, and can be directed so that an edge
driven twice is driven once each way. With room to turn everywhere the solver must find it.
"""

from itertools import combinations

import networkx as nx
import numpy as np
import pytest

from tests.loops.published.nets import effort, least
from tests.loops.published.postman import Streets, Trails, chinese, euler_walk, problem_of, read_trails, rural


def postman(streets: Streets, required: frozenset[int], start: int) -> tuple[int | None, int | None]:
    """Give the length of the shortest tour over the required streets, and its bound."""
    arcs, rules = problem_of(streets, required, start)
    solved, walk = least(arcs, arcs.length_dm, rules, effort())
    if walk:
        tour = nx.MultiDiGraph((int(arcs.tail[a]), int(arcs.head[a])) for a in walk)
        assert nx.is_eulerian(tour)
        assert required <= {int(arcs.number[a]) // 2 for a in walk}
    return solved.value, solved.bound


def random_streets(seed: int) -> Streets:
    """Make a connected graph of 6 places and 9 streets."""
    rng = np.random.default_rng(400 + seed)
    ends = [(int(rng.integers(n)), n) for n in range(1, 6)]
    while len(ends) < 9:
        a, b = (int(n) for n in rng.choice(6, 2, replace=False))
        ends.append((a, b))
    return [(a, b, int(rng.integers(10, 100))) for a, b in ends]


@pytest.mark.parametrize("seed", range(12))
def test_all_streets_cost_what_matching_says(seed: int) -> None:
    """With every street required the optimum must be that of the matching."""
    streets = random_streets(seed)
    best = chinese(streets)
    assert postman(streets, frozenset(range(9)), 0) == (best, best)


@pytest.mark.parametrize("seed", range(12))
def test_required_streets_cost_the_least_over_all_choices_of_others(seed: int) -> None:
    """With some required, the optimum must be the least over all sets of streets that hang together with the start."""
    streets = random_streets(seed)
    rng = np.random.default_rng(seed)
    required = frozenset(int(n) for n in rng.choice(9, 4, replace=False))
    optional = sorted(set(range(9)) - required)
    extras = (set(extra) for size in range(len(optional) + 1) for extra in combinations(optional, size))
    choices = ([streets[n] for n in sorted(required | extra)] for extra in extras)
    best = min(chinese(chosen) for chosen in choices if _holds_together(chosen))
    assert postman(streets, required, 0) == (best, best)


def _holds_together(streets: Streets) -> bool:
    graph = nx.Graph((a, b) for a, b, _ in streets)
    return 0 in graph and nx.is_connected(graph)


@pytest.fixture(scope="module")
def trails() -> Trails:
    """Give the trails of a real park."""
    return read_trails()


@pytest.mark.open_data
def test_the_trails_are_the_published_ones(trails: Trails) -> None:
    """133 segments of 30.48 miles, 121 of 26.01 required, tours of 33.25 and 32.12 miles: the package's figures."""
    streets, required = trails.streets, trails.required
    assert (len(streets), len(required)) == (133, 121)
    assert sum(way for _, _, way in streets) == 3048
    assert sum(streets[n][2] for n in required) == 2601
    assert chinese(streets, required) == 3325
    chosen = rural(trails)
    assert chinese(streets, chosen) == 3212
    walk = euler_walk(streets, chosen, trails.start)
    assert len(set(walk.tolist())) == len(walk)
    assert sum(streets[n // 2][2] for n in walk.tolist()) == 3212


@pytest.mark.open_data
@pytest.mark.parametrize("size", [15, 25, 40])
def test_the_trails_near_the_start_cost_what_matching_says(trails: Trails, size: int) -> None:
    """A part of the real trails, all of it required, must cost what the matching says."""
    streets, start = trails.streets, trails.start
    graph = nx.Graph((streets[n][0], streets[n][1]) for n in trails.required)
    steps = nx.single_source_shortest_path_length(graph, start)
    order = sorted(trails.required, key=lambda n: (max(steps[streets[n][0]], steps[streets[n][1]]), n))
    part = [streets[n] for n in order[:size]]
    best = chinese(part)
    assert postman(part, frozenset(range(size)), start) == (best, best)
