"""The local search: what it finds is a loop, never better than the best, the same for the same seed."""

from typing import Any

import numpy as np
import pytest

from pipeline.loops.settings import LoopSettings
from pipeline.loops.solve.local_search import local_search, make_net
from pipeline.loops.solve.rules import breaches
from tests.loops.oracle import loops
from tests.loops.parts import plan_of, problem_of
from tests.loops.worlds import Trail, World, ground, tiny


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
    effort = settings.search.model_copy(update={"starts": 1, "moves": 300})
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
