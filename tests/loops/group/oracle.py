"""A slow search for loops of a mixed group by listing pairs of walks.

The group's walk is any closed walk of those who must stay; every way of taking
stretches out of it for those who may go round is tried, and each of them then
has a walk of its own, the turns of which are looked at from end to end. Ways
round are found by listing all of them. What single traversals take and give is
taken from the package's own list; chains, ways, turns, who waits, sums and
rounding are worked out here.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from pipeline.loops.plan import Plan
from pipeline.loops.settings import LoopSettings
from pipeline.loops.traversals import Traversal

Path = tuple[int, ...]
Piece = tuple[Path, dict[int, Path]]
"""A stretch of the group's walk, and the ways of those who do not drive it."""


@dataclass(frozen=True)
class Sum:
    """What a loop adds up to."""

    dm: int
    seconds: int
    exposure: int
    level: int
    units: int
    pieces: tuple[Piece, ...]


class Ground:
    """One plan's traversals, and who is who."""

    def __init__(self, plan: Plan, settings: LoopSettings, turning: set[int], trailhead: int) -> None:
        """Take what single traversals are."""
        self.plan, self.legs = plan, plan.traversals
        self.limits, self.sharpest = settings.group, settings.sharpest_turn_deg
        self.turning, self.trailhead = turning, trailhead
        names = plan.request.setups
        self.everybody = range(len(names))
        self.bypass = [s for s in self.everybody if names[s] in plan.request.bypass]
        self.must = [s for s in self.everybody if s not in self.bypass]
        self.ways: dict[tuple[int, int, int], list[tuple[float, Path]]] = {}

    def may(self, number: int, setup: int) -> bool:
        """Tell whether a set-up may drive a traversal."""
        leg = self.legs[number]
        return leg.shut == "" and leg.verdicts[setup][1] in ("ample", "watch", "spot")

    def turns(self, a: int, b: int) -> bool:
        """Tell by the angle whether *b* may be driven after *a*."""
        if self.legs[a].head in self.turning:
            return True
        (x, y), (u, v) = self.legs[a].arriving, self.legs[b].leaving
        angle = abs(math.degrees(math.atan2(x * v - y * u, x * u + y * v)))
        return a // 2 != b // 2 and angle <= self.sharpest + 1e-6

    def drives(self, walk: list[int]) -> bool:
        """Tell whether every turn of a walk may be driven."""
        return all(self.turns(a, b) for a, b in pairwise(walk))

    def all_ways(self, setup: int, split: int, meet: int) -> list[tuple[float, Path]]:
        """List the ways of a set-up by itself from node to node that pass the second only at their end."""
        key = (setup, split, meet)
        if key not in self.ways:
            fit = [n for n in range(len(self.legs)) if self.may(n, setup) and self.legs[n].verdicts[setup][1] != "spot"]
            found = []
            stack: list[Path] = [(n,) for n in fit if self.legs[n].tail == split]
            while stack:
                path = stack.pop()
                if self.legs[path[-1]].head == meet:
                    found.append((round(sum(self.took(self.legs[n], setup) for n in path), 9), path))
                    continue
                stack += [
                    (*path, n)
                    for n in fit
                    if self.legs[n].tail == self.legs[path[-1]].head and n not in path and self.turns(path[-1], n)
                ]
            self.ways[key] = sorted(found)
        return self.ways[key]

    @staticmethod
    def took(leg: Traversal, setup: int) -> float:
        """Give the minutes of a set-up by itself."""
        return leg.driving[setup] + leg.coaching[setup]

    def away(self, stretch: Path) -> dict[int, Path] | None:
        """Give the ways of those who may not drive a stretch; ``None`` when it is no stretch to go round."""
        ends = [any(not self.may(n, s) for s in self.bypass) for n in (stretch[0], stretch[-1])]
        segments = {n // 2 for n in stretch}
        if not all(ends) or len(segments) < len(stretch) or len(stretch) > self.limits.chain_segments:
            return None
        gone = [s for s in self.bypass if not all(self.may(n, s) for n in stretch)]
        stay = [s for s in self.everybody if s not in gone]
        others = sum(self.together(n, stay) for n in stretch)
        split, meet = self.legs[stretch[0]].tail, self.legs[stretch[-1]].head
        found: dict[int, Path] = {}
        for setup in gone:
            if split == meet:
                if split not in self.turning or others > self.limits.wait_min:
                    return None
                found[setup] = ()
                continue
            ways = [w for w in self.all_ways(setup, split, meet) if not segments & {n // 2 for n in w[1]}]
            if not ways or abs(ways[0][0] - others) > self.limits.wait_min:
                return None
            if any({n ^ 1 for n in ways[0][1]} & set(other) for other in found.values()):
                return None
            found[setup] = ways[0][1]
        return found

    def together(self, number: int, setups: list[int]) -> float:
        """Give the minutes of several who keep together."""
        leg = self.legs[number]
        return max(leg.driving[s] for s in setups) + max(leg.coaching[s] for s in setups)

    def stretches(self) -> set[Path]:
        """List every stretch that can be gone round, from any node."""
        fit = [n for n in range(len(self.legs)) if all(self.may(n, s) for s in self.must)]
        found, stack = set(), [(n,) for n in fit]
        while stack:
            path = stack.pop()
            if self.away(path) is not None:
                found.add(path)
            if len(path) < self.limits.chain_segments:
                stack += [
                    (*path, n)
                    for n in fit
                    if self.legs[path[-1]].head == self.legs[n].tail
                    and n // 2 not in {m // 2 for m in path}
                    and self.turns(path[-1], n)
                ]
        return found

    def walks(self) -> Iterator[Path]:
        """Yield every closed walk of those who must stay, within the longest length."""
        most = round(self.plan.request.length_m[1] * 10)
        fit = [n for n in range(len(self.legs)) if all(self.may(n, s) for s in self.must)]
        stack = [((n,), self.dm(n)) for n in fit if self.legs[n].tail == self.trailhead]
        while stack:
            walk, dm = stack.pop()
            if dm > most:
                continue
            head = self.legs[walk[-1]].head
            if head == self.trailhead:
                yield walk
            stack += [
                ((*walk, n), dm + self.dm(n))
                for n in fit
                if self.legs[n].tail == head and n not in walk and self.turns(walk[-1], n)
            ]

    def dm(self, number: int) -> int:
        """Give a length in whole decimetres."""
        return max(1, round(self.legs[number].length_m * 10))

    def cuts(self, walk: Path) -> Iterator[tuple[Piece, ...]]:
        """Yield every way of taking stretches out of a walk."""
        if not walk:
            yield ()
            return
        if all(self.may(walk[0], s) for s in self.everybody):
            for rest in self.cuts(walk[1:]):
                yield ((walk[0],), {}), *rest
        for end in range(1, len(walk) + 1):
            gone = self.away(walk[:end])
            if gone is not None:
                for rest in self.cuts(walk[end:]):
                    yield (walk[:end], gone), *rest

    def loops(self) -> Iterator[Sum]:
        """Yield every loop of the group."""
        least = round(self.plan.request.length_m[0] * 10)
        for walk in self.walks():
            if sum(self.dm(n) for n in walk) < least:
                continue
            for pieces in self.cuts(walk):
                own = {s: [n for path, gone in pieces for n in gone.get(s, path)] for s in self.bypass}
                # Who waits does so where there is room to turn: its turn there is allowed anyway.
                if all(self.drives(mine) for mine in own.values()):
                    yield self.sum(pieces)

    def sum(self, pieces: tuple[Piece, ...]) -> Sum:
        """Add up a loop, each piece rounded by itself."""
        floor = self.plan.request.comfort_floor
        dm = seconds = exposure = 0
        level, gained = round(floor * 100), 0
        for path, gone in pieces:
            stay = [s for s in self.everybody if s not in gone]
            took = [sum(self.together(n, stay) for n in path)]
            took += [sum(self.took(self.legs[n], s) for n in way) for s, way in gone.items()]
            pressed = [(self.legs[n], max(self.legs[n].utilisations[s] for s in stay)) for n in path]
            pressed += [(self.legs[n], self.legs[n].utilisations[s]) for s, way in gone.items() for n in way]
            dm += sum(self.dm(n) for n in path)
            seconds += max(1, round(max(took) * 60))
            exposure += round(sum(leg.length_m * max(0.0, u - floor) for leg, u in pressed) * 10)
            level = max(level, *(math.ceil(u * 100 - 1e-7) for _, u in pressed))
            each = [sum(self.legs[n].practised[s] for n in gone.get(s, path)) for s in self.everybody]
            gained = gained + (sum(each) / len(each)).round().astype(int)
        return Sum(dm, seconds, exposure, level, self.plan.quest.curve.units(gained), pieces)
