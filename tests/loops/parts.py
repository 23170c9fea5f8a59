"""Short ways to the inside of the search, for the tests of its parts."""

from typing import Any

from pipeline.loops.graph import Arcs, subset
from pipeline.loops.plan import Plan, make_plan
from pipeline.loops.request import LoopRequest
from pipeline.loops.settings import LoopSettings
from pipeline.loops.solve.hunt import pruned
from pipeline.loops.solve.model import Goal, Problem
from pipeline.terms import Objective
from tests.loops.worlds import SETUPS, World

__all__ = ["Arcs", "plan_of", "problem_of", "subset"]


def plan_of(
    world: World,
    settings: LoopSettings,
    length_m: tuple[float, float] | None = (300.0, 1600.0),
    **options: Any,  # noqa: ANN401  # options of any kind, passed on
) -> Plan:
    """Make the plan of a request with both set-ups."""
    objective = options.pop("objective", Objective.TRAINING_RICH)
    request = LoopRequest("loop", objective, length_m, options.pop("time_min", None), SETUPS, **options)
    return make_plan(world.inputs(settings), request)


def problem_of(plan: Plan, *, gain: bool) -> Problem:
    """Make the problem of most gain or least exposure."""
    arcs, turns = pruned(plan.quest.arcs, plan.quest.rules)
    goal = Goal(curve=plan.quest.curve) if gain else Goal(cost=arcs.exposure_dm)
    return Problem(arcs, turns, plan.quest.rules, goal)
