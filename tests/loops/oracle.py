"""A slow search for loops by listing all of them, sharing nothing with the package's search.

States are (last traversal, set of traversals used): two walks in the same state
can be continued alike and are worth the same, so each state is visited once.
Lengths, exposures and gains are worked out here from the world itself.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass

import networkx as nx

from pipeline.loops.request import LoopRequest
from pipeline.loops.settings import LoopSettings
from pipeline.terms import Direction, Status, Verdict
from tests.loops.worlds import DRIVERS, WEIGHTS, Trail, World

FIT = (Verdict.AMPLE, Verdict.WATCH, Verdict.SPOT)


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


def ways(world: World, request: LoopRequest, settings: LoopSettings) -> list[Way]:
    """List the traversals that may be driven."""
    found = []
    for number, trail in enumerate(world.trails):
        for side in (0, 1):
            if trail.status is not Status.OPEN or trail.oneway == (-1, 1)[side] or trail.verdict[side] not in FIT:
                continue
            if f"s{number:03d}" in request.avoid:
                continue
            ends = (trail.a, trail.b) if side == 0 else (trail.b, trail.a)
            over = max(0.0, trail.utilisation[side] - request.comfort_floor)
            found.append(
                Way(
                    number,
                    side,
                    *ends,
                    dm=round(trail.length_m * 10),
                    seconds=round(_minutes(trail, side, settings) * 60),
                    exposure=round(trail.length_m * 10 * over),
                    level=max(round(request.comfort_floor * 100), math.ceil(trail.utilisation[side] * 100 - 1e-7)),
                    credits=_credits(trail, side, request, settings),
                )
            )
    return found


def _minutes(trail: Trail, side: int, settings: LoopSettings) -> float:
    driver, other = (settings.pace[d] for d in DRIVERS.values())
    paces = {Verdict.AMPLE: "ample_kmh", Verdict.WATCH: "watch_kmh", Verdict.SPOT: "spot_kmh"}
    slow = min(getattr(driver, paces[trail.verdict[side]]), other.ample_kmh)
    direction = list(Direction)[side]
    stops = sum(settings.technique[t].coaching_min for t, d, _ in trail.runs if d is direction)
    return trail.length_m / 1000 / slow * 60 + stops * max(driver.coaching_share, other.coaching_share)


def _credits(trail: Trail, side: int, request: LoopRequest, settings: LoopSettings) -> tuple[int, ...]:
    stretch = (
        request.length_m[1] / settings.reference_length_m
        if request.length_m
        else (request.time_min[1] / settings.reference_time_min)
    )
    full = {t: v.saturation * max(1.0, stretch) for t, v in settings.technique.items()}
    direction = list(Direction)[side]
    return tuple(
        round(sum(a for t, d, a in trail.runs if t is technique and d is direction) / full[technique] * 100)
        for technique in settings.technique
    )


def units(credits_of: list[int], settings: LoopSettings) -> int:
    """Add up the five pieces of the gain curves, 20 credits each, slopes 5 … 1 times the weight."""
    total = 0
    for got, technique in zip(credits_of, settings.technique, strict=True):
        for credit in range(1, min(100, got) + 1):
            total += WEIGHTS.get(technique, 0) * (5 - (credit - 1) // 20)
    return total


def loops(world: World, request: LoopRequest, settings: LoopSettings) -> Iterator[Sum]:
    """Yield every loop that keeps the rules, once for each set of traversals."""
    all_ways = ways(world, request, settings)
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
    ]
    while stack:
        last, used, dm, seconds = stack.pop()
        if (last, used) in seen or dm > most_dm or seconds > most_s:
            continue
        seen.add((last, used))
        way = all_ways[last]
        if way.head == world.trailhead and used not in told:
            told.add(used)
            total = _sum([w for n, w in enumerate(all_ways) if used >> n & 1], settings)
            if _keeps(world, total, request, spurs):
                yield total
        for after in leaving.get(way.head, []):
            back = all_ways[after].trail == way.trail and after != last
            if used >> after & 1 or (back and way.head not in world.turn_round):
                continue
            stack.append((after, used | 1 << after, dm + all_ways[after].dm, seconds + all_ways[after].seconds))


def _sum(driven: list[Way], settings: LoopSettings) -> Sum:
    return Sum(
        dm=sum(w.dm for w in driven),
        seconds=sum(w.seconds for w in driven),
        exposure=sum(w.exposure for w in driven),
        level=max(w.level for w in driven),
        units=units([sum(column) for column in zip(*(w.credits for w in driven), strict=True)], settings),
        ways=frozenset((w.trail, w.side) for w in driven),
    )


def _keeps(world: World, total: Sum, request: LoopRequest, spurs: set[int]) -> bool:
    if request.length_m and total.dm < round(request.length_m[0] * 10):
        return False
    if request.time_min and total.seconds < round(request.time_min[0] * 60):
        return False
    trails = {trail for trail, _ in total.ways}
    twice = sum(2 * round(world.trails[t].length_m * 10) for t in trails - spurs if {(t, 0), (t, 1)} <= total.ways)
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
