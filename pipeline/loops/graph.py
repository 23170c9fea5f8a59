"""The directed graph of traversals that a loop may use, and the same as flat arrays.

Inside the search a length is a whole number of decimetres, at least 1 (a cycle
of length 0 would escape the model that keeps a loop connected), a time whole
seconds, at least 1. What is reported is summed from the unrounded values.
Traversals are taken in order of segment id, so the row order of the tables
cannot change an answer.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import networkx as nx
import numpy as np
from numpy.typing import NDArray

from pipeline.loops.traversals import Traversal
from pipeline.survey.model import Network
from pipeline.terms import Direction

__all__ = ["Arcs", "allowed_graph", "make_arcs", "subset"]

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

_ROUNDING = 1e-9
"""A straight way back has the cosine −1 but for rounding."""


@dataclass(frozen=True, slots=True)
class Arcs:
    """Allowed traversals as parallel arrays, one row an arc, and the places they join."""

    number: Ints
    """Row in the list of all traversals."""
    tail: Ints
    """Row in ``nodes`` where the arc begins."""
    head: Ints
    """Row in ``nodes`` where it ends."""
    opposite: Ints
    """Arc of the same segment in the other direction; −1 when that is not allowed."""
    leaving: Floats
    """Unit vector of the heading where the arc begins, shape (arcs, 2)."""
    arriving: Floats
    """The same where it ends."""
    length_dm: Ints
    time_s: Ints
    exposure_dm: Ints
    """Length × utilisation above the comfort floor, dm."""
    level: Ints
    """Utilisation in hundredths, rounded up, not less than the comfort floor."""
    credits: Ints
    """Shape (arcs, techniques)."""
    nodes: Ints
    """Node ids."""
    turn_round: Flags
    """A vehicle can turn round there; parallel to ``nodes``."""
    trailhead: int
    """Row of the trailhead in ``nodes``."""
    sharpest: float
    """Cosine of the sharpest turn that may be driven without room to turn round."""

    def __len__(self) -> int:
        """Count the arcs."""
        return len(self.tail)

    def may_follow(self, first: Ints, second: Ints) -> Flags:
        """Tell which arcs may be driven after which; arrays of equal length, each second begins where its first ends.

        Neither the same arc again, nor back or round a sharper corner than may be driven where there is no room.
        """
        turn = np.einsum("ij,ij->i", self.arriving[first], self.leaving[second])
        shunted = (second == self.opposite[first]) | (turn < self.sharpest - _ROUNDING)
        return np.asarray((second != first) & (~shunted | self.turn_round[self.head[first]]), dtype=np.bool_)


def allowed_graph(traversals: Sequence[Traversal], network: Network) -> nx.MultiDiGraph:
    """Build the graph of allowed traversals; nodes are node ids, edge keys (segment id, direction), data ``number``."""
    graph = nx.MultiDiGraph()
    graph.add_node(network.trailhead_node)
    for number, traversal in enumerate(traversals):
        if not traversal.refusal:
            graph.add_edge(traversal.tail, traversal.head, key=traversal.key, number=number)
    turning = set(network.nodes.loc[network.nodes["turn_round"], "node_id"])
    for node, data in graph.nodes(data=True):
        data["turn_round"] = node in turning
    return graph


def make_arcs(
    graph: nx.MultiDiGraph, traversals: Sequence[Traversal], trailhead: int, comfort_floor: float, sharpest_deg: float
) -> Arcs:
    """Flatten the part of *graph* that can be reached from the trailhead and can come back to it.

    Parameters
    ----------
    graph
        The allowed traversals.
    traversals
        All traversals, by number.
    trailhead
        Its node id.
    comfort_floor
        Utilisations up to this count as equal.
    sharpest_deg
        Change of heading up to which a vehicle turns from one segment into another without shunting.
    """
    nodes = sorted(next(part for part in nx.strongly_connected_components(graph) if trailhead in part))
    row = {node: index for index, node in enumerate(nodes)}
    numbers = sorted(d["number"] for a, b, d in graph.edges(data=True) if a in row and b in row)
    chosen = [traversals[number] for number in numbers]
    where = {traversal.key: index for index, traversal in enumerate(chosen)}
    utilisation = np.array([t.utilisation for t in chosen], dtype=np.float64)
    length = np.array([t.length_m for t in chosen], dtype=np.float64)
    over = np.maximum(0.0, utilisation - comfort_floor)
    techniques = len(traversals[0].credits) if traversals else 0
    return Arcs(
        number=np.array(numbers, dtype=np.int64),
        tail=np.array([row[t.tail] for t in chosen], dtype=np.int64),
        head=np.array([row[t.head] for t in chosen], dtype=np.int64),
        opposite=np.array([where.get(_turned(t), -1) for t in chosen], dtype=np.int64),
        leaving=np.array([t.leaving for t in chosen], dtype=np.float64).reshape(len(chosen), 2),
        arriving=np.array([t.arriving for t in chosen], dtype=np.float64).reshape(len(chosen), 2),
        length_dm=np.maximum(1, np.rint(length * 10.0)).astype(np.int64),
        time_s=np.maximum(1, np.rint([t.minutes * 60.0 for t in chosen])).astype(np.int64),
        exposure_dm=np.rint(length * 10.0 * over).astype(np.int64),
        level=np.maximum(_hundredths(np.full(1, comfort_floor)), _hundredths(utilisation)),
        credits=np.array([t.credits for t in chosen], dtype=np.int64).reshape(len(chosen), techniques),
        nodes=np.array(nodes, dtype=np.int64),
        turn_round=np.array([graph.nodes[node]["turn_round"] for node in nodes], dtype=np.bool_),
        trailhead=row[trailhead],
        sharpest=math.cos(math.radians(sharpest_deg)),
    )


def subset(arcs: Arcs, keep: Flags) -> Arcs:
    """Give the arcs flagged in *keep*, shape (arcs,); an opposite that is left out becomes −1."""
    if keep.all():
        return arcs
    new = np.cumsum(keep) - 1
    opposite = arcs.opposite[keep]
    stays = (opposite >= 0) & keep[opposite]
    return replace(
        arcs,
        number=arcs.number[keep],
        tail=arcs.tail[keep],
        head=arcs.head[keep],
        opposite=np.where(stays, new[opposite], -1),
        leaving=arcs.leaving[keep],
        arriving=arcs.arriving[keep],
        length_dm=arcs.length_dm[keep],
        time_s=arcs.time_s[keep],
        exposure_dm=arcs.exposure_dm[keep],
        level=arcs.level[keep],
        credits=arcs.credits[keep],
    )


def _turned(traversal: Traversal) -> tuple[str, Direction]:
    """Give the key of the same segment in the other direction."""
    other = Direction.AGAINST if traversal.direction is Direction.WITH else Direction.WITH
    return traversal.segment_id, other


def _hundredths(utilisation: Floats) -> Ints:
    """Round utilisations up to whole hundredths; 0.66 itself stays 66 in spite of binary fractions."""
    return np.ceil(utilisation * 100.0 - 1e-7).astype(np.int64)
