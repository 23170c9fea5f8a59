"""What a loop must keep to, in whole numbers, and the check of a walk against it.

This check shares nothing with the solver: it walks the arcs one by one and
compares integers.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import networkx as nx
import numpy as np
from numpy.typing import NDArray

from pipeline.loops.graph import Arcs

__all__ = ["Rules", "access_spurs", "breaches", "redriven_dm"]

Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]
Window = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Rules:
    """The rules of one request. Arcs are named by ``Arcs.number``, which outlives pruning."""

    length_dm: Window | None
    time_s: Window | None
    redriven: float
    """Largest share of the length on segments driven both ways."""
    spurs: frozenset[int] = frozenset()
    """Numbers of arcs of the only way in, which do not count as re-driven."""
    must: tuple[tuple[str, frozenset[int]], ...] = ()
    """Name of a thing to take in, and the arcs one of which does so."""
    earlier: tuple[frozenset[int], ...] = ()
    """Numbers of the arcs, both directions, of the segments of each earlier loop."""
    overlap: float = 1.0
    """Largest share of the length on segments of each earlier loop."""

    @property
    def flows_by_length(self) -> bool:
        """Whether distance, not time, is what the flow carries."""
        return self.length_dm is not None

    def member(self, arcs: Arcs, numbers: frozenset[int]) -> Flags:
        """Flag the arcs whose number is in *numbers*."""
        return np.isin(arcs.number, np.fromiter(numbers, dtype=np.int64, count=len(numbers)))

    def counted(self, arcs: Arcs) -> Ints:
        """Give one arc of each pair that counts as re-driven when both are driven."""
        pairs = np.flatnonzero((arcs.opposite > np.arange(len(arcs))) & ~self.member(arcs, self.spurs))
        return pairs.astype(np.int64)


def access_spurs(arcs: Arcs) -> frozenset[int]:
    """Find the only way in: segments that every loop must drive twice to leave the trailhead's tree.

    A segment is one of them when it is a bridge whose removal leaves no cycle on the trailhead's side and at least
    one on the other.
    """
    graph = nx.Graph()
    graph.add_node(arcs.trailhead)
    doubled = set()
    for arc, (a, b) in enumerate(zip(arcs.tail.tolist(), arcs.head.tolist(), strict=True)):
        first = min(arc, int(arcs.opposite[arc])) if arcs.opposite[arc] >= 0 else arc
        if graph.has_edge(a, b) and graph.edges[a, b]["first"] != first:
            doubled.add(frozenset((a, b)))
        else:
            graph.add_edge(a, b, first=first)
    loops = {a for a, b in graph.edges if a == b}
    graph.remove_edges_from([(a, a) for a in loops])
    spurs = {e for e in map(frozenset, nx.bridges(graph)) if e not in doubled}
    found = {e for e in spurs if _only_way_in(graph, e, doubled, loops, arcs.trailhead)}
    ends = zip(arcs.number.tolist(), arcs.tail.tolist(), arcs.head.tolist(), strict=True)
    return frozenset(number for number, a, b in ends if frozenset((a, b)) in found)


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


def breaches(arcs: Arcs, walk: Sequence[int], rules: Rules) -> list[str]:
    """List what is wrong with a walk; empty when it is a loop that keeps every rule.

    Parameters
    ----------
    arcs
        The arcs.
    walk
        Arcs in driving order.
    rules
        What it must keep to.
    """
    return list(_walk_breaches(arcs, walk)) or list(_rule_breaches(arcs, np.asarray(walk, dtype=np.int64), rules))


def redriven_dm(arcs: Arcs, walk: Ints, rules: Rules) -> int:
    """Sum the length of both directions of the segments driven both ways, the only way in not counted, dm."""
    driven = set(walk.tolist())
    pairs = [(a, int(arcs.opposite[a])) for a in rules.counted(arcs).tolist()]
    return sum(int(arcs.length_dm[a] + arcs.length_dm[b]) for a, b in pairs if a in driven and b in driven)


def _walk_breaches(arcs: Arcs, walk: Sequence[int]) -> Iterator[str]:
    """Yield what keeps *walk* from being a closed walk with allowed turns."""
    if not walk:
        yield "empty"
        return
    if arcs.tail[walk[0]] != arcs.trailhead or arcs.head[walk[-1]] != arcs.trailhead:
        yield "does not begin and end at the trailhead"
    if len(set(walk)) != len(walk):
        yield "uses a direction twice"
    for a, b in pairwise(walk):
        if arcs.head[a] != arcs.tail[b]:
            yield f"arc {b} does not follow arc {a}"
        elif arcs.opposite[a] == b and not arcs.turn_round[arcs.head[a]]:
            yield f"turns back after arc {a} without room"


def _rule_breaches(arcs: Arcs, walk: Ints, rules: Rules) -> Iterator[str]:
    """Yield the rules of the request that a closed walk breaks."""
    length = int(arcs.length_dm[walk].sum())
    time = int(arcs.time_s[walk].sum())
    for word, value, window in (("length", length, rules.length_dm), ("time", time, rules.time_s)):
        if window is not None and not window[0] <= value <= window[1]:
            yield f"{word} {value} outside {window}"
    numbers = set(arcs.number[walk].tolist())
    twice = redriven_dm(arcs, walk, rules)
    if twice > rules.redriven * length + 1e-6:
        yield f"re-driven {twice} of {length}"
    for name, group in rules.must:
        if not group & numbers:
            yield f"leaves out {name}"
    for earlier in rules.earlier:
        shared = sum(int(arcs.length_dm[a]) for a in walk.tolist() if int(arcs.number[a]) in earlier)
        if shared > rules.overlap * length + 1e-6:
            yield f"shares {shared} of {length} with an earlier loop"
