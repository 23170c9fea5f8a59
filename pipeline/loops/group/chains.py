"""Chains: stretches of a loop that some set-ups may not drive, with the ways on which they go round.

A chain is a path of a few traversals of different segments, the first and the
last of which somebody in ``bypass`` may not drive; everybody else may drive all
of it. Who may not drive all of it leaves the loop where the chain begins and
comes back where it ends. The way round is the quickest that this set-up may
drive under the same turn rules, and

* shares no segment with the chain: nobody meets the others head-on;
* is nowhere so hard that a spotter is needed: the others are elsewhere;
* is no way at all where the chain comes back to its first node and there is
  room to stand aside, which is room to turn: then the set-up waits there.

Two set-ups may go round the same chain on different ways, unless these meet
head-on. All chains within the limits of the settings are listed. The quickest
way under turn rules is Dijkstra's search over traversals in place of nodes
(Caldwell, *Communications of the ACM* 4 (1961) 107; from memory, not verified).
"""

import heapq
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

from pipeline.loops.moves import Move, Round
from pipeline.loops.settings import GroupSettings
from pipeline.loops.traversals import Traversal
from pipeline.terms import Verdict

__all__ = ["Crew", "chains"]

_ROUNDING = 1e-9
"""A straight way back has the cosine −1 but for rounding."""
_MS = 60_000.0
"""Milliseconds in a minute: times are compared in whole ones, so that ties are ties on every machine."""
_ALONE = frozenset((Verdict.AMPLE, Verdict.WATCH))
"""Verdicts of what may be driven without a spotter."""


@dataclass(frozen=True)
class Crew:
    """The group on its ground."""

    traversals: Sequence[Traversal]
    bypass: tuple[int, ...]
    """Places in the request of the set-ups that may go round."""
    turning: frozenset[int]
    """Nodes with room to turn round."""
    sharpest: float
    """Cosine of the sharpest turn that may be driven elsewhere."""
    limits: GroupSettings

    @cached_property
    def staying(self) -> tuple[int, ...]:
        """Places in the request of the set-ups that must drive all of the loop."""
        everybody = range(len(self.traversals[0].verdicts)) if self.traversals else range(0)
        return tuple(setup for setup in everybody if setup not in self.bypass)

    @cached_property
    def open_to_staying(self) -> dict[int, list[int]]:
        """Node → traversals from it that all those who stay may drive."""
        return self._leaving([all(t.may(setup) for setup in self.staying) for t in self.traversals])

    @cached_property
    def open_alone(self) -> dict[int, dict[int, list[int]]]:
        """Set-up → node → traversals from it that the set-up may drive without a spotter."""
        return {
            setup: self._leaving([t.may(setup) and t.verdicts[setup][1] in _ALONE for t in self.traversals])
            for setup in self.bypass
        }

    def _leaving(self, allowed: Sequence[bool]) -> dict[int, list[int]]:
        """List the allowed traversals by the node where they begin."""
        found: dict[int, list[int]] = {}
        for number, flag in enumerate(allowed):
            if flag:
                found.setdefault(self.traversals[number].tail, []).append(number)
        return found

    def is_gap(self, number: int) -> bool:
        """Tell whether somebody who may go round may not drive a traversal."""
        return not all(self.traversals[number].may(setup) for setup in self.bypass)

    def may_follow(self, first: int, second: int) -> bool:
        """Tell whether traversal *second*, which begins where *first* ends, may be driven after it."""
        one, two = self.traversals[first], self.traversals[second]
        if one.head in self.turning:
            return second != first
        straight = one.arriving[0] * two.leaving[0] + one.arriving[1] * two.leaving[1]
        return second not in (first, first ^ 1) and straight >= self.sharpest - _ROUNDING


