"""Bounds from relaxed models: the ladder that is climbed as far as the work limits let it.

Every rung is a relaxation of the one after it, so every one is valid and the
highest that was reached is the best. From below:

* *saturation*: all practice within reach, or no exposure at all;
* *balance*: what comes into a place goes out of it, windows and rules kept, no turns, nothing about being in one piece;
* *turns*: the relaxed model of ``model.py``;
* *cuts*: the same with connectivity cuts, in rounds;
* *exact*: what the branch and bound proves.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import highspy
import numpy as np
from numpy.typing import NDArray

from pipeline.errors import PipelineError
from pipeline.loops.settings import SearchEffort
from pipeline.loops.solve.cuts import Cut, separate
from pipeline.loops.solve.model import LoopModel, build_balance

__all__ = ["BoundName", "Root", "add_cuts", "new_solver", "tighten"]

Floats = NDArray[np.float64]
_STATES = highspy.HighsModelStatus
_EMPTY = (_STATES.kInfeasible, _STATES.kUnboundedOrInfeasible)
_SPARE = 1e-6
"""A cut with more room than this does not hold anything."""
_KEPT_ROUNDS = 4
"""Rounds after which the cuts that hold nothing are dropped."""


class BoundName(StrEnum):
    """Where a bound comes from, the weakest first."""

    SATURATION = "everything within reach"
    BALANCE = "balanced relaxation"
    TURNS = "relaxed model"
    CUTS = "relaxed model with cuts"
    EXACT = "exact model"


@dataclass(frozen=True, slots=True)
class Root:
    """What the relaxed models give."""

    value: float | None
    """Objective of the highest rung that was reached; ``None`` when none was."""
    name: BoundName
    """That rung."""
    cuts: tuple[Cut, ...]
    """Cuts that hold something."""
    infeasible: bool
    """Proven: not even a relaxed loop keeps the rules."""
    support: NDArray[np.bool_]
    """Arcs that some relaxed solution drives, shape (arcs,)."""


def new_solver(lp: highspy.HighsLp) -> highspy.Highs:
    """Make a silent solver that holds a model; one thread and a fixed seed, as every solve of the process.

    HiGHS keeps one global pool of threads and refuses to run when its size changes.
    """
    solver = highspy.Highs()  # type: ignore[no-untyped-call]  # the binding has no annotation there
    solver.silent()
    solver.setOptionValue("threads", 1)
    solver.setOptionValue("random_seed", 0)
    solver.passModel(lp)
    return solver


def add_cuts(solver: highspy.Highs, cuts: Sequence[Cut]) -> None:
    """Add the rows of *cuts* to the model that *solver* holds."""
    for cut in cuts:
        columns = np.append(cut.ways_in, cut.driven).astype(np.int32)
        values = np.append(np.ones(len(cut.ways_in)), -1.0)
        solver.addRow(0.0, highspy.kHighsInf, len(columns), columns, values)


def tighten(model: LoopModel, effort: SearchEffort) -> Root:
    """Climb the ladder below the exact model.

    Parameters
    ----------
    model
        The model; it is not changed.
    effort
        ``relaxed_iterations`` limits each linear program, ``cut_rounds`` their number.
    """
    solver = _relaxed(model.lp, effort)
    root = Root(None, BoundName.SATURATION, (), infeasible=False, support=np.zeros(len(model.driven), dtype=np.bool_))
    cuts: list[Cut] = []
    for done in range(effort.cut_rounds + 1):
        state = _run(solver)
        if state in _EMPTY:
            return Root(None, root.name, (), infeasible=True, support=root.support)
        if state != _STATES.kOptimal:
            break
        # Read before any row is dropped: that makes the solver forget its results.
        value, values = solver.getInfo().objective_function_value, np.array(solver.getSolution().col_value)
        cuts = _held(solver, cuts, model.lp.num_row_, drop=done % _KEPT_ROUNDS == _KEPT_ROUNDS - 1)
        root = Root(
            value=value,
            name=BoundName.TURNS if done == 0 else BoundName.CUTS,
            cuts=tuple(cuts),
            infeasible=False,
            support=root.support | (values[model.driven] > _SPARE),
        )
        more = separate(model, values) if done < effort.cut_rounds else []
        if not more:
            break
        add_cuts(solver, more)
        cuts += more
    return _balance(model, effort) if root.value is None else root


def _balance(model: LoopModel, effort: SearchEffort) -> Root:
    """Fall back to the small model without turns, where even the first linear program was too much work."""
    solver = _relaxed(build_balance(model.problem), effort)
    state = _run(solver)
    reached = state == _STATES.kOptimal
    value = solver.getInfo().objective_function_value if reached else None
    name = BoundName.BALANCE if reached else BoundName.SATURATION
    return Root(value, name, (), infeasible=state in _EMPTY, support=np.zeros(len(model.driven), dtype=np.bool_))


def _relaxed(lp: highspy.HighsLp, effort: SearchEffort) -> highspy.Highs:
    """Make a solver for the relaxation of a model, limited in iterations."""
    solver = new_solver(lp)
    every = np.arange(lp.num_col_, dtype=np.int32)
    solver.changeColsIntegrality(lp.num_col_, every, np.zeros(lp.num_col_, dtype=np.uint8))
    solver.setOptionValue("simplex_iteration_limit", effort.relaxed_iterations)
    return solver


def _run(solver: highspy.Highs) -> highspy.HighsModelStatus:
    """Solve a linear program and give the state it ended in.

    Raises
    ------
    PipelineError
        When the solver ends in a state that says nothing: a fault of the program.
    """
    solver.run()
    state = solver.getModelStatus()
    if state not in (*_EMPTY, _STATES.kOptimal, _STATES.kIterationLimit):
        raise PipelineError(f"the relaxed loop model ended as {solver.modelStatusToString(state)}")
    return state


def _held(solver: highspy.Highs, cuts: list[Cut], first: int, *, drop: bool) -> list[Cut]:
    """Give the cuts that are to stay; those without effect are taken out of the solver when *drop* is set."""
    if not drop or not cuts:
        return cuts
    loose = np.array(solver.getSolution().row_value)[first:] > _SPARE
    rows = (np.flatnonzero(loose) + first).astype(np.int32)
    if len(rows):
        solver.deleteRows(len(rows), rows)
    return [cut for cut, free in zip(cuts, loose.tolist(), strict=True) if not free]
