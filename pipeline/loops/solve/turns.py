"""Which traversal may follow which, and which can lie on a loop of the allowed length at all.

The turn graph has an arc's end as its place: arc *b* may follow arc *a* when it
begins where *a* ends, is not *a* itself, and is neither *a* driven back nor
round a sharper corner than can be driven, unless there is room to turn round.
A dead end is no exception: it needs the room too.

Reach pruning drops every arc and turn that no loop within the limits can use:
with the shortest way from the trailhead to the end of *a* (turn rules kept)
and the shortest way home after *b*, the sum must not exceed the longest loop.
It repeats until nothing more falls (the ellipse rule of budgeted routing).
"""

import heapq
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.loops.graph import Arcs, subset
from pipeline.loops.solve.rules import Rules

__all__ = ["FAR", "Reach", "Turns", "expand", "prune"]

Ints = NDArray[np.int64]
FAR = np.iinfo(np.int64).max // 4
"""Stands for "cannot be reached"."""


@dataclass(frozen=True, slots=True)
class Turns:
    """The turns of a set of arcs, as pairs sorted by first then second arc."""

    first: Ints
    second: Ints
    starts: Ints
    """Arcs that leave the trailhead."""
    ends: Ints
    """Arcs that come back to it."""


@dataclass(frozen=True, slots=True)
class Reach:
    """Shortest ways under the turn rules; parallel to the arcs, in the unit of the cost given."""

    there: Ints
    """From the trailhead to the end of the arc, the arc included."""
    home: Ints
    """From the end of the arc back to the trailhead, the arc not included."""


def expand(arcs: Arcs, begins: Ints) -> Turns:
    """List the turns between *arcs*; a loop begins with one of *begins*."""
    order = np.argsort(arcs.tail, kind="stable")
    counts = np.bincount(arcs.tail, minlength=len(arcs.nodes))
    offsets = np.concatenate(([0], np.cumsum(counts)))
    fan = counts[arcs.head]
    first = np.repeat(np.arange(len(arcs), dtype=np.int64), fan)
    within = np.arange(len(first)) - np.repeat(np.cumsum(fan) - fan, fan)
    second = order[offsets[arcs.head[first]] + within]
    keep = arcs.may_follow(first, second)
    return Turns(
        first=first[keep],
        second=second[keep].astype(np.int64),
        starts=begins,
        ends=np.flatnonzero(arcs.head == arcs.trailhead).astype(np.int64),
    )


def measure(arcs: Arcs, turns: Turns, cost: Ints) -> Reach:
    """Find the shortest ways there and home under the turn rules; *cost* > 0, shape (arcs,)."""
    forward = _follow(turns.first, turns.second, len(arcs))
    backward = _follow(turns.second, turns.first, len(arcs))
    there = _spread(forward, turns.starts, cost[turns.starts], cost)
    # Going backwards the cost of the arc itself is not in the way home: shift it by one arc.
    with_self = _spread(backward, turns.ends, cost[turns.ends], cost)
    home = np.where(with_self < FAR, with_self - cost, FAR)
    return Reach(there=there, home=home)


def prune(arcs: Arcs, rules: Rules) -> tuple[Arcs, Turns]:
    """Drop arcs and turns that no loop within the windows of *rules* can use, to a fixed point."""
    longest_dm = None if rules.length_dm is None else rules.length_dm[1]
    longest_s = None if rules.time_s is None else rules.time_s[1]
    turns = expand(arcs, rules.begins(arcs))
    while True:
        keep = np.ones(len(arcs), dtype=np.bool_)
        turn_keep = np.ones(len(turns.first), dtype=np.bool_)
        for cost, limit in ((arcs.length_dm, longest_dm), (arcs.time_s, longest_s)):
            longest = FAR // 4 if limit is None else limit
            reach = measure(arcs, turns, cost)
            keep &= reach.there + reach.home <= longest
            ahead = cost[turns.second] + reach.home[turns.second]
            turn_keep &= reach.there[turns.first] + ahead <= longest
        turn_keep &= keep[turns.first] & keep[turns.second]
        if keep.all() and turn_keep.all():
            return arcs, turns
        arcs, turns = subset(arcs, keep), _renumber(turns, keep, turn_keep)


def _renumber(turns: Turns, keep: NDArray[np.bool_], turn_keep: NDArray[np.bool_]) -> Turns:
    """Give the kept turns with the numbers that the kept arcs now have."""
    new = np.cumsum(keep) - 1
    return Turns(
        first=new[turns.first[turn_keep]],
        second=new[turns.second[turn_keep]],
        starts=new[turns.starts[keep[turns.starts]]],
        ends=new[turns.ends[keep[turns.ends]]],
    )


def _follow(first: Ints, second: Ints, count: int) -> list[list[int]]:
    """List, for each arc, the arcs that follow."""
    lists: list[list[int]] = [[] for _ in range(count)]
    for a, b in zip(first.tolist(), second.tolist(), strict=True):
        lists[a].append(b)
    return lists


def _spread(follow: list[list[int]], seeds: Ints, at: Ints, cost: Ints) -> Ints:
    """Dijkstra over arcs: least sum of costs from any seed to each arc, its own cost included."""
    best = [FAR] * len(follow)
    step = cost.tolist()
    heap = sorted(zip(at.tolist(), seeds.tolist(), strict=True))
    for distance, arc in heap:
        best[arc] = min(best[arc], distance)
    while heap:
        distance, arc = heapq.heappop(heap)
        if distance > best[arc]:
            continue
        for after in follow[arc]:
            further = distance + step[after]
            if further < best[after]:
                best[after] = further
                heapq.heappush(heap, (further, after))
    return np.array(best, dtype=np.int64)
