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
from itertools import combinations

import networkx as nx
import numpy as np
from numpy.typing import NDArray

from pipeline.loops.group.aside import Aside, make_aside
from pipeline.loops.moves import Move, Terms, sum_up
from pipeline.loops.spurs import access_spurs
from pipeline.loops.traversals import Traversal
from pipeline.loops.value.credits import repeated
from pipeline.survey.model import Network

__all__ = ["Arcs", "Ground", "Pairs", "Parts", "allowed_graph", "make_arcs", "subset"]

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

_ROUNDING = 1e-9
"""A straight way back has the cosine −1 but for rounding."""


@dataclass(frozen=True, slots=True)
class Parts:
    """The traversals of each arc, one after the other: those of arc *a* are ``number[first[a]:first[a + 1]]``."""

    first: Ints
    """Shape (arcs + 1,)."""
    number: Ints
    """Traversal numbers; the other direction of traversal *n* is *n* ^ 1."""
    length_dm: Ints
    """Parallel to ``number``."""

    def of(self, arcs: Ints | int) -> Ints:
        """Give the traversals of an arc, or of a walk of arcs, in driving order."""
        walk = np.atleast_1d(arcs)
        return np.concatenate([self.number[self.first[a] : self.first[a + 1]] for a in walk] or [self.number[:0]])

    @property
    def arc(self) -> Ints:
        """Arc of each part."""
        return np.repeat(np.arange(len(self.first) - 1), np.diff(self.first))

    def kept(self, keep: Flags) -> "Parts":
        """Give the parts of the arcs flagged in *keep*."""
        mine = keep[self.arc]
        first = np.concatenate(([0], np.cumsum(np.diff(self.first)[keep])))
        return Parts(first, self.number[mine], self.length_dm[mine])


@dataclass(frozen=True, slots=True)
class Pairs:
    """Arcs that drive a segment in opposite directions, one row a pair."""

    arcs: Ints
    """Shape (pairs, 2), the smaller first."""
    length_dm: Ints
    """Both directions of what they share, the only way in left out; counts as re-driven when both are driven."""
    lost: Ints
    """Credits that the second one gives less, shape (pairs, techniques)."""

    def both(self, walk: Ints) -> Flags:
        """Flag the pairs both of which lie on a walk."""
        return np.asarray(np.isin(self.arcs, walk).all(axis=1), dtype=np.bool_)

    def kept(self, keep: Flags) -> "Pairs":
        """Give the pairs of the arcs flagged in *keep*, renumbered."""
        mine = keep[self.arcs].all(axis=1)
        return Pairs((np.cumsum(keep) - 1)[self.arcs[mine]], self.length_dm[mine], self.lost[mine])


@dataclass(frozen=True, slots=True)
class Arcs:
    """Allowed moves as parallel arrays, one row an arc, and the places they join."""

    number: Ints
    """Row in the list of all moves."""
    parts: Parts
    """The traversals that each is made of."""
    tail: Ints
    """Row in ``nodes`` where the arc begins."""
    head: Ints
    """Row in ``nodes`` where it ends."""
    opposite: Ints
    """Arc that drives the same traversals backwards in the other direction; −1 when that is not allowed."""
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
    pairs: Pairs
    """Arcs that share a segment in opposite directions."""
    clashes: Ints
    """Arcs that share a traversal, so that no loop has both; shape (clashes, 2), the smaller first."""
    nodes: Ints
    """Node ids."""
    turn_round: Flags
    """A vehicle can turn round there; parallel to ``nodes``."""
    trailhead: int
    """Row of the trailhead in ``nodes``."""
    sharpest: float
    """Cosine of the sharpest turn that may be driven without room to turn round."""
    aside: Aside | None = None
    """The turns of those who go round; ``None`` when nobody does."""

    def __len__(self) -> int:
        """Count the arcs."""
        return len(self.tail)

    def may_follow(self, first: Ints, second: Ints) -> Flags:
        """Tell which arcs may be driven after which; arrays of equal length, each second begins where its first ends.

        Neither the same arc again, nor back or round a sharper corner than may be driven where there is no room; that
        holds for those who go round, too.
        """
        turn = np.einsum("ij,ij->i", self.arriving[first], self.leaving[second])
        begins, ends = self.parts.first[:-1], self.parts.first[1:] - 1
        back = self.parts.number[begins[second]] == self.parts.number[ends[first]] ^ 1
        shunted = back | (turn < self.sharpest - _ROUNDING)
        if self.aside is not None:
            shunted |= self.aside.shunts(first, second, self.sharpest - _ROUNDING)
        return np.asarray((second != first) & (~shunted | self.turn_round[self.head[first]]), dtype=np.bool_)

    def credits_on(self, walk: Ints) -> Ints:
        """Give the credits of a walk, shape (techniques,): those of its arcs less what is lost by repeating."""
        lost = self.pairs.lost[self.pairs.both(walk)].sum(axis=0)
        return np.asarray(self.credits[walk].sum(axis=0) - lost, dtype=np.int64)


