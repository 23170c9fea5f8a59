"""Solves a loop model with HiGHS: one thread, fixed seed, limits in work, never in seconds.

The same input gives the same loop and the same bound on every run: the solver
is deterministic on one thread, and it is stopped by its node count or by the
number of times it asked whether to stop, not by a clock.
"""

from dataclasses import dataclass
from enum import Enum, auto
from math import ceil, floor

import highspy
import numpy as np
from numpy.typing import NDArray

from pipeline.errors import PipelineError
from pipeline.loops.settings import SearchEffort
from pipeline.loops.solve.model import LoopModel, Problem, build_model, columns_of_walk, walk_of_columns
from pipeline.loops.solve.rules import breaches

__all__ = ["Outcome", "Solved", "solve"]

Ints = NDArray[np.int64]
_OPTIONS: dict[str, bool | int | float] = {
    # One thread in every solve of the process: HiGHS keeps one global pool and refuses to run when its size changes.
    "threads": 1,
    "random_seed": 0,
    # Values are whole, ties weigh less than one: this gap settles the value, and the shorter to 1 ‰ of the window.
    "mip_rel_gap": 1e-9,
    "mip_abs_gap": 1e-3,
    # Measured on eight grounds of 75 segments: without both 28 % less work; the start is good and the root is tight.
    "mip_allow_restart": False,
    "mip_allow_cut_separation_at_nodes": False,
    # On the same eight grounds, two loops each, a third less work: branching by pseudo costs alone, no sub-models to
    # look for better starts, and fewer cuts in the pool.
    "mip_pscost_minreliable": 0,
    "mip_heuristic_run_rins": False,
    "mip_heuristic_run_rens": False,
    "mip_heuristic_run_root_reduced_cost": False,
    "mip_pool_soft_limit": 1000,
}
_STATES = highspy.HighsModelStatus
_EMPTY = (_STATES.kInfeasible, _STATES.kUnboundedOrInfeasible)
_ENDED = (*_EMPTY, _STATES.kOptimal, _STATES.kSolutionLimit, _STATES.kInterrupt)
"""Ends whose results mean something; after any other the solver's figures are left over or made up."""
_ROUNDING = 1e-4
"""A bound this close to a whole number is that number; far above what the solver's tolerances add up to."""


class Outcome(Enum):
    """How a solve ended."""

    SOLVED = auto()
    """The loop is a best one."""
    NONE = auto()
    """Proven: no loop keeps the rules."""
    STOPPED = auto()
    """The work limit was reached."""


@dataclass(frozen=True, slots=True)
class Solved:
    """What a solve gave."""

    outcome: Outcome
    walk: Ints | None
    """Arcs in driving order; ``None`` when no loop was found."""
    value: int | None
    """Value of the walk, in whole units of the goal."""
    bound: int | None
    """No loop is better than this, whole units; ``None`` when nothing is known."""


def solve(problem: Problem, effort: SearchEffort, hint: Ints | None) -> Solved:
    """Solve *problem* to a proven best loop, or as far as the work limits let it.

    Parameters
    ----------
    problem
        Pruned arcs and turns, rules, goal.
    effort
        Work limits.
    hint
        A loop that keeps the rules, to start from.

    Raises
    ------
    PipelineError
        When the solver ends in a state that says nothing: a fault of the program.
    """
    if not len(problem.arcs) or not len(problem.turns.starts) or not len(problem.turns.ends):
        return Solved(Outcome.NONE, None, None, None)
    model = build_model(problem)
    solver = _solver(model, effort)
    if len(problem.arcs) > effort.exact_arcs:
        solver.setOptionValue("solve_relaxation", True)
    elif hint is not None:
        start = highspy.HighsSolution()
        start.col_value = columns_of_walk(model, hint).tolist()
        start.value_valid = True
        solver.setSolution(start)
    solver.run()
    return _read(solver, model, effort, hint)


def _solver(model: LoopModel, effort: SearchEffort) -> highspy.Highs:
    """Make a solver that holds the model and stops by work alone."""
    solver = highspy.Highs()  # type: ignore[no-untyped-call]  # the binding has no annotation there
    solver.silent()
    options = {**_OPTIONS, "mip_max_nodes": effort.nodes}
    for name, value in options.items():
        solver.setOptionValue(name, value)
    asked = 0

    def count(event: highspy.highs.HighsCallbackEvent) -> None:
        nonlocal asked
        asked += 1
        if asked > effort.interrupts:
            event.interrupt()

    solver.cbMipInterrupt += count
    solver.passModel(model.lp)
    return solver


def _read(solver: highspy.Highs, model: LoopModel, effort: SearchEffort, hint: Ints | None) -> Solved:
    """Read the result, and verify the loop in whole numbers before it is believed."""
    problem = model.problem
    status = solver.getModelStatus()
    if status not in _ENDED:
        raise PipelineError(f"the loop model ended as {solver.modelStatusToString(status)}")
    if status in _EMPTY:
        return Solved(Outcome.NONE if hint is None else Outcome.STOPPED, hint, _value(problem, hint), None)
    relaxed = len(problem.arcs) > effort.exact_arcs
    bound = _bound(solver, problem, relaxed=relaxed) if relaxed is False or status == _STATES.kOptimal else None
    walk = hint
    info = solver.getInfo()
    if not relaxed and info.primal_solution_status == highspy.SolutionStatus.kSolutionStatusFeasible:
        found = walk_of_columns(model, np.array(solver.getSolution().col_value))
        if not breaches(problem.arcs, found.tolist(), problem.rules):
            walk = _better(problem, found, hint)
    value = _value(problem, walk)
    done = value is not None and bound == value
    return Solved(Outcome.SOLVED if done else Outcome.STOPPED, walk, value, bound)


def _bound(solver: highspy.Highs, problem: Problem, *, relaxed: bool) -> int | None:
    """Give the proven bound as a whole number: every loop's value is one, and its way weighs at most the tie."""
    info = solver.getInfo()
    raw = info.objective_function_value if relaxed else info.mip_dual_bound
    if not np.isfinite(raw):
        return None
    slack = problem.goal.tie + _ROUNDING
    return floor(raw + slack) if problem.goal.maximises else ceil(raw - slack)


def _value(problem: Problem, walk: Ints | None) -> int | None:
    """Give the value of a walk that may be missing."""
    return None if walk is None else problem.goal.value(problem.arcs, walk)


def _better(problem: Problem, found: Ints, hint: Ints | None) -> Ints:
    """Give the better of two loops; the shorter of equals, then the one found."""
    if hint is None:
        return found
    sign = -1 if problem.goal.maximises else 1

    def rank(walk: Ints) -> tuple[int, int]:
        return sign * problem.goal.value(problem.arcs, walk), int(problem.arcs.length_dm[walk].sum())

    return hint if rank(hint) < rank(found) else found
