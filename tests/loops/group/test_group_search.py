"""The search for loops of mixed groups against a listing of all pairs of walks."""

from dataclasses import replace
from itertools import product

import pandas as pd
import pytest

from pipeline.loops.plan import Plan, make_plan
from pipeline.loops.request import LoopRequest
from pipeline.loops.search import find_loops
from pipeline.loops.settings import LoopSettings
from pipeline.loops.solve.hunt import safest, training_rich
from pipeline.terms import Objective, Verdict
from tests.loops.group.oracle import Ground, Sum
from tests.loops.group.worlds import THREE, mixed, small, three
from tests.loops.worlds import SETUPS, tiny

RICH, CALM = Objective.TRAINING_RICH, Objective.SAFEST


@pytest.fixture(scope="module")
def corners(settings: LoopSettings) -> LoopSettings:
    """Give settings under which sharp corners are shunted round, and waits are short enough to matter."""
    group = settings.group.model_copy(update={"chain_segments": 3, "wait_min": 4.0})
    effort = settings.search.model_copy(update={"starts": 1, "moves": 400})
    return settings.model_copy(update={"sharpest_turn_deg": 135.0, "group": group, "search": effort})


@pytest.fixture(scope="module")
def made(corners: LoopSettings) -> list[tuple[Plan, Ground]]:
    """Make many small nets on which one of two or two of three set-ups may go round, and the listing of each."""
    found = []
    for seed in range(60):
        world, many = small(seed), bool(seed % 2)
        inputs = three(world, corners, seed) if many else world.inputs(corners)
        setups, bypass = (THREE, ("wagon", "van")) if many else (SETUPS, ("wagon",))
        request = LoopRequest("loop", RICH, (300.0, 900.0), None, setups, bypass=bypass, max_redriven=1.0)
        plan = make_plan(inputs, request)
        found.append((plan, Ground(plan, corners, world.turn_round, world.trailhead)))
    return found


def best(every: list[Sum], objective: Objective) -> int:
    """Give the best value of all loops."""
    if objective is RICH:
        return max(loop.units for loop in every)
    level = min(loop.level for loop in every)
    return min(loop.exposure for loop in every if loop.level == level)


def test_chains_equal_a_listing_of_every_stretch(made: list[tuple[Plan, Ground]]) -> None:
    """The chains, and the ways round them, must be those that a listing of all stretches and all ways gives."""
    several = waits = 0
    for plan, ground in made:
        moves = [move for move in plan.moves if move.rounds]
        listed = {path: ground.away(path) for path in ground.stretches()}
        assert {move.path: {one.setup: one.path for one in move.rounds} for move in moves} == listed
        several += sum(len(move.path) > 1 for move in moves)
        waits += sum(one.path == () for move in moves for one in move.rounds)
    assert several > 100
    assert waits > 3


def test_equals_a_listing_of_all_pairs_of_walks(made: list[tuple[Plan, Ground]]) -> None:
    """In windows of both goals, value and proof must be those of the best pair of walks, the loop one of them."""
    rounded = none = 0
    for plan, ground in made:
        listed = list(ground.loops())
        for window, objective in product(((3000, 6000), (6001, 9000)), (RICH, CALM)):
            every = [loop for loop in listed if window[0] <= loop.dm <= window[1]]
            quest = replace(plan.quest, rules=replace(plan.quest.rules, length_dm=window))
            answer = (training_rich if objective is RICH else safest)(quest)
            assert (answer is not None) == bool(every)
            if answer is None:
                none += 1
                continue
            assert answer.proven
            assert answer.value == best(every, objective)
            moves = [plan.moves[n] for n in answer.numbers]
            mine = tuple((move.path, {one.setup: one.path for one in move.rounds}) for move in moves)
            same = [loop for loop in every if loop.pieces == mine]
            assert [loop.units if objective is RICH else loop.exposure for loop in same] == [answer.value]
            rounded += any(gone for _, gone in mine)
    assert rounded > 50
    assert none > 5


@pytest.mark.parametrize("objective", [RICH, CALM])
def test_a_group_that_needs_no_bypass_drives_the_same_loop(settings: LoopSettings, objective: Objective) -> None:
    """Where nobody is barred from what the others may drive, the key must change nothing at all."""
    world = tiny(3)
    for trail in world.trails:
        trail.verdict = (Verdict.AMPLE, Verdict.WATCH)
    request = LoopRequest("loop", objective, (300.0, 1600.0), None, SETUPS)
    plain = find_loops(world.inputs(settings), [request])
    free = find_loops(world.inputs(settings), [replace(request, bypass=("wagon",))])
    pd.testing.assert_frame_equal(plain.legs, free.legs)
    pd.testing.assert_frame_equal(pd.DataFrame(plain.loops), pd.DataFrame(free.loops))
    assert plain.notes == free.notes


@pytest.mark.parametrize("seed", range(3))
def test_going_round_is_never_worse(settings: LoopSettings, seed: int) -> None:
    """A loop without a way round stays allowed, so the key can only make the best loop better."""
    inputs = mixed(40, seed).inputs(settings)
    request = LoopRequest("loop", RICH, (1500.0, 4000.0), None, SETUPS, max_redriven=0.6)
    plain = training_rich(make_plan(inputs, request).quest)
    free = training_rich(make_plan(inputs, replace(request, bypass=("wagon",))).quest)
    assert free is not None
    assert free.proven
    assert plain is None or free.value >= plain.value