def allowed_graph(moves: Sequence[Move], traversals: Sequence[Traversal], network: Network) -> nx.MultiDiGraph:
    """Build the graph of allowed moves; nodes are node ids, edge keys and data ``number`` the numbers of the moves."""
    graph = nx.MultiDiGraph()
    graph.add_node(network.trailhead_node)
    for number, move in enumerate(moves):
        if move.rounds or not any(traversals[part].refusal for part in move.path):
            graph.add_edge(traversals[move.path[0]].tail, traversals[move.path[-1]].head, key=number, number=number)
    turning = set(network.nodes.loc[network.nodes["turn_round"], "node_id"])
    for node, data in graph.nodes(data=True):
        data["turn_round"] = node in turning
    return graph


@dataclass(frozen=True, slots=True)
class Ground:
    """What arcs are made of."""

    graph: nx.MultiDiGraph
    """The allowed moves."""
    moves: Sequence[Move]
    traversals: Sequence[Traversal]
    trailhead: int
    """Its node id."""
    terms: Terms
    sharpest_deg: float
    """Change of heading up to which a vehicle turns from one segment into another without shunting."""


def make_arcs(ground: Ground) -> Arcs:
    """Flatten the part of the graph that can be reached from the trailhead and can come back to it."""
    graph, traversals = ground.graph, ground.traversals
    nodes = sorted(next(part for part in nx.strongly_connected_components(graph) if ground.trailhead in part))
    row = {node: index for index, node in enumerate(nodes)}
    numbers = sorted(d["number"] for a, b, d in graph.edges(data=True) if a in row and b in row)
    chosen = [ground.moves[number] for number in numbers]
    ends = [(traversals[move.path[0]], traversals[move.path[-1]]) for move in chosen]
    sums = [sum_up(move, traversals, ground.terms) for move in chosen]
    parts = _parts(chosen, traversals, ground.terms.laps)
    tail = np.array([row[first.tail] for first, _ in ends], dtype=np.int64)
    head = np.array([row[last.head] for _, last in ends], dtype=np.int64)
    spurs = access_spurs(parts.number, traversals, ground.trailhead)
    techniques = traversals[0].practised.shape[1] if traversals else 0
    floor = np.full(1, ground.terms.comfort_floor)
    return Arcs(
        number=np.array(numbers, dtype=np.int64),
        parts=parts,
        tail=tail,
        head=head,
        opposite=_opposites(chosen),
        leaving=np.array([first.leaving for first, _ in ends], dtype=np.float64).reshape(len(chosen), 2),
        arriving=np.array([last.arriving for _, last in ends], dtype=np.float64).reshape(len(chosen), 2),
        length_dm=np.bincount(parts.arc, parts.length_dm, len(chosen)).astype(np.int64),
        time_s=np.maximum(1, np.rint([s.minutes * 60.0 for s in sums])).astype(np.int64),
        exposure_dm=np.rint([s.exposure_m * 10.0 for s in sums]).astype(np.int64),
        level=np.maximum(_hundredths(floor), _hundredths(np.array([s.utilisation for s in sums], dtype=np.float64))),
        credits=np.rint([s.credits for s in sums]).astype(np.int64).reshape(len(chosen), techniques),
        pairs=_pairs(parts, spurs, traversals, _Shared(ground.terms.again, _staying(chosen, traversals))),
        clashes=_clashes(parts),
        nodes=np.array(nodes, dtype=np.int64),
        turn_round=np.array([graph.nodes[node]["turn_round"] for node in nodes], dtype=np.bool_),
        trailhead=row[ground.trailhead],
        sharpest=math.cos(math.radians(ground.sharpest_deg)),
        aside=make_aside(chosen, traversals),
    )


def subset(arcs: Arcs, keep: Flags) -> Arcs:
    """Give the arcs flagged in *keep*, shape (arcs,); an opposite that is left out becomes −1."""
    if keep.all():
        return arcs
    new = np.cumsum(keep) - 1
    opposite = arcs.opposite[keep]
    stays = (opposite >= 0) & keep[opposite]
    rows = {
        name: getattr(arcs, name)[keep]
        for name in ("number", "tail", "head", "leaving", "arriving", "length_dm", "time_s", "exposure_dm", "level")
    }
    return replace(
        arcs,
        **rows,
        parts=arcs.parts.kept(keep),
        opposite=np.where(stays, new[opposite], -1),
        credits=arcs.credits[keep],
        pairs=arcs.pairs.kept(keep),
        clashes=new[arcs.clashes[keep[arcs.clashes].all(axis=1)]],
        aside=None if arcs.aside is None else arcs.aside.kept(keep),
    )


