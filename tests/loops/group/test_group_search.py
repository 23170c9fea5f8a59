"""The search for loops of mixed groups against a listing of all pairs of walks."""

from dataclasses import replace

import pandas as pd
import pytest

from pipeline.loops.plan import Plan, make_plan
from pipeline.loops.request import LoopInputs, LoopRequest
from pipeline.loops.search import find_loops
from pipeline.loops.settings import LoopSettings
from pipeline.loops.solve.hunt import safest, training_rich
from pipeline.terms import Objective, Verdict
from tests.loops.group.oracle import Ground, Sum
from tests.loops.group.worlds import THREE, mixed, small, three
from tests.loops.worlds import SETUPS, World, tiny

RICH, CALM = Objective.TRAINING_RICH, Objective.SAFEST
WINDOW = (300.0, 900.0)


@pytest.fixture(scope="module")
def corners(settings: LoopSettings) -> LoopSettings:
    """Give settings under which sharp corners are shunted round, and waits are short enough to matter."""
    group = settings.group.model_copy(update={"chain_segments": 3, "wait_min": 4.0})
    effort = settings.search.model_copy(update={"starts": 1, "moves": 400})
    return settings.model_copy(update={"sharpest_turn_deg": 135.0, "group": group, "search": effort})


def ask(seed: int) -> LoopRequest:
    """Ask for a loop of two or three set-ups, of either objective, with one or two who may go round."""
    objective = (RICH, CALM)[seed % 2]
    setups, bypass = ((SETUPS, ("wagon",)), (THREE, ("wagon", "van")))[seed // 2 % 2]
    return LoopRequest("loop", objective, WINDOW, None, setups, bypass=bypass, max_redriven=1.0)


def inputs_of(world: World, settings: LoopSettings, seed: int) -> LoopInputs:
    """Make the tables for :func:`ask`."""
    return three(world, settings, seed) if seed // 2 % 2 else world.inputs(settings)


def made(seed: int, settings: LoopSettings) -> tuple[Plan, Ground]:
    """Make a plan and the listing's view of it."""
    world = small(seed)
    plan = make_plan(inputs_of(world, settings, seed), ask(seed))
    return plan, Ground(plan, settings, world.turn_round, world.trailhead)


def best(every: list[Sum], objective: Objective) -> int:
    """Give the best value of all loops."""
    if objective is RICH:
        return max(loop.units for loop in every)
    level = min(loop.level for loop in every)
    return min(loop.exposure for loop in every if loop.level == level)


def test_chains_equal_a_listing_of_every_stretch(corners: LoopSettings) -> None:
    """On hundreds of small nets the chains, and the ways round them, must be those that a listing of all gives."""
    several = 0
    for seed in range(300):
        plan, ground = made(seed, corners)
        moves = [move for move in plan.moves if move.rounds]
        listed = {path: ground.away(path) for path in ground.stretches()}
        assert {move.path for move in moves} == set(listed), seed
        for move in moves:
            assert {one.setup: one.path for one in move.rounds} == listed[move.path], seed
        several += sum(len(move.path) > 1 for move in moves)
    assert several > 100


def test_equals_a_listing_of_all_pairs_of_walks(corners: LoopSettings) -> None:
    """Value, proof and sums must equal the best of all pairs of walks; the loop itself must be one of them."""
    rounded = none = 0
    for seed in range(160):
        plan, ground = made(seed, corners)
        objective = plan.request.objective
        every = list(ground.loops())
        answer = (training_rich if objective is RICH else safest)(plan.quest)
        assert (answer is not None) == bool(every), seed
        if answer is None:
            none += 1
            continue
        assert answer.proven, seed
        assert answer.value == best(every, objective), seed
        mine = tuple(
            (plan.moves[n].path, {one.setup: one.path for one in plan.moves[n].rounds}) for n in answer.numbers
        )
        same = [loop for loop in every if loop.pieces == mine]
        assert len(same) == 1, seed
        assert (same[0].units if objective is RICH else same[0].exposure) == answer.value, seed
        rounded += any(gone for _, gone in mine)
    assert rounded > 30
    assert none > 3


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
