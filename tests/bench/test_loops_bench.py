"""Time to the proven optimum, against plain listing of cycles by networkx and a greedy builder.

Run with ``pytest tests/bench/test_loops_bench.py --benchmark-enable -s``; figures are CPU seconds.
"""

import time
import tomllib
from itertools import islice
from pathlib import Path

import networkx as nx
import numpy as np
import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from pipeline.loops.plan import Plan, make_plan
from pipeline.loops.request import LoopInputs, LoopRequest
from pipeline.loops.search import find_loops
from pipeline.loops.settings import LoopSettings
from pipeline.loops.solve.local_search import local_search
from pipeline.terms import Objective
from tests.loops.parts import problem_of
from tests.loops.worlds import SETUPS, ground

CONFIG = Path(__file__).parents[2] / "configs" / "loops.toml"
LARGE = [
    pytest.param(segments, mean_m, marks=pytest.mark.minutes) for segments, mean_m in ((1000, 450.0), (5000, 350.0))
]
LISTED = 20_000
"""Cycles that the listing may look at."""


def shipped(scarcer: float) -> LoopSettings:
    """Give the settings that ship, techniques saturating *scarcer* times later so that the budget binds, any turn."""
    settings = LoopSettings.model_validate(tomllib.loads(CONFIG.read_text(encoding="utf-8")))
    values = {t: v.model_copy(update={"saturation": v.saturation * scarcer}) for t, v in settings.technique.items()}
    return settings.model_copy(update={"technique": values, "sharpest_turn_deg": 180.0})


def listing(plan: Plan) -> int:
    """Give the largest gain among the simple cycles through the trailhead that networkx lists first."""
    quest = plan.quest
    arcs, longest = quest.arcs, (quest.rules.length_dm or (0, 0))[1]
    graph = nx.DiGraph()
    for arc, (a, b) in enumerate(zip(arcs.tail.tolist(), arcs.head.tolist(), strict=True)):
        graph.add_edge(a, b, arc=arc)
    best = 0
    for cycle in islice(nx.simple_cycles(graph), LISTED):
        if arcs.trailhead in cycle:
            walk = [graph.edges[a, b]["arc"] for a, b in zip(cycle, cycle[1:] + cycle[:1], strict=True)]
            if arcs.length_dm[walk].sum() <= longest:
                best = max(best, quest.curve.units(arcs.credits[walk].sum(axis=0)))
    return best


def greedy(plan: Plan) -> int:
    """Give the gain of a builder that always drives the new arc of most gain a metre from which it can get home."""
    quest = plan.quest
    arcs, budget = quest.arcs, (quest.rules.length_dm or (0, 0))[1]
    graph = nx.DiGraph()
    for a, b, way in zip(arcs.tail.tolist(), arcs.head.tolist(), arcs.length_dm.tolist(), strict=True):
        graph.add_edge(a, b, way=way)
    home = nx.single_source_dijkstra_path_length(graph.reverse(), arcs.trailhead, weight="way")
    at, gone, walk, have = arcs.trailhead, 0, [], np.zeros(arcs.credits.shape[1], dtype=np.int64)
    best = 0
    while True:
        choices = [
            a
            for a in np.flatnonzero(arcs.tail == at).tolist()
            if a not in walk
            and (not walk or arcs.opposite[walk[-1]] != a)
            and gone + arcs.length_dm[a] + home[int(arcs.head[a])] <= budget
        ]
        if not choices:
            return best
        now = quest.curve.units(have)
        arc = max(choices, key=lambda a: (quest.curve.units(have + arcs.credits[a]) - now) / arcs.length_dm[a])
        walk.append(arc)
        have = have + arcs.credits[arc]
        at, gone = int(arcs.head[arc]), gone + int(arcs.length_dm[arc])
        if at == arcs.trailhead:
            best = max(best, quest.curve.units(have))


@pytest.mark.parametrize(("segments", "window", "scarcer"), [(30, (2000.0, 4000.0), 2.0), (80, (4000.0, 8000.0), 3.0)])
def test_both_objectives_are_proven(
    benchmark: BenchmarkFixture, segments: int, window: tuple[float, float], scarcer: float
) -> None:
    """Both objectives must be proven best, and the richest loop must beat listing and greedy building."""
    settings = shipped(scarcer)
    inputs = ground(segments, 2).inputs(settings)
    requests = [LoopRequest(o.value, o, window, None, SETUPS) for o in (Objective.TRAINING_RICH, Objective.SAFEST)]
    spent = [_cpu(inputs, request) for request in requests]
    found = benchmark.pedantic(find_loops, args=(inputs, requests), rounds=1, iterations=1)
    plan = make_plan(inputs, requests[0])
    peers = {}
    for name, peer in (("listing", listing), ("greedy", greedy)):
        start = time.process_time()
        peers[name] = (peer(plan) / 3, time.process_time() - start)
    rich = found.loops["value"].iloc[0]
    print(  # noqa: T201  # a benchmark reports
        f"\n{segments} segments: training-rich {rich:.0f} points in {spent[0]:.2f} s, safest in {spent[1]:.2f} s CPU; "
        + "; ".join(f"{name} {value:.0f} points in {cpu:.2f} s" for name, (value, cpu) in peers.items())
    )
    assert found.loops["proven"].all()
    assert all(rich >= value for value, _ in peers.values())


@pytest.mark.parametrize(("segments", "mean_m"), [(30, 900.0), (80, 800.0), (200, 650.0), *LARGE])
@pytest.mark.parametrize("scarcer", [1.0, 4.0])
def test_local_search_and_peers(benchmark: BenchmarkFixture, segments: int, mean_m: float, scarcer: float) -> None:
    """On loops of 14 to 20 km the local search must beat listing and greedy building, on large grounds too."""
    settings = shipped(scarcer)
    request = LoopRequest("loop", Objective.TRAINING_RICH, (14_000.0, 20_000.0), None, SETUPS)
    plan = make_plan(ground(segments, 0, mean_m=mean_m).inputs(settings), request)
    problem = problem_of(plan, gain=True)
    local_search(problem, settings.search.model_copy(update={"starts": 1, "moves": 1}), 0)
    start = time.process_time()
    walk = benchmark.pedantic(local_search, args=(problem, settings.search, 0), rounds=1, iterations=1)
    spent = time.process_time() - start
    units = problem.goal.value(problem.arcs, walk)
    ratios = []
    for name, peer in (("listing", listing), ("greedy", greedy)):
        start = time.process_time()
        other = peer(plan)
        cpu = time.process_time() - start
        ratios.append(f"{name} {other / units:.3f} of it in {cpu:.2f} s")
        assert other <= units
    print(  # noqa: T201  # a benchmark reports
        f"\n{segments} segments, {len(problem.arcs)} arcs, x{scarcer:.0f}: {units} units in {spent:.2f} s CPU; "
        + "; ".join(ratios)
    )


def _cpu(inputs: LoopInputs, request: LoopRequest) -> float:
    """Give the CPU seconds of one search, the kernel being compiled."""
    start = time.process_time()
    find_loops(inputs, [request])
    return time.process_time() - start
