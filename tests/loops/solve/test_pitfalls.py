"""One test for each way in which such a search has gone wrong before: in trials, in papers, in the solver."""

from dataclasses import replace

import highspy
import numpy as np
import pytest

from pipeline.errors import PipelineError
from pipeline.loops.settings import LoopSettings
from pipeline.loops.solve.bounds import BoundName, new_solver, tighten
from pipeline.loops.solve.exact import _OPTIONS, Outcome, _read, _run, solve
from pipeline.loops.solve.hunt import safest, training_rich
from pipeline.loops.solve.local_search import local_search
from pipeline.loops.solve.model import Goal, build_model, columns_of_walk, walk_of_columns
from pipeline.loops.solve.rules import breaches
from pipeline.loops.solve.turns import measure
from pipeline.terms import Direction, Technique
from tests.loops.oracle import loops
from tests.loops.parts import plan_of, problem_of
from tests.loops.worlds import Trail, World, ground, tiny

ROCK = ((Technique.ROCK, Direction.WITH, 1.0),)


def test_1_distances_are_those_of_the_graph_itself(settings: LoopSettings) -> None:
    """A direct trail longer than the way round must not shorten anybody's reach.

    The limit fits the way round alone: with the direct length as the way home the only loop would be cut off.
    """
    world = World([Trail(0, 1, 100.0), Trail(1, 2, 100.0, runs=ROCK), Trail(2, 3, 100.0), Trail(3, 0, 100.0)])
    world.trails.append(Trail(2, 0, 900.0))
    problem = problem_of(plan_of(world, settings, (100.0, 400.0), max_redriven=0.0), gain=True)
    reach = measure(problem.arcs, problem.turns, problem.cost)
    at = int(np.flatnonzero(problem.arcs.number == 2)[0])
    assert (reach.there[at], reach.home[at]) == (2000, 2000)
    assert solve(problem, settings.search, None).outcome is Outcome.SOLVED


def test_2_a_cycle_of_no_length_cannot_escape(settings: LoopSettings) -> None:
    """Two trails of no length that are not driven to must not lend their rocks to the loop."""
    free = [Trail(3, 4, 0.0, runs=ROCK), Trail(4, 3, 0.0, runs=ROCK)]
    world = World([Trail(0, 1), Trail(1, 2), Trail(2, 0), Trail(2, 3, 400.0), *free])
    plan = plan_of(world, settings, (100.0, 600.0), max_redriven=1.0)
    assert plan.quest.arcs.length_dm.min() >= 1
    answer = training_rich(plan.quest)
    assert (answer.value, answer.proven) == (0, True)


def test_3_a_solver_that_did_not_run_is_not_believed(settings: LoopSettings) -> None:
    """HiGHS ends as "Not Set" when its pool of threads changes: one thread everywhere, and such an end is a fault."""
    problem = problem_of(plan_of(tiny(0), settings), gain=False)
    model = build_model(problem)
    assert new_solver(model.lp).getOptionValue("threads")[1] == 1
    with pytest.raises(PipelineError, match="Not Set"):
        _read(new_solver(model.lp), model, tighten(model, settings.search), None)


def test_4_optimal_means_to_the_unit(settings: LoopSettings) -> None:
    """The gaps must be far below one unit; what comes back is rounded, summed in whole numbers and driven again."""
    assert _OPTIONS["mip_rel_gap"] <= 1e-6
    assert _OPTIONS["mip_abs_gap"] < 0.5
    problem = problem_of(plan_of(tiny(0), settings), gain=False)
    model = build_model(problem)
    best = solve(problem, settings.search, None)
    noisy = columns_of_walk(model, best.walk) + np.random.default_rng(0).uniform(-1e-4, 1e-4, model.lp.num_col_)
    walk = walk_of_columns(model, noisy)
    assert breaches(problem.arcs, walk.tolist(), problem.rules) == []
    assert problem.goal.value(problem.arcs, walk) == best.value == best.bound


def test_5_no_limit_is_a_time(settings: LoopSettings) -> None:
    """No solver may stop by a clock, and a stopped solve must be the same twice."""
    problem = problem_of(plan_of(ground(40, 3), settings, (2500.0, 5000.0)), gain=True)
    model = build_model(problem)
    effort = settings.search.model_copy(update={"interrupts": 20})
    root = tighten(model, effort)
    solver = _run(model, root, effort, None)
    assert solver.getOptionValue("time_limit")[1] == highspy.kHighsInf
    ends = [solve(problem, effort, None) for _ in range(2)]
    assert [(e.value, e.bound) for e in ends] == [(ends[0].value, ends[0].bound)] * 2


