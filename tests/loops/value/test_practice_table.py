"""The table of what a loop teaches: closed forms, and its sums against the search."""

import pandas as pd
import pytest

from pipeline.loops.plan import Plan, make_plan
from pipeline.loops.request import LoopRequest
from pipeline.loops.settings import LoopSettings
from pipeline.loops.solve.hunt import Answer, safest, training_rich
from pipeline.loops.value.practice_table import practice_table
from pipeline.tables import PRACTICE, validate
from pipeline.terms import Direction, Objective, Technique
from tests.loops.worlds import SETUPS, SHIPPED, Trail, World, taught

RICH, CALM = Objective.TRAINING_RICH, Objective.SAFEST
WITH = Direction.WITH
CLIMB, ROCK = Technique.CLIMB, Technique.ROCK
RING = World(
    [
        Trail(0, 1, 100.0, features=((CLIMB, WITH, 80.0, 0.0, 0.8, 0.5), (ROCK, WITH, 1.0, 0.9, 0.9, 1.0))),
        Trail(1, 2, 100.0, features=((CLIMB, WITH, 40.0, 0.0, 0.4, 0.5),)),
        Trail(2, 0, 100.0),
        Trail(2, 3, 5000.0, features=((ROCK, WITH, 1.0, 0.5, 0.5, 1.0),)),
    ],
    {3},
)
"""A ring of 300 m; the spur is farther than the window reaches."""


def table(plan: Plan, answer: Answer) -> pd.DataFrame:
    """Make the table of one answer, checked against its contract."""
    rows = practice_table(plan, answer, 2)
    assert [list(row) for row in rows] == [list(PRACTICE.names)] * len(rows)
    frame = validate(pd.DataFrame(rows, columns=list(PRACTICE.names)), PRACTICE)
    assert set(frame["rank"]) == {2}
    return frame.set_index("technique")


def found(world: World, settings: LoopSettings, request: LoopRequest) -> tuple[Plan, Answer]:
    """Search for a loop under the practice that ships."""
    plan = make_plan(world.inputs(settings, SHIPPED), request)
    answer = (training_rich if request.objective is RICH else safest)(plan.quest)
    assert answer is not None
    return plan, answer


@pytest.mark.parametrize(("laps", "fitting"), [(1, 1.0), (3, 2.0)])
def test_worked_by_hand(settings: LoopSettings, laps: int, fitting: float) -> None:
    """A ring with two climbs and a rock: what there is, what is driven, what fits, and its points."""
    practice = SHIPPED.model_copy(update={"spread": 0.0, "aims": {"all-round": {CLIMB: 3, ROCK: 2}}})
    request = LoopRequest("x", RICH, (100.0, 900.0), None, SETUPS, laps=laps, start_direction=WITH)
    plan = make_plan(RING.inputs(settings, practice), request)
    answer = training_rich(plan.quest)
    assert answer is not None
    told = table(plan, answer)
    assert told["weight"].to_dict() == {"climb": 3, "rock": 2}
    assert told["saturation"].to_dict() == {"climb": 400.0, "rock": 6.0}
    assert told["points_most"].to_dict() == {"climb": 300.0, "rock": 200.0}
    # The rock on the spur is out of reach.
    assert told["available"].to_dict() == {"climb": 120.0, "rock": 1.0}
    assert told["in_loop"].to_dict() == {"climb": 120.0 * laps, "rock": 1.0 * laps}
    # Half intensity is in the band of both drivers; full intensity gives 0.5 and 0.8; a further lap gives half.
    assert told["fitting"].to_dict() == pytest.approx({"climb": 120.0 * fitting, "rock": 0.65 * fitting})
    # Climb: 30 credits (60 on three laps) × 3; rock: 100 ÷ 6 × 0.65 = 10.8, 11 credits (21.7, 22) × 2; 3 units a point.
    climb, rock = {1: (20 * 5 + 10 * 4, 11 * 5), 3: (20 * (5 + 4 + 3), 20 * 5 + 2 * 4)}[laps]
    assert told["points"].to_dict() == pytest.approx({"climb": climb, "rock": rock * 2 / 3})


@pytest.mark.parametrize("seed", [0, 2, 3, 4])
@pytest.mark.parametrize("aim", ["all-round", "wet day"])
@pytest.mark.parametrize("objective", [RICH, CALM])
def test_points_add_up_to_the_value(settings: LoopSettings, seed: int, aim: str, objective: Objective) -> None:
    """Points add up to the value of a training-rich loop, never pass what full practice gives, and no amount is odd."""
    request = LoopRequest("x", objective, (300.0, 1600.0), None, SETUPS, aim=aim, max_redriven=1.0)
    plan, answer = found(taught(seed), settings, request)
    told = table(plan, answer)
    aims = {t.value: w for t, w in SHIPPED.aims[aim].items()}
    assert told["weight"].to_dict() == aims
    assert (told["points"] <= told["points_most"]).all()
    assert (told["in_loop"] <= told["available"] + 1e-9).all()
    assert (told["fitting"] <= told["in_loop"] + 1e-9).all()
    assert (told["points_most"] == 100.0 * told["weight"]).all()
    if objective is RICH:
        assert told["points"].sum() == pytest.approx(answer.value / 3, abs=1e-9)


def test_fitting_is_what_the_points_are_made_of(settings: LoopSettings) -> None:
    """Both ways along one trail: the repeat is in the fitting amount, half of it, and the points follow."""
    features = tuple((Technique.SIDE_SLOPE, d, 60.0, 0.0, 0.3, 0.5) for d in Direction)
    world = World([Trail(0, 1, 200.0, features=features)], {0, 1})
    request = LoopRequest("x", RICH, (300.0, 500.0), None, SETUPS, max_redriven=1.0)
    plan, answer = found(world, settings, request)
    told = table(plan, answer).loc["side slope"]
    assert told["in_loop"] == told["available"] == 120.0
    assert told["fitting"] == pytest.approx(90.0)
    assert told["points"] == 20 * 5 + 10 * 4
