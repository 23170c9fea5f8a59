"""Worth against a listing of every loop: aims, drivers, repeats, laps, starts, on nets whose runs differ."""

from dataclasses import replace

import pytest

from pipeline.loops.request import LoopRequest
from pipeline.loops.search import find_loops
from pipeline.loops.settings import LoopSettings
from pipeline.terms import Direction, Objective
from tests.loops.oracle import loops
from tests.loops.worlds import SETUPS, SHIPPED, taught

AIMS = sorted(SHIPPED.aims)


def ask(seed: int, objective: Objective) -> LoopRequest:
    """Ask for a loop; what is asked for changes with the seed."""
    laps = 1 + seed % 3
    request = LoopRequest(
        "loop",
        objective,
        (200.0 * laps, 1300.0 * laps),
        None,
        SETUPS if seed % 5 else ("truck",),
        aim=AIMS[seed % len(AIMS)],
        laps=laps,
        max_redriven=(1.0, 0.3, 0.6)[seed % 3],
    )
    return replace(request, start_direction=Direction.AGAINST) if seed % 4 == 1 else request


@pytest.mark.parametrize("seed", range(18))
@pytest.mark.parametrize("share", [0.0, 0.5])
def test_most_practice_of_all_loops(settings: LoopSettings, seed: int, share: float) -> None:
    """The richest loop must be worth what the best of all loops is worth, and be proven so."""
    practice = SHIPPED.model_copy(update={"repeat_share": share})
    world, request = taught(seed), ask(seed, Objective.TRAINING_RICH)
    every = [loop.units for loop in loops(world, request, settings, practice)]
    found = find_loops(world.inputs(settings, practice), [request])
    assert found.notes[0].found == bool(every)
    if every:
        assert found.loops["value"].tolist() == pytest.approx([max(every) / 3])
        assert found.loops["proven"].all()


@pytest.mark.parametrize("seed", range(0, 18, 2))
def test_least_exposure_of_all_loops(settings: LoopSettings, seed: int) -> None:
    """Laps, starts and fewer set-ups must bring the calmest loop of all."""
    world, request = taught(seed), ask(seed, Objective.SAFEST)
    every = list(loops(world, request, settings, SHIPPED))
    found = find_loops(world.inputs(settings, SHIPPED), [request])
    assert found.notes[0].found == bool(every)
    if every:
        level = min(loop.level for loop in every)
        least = min(loop.exposure for loop in every if loop.level == level)
        assert found.loops["value"].tolist() == pytest.approx([least / 10])
