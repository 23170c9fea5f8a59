"""The local search: what it finds is a loop, never better than the best, the same for the same seed."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from pipeline.kernels.loop_books import Books
from pipeline.loops.plan import make_plan
from pipeline.loops.request import LoopRequest
from pipeline.loops.settings import LoopSettings
from pipeline.loops.solve.local_search import local_search, make_net
from pipeline.loops.solve.rules import breaches, redriven_dm
from pipeline.terms import Objective
from tests.kernels.loop_called import book, judge
from tests.loops.oracle import loops
from tests.loops.parts import plan_of, problem_of
from tests.loops.worlds import SETUPS, SHIPPED, Trail, World, ground, tiny


@pytest.mark.parametrize("gain", [True, False])
@pytest.mark.parametrize("seed", range(3))
def test_finds_the_best_loop_of_a_tiny_net(settings: LoopSettings, seed: int, *, gain: bool) -> None:
    """The search as shipped must come within 5 % of the best of all listed loops, and never beyond it."""
    world = tiny(seed)
    plan = plan_of(world, settings)
    problem = problem_of(plan, gain=gain)
    shipped = settings.search.model_copy(update={"starts": 4, "moves": 6000})
    walk = local_search(problem, shipped, 0)
    assert breaches(problem.arcs, walk.tolist(), problem.rules) == []
    value = problem.goal.value(problem.arcs, walk)
    every = list(loops(world, plan.request, settings))
    if gain:
        best = max(s.units for s in every)
        assert 0.95 * best <= value <= best
    else:
        best = min(s.exposure for s in every)
        assert best <= value <= 1.05 * best + 1


@pytest.mark.parametrize("options", [{"must": ("s003", "Muster")}, {"max_redriven": 0.0}, {"time_min": (10.0, 35.0)}])
def test_keeps_the_rules(settings: LoopSettings, options: dict[str, Any]) -> None:
    """Things to take in, no re-driving and a time window must be kept by what is found."""
    for seed in range(3):
        plan = plan_of(tiny(seed), settings, **options)
        problem = problem_of(plan, gain=True)
        walk = local_search(problem, settings.search, 0)
        assert (walk is None) == (not list(loops(tiny(seed), plan.request, settings)))
        if walk is None:
            continue
        assert breaches(problem.arcs, walk.tolist(), problem.rules) == []


def test_same_seed_same_walk_and_seeds_differ(settings: LoopSettings) -> None:
    """A seed must fix the walk; other seeds must be able to give others."""
    problem = problem_of(plan_of(ground(60, 2), settings, (3000.0, 6000.0)), gain=True)
    effort = settings.search.model_copy(update={"starts": 1, "moves": 400})
    walks = [local_search(problem, effort, seed) for seed in (0, 0, 1, 2, 3)]
    assert np.array_equal(walks[0], walks[1])
    assert len({tuple(walk.tolist()) for walk in walks}) > 1


def test_no_loop_gives_none(settings: LoopSettings) -> None:
    """An empty graph and an impossible window must give none."""
    assert local_search(problem_of(plan_of(World([Trail(0, 1)]), settings), gain=True), settings.search, 0) is None
    ring = World([Trail(0, 1), Trail(1, 2), Trail(2, 0)])
    tight = problem_of(plan_of(ring, settings, (310.0, 1000.0)), gain=True)
    assert local_search(tight, settings.search, 0) is None


def test_net_lays_out_turns_and_flags(settings: LoopSettings) -> None:
    """The flat form must hold the turns by first arc, the starts last, and a flag row for each thing and loop."""
    problem = problem_of(plan_of(tiny(0), settings, must=("s003", "Muster")), gain=True)
    net = make_net(problem)
    count = len(problem.arcs)
    for arc in range(count):
        after = net.follow[net.offsets[arc] : net.offsets[arc + 1]].tolist()
        assert after == problem.turns.second[problem.turns.first == arc].tolist()
    assert net.follow[net.offsets[count] :].tolist() == problem.turns.starts.tolist()
    assert net.flags.shape == (2, count)
    assert net.flags[0].sum() == 2
    assert np.flatnonzero(net.arc[6]).tolist() == problem.turns.ends.tolist()


def test_kernel_values_walks_as_the_goal_does(settings: LoopSettings) -> None:
    """Gain and re-driven length in the kernel's books must be the goal's, what is lost by repeating included."""
    request = LoopRequest("loop", Objective.TRAINING_RICH, (3000.0, 6000.0), None, SETUPS)
    problem = problem_of(make_plan(ground(60, 2).inputs(settings, SHIPPED), request), gain=True)
    lost = problem.arcs.credits[problem.arcs.pairs.arcs].min(axis=1) // 2
    arcs = replace(problem.arcs, pairs=replace(problem.arcs.pairs, lost=lost))
    net = make_net(replace(problem, arcs=arcs))
    assert lost.any()
    rng = np.random.default_rng(3)
    for _ in range(20):
        walk = rng.permutation(len(arcs))[: rng.integers(2, 40)].astype(np.int64)
        sizes = (len(arcs), len(arcs), net.curve.shape[0], 0, 5)
        books, out = Books(*(np.zeros(size, dtype=np.int64) for size in sizes)), np.zeros(4)
        for arc in walk.tolist():
            book(net, books, arc)
        judge(net, books, out)
        assert -out[2] == problem.goal.value(arcs, walk)
        assert books.sums[4] == redriven_dm(arcs, walk)


@pytest.mark.parametrize("gain", [True, False])
def test_goes_on_from_a_loop(settings: LoopSettings, *, gain: bool) -> None:
    """A hint must never be made worse, whatever the effort, and the first loop of all must be one."""
    problem = problem_of(plan_of(ground(60, 2), settings, (3000.0, 6000.0)), gain=gain)
    sign = 1 if gain else -1
    any_loop = local_search(problem, settings.search, 1, first=True)
    assert breaches(problem.arcs, any_loop.tolist(), problem.rules) == []
    least = settings.search.model_copy(update={"starts": 1, "moves": 1})
    good = local_search(problem, settings.search, 1)
    for hint in (any_loop, good):
        found = local_search(problem, least, 2, hint)
        assert sign * problem.goal.value(problem.arcs, found) >= sign * problem.goal.value(problem.arcs, hint)
    assert np.array_equal(local_search(problem, least, 2, any_loop, first=True), any_loop)
