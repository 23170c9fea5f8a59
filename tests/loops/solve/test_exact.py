"""The exact solve: outcomes, bounds, starts, work limits."""

from dataclasses import replace

import highspy
import numpy as np
import pytest

from pipeline.errors import PipelineError
from pipeline.loops.settings import LoopSettings
from pipeline.loops.solve.bounds import tighten
from pipeline.loops.solve.exact import Outcome, _read, solve
from pipeline.loops.solve.local_search import local_search
from pipeline.loops.solve.model import build_model
from pipeline.loops.solve.rules import breaches
from tests.loops.oracle import loops
from tests.loops.parts import plan_of, problem_of
from tests.loops.worlds import Trail, World, ground, tiny


@pytest.mark.parametrize("gain", [True, False])
@pytest.mark.parametrize("hinted", [True, False])
def test_best_value_with_and_without_a_start(settings: LoopSettings, *, gain: bool, hinted: bool) -> None:
    """The optimum must not depend on the start, and must be that of the listing."""
    world = tiny(1)
    plan = plan_of(world, settings)
    problem = problem_of(plan, gain=gain)
    hint = local_search(problem, settings.search, 0) if hinted else None
    solved = solve(problem, settings.search, hint)
    every = list(loops(world, plan.request, settings))
    best = max(s.units for s in every) if gain else min(s.exposure for s in every)
    assert (solved.outcome, solved.value, solved.bound) == (Outcome.SOLVED, best, best)
    assert breaches(problem.arcs, solved.walk.tolist(), problem.rules) == []


def test_no_loop_is_proven(settings: LoopSettings) -> None:
    """A window that no loop fits must come back as proven empty, and so must an empty graph."""
    plan = plan_of(World([Trail(0, 1), Trail(1, 2), Trail(2, 0)]), settings, (310.0, 1000.0))
    problem = problem_of(plan, gain=False)
    assert solve(problem, settings.search, None).outcome is Outcome.NONE
    empty = problem_of(plan_of(World([Trail(0, 1)]), settings), gain=False)
    assert solve(empty, settings.search, None).outcome is Outcome.NONE


@pytest.mark.parametrize("limit", [{"nodes": 1}, {"interrupts": 30}])
def test_stopped_solves_give_the_same_honest_bound_twice(settings: LoopSettings, limit: dict[str, int]) -> None:
    """A work limit must stop the solve at the same place every time, with a bound on the right side."""
    problem = problem_of(plan_of(ground(40, 3), settings, (2500.0, 5000.0)), gain=True)
    hint = local_search(problem, settings.search, 0)
    full = solve(problem, settings.search, hint)
    effort = settings.search.model_copy(update=limit)
    first, again = (solve(problem, effort, hint) for _ in range(2))
    assert first.outcome is Outcome.STOPPED
    assert first.value <= full.value <= first.bound
    assert (first.value, first.bound, first.walk.tolist()) == (again.value, again.bound, again.walk.tolist())


def test_bound_without_a_loop(settings: LoopSettings) -> None:
    """A solve stopped before any loop was found must say so, and keep its bound."""
    problem = problem_of(plan_of(ground(40, 3), settings, (2500.0, 5000.0)), gain=True)
    effort = settings.search.model_copy(update={"interrupts": 1, "nodes": 1, "exact_arcs": 1})
    solved = solve(problem, effort, None)
    assert solved.outcome is Outcome.STOPPED
    assert solved.walk is None
    assert solved.value is None
    assert solved.bound > 0


def test_a_start_that_is_better_than_the_find_is_kept(settings: LoopSettings) -> None:
    """With the relaxation alone the start must come back, with the relaxation's bound."""
    problem = problem_of(plan_of(tiny(0), settings), gain=False)
    hint = local_search(problem, settings.search, 0)
    effort = settings.search.model_copy(update={"exact_arcs": 1})
    solved = solve(problem, effort, hint)
    assert np.array_equal(solved.walk, hint)
    assert solved.bound <= solved.value


def test_must_that_is_pruned_away_is_no_loop(settings: LoopSettings) -> None:
    """A thing to take in with no arc left must make the model empty, not be dropped."""
    problem = problem_of(plan_of(tiny(0), settings), gain=False)
    rules = replace(problem.rules, must=(("gone", frozenset({10_000})),))
    assert solve(replace(problem, rules=rules), settings.search, None).outcome is Outcome.NONE


def test_a_solver_that_did_not_run_is_not_believed(settings: LoopSettings) -> None:
    """A solver whose state says nothing must be a fault, not a result: HiGHS refuses to run on changed threads."""
    problem = problem_of(plan_of(tiny(0), settings), gain=False)
    model = build_model(problem)
    idle = highspy.Highs()
    idle.silent()
    idle.passModel(model.lp)
    with pytest.raises(PipelineError, match="Not Set"):
        _read(idle, model, tighten(model, settings.search), None)
