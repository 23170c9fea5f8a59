"""A slow search for loops by listing all of them, sharing nothing with the package's search.

States are (last traversal, set of traversals used): two walks in the same state
can be continued alike and are worth the same, so each state is visited once.
Lengths, exposures and gains are worked out here from the world itself: how well
a run fits each driver, what is lost by meeting it again, every lap.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations

import networkx as nx

from pipeline.loops.request import LoopRequest
from pipeline.loops.settings import LoopSettings
from pipeline.technique.practice import Practice
from pipeline.terms import Direction, Status, Technique, Verdict
from tests.loops.worlds import DRIVERS, PLAIN, Trail, World

FIT = (Verdict.AMPLE, Verdict.WATCH, Verdict.SPOT)
Run = tuple[Technique, float, float, float, float]
"""Technique, amount, begin, end, intensity."""


@dataclass(frozen=True)
class Terms:
    """What the worth of a loop depends on besides the world."""

    world: World
    request: LoopRequest
    settings: LoopSettings
    practice: Practice

    @property
    def weights(self) -> dict[Technique, int]:
        """Techniques that count, with their weights."""
        aim = self.practice.aims[self.request.aim]
        return {t: aim[t] for t in Technique if aim.get(t, 0) and t in self.settings.technique}

    @property
    def further(self) -> float:
        """What all laps give of what the first gives."""
        return 1 + (self.request.laps - 1) * self.practice.repeat_share

    def judged(self, trail: Trail, side: int) -> tuple[Verdict, float]:
        """Give the worst verdict and utilisation of the set-ups; the truck copes with everything, at half."""
        if "wagon" in self.request.setups:
            return trail.verdict[side], trail.utilisation[side]
        return Verdict.AMPLE, trail.utilisation[side] * 0.5

    def share(self, setup: str, intensity: float) -> float:
        """Share of the credit that a run of an intensity gives a driver."""
        band = self.practice.band[DRIVERS[setup]]
        if intensity < band.best_from:
            return band.easy_share + (1 - band.easy_share) * intensity / band.best_from
        over = max(0.0, intensity - band.best_to)
        return 1 - (1 - band.hard_share) * over / (1 - band.best_to) if over else 1.0

    def fitting(self, setups: tuple[str, ...], runs: list[Run]) -> float:
        """Amount of runs as they fit the drivers, on the mean."""
        return sum(a * self.share(s, x) for s in setups for _, a, _, _, x in runs) / len(setups)

    def full(self, technique: Technique) -> float:
        """Amount of full practice."""
        asked, settings = self.request, self.settings
        stretch = (
            asked.length_m[1] / settings.reference_length_m
            if asked.length_m
            else asked.time_min[1] / settings.reference_time_min
        )
        every = [run for t in self.world.trails for side in (0, 1) for run in runs_of(t, side) if run[0] is technique]
        metres = sum(2 * t.length_m for t in self.world.trails)
        average = self.fitting(asked.setups, every) / metres * stretch * settings.reference_length_m
        return max(settings.technique[technique].saturation * max(1.0, stretch), self.practice.spread * average)


def runs_of(trail: Trail, side: int) -> list[Run]:
    """List what a trail exercises one way."""
    way, whole = list(Direction)[side], trail.length_m
    plain = [(t, a, 0.0, whole, 1.0) for t, d, a in trail.runs if d is way]
    return plain + [(t, a, b * whole, e * whole, x) for t, d, a, b, e, x in trail.features if d is way]


@dataclass(frozen=True)
class Way:
    """One allowed traversal."""

    trail: int
    side: int
    tail: int
    head: int
    dm: int
    seconds: int
    exposure: int
    level: int
    credits: tuple[int, ...]


@dataclass(frozen=True)
class Sum:
    """What a loop adds up to."""

    dm: int
    seconds: int
    exposure: int
    level: int
    units: int
    ways: frozenset[tuple[int, int]]


def ways(world: World, request: LoopRequest, settings: LoopSettings, practice: Practice = PLAIN) -> list[Way]:
    """List the traversals that may be driven."""
    found, laps, terms = [], request.laps, Terms(world, request, settings, practice)
    full = {t: terms.full(t) for t in terms.weights}
    for number, trail in enumerate(world.trails):
        for side in (0, 1):
            verdict, utilisation = terms.judged(trail, side)
            if trail.status is not Status.OPEN or trail.oneway == (-1, 1)[side] or verdict not in FIT:
                continue
            if f"s{number:03d}" in request.avoid:
                continue
            ends = (trail.a, trail.b) if side == 0 else (trail.b, trail.a)
            over = max(0.0, utilisation - request.comfort_floor)
            runs = runs_of(trail, side)
            found.append(
                Way(
                    number,
                    side,
                    *ends,
                    dm=laps * round(trail.length_m * 10),
                    seconds=round(_minutes(trail, side, terms) * 60),
                    exposure=round(laps * trail.length_m * 10 * over),
                    level=max(round(request.comfort_floor * 100), math.ceil(utilisation * 100 - 1e-7)),
                    credits=tuple(
                        round(terms.fitting(request.setups, [r for r in runs if r[0] is t]) / f * 100 * terms.further)
                        for t, f in full.items()
                    ),
                )
            )
    return found


def _minutes(trail: Trail, side: int, terms: Terms) -> float:
    paces = {Verdict.AMPLE: "ample_kmh", Verdict.WATCH: "watch_kmh", Verdict.SPOT: "spot_kmh"}
    words = {"wagon": trail.verdict[side], "truck": Verdict.AMPLE}
    drivers = {setup: terms.settings.pace[DRIVERS[setup]] for setup in terms.request.setups}
    slow = min(getattr(driver, paces[words[setup]]) for setup, driver in drivers.items())
    stops = sum(terms.settings.technique[run[0]].coaching_min for run in runs_of(trail, side))
    share = max(driver.coaching_share for driver in drivers.values())
    return terms.request.laps * trail.length_m / 1000 / slow * 60 + terms.further * stops * share


def lost(trail: Trail, terms: Terms) -> tuple[int, ...]:
    """Credits of each technique that driving a trail both ways gives less than its two ways add up to."""
    out = []
    for technique in terms.weights:
        graph = nx.Graph()
        graph.add_nodes_from((side, run) for side in (0, 1) for run in runs_of(trail, side) if run[0] is technique)
        for one, other in combinations(list(graph), 2):
            begin, end = max(one[1][2], other[1][2]), min(one[1][3], other[1][3])
            spot = one[1][2] == one[1][3] or other[1][2] == other[1][3]
            if begin < end or (spot and begin == end):
                graph.add_edge(one, other)
        less = 0.0
        for feature in nx.connected_components(graph):
            for setup in terms.request.setups:
                sides = [terms.fitting((setup,), [run for at, run in feature if at == side]) for side in (0, 1)]
                less += min(sides) / len(terms.request.setups)
        out.append(math.floor(less / terms.full(technique) * 100 * (1 - terms.practice.repeat_share) + 1e-9))
    return tuple(out)


def units(credits_of: list[int], weights: dict[Technique, int]) -> int:
    """Add up the five pieces of the gain curves, 20 credits each, slopes 5 … 1 times the weight."""
    total = 0
    for got, weight in zip(credits_of, weights.values(), strict=True):
        for credit in range(1, min(100, got) + 1):
            total += weight * (5 - (credit - 1) // 20)
    return total


def loops(world: World, request: LoopRequest, settings: LoopSettings, practice: Practice = PLAIN) -> Iterator[Sum]:
    """Yield every loop that keeps the rules, once for each set of traversals."""
    all_ways = ways(world, request, settings, practice)
    terms = Terms(world, request, settings, practice)
    less = [lost(trail, terms) for trail in world.trails]
    spurs = _only_way_in(world, all_ways)
    most_dm = round(request.length_m[1] * 10) if request.length_m else 10**9
    most_s = round(request.time_min[1] * 60) if request.time_min else 10**9
    leaving: dict[int, list[int]] = {}
    for number, way in enumerate(all_ways):
        leaving.setdefault(way.tail, []).append(number)
    seen: set[tuple[int, int]] = set()
    told: set[int] = set()
    stack = [
        (number, 1 << number, all_ways[number].dm, all_ways[number].seconds)
        for number in leaving.get(world.trailhead, [])
        if _may_begin(all_ways[number], request)
    ]
    while stack:
        last, used, dm, seconds = stack.pop()
        if (last, used) in seen or dm > most_dm or seconds > most_s:
            continue
        seen.add((last, used))
        way = all_ways[last]
        if way.head == world.trailhead and used not in told:
            told.add(used)
            total = _sum([w for n, w in enumerate(all_ways) if used >> n & 1], less, terms)
            if _keeps(world, total, request, spurs):
                yield total
        for after in leaving.get(way.head, []):
            back = all_ways[after].trail == way.trail and after != last
            if used >> after & 1 or (back and way.head not in world.turn_round):
                continue
            stack.append((after, used | 1 << after, dm + all_ways[after].dm, seconds + all_ways[after].seconds))


def _may_begin(way: Way, request: LoopRequest) -> bool:
    if request.start not in (None, f"s{way.trail:03d}"):
        return False
    return request.start_direction in (None, list(Direction)[way.side])


def _sum(driven: list[Way], less: list[tuple[int, ...]], terms: Terms) -> Sum:
    trails = [way.trail for way in driven]
    twice = {trail for trail in trails if trails.count(trail) == 2}
    got = [sum(column) for column in zip(*(w.credits for w in driven), strict=True)]
    for trail in twice:
        got = [g - gone for g, gone in zip(got, less[trail], strict=True)]
    return Sum(
        dm=sum(w.dm for w in driven),
        seconds=sum(w.seconds for w in driven),
        exposure=sum(w.exposure for w in driven),
        level=max(w.level for w in driven),
        units=units(got, terms.weights),
        ways=frozenset((w.trail, w.side) for w in driven),
    )


def _keeps(world: World, total: Sum, request: LoopRequest, spurs: set[int]) -> bool:
    if request.length_m and total.dm < round(request.length_m[0] * 10):
        return False
    if request.time_min and total.seconds < round(request.time_min[0] * 60):
        return False
    trails = {trail for trail, _ in total.ways}
    twice = request.laps * sum(
        2 * round(world.trails[t].length_m * 10) for t in trails - spurs if {(t, 0), (t, 1)} <= total.ways
    )
    if twice > request.max_redriven * total.dm + 1e-6:
        return False
    for name in request.must:
        place = [node for node, word in world.places.items() if word == name]
        if place:
            ends = {world.trails[t].a for t in trails} | {world.trails[t].b for t in trails}
            if not ends & set(place):
                return False
        elif int(name[1:]) not in trails:
            return False
    return True


def _only_way_in(world: World, all_ways: list[Way]) -> set[int]:
    """Find trails without which the trailhead is left on a tree while cycles lie beyond, by taking each one out."""
    directed = nx.MultiDiGraph([(w.tail, w.head, w.trail) for w in all_ways])
    directed.add_node(world.trailhead)
    core = next(c for c in nx.strongly_connected_components(directed) if world.trailhead in c)
    inside = {w.trail for w in all_ways if w.tail in core and w.head in core}
    found = set()
    for trail in inside:
        graph = nx.MultiGraph()
        graph.add_nodes_from(core)
        graph.add_edges_from((world.trails[t].a, world.trails[t].b) for t in inside - {trail})
        near = nx.node_connected_component(graph, world.trailhead)
        if world.trails[trail].a in near and world.trails[trail].b in near:
            continue
        here, there = graph.subgraph(near), graph.subgraph(set(graph) - near)
        parts = nx.number_connected_components(there)
        if here.number_of_edges() == len(near) - 1 and there.number_of_edges() > len(there) - parts:
            found.add(trail)
    return found
