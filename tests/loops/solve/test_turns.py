"""Turns and reach pruning, against networkx and a listing of all loops."""

import networkx as nx
import numpy as np
import pytest

from pipeline.loops.request import LoopRequest
from pipeline.loops.settings import LoopSettings
from pipeline.loops.solve.rules import Rules
from pipeline.loops.solve.turns import FAR, expand, measure, prune
from pipeline.terms import Objective
from tests.loops.oracle import loops
from tests.loops.parts import plan_of
from tests.loops.worlds import SETUPS, Trail, World, ground, tiny

FREE = Rules(None, None, 1.0)


def within(longest_dm: int) -> Rules:
    """Make rules of a longest loop alone."""
    return Rules((0, longest_dm), None, 1.0)


def test_turning_back_needs_room(settings: LoopSettings) -> None:
    """Turning back must be a turn only where there is room, at a dead end too."""
    trails = [Trail(0, 1), Trail(1, 2)]
    for room in (set(), {2}, {0, 1, 2}):
        arcs = plan_of(World(trails, room), settings).quest.arcs
        turns = expand(arcs, FREE.begins(arcs))
        back = {
            int(arcs.nodes[arcs.head[a]])
            for a, b in zip(turns.first, turns.second, strict=True)
            if arcs.opposite[a] == b
        }
        assert back == room


@pytest.mark.parametrize("seed", range(3))
def test_turns_equal_a_plain_listing(settings: LoopSettings, seed: int) -> None:
    """The vectorised listing must equal the definition, pair by pair, in sorted order."""
    arcs = plan_of(tiny(seed), settings).quest.arcs
    turns = expand(arcs, FREE.begins(arcs))
    plain = [
        (a, b)
        for a in range(len(arcs))
        for b in range(len(arcs))
        if a != b and arcs.head[a] == arcs.tail[b] and (arcs.opposite[a] != b or arcs.turn_round[arcs.head[a]])
    ]
    assert list(zip(turns.first.tolist(), turns.second.tolist(), strict=True)) == plain


@pytest.mark.parametrize("seed", range(3))
def test_reach_equals_networkx(settings: LoopSettings, seed: int) -> None:
    """Shortest ways there and home must be those of networkx's Dijkstra on the graph of turns."""
    arcs = plan_of(ground(30, seed), settings).quest.arcs
    turns = expand(arcs, FREE.begins(arcs))
    reach = measure(arcs, turns, arcs.length_dm)
    graph = nx.DiGraph()
    for a, b in zip(turns.first.tolist(), turns.second.tolist(), strict=True):
        graph.add_edge(a, b, way=int(arcs.length_dm[b]))
    for b in turns.starts.tolist():
        graph.add_edge("out", b, way=int(arcs.length_dm[b]))
    for a in turns.ends.tolist():
        graph.add_edge(a, "in", way=0)
    there = nx.single_source_dijkstra_path_length(graph, "out", weight="way")
    home = nx.single_source_dijkstra_path_length(graph.reverse(), "in", weight="way")
    for arc in range(len(arcs)):
        assert reach.there[arc] == there.get(arc, FAR)
        assert reach.home[arc] == home.get(arc, FAR)


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("longest_m", [600.0, 1200.0])
def test_pruning_drops_no_loop_and_reaches_a_fixed_point(settings: LoopSettings, seed: int, longest_m: float) -> None:
    """Every arc of every loop must survive, and pruning again must change nothing."""
    world = tiny(seed)
    plan = plan_of(world, settings, (1.0, longest_m), max_redriven=1.0)
    arcs, turns = prune(plan.quest.arcs, within(int(longest_m * 10)))
    kept = {(plan.traversals[n].segment_id, plan.traversals[n].direction.value) for n in arcs.parts.number}
    request = LoopRequest("x", Objective.SAFEST, (1.0, longest_m), None, SETUPS, max_redriven=1.0)
    for loop in loops(world, request, settings):
        assert {(f"s{t:03d}", ("with", "against")[side]) for t, side in loop.ways} <= kept
    again, _ = prune(arcs, within(int(longest_m * 10)))
    assert len(again) == len(arcs)
    assert set(zip(turns.first.tolist(), turns.second.tolist(), strict=True)) <= set(
        zip(
            expand(arcs, FREE.begins(arcs)).first.tolist(), expand(arcs, FREE.begins(arcs)).second.tolist(), strict=True
        )
    )


def test_pruning_by_time(settings: LoopSettings) -> None:
    """The slowest loop allowed must prune like the longest."""
    arcs = plan_of(tiny(0), settings).quest.arcs
    all_in, _ = prune(arcs, Rules(None, (0, int(arcs.time_s.sum())), 1.0))
    fewer, _ = prune(arcs, Rules(None, (0, int(np.sort(arcs.time_s)[:6].sum())), 1.0))
    nothing, _ = prune(arcs, Rules(None, (0, 1), 1.0))
    assert len(nothing) == 0
    assert len(fewer) < len(all_in) <= len(arcs)
