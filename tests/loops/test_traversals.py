"""Traversals: who may drive what, at which pace, for which credit."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from pipeline.loops.request import LoopInputs, LoopRequest
from pipeline.loops.settings import LoopSettings
from pipeline.loops.traversals import UNKNOWN_UTILISATION, Traversal, list_traversals
from pipeline.loops.value.objective import gain_curve
from pipeline.terms import Direction, Objective, Status, Technique, Verdict
from tests.loops.worlds import SETUPS, Trail, World


def listed(
    world: World,
    settings: LoopSettings,
    setups: tuple[str, ...] = SETUPS,
    inputs: LoopInputs | None = None,
    **options: Any,  # noqa: ANN401  # options of any kind, passed on
) -> dict[tuple[str, str], Traversal]:
    """List the traversals of a world, by segment and direction."""
    inputs = inputs or world.inputs(settings)
    request = LoopRequest("x", Objective.SAFEST, (1.0, 6000.0), None, setups, **options)
    found = list_traversals(inputs, request, gain_curve(inputs, request))
    return {(t.segment_id, t.direction.value): t for t in found}


def test_refusals_name_the_reason(settings: LoopSettings) -> None:
    """Each way of being left out must be told, the segment's own reasons before the set-ups'."""
    trails = [
        Trail(0, 1, status=Status.CLOSED),
        Trail(1, 2, status=Status.PROPOSED),
        Trail(2, 3, oneway=1),
        Trail(3, 4, oneway=-1),
        Trail(4, 5, verdict=(Verdict.BARRED, Verdict.UNSURVEYED)),
        Trail(5, 6),
        Trail(6, 7),
    ]
    found = listed(World(trails, places={7: "Far end"}), settings, avoid=("s005", "Far end"))
    said = {key: t.refusal for key, t in found.items()}
    assert said["s000", "with"] == said["s000", "against"] == "closed"
    assert said["s001", "with"] == "proposed"
    assert (said["s002", "with"], said["s002", "against"]) == ("", "one-way")
    assert (said["s003", "with"], said["s003", "against"]) == ("one-way", "")
    assert said["s004", "with"] == "barred for wagon"
    assert said["s004", "against"] == "unsurveyed for wagon"
    assert said["s005", "with"] == "avoided"
    assert said["s006", "against"] == "avoided"


def test_missing_verdict_reads_as_unsurveyed(settings: LoopSettings) -> None:
    """A set-up without a verdict on a segment must not be let on to it."""
    world = World([Trail(0, 1)])
    inputs = world.inputs(settings)
    rows = inputs.verdicts["setup"] == "truck"
    short = replace(inputs, verdicts=inputs.verdicts[~rows])
    assert listed(world, settings, inputs=short)["s000", "with"].refusal == "unsurveyed for truck"


def test_utilisation_is_the_worst_of_the_loops_own_setups(settings: LoopSettings) -> None:
    """The largest over set-ups and checks counts, missing ones are ignored, and none at all counts as the limit."""
    world = World([Trail(0, 1, utilisation=(0.8, 0.4))])
    both = listed(world, settings)
    assert both["s000", "with"].utilisations == pytest.approx((0.8, 0.4))
    assert both["s000", "against"].utilisations == pytest.approx((0.4, 0.2))
    assert listed(world, settings, ("truck",))["s000", "with"].utilisations == pytest.approx((0.4,))
    inputs = world.inputs(settings)
    blank = replace(inputs, checks=inputs.checks.assign(utilisation=np.nan))
    assert listed(world, settings, inputs=blank)["s000", "with"].utilisations == (
        UNKNOWN_UTILISATION,
        UNKNOWN_UTILISATION,
    )


def test_minutes_and_credits_worked_by_hand(settings: LoopSettings) -> None:
    """A traversal's time and credits must follow from its length, verdicts and runs."""
    runs = (
        (Technique.CLIMB, Direction.WITH, 100.0),
        (Technique.CLIMB, Direction.WITH, 20.0),
        (Technique.DESCENT, Direction.AGAINST, 120.0),
    )
    world = World([Trail(0, 1, 500.0, verdict=(Verdict.WATCH, Verdict.AMPLE), runs=runs)])
    found = listed(world, settings)
    up, down = found["s000", "with"], found["s000", "against"]
    # First-timer: 5 km/h at watch, 8 km/h at ample; one minute of coaching a run.
    assert (up.driving[0], up.coaching[0]) == (pytest.approx(500 / 5000 * 60), 2.0)
    assert (down.driving[0], down.coaching[0]) == (pytest.approx(500 / 8000 * 60), 1.0)
    names = list(
        gain_curve(world.inputs(settings), LoopRequest("x", Objective.SAFEST, (1.0, 6.0), None, SETUPS)).techniques
    )
    assert up.practised[0, names.index(Technique.CLIMB)] == pytest.approx(30)  # 120 m of 400 m
    assert down.practised[0, names.index(Technique.DESCENT)] == pytest.approx(30)
    assert up.practised[0].sum() == pytest.approx(30) == down.practised[0].sum()


def test_order_is_by_id_whatever_the_rows(settings: LoopSettings) -> None:
    """Traversals must come by segment id, with before against."""
    world = World([Trail(0, 1), Trail(1, 2), Trail(2, 0)])
    keys = list(listed(world, settings, inputs=world.inputs(settings, shuffle=5)))
    assert keys == [(f"s00{n}", d) for n in range(3) for d in ("with", "against")]
