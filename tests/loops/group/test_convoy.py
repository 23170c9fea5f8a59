"""Order, spacing and spotters, told by hand."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from pipeline.loops.going import Going, Stretches
from pipeline.loops.group.tables import group_rows, group_tables
from pipeline.loops.plan import make_plan
from pipeline.loops.request import LoopInputs, LoopRequest
from pipeline.loops.settings import LoopSettings
from pipeline.loops.solve.hunt import safest
from pipeline.tables import STOPPING, validate
from pipeline.terms import Direction, Driver, Objective, Technique, Verdict
from tests.loops.group.worlds import THREE, three
from tests.loops.worlds import SETUPS, Trail, World

DOWN = ((Technique.DESCENT, Direction.WITH, 80.0),)


def slope(verdict: Verdict = Verdict.AMPLE) -> World:
    """Make a triangle 0–1–8, one way round, whose second side falls."""
    return World(
        [
            Trail(0, 1, 100.0, oneway=1),
            Trail(1, 8, 200.0, runs=DOWN, verdict=(verdict, verdict), oneway=1),
            Trail(8, 0, 150.0, oneway=1),
        ]
    )


def stopping(grade: float, **stops: float) -> pd.DataFrame:
    """Make the table of stopping distances on the slope: set-up → distance at the low value of grip."""
    rows = [("s001", setup, "with", grade, 50.0, 8.0, 2.0, far - 2.0, far - 2.0) for setup, far in stops.items()]
    return validate(pd.DataFrame(rows, columns=list(STOPPING.names)), STOPPING)


def convoy(inputs: LoopInputs, setups: tuple[str, ...] = SETUPS) -> pd.DataFrame:
    """Make the convoy of the loop round the triangle."""
    plan = make_plan(inputs, LoopRequest("group", Objective.SAFEST, (450.0, 450.0), None, setups))
    answer = safest(plan.quest)
    assert answer is not None
    return group_tables([group_rows(inputs, plan, answer, 2)], inputs.network).convoy


def going(grade: float) -> Going:
    """Give the slope's first half this grade along its digitised direction, the rest level."""
    return Going({"s001": Stretches(np.array([100.0, 100.0]), np.array([grade, 0.0]))})


def test_stopping_distance_and_a_vehicle_length(settings: LoopSettings) -> None:
    """On a mild descent the distance must be that in which the follower stops, and its length, in whole metres."""
    given = stopping(9.0, wagon=21.2, truck=90.0)
    inputs = replace(slope().inputs(settings), stopping=given, vehicle_m={"wagon": 4.5, "truck": 7.0})
    row = convoy(inputs).iloc[0]
    assert (row["loop"], row["rank"], row["stretch"], row["segment_id"]) == ("group", 2, 1, "s001")
    assert (row["from_m"], row["to_m"]) == (100.0, 300.0)
    assert row["order"] == "truck; wagon"
    assert row["spacing_m"] == 26.0
    assert not row["one_at_a_time"]
    assert row[["spotter_m", "spotter_for"]].isna().all()
    assert row["text"] == "Descent of 200 m, 9° at most. Order: (1) truck (2) wagon; at least 26 m apart."


def test_never_nearer_than_the_setting(settings: LoopSettings) -> None:
    """Where everybody stops at once, the least distance of the settings must hold."""
    inputs = replace(slope().inputs(settings), stopping=stopping(9.0, wagon=3.0, truck=3.0))
    assert convoy(inputs)["spacing_m"].tolist() == [settings.group.spacing_m]


@pytest.mark.parametrize(
    ("table", "singly"),
    [
        (stopping(14.9, wagon=10.0, truck=10.0), False),
        (stopping(15.0, wagon=10.0, truck=10.0), True),
        (stopping(9.0, wagon=float("inf"), truck=10.0), True),
        (stopping(9.0, wagon=10.0, truck=float("inf")), False),  # who drives first has nobody to run into
        (stopping(9.0, truck=10.0), True),  # of the wagon it is not known
        (None, True),  # the grade is not known
    ],
)
def test_one_at_a_time(settings: LoopSettings, table: pd.DataFrame | None, singly: bool) -> None:  # noqa: FBT001  # expected
    """Steep, endless or unknown must be driven one at a time."""
    row = convoy(replace(slope().inputs(settings), stopping=table)).iloc[0]
    assert bool(row["one_at_a_time"]) is singly
    assert ("one at a time" in row["text"]) is singly
    assert np.isfinite(row["spacing_m"])


