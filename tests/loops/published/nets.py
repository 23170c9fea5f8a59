"""Graphs of other problems as arcs of the loop search: what its solver gives can then be held against their figures."""

import math
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from pipeline.loops.graph import Arcs, Pairs, Parts
from pipeline.loops.settings import LoopSettings, SearchEffort
from pipeline.loops.solve.exact import Solved, solve
from pipeline.loops.solve.model import Goal, Problem
from pipeline.loops.solve.rules import Rules, breaches
from pipeline.loops.solve.turns import prune

__all__ = ["Edge", "Orienteering", "effort", "least", "make_arcs", "matrix", "most_score", "points"]

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
HERE = Path(__file__).parent
CONFIG = HERE.parents[2] / "configs" / "loops.toml"


@dataclass(frozen=True, slots=True)
class Edge:
    """One traversal that may be driven; the other way of number *n* is *n* ^ 1."""

    number: int
    tail: int
    head: int
    length: int


@dataclass(frozen=True, slots=True)
class Orienteering:
    """Collect the most score on a way no longer than the limit, every node at most once."""

    distance: Floats
    """Shape (nodes, nodes)."""
    score: Ints
    limit: float
    end: int | None = None
    """Node where the way ends; back at node 0 when ``None``."""
    scale: int = 100
    """Units of length in one of distance. More than the nodes: being at a node costs one."""


def effort() -> SearchEffort:
    """Give the work limits that ship."""
    return LoopSettings.model_validate(tomllib.loads(CONFIG.read_text(encoding="utf-8"))).search


def points(name: str) -> Floats:
    """Read rows of numbers."""
    return np.loadtxt(HERE / f"{name}.txt")


def matrix(name: str, size: int) -> Floats:
    """Read a symmetric matrix given as its lower triangle, diagonal included, row by row."""
    below = np.zeros((size, size))
    below[np.tril_indices(size)] = [float(word) for word in (HERE / f"{name}.txt").read_text(encoding="utf-8").split()]
    return below + below.T - np.diag(np.diag(below))


def make_arcs(edges: Sequence[Edge], trailhead: int, *, room: bool = False) -> Arcs:
    """Make arcs of traversals: all headings alike, no techniques, room to turn round nowhere or everywhere."""
    ordered = sorted(edges, key=lambda edge: edge.number)
    count = len(ordered)
    number = np.array([edge.number for edge in ordered], dtype=np.int64)
    place = {n: arc for arc, n in enumerate(number.tolist())}
    length = np.array([edge.length for edge in ordered], dtype=np.int64)
    opposite = np.array([place.get(n ^ 1, -1) for n in number.tolist()], dtype=np.int64)
    both = np.array([(a, b) for a, b in enumerate(opposite.tolist()) if a < b], dtype=np.int64).reshape(-1, 2)
    nodes = sorted({node for edge in ordered for node in (edge.tail, edge.head)} | {trailhead})
    row = {node: index for index, node in enumerate(nodes)}
    return Arcs(
        number=number,
        parts=Parts(first=np.arange(count + 1), number=number, length_dm=length),
        tail=np.array([row[edge.tail] for edge in ordered], dtype=np.int64),
        head=np.array([row[edge.head] for edge in ordered], dtype=np.int64),
        opposite=opposite,
        leaving=np.tile((1.0, 0.0), (count, 1)),
        arriving=np.tile((1.0, 0.0), (count, 1)),
        length_dm=length,
        time_s=length.copy(),
        exposure_dm=length.copy(),
        level=np.full(count, 50, dtype=np.int64),
        credits=np.zeros((count, 0), dtype=np.int64),
        pairs=Pairs(both, length[both].sum(axis=1), np.zeros((len(both), 0), dtype=np.int64)),
        clashes=np.empty((0, 2), dtype=np.int64),
        nodes=np.array(nodes, dtype=np.int64),
        turn_round=np.full(len(nodes), room),
        trailhead=row[trailhead],
        sharpest=-1.0,
    )


def least(arcs: Arcs, cost: Ints, rules: Rules, work: SearchEffort) -> tuple[Solved, list[int]]:
    """Solve for the least sum of *cost*, shape (arcs,), and give the walk as rows of *arcs*, held to the rules."""
    kept, turns = prune(arcs, rules)
    rows = np.searchsorted(arcs.number, kept.number)
    solved = solve(Problem(kept, turns, rules, Goal(cost=cost[rows], shorter=False)), work, None)
    walk = [] if solved.walk is None else rows[solved.walk].tolist()
    assert not walk or breaches(arcs, walk, rules) == []
    return solved, walk


def most_score(task: Orienteering, work: SearchEffort) -> tuple[int, int | None, list[int]]:
    """Give the score, its bound and the nodes in order.

    Node *v* becomes an arc from place 2 *v* to place 2 *v* + 1 that carries the score; a way from *u* to *v* is an
    arc from 2 *u* + 1 to 2 *v*. A way that ends elsewhere is closed by an arc from there to node 0.
    """
    count = len(task.score)
    edges = [Edge(2 * v, 2 * v, 2 * v + 1, 1) for v in range(count)]
    for u in range(count):
        for v in range(count):
            if u == v or (task.end is not None and (u == task.end or v == 0)):
                continue
            edges.append(Edge(2 * len(edges), 2 * u + 1, 2 * v, max(1, round(task.distance[u, v] * task.scale))))
    if task.end is not None:
        edges.append(Edge(2 * len(edges), 2 * task.end + 1, 0, 1))
    cost = np.zeros(len(edges), dtype=np.int64)
    cost[:count] = -task.score
    longest = math.floor(task.limit * task.scale) + count + 1
    solved, walk = least(make_arcs(edges, 0), cost, Rules((0, longest), None, 1.0), work)
    nodes = [arc for arc in walk if arc < count]
    if nodes:
        stops = [*nodes, 0] if task.end is None else nodes
        assert sum(task.distance[a, b] for a, b in pairwise(stops)) <= task.limit + 1e-9
        assert sum(task.score[nodes]) == -(solved.value or 0)
    return -(solved.value or 0), None if solved.bound is None else -solved.bound, nodes
