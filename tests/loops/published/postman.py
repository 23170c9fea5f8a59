"""Postman tours by matching: the shortest closed way over given streets, and the same as arcs of the loop search.

With all streets to be driven the shortest tour is known from minimum-weight matching of the places where an odd number
of streets meet (Edmonds and Johnson, "Matching, Euler tours and the Chinese postman", Mathematical Programming 5,
1973).
"""

import csv
from dataclasses import dataclass
from itertools import combinations, pairwise

import networkx as nx
import numpy as np
from numpy.typing import NDArray

from pipeline.loops.graph import Arcs
from pipeline.loops.solve.rules import Rules
from tests.loops.published.nets import Edge, make_arcs
from tests.open_data import TRAILS, OpenDataError, fetch
from tests.tools import need

__all__ = ["Streets", "Trails", "chinese", "euler_walk", "problem_of", "read_trails", "rural"]

Streets = list[tuple[int, int, int]]
"""Ends and length."""


@dataclass(frozen=True, slots=True)
class Trails:
    """A park's trails, lengths in hundredths of a mile."""

    streets: Streets
    required: frozenset[int]
    start: int


def read_trails() -> Trails:
    """Read the trails of the published package, or skip with the reason."""
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
    required = frozenset(number for number, row in enumerate(rows) if row["required"] == "1")
    return Trails(streets, required, place["b_end_east"])


def twice(streets: Streets, chosen: frozenset[int]) -> frozenset[int]:
    """Give the chosen streets that a shortest tour over all of them drives a second time."""
    graph = nx.Graph()
    for number in sorted(chosen, key=lambda n: -streets[n][2]):  # of parallels the shortest is kept
        a, b, way = streets[number]
        graph.add_edge(a, b, way=way, number=number)
    count = nx.MultiGraph((streets[n][0], streets[n][1]) for n in chosen)
    odd = [node for node, degree in count.degree if degree % 2]
    ways = {a: nx.single_source_dijkstra(graph, a, weight="way") for a in odd}
    pairs = nx.Graph()
    pairs.add_weighted_edges_from((a, b, ways[a][0][b]) for a, b in combinations(odd, 2))
    again: set[int] = set()
    for a, b in nx.min_weight_matching(pairs):
        again ^= {graph.edges[step]["number"] for step in pairwise(ways[a][1][b])}
    return frozenset(again)


def chinese(streets: Streets, chosen: frozenset[int] | None = None) -> int:
    """Give the length of the shortest tour over the chosen streets, all of them unless given."""
    chosen = frozenset(range(len(streets))) if chosen is None else chosen
    return sum(streets[n][2] for n in chosen) + sum(streets[n][2] for n in twice(streets, chosen))


def rural(trails: Trails) -> frozenset[int]:
    """Give the required streets and those others, taken in or left out one by one, that make the tour shorter."""
    chosen, optional = trails.required, sorted(set(range(len(trails.streets))) - trails.required)
    best = chinese(trails.streets, chosen)
    better = True
    while better:
        better = False
        for number in optional:
            other = chosen ^ {number}
            hangs = nx.is_connected(nx.Graph((trails.streets[n][0], trails.streets[n][1]) for n in other))
            if hangs and (way := chinese(trails.streets, other)) < best:
                chosen, best, better = other, way, True
    return chosen


def problem_of(streets: Streets, required: frozenset[int], start: int) -> tuple[Arcs, Rules]:
    """Make each street two arcs, with room to turn everywhere, and the required ones a rule."""
    edges = [
        Edge(2 * number + side, *((a, b) if side == 0 else (b, a)), way)
        for number, (a, b, way) in enumerate(streets)
        for side in (0, 1)
    ]
    arcs = make_arcs(edges, start, room=True)
    must = tuple((str(n), frozenset((2 * n, 2 * n + 1))) for n in sorted(required))
    return arcs, Rules((0, int(arcs.length_dm.sum())), None, 1.0, must)


def euler_walk(streets: Streets, chosen: frozenset[int], start: int) -> NDArray[np.int64]:
    """Drive a shortest tour over the chosen streets: those driven twice once each way; gives traversal numbers."""
    both = twice(streets, chosen)
    once = nx.MultiGraph()
    once.add_edges_from((*streets[n][:2], n) for n in sorted(chosen - both))
    tour = nx.MultiDiGraph()
    for number in both:
        a, b, _ = streets[number]
        tour.add_edge(a, b, key=2 * number)
        tour.add_edge(b, a, key=2 * number + 1)
    for part in nx.connected_components(once):
        for a, b, number in nx.eulerian_circuit(once.subgraph(part), keys=True):
            tour.add_edge(a, b, key=2 * number + (streets[number][0] != a))
    return np.array([number for _, _, number in nx.eulerian_circuit(tour, start, keys=True)], dtype=np.int64)
