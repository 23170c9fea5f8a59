"""The only way in: segments that every loop must drive twice to leave the trailhead's tree."""

from collections.abc import Sequence

import networkx as nx
import numpy as np
from numpy.typing import NDArray

from pipeline.loops.traversals import Traversal

__all__ = ["access_spurs"]


def access_spurs(numbers: NDArray[np.int64], traversals: Sequence[Traversal], trailhead: int) -> frozenset[int]:
    """Find the only way in, as numbers of traversals, both directions where both may be driven.

    A segment is one of them when it is a bridge whose removal leaves no cycle on the trailhead's side and at least
    one on the other: with all dead ends taken away, the lane from the trailhead to the first fork or ring.

    Parameters
    ----------
    numbers
        Traversals that the arcs are made of.
    traversals
        All of them.
    trailhead
        Node id.
    """
    used = sorted(set(numbers.tolist()))
    graph = nx.MultiGraph()
    graph.add_node(trailhead)
    for number in used:
        graph.add_edge(traversals[number].tail, traversals[number].head, key=number // 2)
    _strip_dead_ends(graph, trailhead)
    lane, at = set(), trailhead
    while graph.degree(at) == 1:
        (_, after, segment) = next(iter(graph.edges(at, keys=True)))
        lane.add(segment)
        graph.remove_node(at)
        at = after
    return frozenset(number for number in used if number // 2 in lane)


def _strip_dead_ends(graph: nx.MultiGraph, trailhead: int) -> None:
    """Take away what leads to no cycle; the trailhead stays."""
    ends = [node for node in graph if node != trailhead and graph.degree(node) == 1]
    while ends:
        node = ends.pop()
        near = next(iter(graph[node]))
        graph.remove_node(node)
        if near != trailhead and graph.degree(near) == 1:
            ends.append(near)