@pytest.mark.parametrize("gain", [True, False])
def test_6_cuts_alone_are_not_needed_to_find_a_loop(settings: LoopSettings, *, gain: bool) -> None:
    """The slack keeps a walk in one piece by itself: without a cut and without a start the best must be found."""
    world = tiny(1)
    plan = plan_of(world, settings)
    effort = settings.search.model_copy(update={"cut_rounds": 0})
    solved = solve(problem_of(plan, gain=gain), effort, None)
    every = list(loops(world, plan.request, settings))
    assert solved.value == (max(s.units for s in every) if gain else min(s.exposure for s in every))


def test_7_a_stopped_solve_promises_a_gap_not_a_proof(settings: LoopSettings) -> None:
    """With hardly any work allowed the answer must hold a bound with its name, and no claim of proof."""
    quest = plan_of(ground(40, 3), settings, (2500.0, 5000.0)).quest
    effort = quest.effort.model_copy(update={"interrupts": 1, "nodes": 1, "cut_rounds": 0})
    answer = training_rich(replace(quest, effort=effort))
    assert answer.bound > answer.value
    assert not answer.proven
    assert answer.bound_name in BoundName


def test_8_saturation_grows_with_the_window(settings: LoopSettings) -> None:
    """Twice the longest loop must take twice the amount until a technique teaches nothing more."""
    short, long = (plan_of(ground(30, 0), settings, (1000.0, m)).quest.curve.saturation for m in (8000.0, 16000.0))
    assert np.allclose(long, 2.0 * short)


def test_9_a_bad_start_does_not_decide(settings: LoopSettings) -> None:
    """From the worst of some starts the best mild loop of a tight window must be found all the same."""
    problem = problem_of(plan_of(ground(40, 1), settings, (2500.0, 3200.0)), gain=False)
    lame = settings.search.model_copy(update={"starts": 1, "moves": 200})
    walks = [walk for walk in (local_search(problem, lame, seed) for seed in range(8)) if walk is not None]
    bad = max(walks, key=lambda walk: problem.goal.value(problem.arcs, walk))
    cold, warm = (solve(problem, settings.search, hint) for hint in (None, bad))
    assert problem.goal.value(problem.arcs, bad) > warm.value
    assert (cold.value, warm.value) == (warm.bound, cold.bound)


def test_10_no_pointless_wiggles(settings: LoopSettings) -> None:
    """Of loops that are all mild, the shortest that the window admits must be taken; longer ones cost nothing."""
    rings = [Trail(0, k, 100.0 + 10.0 * k) for k in (1, 2, 3, 4)] + [Trail(k, 0, 100.0) for k in (1, 2, 3, 4)]
    answer = safest(plan_of(World(rings), settings, (150.0, 1500.0), max_redriven=0.0).quest)
    assert (answer.value, answer.proven) == (0, True)
    assert {n // 2 for n in answer.numbers} == {0, 4}


@pytest.mark.parametrize("room", [True, False])
def test_11_a_dead_end_needs_room(settings: LoopSettings, *, room: bool) -> None:
    """A spur with all the practice may be driven only where its end has room to turn round."""
    world = World([Trail(0, 1), Trail(1, 2), Trail(2, 0), Trail(1, 3, 50.0, runs=ROCK)], {3} if room else set())
    answer = training_rich(plan_of(world, settings, (100.0, 900.0), max_redriven=0.5).quest)
    assert (6 in answer.numbers) == room
    assert (answer.value > 0) == room


def test_12_objectives_are_whole_numbers(settings: LoopSettings) -> None:
    """Everything that values are made of must be whole: units, credits, lengths, exposures, also what is lost."""
    problem = problem_of(plan_of(ground(30, 1), settings, (1500.0, 4000.0)), gain=True)
    arcs, curve = problem.arcs, problem.goal.curve
    for figures in (arcs.credits, arcs.pairs.lost, arcs.length_dm, arcs.exposure_dm, curve.slopes, curve.table):
        assert figures.dtype == np.int64
    assert isinstance(Goal(cost=arcs.exposure_dm).value(arcs, np.arange(2)), int)
    assert isinstance(solve(problem, settings.search, None).bound, int)
