"""One loop with a way round, small enough to work out by hand."""

from pipeline.loops.group.tables import GroupTables, group_rows, group_tables
from pipeline.loops.plan import Plan, make_plan
from pipeline.loops.request import LoopInputs, LoopRequest
from pipeline.loops.settings import LoopSettings
from pipeline.loops.solve.hunt import Answer, safest
from pipeline.terms import Objective, Verdict
from tests.loops.worlds import SETUPS, Trail, World

__all__ = ["BARRED", "asked", "round_trip", "solved", "tables_of"]

BARRED = (Verdict.BARRED, Verdict.BARRED)


def round_trip() -> World:
    """Make a square 0–1–8–7, one side of which the wagon may not drive but has a way round by node 2."""
    return World(
        [
            Trail(0, 1, 100.0),
            Trail(1, 8, 200.0, verdict=BARRED, utilisation=(1.2, 1.2), oneway=1),
            Trail(1, 2, 120.0),
            Trail(2, 8, 90.0, utilisation=(0.7, 0.4)),
            Trail(8, 7, 100.0),
            Trail(7, 0, 100.0),
        ]
    )


def asked(length_m: float, **options: int) -> LoopRequest:
    """Ask for a loop of one length on which the wagon may go round."""
    window = (length_m, length_m)
    return LoopRequest("group", Objective.SAFEST, window, None, SETUPS, bypass=("wagon",), **options)


def solved(world: World, settings: LoopSettings, request: LoopRequest) -> tuple[LoopInputs, Plan, Answer]:
    """Find the loop."""
    inputs = world.inputs(settings)
    plan = make_plan(inputs, request)
    answer = safest(plan.quest)
    assert answer is not None
    assert answer.proven
    return inputs, plan, answer


def tables_of(world: World, settings: LoopSettings, request: LoopRequest) -> GroupTables:
    """Make the tables of the loop."""
    inputs, plan, answer = solved(world, settings, request)
    return group_tables([group_rows(inputs, plan, answer, 1)], inputs.network)
