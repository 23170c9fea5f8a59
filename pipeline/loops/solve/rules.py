"""What a loop must keep to, in whole numbers, and the check of a walk against it.

This check shares nothing with the solver: it walks the arcs one by one and
compares integers.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from pipeline.loops.graph import Arcs

__all__ = ["Rules", "breaches", "redriven_dm"]

Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]
Window = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Rules:
    """The rules of one request. What must be driven or was driven is named by traversal numbers."""

    length_dm: Window | None
    time_s: Window | None
    redriven: float
    """Largest share of the length on segments driven both ways."""
    must: tuple[tuple[str, frozenset[int]], ...] = ()
    """Name of a thing to take in, and the traversals one of which does so."""
    earlier: tuple[frozenset[int], ...] = ()
    """Traversals, both directions, of the segments of each earlier loop."""
    overlap: float = 1.0
    """Largest share of the length on segments of each earlier loop."""
    starts: frozenset[int] | None = None
    """Traversals one of which comes first; ``None`` where any may."""

    @property
    def flows_by_length(self) -> bool:
        """Whether distance, not time, is what the flow carries."""
        return self.length_dm is not None

    def member(self, arcs: Arcs, numbers: frozenset[int]) -> Flags:
        """Flag the arcs that drive any of the traversals *numbers*."""
        return np.asarray(self.shared_dm(arcs, numbers) > 0, dtype=np.bool_)

    def shared_dm(self, arcs: Arcs, numbers: frozenset[int]) -> Ints:
        """Give the length of each arc on the traversals *numbers*, dm."""
        on = np.isin(arcs.parts.number, np.fromiter(numbers, dtype=np.int64, count=len(numbers)))
        return np.bincount(arcs.parts.arc, on * arcs.parts.length_dm, len(arcs)).astype(np.int64)

    def begins(self, arcs: Arcs) -> Ints:
        """Give the arcs that a loop may begin with."""
        away = arcs.tail == arcs.trailhead
        if self.starts is not None:
            first = arcs.parts.number[arcs.parts.first[:-1]]
            away &= np.isin(first, np.fromiter(self.starts, dtype=np.int64, count=len(self.starts)))
        return np.flatnonzero(away).astype(np.int64)


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


def redriven_dm(arcs: Arcs, walk: Ints) -> int:
    """Sum the length of both directions of the segments driven both ways, the only way in not counted, dm."""
    return int(arcs.pairs.length_dm[arcs.pairs.both(np.asarray(walk))].sum())


def _walk_breaches(arcs: Arcs, walk: Sequence[int]) -> Iterator[str]:
    """Yield what keeps *walk* from being a closed walk with allowed turns."""
    if not walk:
        yield "empty"
        return
    if arcs.tail[walk[0]] != arcs.trailhead or arcs.head[walk[-1]] != arcs.trailhead:
        yield "does not begin and end at the trailhead"
    driven = arcs.parts.of(np.asarray(walk, dtype=np.int64)).tolist()
    if len(set(driven)) != len(driven):
        yield "uses a direction twice"
    for a, b in pairwise(walk):
        if arcs.head[a] != arcs.tail[b]:
            yield f"arc {b} does not follow arc {a}"
        elif not arcs.turn_round[arcs.head[a]] and _shunts(arcs, a, b):
            yield f"turns back after arc {a} without room"


def _shunts(arcs: Arcs, a: int, b: int) -> bool:
    """Tell whether *b* after *a* goes back, or round a sharper corner than may be driven, for anybody."""
    back = arcs.parts.of(a)[-1] == arcs.parts.of(b)[0] ^ 1
    if back or arcs.arriving[a] @ arcs.leaving[b] < arcs.sharpest - 1e-9:
        return True
    aside = arcs.aside
    return aside is not None and any(
        last == first ^ 1 or arriving @ leaving < arcs.sharpest - 1e-9
        for last, first, arriving, leaving in zip(
            aside.last[a], aside.first[b], aside.arriving[a], aside.leaving[b], strict=True
        )
    )


def _rule_breaches(arcs: Arcs, walk: Ints, rules: Rules) -> Iterator[str]:
    """Yield the rules of the request that a closed walk breaks."""
    length = int(arcs.length_dm[walk].sum())
    time = int(arcs.time_s[walk].sum())
    for word, value, window in (("length", length, rules.length_dm), ("time", time, rules.time_s)):
        if window is not None and not window[0] <= value <= window[1]:
            yield f"{word} {value} outside {window}"
    numbers = set(arcs.parts.of(walk).tolist())
    twice = redriven_dm(arcs, walk)
    if twice > rules.redriven * length + 1e-6:
        yield f"re-driven {twice} of {length}"
    yield from _told_breaches(arcs, walk, rules, numbers)
    for earlier in rules.earlier:
        shared = int(rules.shared_dm(arcs, earlier)[walk].sum())
        if shared > rules.overlap * length + 1e-6:
            yield f"shares {shared} of {length} with an earlier loop"


def _told_breaches(arcs: Arcs, walk: Ints, rules: Rules, numbers: set[int]) -> Iterator[str]:
    """Yield what was asked for and is not there."""
    if rules.starts is not None and arcs.parts.of(walk)[0] not in rules.starts:
        yield "begins elsewhere"
    for name, group in rules.must:
        if not group & numbers:
            yield f"leaves out {name}"