def _parts(moves: Sequence[Move], traversals: Sequence[Traversal], laps: int) -> Parts:
    """Lay out the traversals of the moves."""
    numbers = np.array([number for move in moves for number in move.path], dtype=np.int64)
    length = np.array([traversals[n].length_m for n in numbers.tolist()], dtype=np.float64)
    return Parts(
        first=np.concatenate(([0], np.cumsum([len(move.path) for move in moves]))).astype(np.int64),
        number=numbers,
        length_dm=laps * np.maximum(1, np.rint(length * 10.0)).astype(np.int64),
    )


def _opposites(moves: Sequence[Move]) -> Ints:
    """Give the arc that is each one driven backwards, whoever goes round it."""
    where: dict[tuple[int, ...], int] = {}
    for arc, move in enumerate(moves):
        where.setdefault(move.path, arc)
    return np.array([where.get(tuple(n ^ 1 for n in reversed(move.path)), -1) for move in moves], dtype=np.int64)


@dataclass(frozen=True, slots=True)
class _Shared:
    """What decides how much is lost where two arcs share a segment."""

    again: float
    """Share of the credits that a feature gives once more."""
    staying: Flags
    """Who drives an arc itself, shape (arcs, set-ups)."""


def _staying(moves: Sequence[Move], traversals: Sequence[Traversal]) -> Flags:
    """Flag the set-ups that drive each move and do not go round."""
    flags = np.ones((len(moves), len(traversals[0].verdicts) if traversals else 0), dtype=np.bool_)
    for row, move in enumerate(moves):
        flags[row, [one.setup for one in move.rounds]] = False
    return flags


def _pairs(parts: Parts, spurs: frozenset[int], traversals: Sequence[Traversal], shared: _Shared) -> Pairs:
    """List the arcs that share segments in opposite directions, with what they share.

    What is lost is the mean over the set-ups, as credits are; who goes round in either arc loses nothing. It is
    rounded down, so that never more is lost than was given.
    """
    arc, staying = parts.arc, shared.staying
    found: dict[tuple[int, int], tuple[int, Floats]] = {}
    where = _where(parts)
    for place, number in enumerate(parts.number.tolist()):
        for other in where.get(number ^ 1, ()):
            if number & 1 or arc[place] == arc[other]:
                continue
            key = (min(int(arc[place]), int(arc[other])), max(int(arc[place]), int(arc[other])))
            length, lost = found.get(key, (0, 0.0))
            both = int(parts.length_dm[place] + parts.length_dm[other])
            less = repeated(traversals[number], traversals[number ^ 1], shared.again)
            together = (staying[key[0]] & staying[key[1]]).reshape(-1, 1)
            less = (less * together).sum(axis=0) / staying.shape[1]
            found[key] = (length + (0 if number in spurs else both), lost + less)
    techniques = traversals[0].practised.shape[1] if traversals else 0
    ordered = sorted(found)
    lost_of = np.array([found[key][1] for key in ordered], dtype=np.float64).reshape(len(ordered), techniques)
    return Pairs(
        arcs=np.array(ordered, dtype=np.int64).reshape(len(ordered), 2),
        length_dm=np.array([found[key][0] for key in ordered], dtype=np.int64),
        lost=np.floor(lost_of + _ROUNDING).astype(np.int64),
    )


def _clashes(parts: Parts) -> Ints:
    """List the arcs that share a traversal."""
    arc = parts.arc
    found = {
        (int(arc[a]), int(arc[b])) for places in _where(parts).values() for a, b in combinations(places, 2) if a != b
    }
    return np.array(sorted(found), dtype=np.int64).reshape(len(found), 2)


def _where(parts: Parts) -> dict[int, list[int]]:
    """Give the places of each traversal among the parts."""
    where: dict[int, list[int]] = {}
    for place, number in enumerate(parts.number.tolist()):
        where.setdefault(number, []).append(place)
    return where


def _hundredths(utilisation: Floats) -> Ints:
    """Round utilisations up to whole hundredths; 0.66 itself stays 66 in spite of binary fractions."""
    return np.ceil(utilisation * 100.0 - 1e-7).astype(np.int64)