@pytest.mark.parametrize(("grade", "singly"), [(-16.0, True), (-12.0, False), (16.0, False), (float("nan"), True)])
def test_the_grade_along_the_stretch_decides(settings: LoopSettings, grade: float, singly: bool) -> None:  # noqa: FBT001  # expected
    """Grades along the segment, downhill in the direction driven, must go before the segment's steepest."""
    inputs = replace(slope().inputs(settings), stopping=stopping(20.0, wagon=10.0, truck=10.0), going=going(grade))
    assert convoy(inputs)["one_at_a_time"].tolist() == [singly]


def test_a_spotter_stands_where_the_check_says(settings: LoopSettings) -> None:
    """A spotter must be told place and set-ups; near places share one; the descent is driven one at a time."""
    inputs = replace(slope(Verdict.SPOT).inputs(settings), stopping=stopping(9.0, wagon=10.0, truck=10.0))
    checks = inputs.checks.copy()
    on = checks["segment_id"] == "s001"
    checks.loc[on, "verdict"] = Verdict.AMPLE.value
    for setup, check, at_m in (("wagon", "roll", 40.0), ("truck", "roll", 46.0), ("wagon", "belly", 190.0)):
        mine = on & (checks["setup"] == setup) & (checks["check"] == check) & (checks["direction"] == "with")
        checks.loc[mine, ["verdict", "at_m"]] = [Verdict.SPOT.value, at_m]
    frame = convoy(replace(inputs, checks=checks))
    assert frame["stretch"].tolist() == [1, 2, 3]
    assert frame[["from_m", "to_m"]].to_numpy().tolist() == [[100.0, 300.0], [130.0, 156.0], [280.0, 300.0]]
    assert frame["spotter_m"].tolist()[1:] == [140.0, 290.0]
    assert frame["spotter_for"].tolist()[1:] == ["wagon; truck", "wagon"]
    assert frame["one_at_a_time"].all()
    assert frame["text"].iloc[1] == (
        "A spotter stands at 140 m and guides wagon; truck. Order: (1) truck (2) wagon; "
        "one at a time, the next begins when the one before is off it."
    )


def test_a_spotter_of_a_whole_segment(settings: LoopSettings) -> None:
    """A check without a place must have its spotter from the beginning of the leg to its end."""
    frame = convoy(slope(Verdict.SPOT).inputs(settings), ("wagon",))
    assert frame[["from_m", "to_m", "spotter_m"]].to_numpy().tolist() == [[100.0, 300.0, 100.0]]
    assert frame["order"].tolist() == ["wagon"]
    assert frame["text"].tolist() == ["A spotter stands at 100 m and guides wagon."]


def test_against_the_digitised_direction(settings: LoopSettings) -> None:
    """Chainages run the other way on a leg driven against."""
    world = slope()
    world.trails[1] = Trail(8, 1, 200.0, runs=((Technique.DESCENT, Direction.AGAINST, 80.0),), oneway=-1)
    inputs = world.inputs(settings)
    runs = inputs.techniques.assign(from_m=20.0, to_m=50.0)
    frame = convoy(replace(inputs, techniques=runs, going=going(16.0)))
    assert frame[["from_m", "to_m"]].to_numpy().tolist() == [[250.0, 280.0]]
    assert frame["one_at_a_time"].tolist() == [True]


def test_most_practised_first_then_nearest_to_the_limit(settings: LoopSettings) -> None:
    """The most practised must lead; behind them whoever is nearest to a limit, the rest by what they have in hand."""
    inputs = three(slope(), settings, 0, share=0.0)
    checks = inputs.checks.copy()
    for setup, used in (("wagon", 0.3), ("truck", 0.7), ("van", 0.9)):
        checks.loc[(checks["setup"] == setup) & (checks["check"] == "roll"), "utilisation"] = used
    inputs = replace(inputs, checks=checks)
    assert convoy(inputs, THREE)["order"].tolist() == ["van; truck; wagon"]
    equal = replace(inputs, drivers=dict.fromkeys(THREE, Driver.PRACTISED))
    assert convoy(equal, THREE)["order"].tolist() == ["wagon; van; truck"]


def test_who_goes_round_is_not_in_the_order(settings: LoopSettings) -> None:
    """A descent that the wagon goes round must have neither a row for the truck alone nor the wagon in it."""
    world = slope(Verdict.BARRED)
    world.trails += [Trail(1, 2, 120.0), Trail(2, 8, 110.0)]
    inputs = world.inputs(settings)
    request = LoopRequest("group", Objective.SAFEST, (450.0, 450.0), None, SETUPS, bypass=("wagon",))
    plan = make_plan(inputs, request)
    answer = safest(plan.quest)
    assert answer is not None
    assert group_rows(inputs, plan, answer, 1).bypasses
    assert group_rows(inputs, plan, answer, 1).convoy == []
