"""Connectivity cuts: every loop keeps them, and what is not in one piece does not."""

import numpy as np
import pytest

from pipeline.loops.settings import LoopSettings
from pipeline.loops.solve.cuts import separate
from pipeline.loops.solve.local_search import local_search
from pipeline.loops.solve.model import build_model, columns_of_walk
from pipeline.loops.solve.rules import breaches
from tests.loops.parts import plan_of, problem_of
from tests.loops.worlds import Trail, World, ground

TWO_RINGS = World(
    [Trail(0, 1), Trail(1, 2), Trail(2, 0), Trail(2, 3, 500.0), Trail(3, 4), Trail(4, 5), Trail(5, 3)], {0}
)
"""A ring at the trailhead and one at the end of a lane."""


def test_a_ring_by_itself_is_cut_off(settings: LoopSettings) -> None:
    """A second ring that is not driven to must break cuts, by what it lacks: one way in."""
    model = build_model(problem_of(plan_of(TWO_RINGS, settings, (300.0, 2500.0)), gain=False))
    problem = model.problem
    home = [int(np.flatnonzero(problem.arcs.number == n)[0]) for n in (0, 2, 4)]
    values = columns_of_walk(model, np.array(home))
    away = np.flatnonzero(np.isin(problem.arcs.number, (8, 10, 12)))
    values[model.driven[away]] = 1.0
    inner = np.isin(problem.turns.first, away) & np.isin(problem.turns.second, away)
    values[model.turn[inner]] = 1.0
    cuts = separate(model, values)
    assert {cut.driven for cut in cuts} == set(model.driven[away].tolist())
    assert all(values[cut.ways_in].sum() == 0.0 for cut in cuts)
    assert separate(model, columns_of_walk(model, np.array(home))) == []


@pytest.mark.parametrize("seed", range(3))
def test_no_loop_breaks_a_cut(settings: LoopSettings, seed: int) -> None:
    """Cuts found at a made-up point must hold for every loop that the local search finds, from any seed."""
    problem = problem_of(plan_of(ground(40, seed), settings, (1500.0, 4000.0)), gain=True)
    model = build_model(problem)
    rng = np.random.default_rng(seed)
    cuts = separate(model, rng.uniform(0.0, 1.0, model.lp.num_col_) * (rng.random(model.lp.num_col_) < 0.6))
    assert len(cuts) > 10
    walks = [local_search(problem, settings.search, k) for k in range(4)]
    assert any(walk is not None for walk in walks)
    for walk in walks:
        if walk is None:
            continue
        assert breaches(problem.arcs, walk.tolist(), problem.rules) == []
        values = columns_of_walk(model, walk)
        assert all(values[cut.ways_in].sum() >= values[cut.driven] for cut in cuts)


def test_the_same_point_gives_the_same_cuts(settings: LoopSettings) -> None:
    """Separation must be a function of its input."""
    model = build_model(problem_of(plan_of(ground(40, 1), settings, (1500.0, 4000.0)), gain=True))
    values = np.random.default_rng(5).uniform(0.0, 1.0, model.lp.num_col_)
    first, again = separate(model, values), separate(model, values)
    assert [(c.driven, c.ways_in.tolist()) for c in first] == [(c.driven, c.ways_in.tolist()) for c in again]
