"""What can be gone round, told by hand."""

from dataclasses import replace

from pipeline.loops.plan import make_plan
from pipeline.loops.request import LoopRequest
from pipeline.loops.settings import LoopSettings
from pipeline.loops.solve.hunt import safest
from pipeline.terms import Objective, Verdict
from tests.loops.group.hand import BARRED, asked, round_trip
from tests.loops.group.worlds import THREE, three
from tests.loops.worlds import SETUPS, Trail, World


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


def test_two_ways_round_must_not_meet_head_on(settings: LoopSettings) -> None:
    """Wagon and van may go round the same chain, but not where one drives 1–9 and the other 9–1."""
    trails = [Trail(0, 8, 100.0), Trail(0, 1, 50.0), Trail(1, 9, 60.0), Trail(9, 8, 50.0)]
    trails += [Trail(0, 9, 50.0), Trail(1, 8, 50.0), Trail(8, 0, 100.0, oneway=1)]
    barred = {"wagon": {"s000", "s004", "s005"}, "van": {"s000", "s001", "s003"}}
    inputs = three(World(trails), settings, 0, share=0.0)
    verdicts = inputs.verdicts.copy()
    for setup, segments in barred.items():
        mine = (verdicts["setup"] == setup) & verdicts["segment_id"].isin(segments)
        verdicts.loc[mine, "verdict"] = Verdict.BARRED.value
    request = LoopRequest("group", Objective.SAFEST, (200.0, 200.0), None, THREE, bypass=("wagon", "van"))
    plan = make_plan(replace(inputs, verdicts=verdicts), request)
    assert not any(move.path == (0,) and move.rounds for move in plan.moves)
    free = replace(inputs, verdicts=verdicts.loc[verdicts["setup"] != "van"])
    request = replace(request, setups=SETUPS, bypass=("wagon",))
    ways = {move.path: [one.path for one in move.rounds] for move in make_plan(free, request).moves if move.rounds}
    assert ways[0,] == [(2, 4, 6)]


def test_a_lane_to_a_ring_that_somebody_does_not_drive_is_the_only_way_in(settings: LoopSettings) -> None:
    """The lane must not count as re-driven, though the places on the ring lie on no other move than the chain."""
    trails = [Trail(0, 1, 100.0), *(Trail(a, b, 50.0, verdict=BARRED) for a, b in ((1, 2), (2, 8), (8, 1)))]
    request = replace(asked(350.0), max_redriven=0.0)
    answer = safest(make_plan(World(trails, turn_round={1}).inputs(settings), request).quest)
    assert answer is not None
    assert answer.proven
