"""The solver on postman problems: the shortest way that drives what is required, at most once in each direction.

A shortest postman tour on an undirected graph drives no edge more than twice, and can be directed so that an edge
driven twice is driven once each way. With room to turn everywhere and all edges required the optimum is also known
from minimum-weight matching of the places where an odd number of edges meet (Edmonds and Johnson, "Matching, Euler
tours and the Chinese postman", Mathematical Programming 5, 1973), worked out here by networkx.
"""

import csv
from itertools import combinations

import networkx as nx
import numpy as np
import pytest

from pipeline.loops.solve.rules import Rules
from tests.loops.published.nets import Edge, effort, least, make_arcs
from tests.open_data import TRAILS, OpenDataError, fetch
from tests.tools import need

Streets = list[tuple[int, int, int]]
"""Ends and length."""


def chinese(streets: Streets) -> int:
    """Add to all edges the least total of shortest ways that pair up the odd places."""
    graph = nx.MultiGraph()
    for a, b, way in streets:
        graph.add_edge(a, b, way=way)
    odd = [node for node, degree in graph.degree if degree % 2]
    ways = dict(nx.all_pairs_dijkstra_path_length(graph, weight="way"))
    pairs = nx.Graph()
    pairs.add_weighted_edges_from((a, b, ways[a][b]) for a, b in combinations(odd, 2))
    matching = nx.min_weight_matching(pairs)
    return sum(way for _, _, way in streets) + sum(ways[a][b] for a, b in matching)


def postman(streets: Streets, required: set[int], start: int) -> tuple[int | None, int | None]:
    """Give the length of the shortest tour over the required streets, and its bound."""
    edges = [
        Edge(2 * n + side, *((a, b) if side == 0 else (b, a)), way)
        for n, (a, b, way) in enumerate(streets)
        for side in (0, 1)
    ]
    arcs = make_arcs(edges, start, room=True)
    must = tuple((str(n), frozenset((2 * n, 2 * n + 1))) for n in sorted(required))
    rules = Rules((0, int(arcs.length_dm.sum())), None, 1.0, must)
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
    assert postman(streets, set(range(9)), 0) == (best, best)


@pytest.mark.parametrize("seed", range(12))
def test_required_streets_cost_the_least_over_all_choices_of_others(seed: int) -> None:
    """With some required, the optimum must be the least over all sets of streets that hang together with the start."""
    streets = random_streets(seed)
    rng = np.random.default_rng(seed)
    required = {int(n) for n in rng.choice(9, 4, replace=False)}
    optional = sorted(set(range(9)) - required)
    extras = (set(extra) for size in range(len(optional) + 1) for extra in combinations(optional, size))
    choices = ([streets[n] for n in sorted(required | extra)] for extra in extras)
    best = min(chinese(chosen) for chosen in choices if _holds_together(chosen))
    assert postman(streets, required, 0) == (best, best)


def _holds_together(streets: Streets) -> bool:
    graph = nx.Graph((a, b) for a, b, _ in streets)
    return 0 in graph and nx.is_connected(graph)


@pytest.fixture(scope="module")
def trails() -> tuple[Streets, set[int], int]:
    """Give a park's trails in hundredths of a mile, those that are required, and the start."""
    try:
        path = fetch(TRAILS)["edgelist_sleeping_giant.csv"]
    except OpenDataError as fault:
        need(condition=False, reason=f"open data: {fault}")
        raise
    with path.open(encoding="utf-8", newline="") as lines:
        rows = list(csv.DictReader(lines))
    names = sorted({row[end] for row in rows for end in ("node1", "node2")})
    place = {name: number for number, name in enumerate(names)}
    streets = [(place[r["node1"]], place[r["node2"]], round(float(r["distance"]) * 100)) for r in rows]
    return streets, {n for n, r in enumerate(rows) if r["required"] == "1"}, place["b_end_east"]


Trails = tuple[Streets, set[int], int]


@pytest.mark.open_data
def test_the_trails_are_the_published_ones(trails: Trails) -> None:
    """133 segments of 30.48 miles, 121 of 26.01 required; all required ones cost 33.25 miles (the package's tests)."""
    streets, required, start = trails
    assert (len(streets), len(required)) == (133, 121)
    assert sum(way for _, _, way in streets) == 3048
    asked = [streets[n] for n in sorted(required)]
    assert sum(way for _, _, way in asked) == 2601
    assert chinese(asked) == 3325
    assert start in {end for a, b, _ in asked for end in (a, b)}


@pytest.mark.open_data
@pytest.mark.parametrize("size", [15, 25])
def test_the_trails_near_the_start_cost_what_matching_says(trails: Trails, size: int) -> None:
    """A part of the real trails, all of it required, must cost what the matching says."""
    streets, required, start = trails
    graph = nx.Graph((a, b) for a, b, _ in (streets[n] for n in required))
    steps = nx.single_source_shortest_path_length(graph, start)
    order = sorted(required, key=lambda n: (max(steps[streets[n][0]], steps[streets[n][1]]), n))
    part = [streets[n] for n in order[:size]]
    best = chinese(part)
    assert postman(part, set(range(size)), start) == (best, best)
