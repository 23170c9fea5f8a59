"""Ways round, and the table of them, worked out by hand."""

from dataclasses import replace

import numpy as np
import pytest
from shapely import LineString

from pipeline.loops.group.detours import detours
from pipeline.loops.group.tables import GroupTables, group_rows, group_tables
from pipeline.loops.plan import Plan, make_plan
from pipeline.loops.request import LoopInputs, LoopRequest
from pipeline.loops.settings import LoopSettings
from pipeline.loops.solve.hunt import Answer, safest
from pipeline.terms import Objective, Verdict
from tests.loops.worlds import SETUPS, Trail, World

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


def test_split_meet_and_wait(settings: LoopSettings) -> None:
    """Where it leaves and comes back, by which way, and who waits must be as worked out from the paces."""
    row = tables_of(round_trip(), settings, asked(500.0)).bypasses.iloc[0]
    wagon, truck = settings.pace["first-timer"], settings.pace["practised"]
    took = (120.0 + 90.0) / (wagon.ample_kmh / 3.6) / 60.0
    others = 200.0 / (truck.ample_kmh / 3.6) / 60.0
    assert row["way"] == "s002 with; s003 with"
    assert (row["bypass"], row["setup"], row["split_node"], row["meet_node"]) == (1, "wagon", 1, 8)
    assert (row["split_m"], row["meet_m"], row["length_m"]) == (100.0, 300.0, 210.0)
    assert row["time_min"] == pytest.approx(took)
    assert row["others_min"] == pytest.approx(others)
    assert row["waits_min"] == pytest.approx(others - took)
    assert row["waits_min"] < 0
    assert row["worst_utilisation"] == 0.7
    assert row["reason"] == "s001 with: barred (roll, utilisation 1.20)"
    assert isinstance(row["geometry"], LineString)
    assert row["geometry"].coords[0] == (500_100.0, 5_000_000.0)
    assert row["geometry"].coords[-1] == (500_100.0, 5_000_100.0)


def test_the_slower_part_decides(settings: LoopSettings) -> None:
    """The loop must take as long as the wagon on its way, and count what both parts are exposed to."""
    inputs, plan, answer = solved(round_trip(), settings, asked(500.0))
    one = detours(plan, answer)[0]
    arcs = plan.quest.arcs
    chain = int(np.searchsorted(arcs.number, answer.numbers[one.leg]))
    assert arcs.time_s[chain] == round(one.minutes * 60)
    # The truck's own utilisation is half of the wagon's: 0.6 over 200 m; the wagon is at 0.7 over 90 m.
    assert arcs.exposure_dm[chain] == round((200.0 * 0.1 + 90.0 * 0.2) * 10)
    assert arcs.level[chain] == 70
    assert inputs.settings.group.wait_min > one.others_min


def test_waits_where_the_loop_comes_back(settings: LoopSettings) -> None:
    """At a place with room the wagon must wait while the others drive a lobe; without room there is no loop."""
    trails = [Trail(0, 1, 100.0), Trail(1, 0, 100.0)]
    trails += [Trail(1, 2, 100.0, verdict=BARRED), Trail(2, 8, 100.0), Trail(8, 1, 100.0, verdict=BARRED)]
    world = World(trails, turn_round={1})
    frame = tables_of(world, settings, asked(500.0)).bypasses
    assert frame[["way", "length_m", "time_min", "worst_utilisation"]].to_numpy().tolist() == [["", 0.0, 0.0, 0.0]]
    assert frame["waits_min"].iloc[0] == frame["others_min"].iloc[0] > 0.0
    assert frame.geometry.iloc[0].length == 0.0
    bare = make_plan(World(trails).inputs(settings), asked(500.0))
    assert not any(one.path == () for move in bare.moves for one in move.rounds)
    assert safest(bare.quest) is None


def test_nobody_goes_where_a_spotter_is_needed_by_themselves(settings: LoopSettings) -> None:
    """A way round with the verdict spot must not be taken: those who would guide are elsewhere."""
    world = round_trip()
    world.trails[2].verdict = (Verdict.SPOT, Verdict.SPOT)
    moves = make_plan(world.inputs(settings), asked(500.0)).moves
    # The only way left is back by nodes 0 and 7.
    assert [one.path for move in moves for one in move.rounds] == [(1, 11, 9)]


def test_nobody_waits_longer_than_allowed(settings: LoopSettings) -> None:
    """A way round that keeps the others waiting too long must be no way round."""
    short = settings.model_copy(update={"group": settings.group.model_copy(update={"wait_min": 0.5})})
    assert any(move.rounds for move in make_plan(round_trip().inputs(settings), asked(500.0)).moves)
    assert not any(move.rounds for move in make_plan(round_trip().inputs(short), asked(500.0)).moves)


def test_a_way_round_must_be_turned_into(settings: LoopSettings) -> None:
    """Where the way round leaves too sharply for the one who takes it, the loop must not go there, though others may.

    The wagon comes from node 0 to node 1 eastwards; the way round starts back north-west to node 7.
    """
    trails = [Trail(0, 1, 100.0), Trail(1, 8, 100.0, verdict=BARRED), Trail(8, 0, 150.0, oneway=1)]
    trails += [Trail(1, 7, 140.0), Trail(7, 14, 100.0), Trail(14, 15, 100.0), Trail(15, 8, 100.0)]
    world = World(trails)
    wide = settings.model_copy(update={"sharpest_turn_deg": 170.0})
    tight = settings.model_copy(update={"sharpest_turn_deg": 110.0})
    for sharp, there in ((wide, True), (tight, False)):
        plan = make_plan(world.inputs(sharp), asked(350.0))
        assert (safest(plan.quest) is not None) == there
        chain = next(n for n, move in enumerate(plan.moves) if move.rounds and move.path == (2,))
        assert plan.moves[chain].rounds[0].path == (6, 8, 10, 12)
        arcs = plan.quest.arcs
        before = np.flatnonzero(arcs.number == 0)
        after = np.flatnonzero(arcs.number == chain)
        assert [bool(arcs.may_follow(before, after)[0])] == [there]


def test_further_laps(settings: LoopSettings) -> None:
    """The same way round on every lap: distances are those of the first."""
    world = round_trip()
    once = tables_of(world, settings, asked(500.0)).bypasses
    thrice = tables_of(world, settings, asked(1500.0, laps=3)).bypasses
    assert once["split_m"].tolist() == thrice["split_m"].tolist() == [100.0]


def test_no_bypass_no_rows(settings: LoopSettings) -> None:
    """Without anybody who goes round the tables must be empty and keep their contracts."""
    inputs, plan, answer = solved(round_trip(), settings, replace(asked(510.0), bypass=()))
    tables = group_tables([group_rows(inputs, plan, answer, 1)], inputs.network)
    assert tables.bypasses.empty
    assert tables.convoy.empty
