"""The threshold search and what is proven."""

from dataclasses import replace

import numpy as np
import pytest

from pipeline.loops.graph import subset
from pipeline.loops.settings import LoopSettings
from pipeline.loops.solve.hunt import exists, safest, training_rich
from pipeline.loops.solve.model import Goal
from pipeline.terms import Direction, Technique
from tests.loops.parts import plan_of
from tests.loops.worlds import Trail, World, ground

RINGS = World(
    [
        Trail(0, 1, 100.0, utilisation=(0.91, 0.91)),
        Trail(1, 0, 100.0, utilisation=(0.1, 0.1)),
        Trail(0, 2, 150.0, utilisation=(0.62, 0.62)),
        Trail(2, 0, 150.0, utilisation=(0.61, 0.61)),
        Trail(0, 3, 400.0, utilisation=(0.3, 0.3)),
        Trail(3, 0, 400.0, utilisation=(0.55, 0.55)),
    ]
)
"""Three rings: short and hard, longer and milder, longest and mildest."""


@pytest.mark.parametrize(
    ("window", "level", "exposure_dm"),
    [((150.0, 250.0), 91, 410), ((150.0, 400.0), 62, 345), ((150.0, 900.0), 55, 200), ((310.0, 450.0), None, None)],
)
def test_smallest_worst_utilisation_comes_first(
    settings: LoopSettings, window: tuple[float, float], level: int | None, exposure_dm: int | None
) -> None:
    """The mildest ring that the window admits must win, whatever its length; none when none fits."""
    answer = safest(plan_of(RINGS, settings, window, max_redriven=0.0).quest)
    if level is None:
        assert answer is None
        return
    assert (answer.level, answer.value, answer.bound, answer.proven) == (level, exposure_dm, exposure_dm, True)


def test_all_levels_below_the_comfort_floor_are_equal(settings: LoopSettings) -> None:
    """Under a floor above both rings, neither has exposure, and the shorter must win."""
    answer = safest(plan_of(RINGS, settings, (150.0, 900.0), comfort_floor=0.7).quest)
    assert (answer.level, answer.value) == (70, 0)
    assert [n // 2 for n in answer.numbers] == [2, 3]


@pytest.mark.parametrize("seed", range(3))
def test_no_loop_exists_one_level_lower(settings: LoopSettings, seed: int) -> None:
    """The certificate of the threshold: on the arcs below the level found there must be no loop."""
    quest = plan_of(ground(40, seed), settings, (1000.0, 4000.0)).quest
    answer = safest(quest)
    below = replace(quest, arcs=subset(quest.arcs, quest.arcs.level < answer.level))
    assert answer.level == 50 or exists(below, lambda arcs: Goal(cost=arcs.length_dm)) == (False, None)


def test_training_prefers_gain_and_then_the_shorter(settings: LoopSettings) -> None:
    """More practice must beat a shorter way, and of two rings with the same practice the shorter must win."""
    rock = ((Technique.ROCK, Direction.WITH, 1.0),)
    world = World([Trail(0, 1, 100.0), Trail(1, 0, 300.0, runs=rock), Trail(1, 0, 200.0, runs=rock), Trail(1, 0, 90.0)])
    answer = training_rich(plan_of(world, settings, (150.0, 450.0), max_redriven=0.0).quest)
    assert {n // 2 for n in answer.numbers} == {2, 3}
    assert answer.proven


@pytest.mark.parametrize("seed", range(4))
def test_bound_is_never_below_the_value(settings: LoopSettings, seed: int) -> None:
    """Of training-rich, the bound must not be below the value, and proof must mean that they are equal."""
    effort = settings.search.model_copy(update={"nodes": 1, "interrupts": 5 + 20 * seed})
    quest = plan_of(ground(50, seed), settings, (2000.0, 5000.0)).quest
    answer = training_rich(replace(quest, effort=effort))
    assert answer.bound >= answer.value
    assert answer.proven == (answer.bound == answer.value)


def test_a_threshold_that_was_not_settled_is_no_proof(settings: LoopSettings) -> None:
    """When a level below could not be ruled out, the answer must not claim to be proven."""
    quest = plan_of(ground(60, 5), settings, (3000.0, 6000.0)).quest
    effort = quest.effort.model_copy(update={"starts": 1, "moves": 1500, "nodes": 1, "interrupts": 1})
    answer = safest(replace(quest, effort=effort))
    full = safest(quest)
    assert full.proven
    assert answer is None or (answer.level, answer.value) >= (full.level, full.value)
    assert answer is None or answer.proven <= (answer.level == full.level)


def test_numbers_outlive_pruning(settings: LoopSettings) -> None:
    """The answer must name traversals by their number in the full list."""
    plan = plan_of(ground(40, 1), settings, (1000.0, 4000.0))
    answer = training_rich(plan.quest)
    chosen = [plan.traversals[n] for n in answer.numbers]
    assert all(not t.refusal for t in chosen)
    assert all(a.head == b.tail for a, b in zip(chosen, chosen[1:] + chosen[:1], strict=True))
    assert np.isin(answer.numbers, plan.quest.arcs.number).all()