def chains(crew: Crew) -> list[Move]:
    """List the chains that somebody can go round, in the order of their paths.

    Parameters
    ----------
    crew
        The group, its ground and the limits.
    """
    if not crew.bypass:
        return []
    starts = sorted(n for fan in crew.open_to_staying.values() for n in fan if crew.is_gap(n))
    found = [_rounded(path, crew) for start in starts for path in _paths(start, crew)]
    return sorted((move for move in found if move is not None), key=lambda move: move.path)


def _paths(start: int, crew: Crew) -> Iterator[tuple[int, ...]]:
    """Yield the paths from one traversal that end with one that somebody may not drive."""
    stack: list[tuple[int, ...]] = [(start,)]
    while stack:
        path = stack.pop()
        if crew.is_gap(path[-1]):
            yield path
        if len(path) == crew.limits.chain_segments:
            continue
        used = {number // 2 for number in path}
        stack += [
            (*path, after)
            for after in crew.open_to_staying.get(crew.traversals[path[-1]].head, ())
            if after // 2 not in used and crew.may_follow(path[-1], after)
        ]


def _rounded(path: tuple[int, ...], crew: Crew) -> Move | None:
    """Make a move of a path; ``None`` when somebody who may not drive it has no way round."""
    legs = [crew.traversals[number] for number in path]
    away = [setup for setup in crew.bypass if not all(leg.may(setup) for leg in legs)]
    everybody = range(len(legs[0].verdicts))
    stay = [setup for setup in everybody if setup not in away]
    others = sum(max(leg.driving[s] for s in stay) + max(leg.coaching[s] for s in stay) for leg in legs)
    rounds: list[Round] = []
    for setup in away:
        way = _way_round(path, setup, others, crew)
        if way is None or any(number ^ 1 in one.path for one in rounds for number in way):
            return None
        rounds.append(Round(setup, way))
    return Move(path, tuple(sorted(rounds, key=lambda one: one.setup)))


def _way_round(path: tuple[int, ...], setup: int, others_min: float, crew: Crew) -> tuple[int, ...] | None:
    """Find the way of one set-up round a path; ``None`` where there is none, or somebody would wait too long."""
    split, meet = crew.traversals[path[0]].tail, crew.traversals[path[-1]].head
    if split == meet:
        waits = split in crew.turning and others_min <= crew.limits.wait_min
        return () if waits else None
    way = quickest(crew, setup, (split, meet), frozenset(number // 2 for number in path))
    if way is None:
        return None
    minutes = sum(_minutes(crew.traversals[number], setup) for number in way)
    return way if abs(minutes - others_min) <= crew.limits.wait_min else None


def quickest(crew: Crew, setup: int, ends: tuple[int, int], without: frozenset[int]) -> tuple[int, ...] | None:
    """Find the quickest way of one set-up from node to node, driving and coaching, among equals the smallest sequence.

    Parameters
    ----------
    crew
        The group and its ground.
    setup
        Place of the set-up in the request.
    ends
        Nodes where the way begins and ends; not the same.
    without
        Segments that it must not use, by traversal number ÷ 2.
    """
    graph, done = crew.open_alone[setup], set[int]()
    heap: list[tuple[int, tuple[int, ...]]] = [
        (_whole(crew, setup, n), (n,)) for n in graph.get(ends[0], ()) if n // 2 not in without
    ]
    heapq.heapify(heap)
    while heap:
        took, path = heapq.heappop(heap)
        if path[-1] in done:
            continue
        done.add(path[-1])
        node = crew.traversals[path[-1]].head
        if node == ends[1]:
            return path
        for after in graph.get(node, ()):
            if after // 2 not in without and after not in done and crew.may_follow(path[-1], after):
                heapq.heappush(heap, (took + _whole(crew, setup, after), (*path, after)))
    return None


def _minutes(leg: Traversal, setup: int) -> float:
    """Give the minutes that one set-up takes by itself."""
    return leg.driving[setup] + leg.coaching[setup]


def _whole(crew: Crew, setup: int, number: int) -> int:
    """Give the same in whole milliseconds, at least 1."""
    return max(1, round(_minutes(crew.traversals[number], setup) * _MS))
