"""The linear model: what it lets pass, what it forbids, and how tight it is."""

import highspy
import numpy as np
import pytest
from numpy.typing import NDArray

from pipeline.loops.settings import LoopSettings
from pipeline.loops.solve.model import Goal, LoopModel, Problem, build_model, columns_of_walk, walk_of_columns
from pipeline.loops.solve.turns import expand
from tests.loops.oracle import loops
from tests.loops.parts import plan_of, problem_of
from tests.loops.worlds import Trail, World, tiny


def solver_of(model: LoopModel) -> highspy.Highs:
    """Load a model into a solver on one thread."""
    solver = highspy.Highs()
    solver.silent()
    solver.setOptionValue("threads", 1)
    solver.passModel(model.lp)
    return solver


def worst_breach(model: LoopModel, values: NDArray[np.float64]) -> float:
    """Give the largest violation of any row or column bound."""
    lp = model.lp
    sums = np.zeros(lp.num_row_)
    for column in range(lp.num_col_):
        for k in range(lp.a_matrix_.start_[column], lp.a_matrix_.start_[column + 1]):
            sums[lp.a_matrix_.index_[k]] += lp.a_matrix_.value_[k] * values[column]
    low, high = np.array(lp.row_lower_) - sums, sums - np.array(lp.row_upper_)
    bounds = np.concatenate((values - np.array(lp.col_upper_), np.array(lp.col_lower_) - values))
    return float(max(low.max(), high.max(), bounds.max()))


@pytest.mark.parametrize("gain", [True, False])
@pytest.mark.parametrize("seed", range(3))
def test_every_listed_loop_fits_the_model(settings: LoopSettings, seed: int, *, gain: bool) -> None:
    """The columns of any loop that keeps the rules must keep every row, and give its value back."""
    world = tiny(seed)
    plan = plan_of(world, settings)
    problem = problem_of(plan, gain=gain)
    model = build_model(problem)
    keys = {(plan.traversals[n].segment_id, plan.traversals[n].direction.value): n for n in problem.arcs.number}
    every = list(loops(world, plan.request, settings))
    assert every
    for loop in every[:: max(1, len(every) // 25)]:
        numbers = sorted(keys[f"s{t:03d}", ("with", "against")[side]] for t, side in loop.ways)
        walk = euler(problem, [int(np.searchsorted(problem.arcs.number, n)) for n in numbers])
        values = columns_of_walk(model, walk)
        assert worst_breach(model, values) < 1e-9
        assert walk_of_columns(model, values).tolist() == walk.tolist()
        tie = problem.goal.tie * problem.cost[walk].sum() / problem.longest
        worth = loop.units - tie if gain else loop.exposure + tie
        assert np.dot(model.lp.col_cost_, values) == pytest.approx(worth)


def euler(problem: Problem, arcs: list[int]) -> np.ndarray:
    """Put arcs in an order by trying every order of the turns."""
    turns = expand(problem.arcs, problem.rules.begins(problem.arcs))
    after = {a: [] for a in arcs}
    for a, b in zip(turns.first.tolist(), turns.second.tolist(), strict=True):
        if a in after and b in after:
            after[a].append(b)
    stack = [[a] for a in arcs if a in turns.starts]
    while stack:
        walk = stack.pop()
        if len(walk) == len(arcs) and walk[-1] in turns.ends:
            return np.array(walk)
        stack += [[*walk, b] for b in after[walk[-1]] if b not in walk]
    msg = "no order"
    raise AssertionError(msg)


def test_two_separate_rings_are_not_one_loop(settings: LoopSettings) -> None:
    """A second ring that is not driven to must not lend its length: the slack has nowhere to come from."""
    ring = [Trail(0, 1), Trail(1, 2), Trail(2, 0)]
    lane = [Trail(2, 3, 500.0)]
    other = [Trail(3, 4), Trail(4, 5), Trail(5, 3)]
    plan = plan_of(World(ring + lane + other), settings, (550.0, 1500.0), max_redriven=0.0)
    solver = solver_of(build_model(problem_of(plan, gain=False)))
    solver.run()
    assert solver.getModelStatus() == highspy.HighsModelStatus.kInfeasible


@pytest.mark.parametrize("seed", range(3))
def test_relaxation_is_a_bound(settings: LoopSettings, seed: int) -> None:
    """The relaxed model must never be worse than the best listed loop, for either goal."""
    world = tiny(seed)
    plan = plan_of(world, settings)
    every = list(loops(world, plan.request, settings))
    for gain, best in ((True, max(s.units for s in every)), (False, min(s.exposure for s in every))):
        problem = problem_of(plan, gain=gain)
        solver = solver_of(build_model(problem))
        solver.setOptionValue("solve_relaxation", True)
        solver.run()
        bound = solver.getInfo().objective_function_value
        assert bound + 1.0 >= best if gain else bound - 1.0 <= best


def test_ties_weigh_less_than_a_unit(settings: LoopSettings) -> None:
    """The weight of the way over the longest loop must stay below one unit of the goal."""
    problem = problem_of(plan_of(tiny(0), settings), gain=False)
    model = build_model(problem)
    over = np.array(model.lp.col_cost_)[model.driven] - problem.arcs.exposure_dm
    assert (over > 0).all()
    assert np.allclose(over * problem.longest / problem.cost, 0.99)
    without = build_model(Problem(problem.arcs, problem.turns, problem.rules, Goal(cost=problem.cost, shorter=False)))
    assert np.array_equal(np.array(without.lp.col_cost_)[without.driven], problem.cost)


def test_goal_values(settings: LoopSettings) -> None:
    """A goal must give a walk's value in whole units."""
    problem = problem_of(plan_of(tiny(0), settings), gain=True)
    walk = np.arange(3)
    assert problem.goal.maximises
    assert problem.goal.value(problem.arcs, walk) == problem.goal.curve.units(problem.arcs.credits[:3].sum(axis=0))
    assert Goal(cost=problem.arcs.length_dm).value(problem.arcs, walk) == problem.arcs.length_dm[:3].sum()
    assert Goal().value(problem.arcs, walk) == 0
