"""A hand-made loop with everything that a session's plan tells of."""

from dataclasses import replace

from pipeline.loops.plan import Plan
from pipeline.loops.request import LoopInputs
from pipeline.loops.settings import LoopSettings
from pipeline.loops.solve.hunt import Answer, training_rich
from pipeline.terms import Direction, Technique, Verdict
from tests.loops.parts import plan_of
from tests.loops.worlds import Trail, World

__all__ = ["AGAIN", "OUTING", "outing"]

AGAIN = 0.25
"""Share of coaching in a further lap."""

BOTH = (Verdict.BARRED, Verdict.BARRED)
OUTING = World(
    [
        Trail(0, 1, 400.0, name="Lane", runs=((Technique.CLIMB, Direction.WITH, 30.0),)),
        Trail(1, 2, 400.0, runs=((Technique.WATER, Direction.WITH, 1.0), (Technique.DIP, Direction.WITH, 1.0))),
        Trail(2, 3, 300.0, verdict=BOTH, runs=((Technique.CROSS_AXLE, Direction.WITH, 1.0),)),
        Trail(2, 3, 600.0),
        Trail(3, 4, 400.0, runs=((Technique.ROCK, Direction.WITH, 1.0),)),
        Trail(4, 0, 400.0),
        Trail(1, 0, 150.0, name="Short cut"),
    ],
    turn_round={3},
    places={4: "Muster", 0: "Yard"},
)
"""The yard, a lane out, a short cut back from its end, a ford, a stretch that the wagon goes round, a muster place."""


def outing(settings: LoopSettings, laps: int = 1) -> tuple[Plan, Answer, LoopInputs]:
    """Find the loop round it: 1900 m a lap, the wagon goes round the third trail over the fourth."""
    window = (1890.0 * laps, 1910.0 * laps)
    plan = plan_of(OUTING, settings, window, bypass=("wagon",), laps=laps, start="s000", start_direction=Direction.WITH)
    answer = training_rich(plan.quest)
    assert answer is not None
    plan = replace(plan, terms=replace(plan.terms, again=AGAIN))
    return plan, answer, OUTING.inputs(settings)
