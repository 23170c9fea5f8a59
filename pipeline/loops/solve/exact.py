"""Solves a loop model with HiGHS: one thread, fixed seed, limits in work, never in seconds.

The same input gives the same loop and the same bound on every run: the solver
is deterministic on one thread, and it is stopped by its node count or by the
number of times it asked whether to stop, not by a clock.
"""

from dataclasses import dataclass, replace
from enum import Enum, auto
from math import ceil, floor

import highspy
import numpy as np
from numpy.typing import NDArray

from pipeline.errors import PipelineError
from pipeline.loops.graph import subset
from pipeline.loops.settings import SearchEffort
from pipeline.loops.solve.bounds import BoundName, Root, add_cuts, new_solver, tighten
from pipeline.loops.solve.model import LoopModel, Problem, build_model, columns_of_walk, walk_of_columns
from pipeline.loops.solve.rules import breaches
from pipeline.loops.solve.turns import prune

__all__ = ["Outcome", "Solved", "solve"]

Ints = NDArray[np.int64]
_OPTIONS: dict[str, bool | int | float] = {
    # Values are whole, ties weigh less than one: this gap settles the value, and the shorter to 1 ‰ of the window.
    "mip_rel_gap": 1e-9,
    "mip_abs_gap": 1e-3,
    # Measured on eight grounds of 75 segments: without both 28 % less work; the start is good and the root is tight.
    "mip_allow_restart": False,
    "mip_allow_cut_separation_at_nodes": False,
    # On the same eight grounds, two loops each, a third less work: no sub-models to look for better starts, and
    # fewer cuts in the pool.
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

_USUAL = 400
"""Arcs of a private ground. The solver asks less often the larger the model: the limit shrinks as its square."""


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
    bound_name: BoundName = BoundName.SATURATION
    """Where the bound comes from."""


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
    root = tighten(model, effort)
    if root.infeasible:
        return _nothing(problem, hint)
    if hint is not None and len(problem.arcs) > effort.core_arcs:
        hint = _core(problem, root, hint, effort)
    if len(problem.arcs) > effort.exact_arcs:
        return _finished(problem, hint, _bound(problem, root.value), root.name)
    solver = _run(model, root, effort, hint)
    if hint is not None and _contradicts_itself(solver, model):
        solver = _run(model, root, effort, None)
    return _read(solver, model, root, hint)


def _run(model: LoopModel, root: Root, effort: SearchEffort, hint: Ints | None) -> highspy.Highs:
    """Let the solver work on the model, from a loop where one is given."""
    solver = _solver(model, root, effort)
    if hint is not None:
        start = highspy.HighsSolution()
        start.col_value = columns_of_walk(model, hint).tolist()
        start.value_valid = True
        solver.setSolution(start)
    solver.run()
    return solver


def _contradicts_itself(solver: highspy.Highs, model: LoopModel) -> bool:
    """Tell whether the solver's objective is not that of its own solution.

    Seen with HiGHS 1.16.0: its presolve, given a start that is the optimum, ended as optimal with a value that its
    columns do not add up to, and with the same value as the bound; without the start it did not.
    """
    info = solver.getInfo()
    if info.primal_solution_status != highspy.SolutionStatus.kSolutionStatusFeasible:
        return False
    value = float(np.dot(model.lp.col_cost_, solver.getSolution().col_value))
    return abs(value - info.objective_function_value) > 1e-3 * max(1.0, abs(value))


def _core(problem: Problem, root: Root, hint: Ints, effort: SearchEffort) -> Ints:
    """Give the best loop on the arcs that relaxed loops or the *hint* use, as far as the work limits let it.

    (The kernel of Angelelli, Mansini and Speranza's kernel search, 2010; from memory, not verified.)
    """
    keep = root.support.copy()
    keep[hint] = True
    arcs, turns = prune(subset(problem.arcs, keep), problem.rules)
    rows = np.searchsorted(problem.arcs.number, arcs.number)
    cost = None if problem.goal.cost is None else problem.goal.cost[rows]
    small = Problem(arcs, turns, problem.rules, replace(problem.goal, cost=cost))
    limited = effort.model_copy(update={"nodes": effort.core_nodes, "core_arcs": len(problem.arcs)})
    found = solve(small, limited, np.searchsorted(rows, hint))
    return hint if found.walk is None else rows[found.walk]


def _solver(model: LoopModel, root: Root, effort: SearchEffort) -> highspy.Highs:
    """Make a solver that holds the model and its cuts, and stops by work alone."""
    solver = new_solver(model.lp)
    for name, value in {**_OPTIONS, "mip_max_nodes": effort.nodes}.items():
        solver.setOptionValue(name, value)
    asked, arcs = 0, len(model.problem.arcs)
    most = max(1, effort.interrupts * _USUAL**2 // max(_USUAL, arcs) ** 2)

    def count(event: highspy.highs.HighsCallbackEvent) -> None:
        nonlocal asked
        asked += 1
        if asked > most:
            event.interrupt()

    solver.cbMipInterrupt += count
    add_cuts(solver, root.cuts)
    return solver


def _read(solver: highspy.Highs, model: LoopModel, root: Root, hint: Ints | None) -> Solved:
    """Read the result, and verify the loop in whole numbers before it is believed."""
    problem = model.problem
    status = solver.getModelStatus()
    if status not in _ENDED:
        raise PipelineError(f"the loop model ended as {solver.modelStatusToString(status)}")
    if status in _EMPTY:
        return _nothing(problem, hint)
    walk = hint
    info = solver.getInfo()
    if info.primal_solution_status == highspy.SolutionStatus.kSolutionStatusFeasible:
        found = walk_of_columns(model, np.array(solver.getSolution().col_value))
        if not breaches(problem.arcs, found.tolist(), problem.rules):
            walk = _better(problem, found, hint)
    exact, relaxed = _bound(problem, info.mip_dual_bound), _bound(problem, root.value)
    if exact is None or (relaxed is not None and _tighter(problem, relaxed, exact)):
        return _finished(problem, walk, relaxed, root.name)
    return _finished(problem, walk, exact, BoundName.EXACT)


def _nothing(problem: Problem, hint: Ints | None) -> Solved:
    """Say that there is no loop; a model that cuts a known loop off is not believed."""
    return Solved(Outcome.NONE if hint is None else Outcome.STOPPED, hint, _value(problem, hint), None)


def _finished(problem: Problem, walk: Ints | None, bound: int | None, name: BoundName) -> Solved:
    """Put the walk beside its bound."""
    value = _value(problem, walk)
    if value is not None and bound is not None and _tighter(problem, bound, value):
        bound = None  # refuted by a verified loop, whatever the solver said
    done = value is not None and bound == value
    named = BoundName.SATURATION if bound is None else name
    return Solved(Outcome.SOLVED if done else Outcome.STOPPED, walk, value, bound, named)


def _bound(problem: Problem, raw: float | None) -> int | None:
    """Give a proven bound as a whole number: every loop's value is one, and its way weighs at most the tie."""
    if raw is None or not np.isfinite(raw):
        return None
    slack = problem.goal.tie + _ROUNDING
    return floor(raw + slack) if problem.goal.maximises else ceil(raw - slack)


def _tighter(problem: Problem, first: int, second: int) -> bool:
    """Tell whether the first of two bounds says more."""
    return first < second if problem.goal.maximises else first > second


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
