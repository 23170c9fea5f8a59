"""The quickest way home, against shortest paths by networkx on a graph built from the world itself."""

import networkx as nx
import pytest

from pipeline.loops.day.ways_out import ways_home
from pipeline.loops.settings import LoopSettings
from pipeline.terms import Driver, Status, Verdict
from tests.loops.day.worlds import outing
from tests.loops.parts import plan_of
from tests.loops.worlds import Trail, World, ground, tiny

FIT = (Verdict.AMPLE, Verdict.WATCH, Verdict.SPOT)


def ends(trail: Trail, side: int) -> tuple[int, int]:
    """Give where a trail begins and ends, driven with (0) or against (1)."""
    return (trail.a, trail.b) if side == 0 else (trail.b, trail.a)


def by_networkx(world: World, minutes: dict[int, float]) -> dict[int, float]:
    """Give the minutes home after each traversal that may be driven: nodes are traversals, edges are turns."""
    graph = nx.DiGraph()
    allowed = {
        2 * n + side: ends(trail, side)
        for n, trail in enumerate(world.trails)
        for side in (0, 1)
        if trail.status is Status.OPEN and trail.verdict[side] in FIT and trail.oneway != (-1, 1)[side]
    }
    for one, (_, end) in allowed.items():
        if end == world.trailhead:
            graph.add_edge(one, "home", weight=0.0)
        for two, (begin, _) in allowed.items():
            back = two == one ^ 1
            if begin == end and two != one and (not back or end in world.turn_round):
                graph.add_edge(one, two, weight=minutes.get(two, 1e9))
    found: dict[int, float] = nx.single_source_dijkstra_path_length(graph.reverse(), "home")
    return found


@pytest.mark.parametrize("world", [*(tiny(seed) for seed in range(6)), ground(60, 3)])
def test_equals_shortest_paths(settings: LoopSettings, world: World) -> None:
    """Minutes must be the shortest, and those of the moves that are told; the moves must be a way to the trailhead."""
    plan = plan_of(world, settings)
    ways = ways_home(plan)
    assert ways.onward
    told = by_networkx(world, ways.driving)
    for number in ways.onward:
        home = ways.after(number)
        assert home.minutes == pytest.approx(told[number], abs=1e-3)
        assert home.minutes == pytest.approx(sum(ways.driving[n] for n in home.numbers))
        assert home.length_m == pytest.approx(sum(plan.traversals[n].length_m for n in home.numbers))
        path = [number, *home.numbers]
        assert [plan.traversals[n].head for n in path[:-1]] == [plan.traversals[n].tail for n in home.numbers]
        assert plan.traversals[path[-1]].head == world.trailhead


def test_what_leads_nowhere_has_no_way_home(settings: LoopSettings) -> None:
    """A dead end without room to turn must have none, the way into it too."""
    world = World([Trail(0, 1), Trail(1, 2), Trail(2, 0), Trail(1, 3)])
    ways = ways_home(plan_of(world, settings))
    assert 6 not in ways.onward
    assert ways.after(0).numbers == (2, 4)
    assert ways.after(4).numbers == ()


def test_a_way_home_may_split_the_group(settings: LoopSettings) -> None:
    """Where the wagon may go round, the way home may too, at the time of the slower part."""
    plan, answer, _ = outing(settings)
    ways = ways_home(plan)
    split = next(n for n in answer.numbers if plan.moves[n].rounds)
    assert ways.driving[split] == pytest.approx(600.0 / (settings.pace[Driver.FIRST_TIMER].ample_kmh / 0.06))
    assert ways.after(split).minutes == pytest.approx(sum(ways.driving[n] for n in answer.numbers[-2:]))
