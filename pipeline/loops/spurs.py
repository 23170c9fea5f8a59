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
    one on the other.

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
    graph = nx.Graph()
    graph.add_node(trailhead)
    doubled = set()
    for number in used:
        a, b = traversals[number].tail, traversals[number].head
        if graph.has_edge(a, b) and graph.edges[a, b]["segment"] != number // 2:
            doubled.add(frozenset((a, b)))
        else:
            graph.add_edge(a, b, segment=number // 2)
    loops = {a for a, b in graph.edges if a == b}
    graph.remove_edges_from([(a, a) for a in loops])
    bridges = {e for e in map(frozenset, nx.bridges(graph)) if e not in doubled}
    found = {e for e in bridges if _only_way_in(graph, e, doubled, loops, trailhead)}
    return frozenset(n for n in used if frozenset((traversals[n].tail, traversals[n].head)) in found)


def _only_way_in(
    graph: nx.Graph, bridge: frozenset[int], doubled: set[frozenset[int]], loops: set[int], trailhead: int
) -> bool:
    """Tell whether all cycles lie beyond *bridge*."""
    cut = nx.restricted_view(graph, [], [tuple(bridge)])
    near = nx.node_connected_component(cut, trailhead)
    far = set(graph) - near

    def has_cycle(part: set[int]) -> bool:
        inside = graph.subgraph(part)
        return inside.number_of_edges() >= len(part) or bool(loops & part) or any(pair <= part for pair in doubled)

    return not has_cycle(near) and has_cycle(far)
