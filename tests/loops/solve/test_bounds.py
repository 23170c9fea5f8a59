"""The ladder of bounds: every rung valid, the higher the tighter, and named."""

from dataclasses import replace

import pytest

from pipeline.loops.settings import LoopSettings
from pipeline.loops.solve.bounds import BoundName, tighten
from pipeline.loops.solve.exact import Outcome, solve
from pipeline.loops.solve.hunt import safest, training_rich
from pipeline.loops.solve.local_search import local_search
from pipeline.loops.solve.model import build_model
from tests.loops.oracle import loops
from tests.loops.parts import plan_of, problem_of
from tests.loops.worlds import Trail, World, ground, tiny

RUNGS = {
    BoundName.SATURATION: {"relaxed_iterations": 1},
    BoundName.BALANCE: {"relaxed_iterations": 30},
    BoundName.TURNS: {"cut_rounds": 0},
    BoundName.CUTS: {"cut_rounds": 30},
}
"""Work limits that stop at each rung, on the grounds used here."""


@pytest.mark.parametrize("gain", [True, False])
@pytest.mark.parametrize("seed", range(3))
def test_every_rung_bounds_the_best_of_all_loops(settings: LoopSettings, seed: int, *, gain: bool) -> None:
    """However much work is allowed, no listed loop may be better than the bound."""
    world = tiny(seed)
    plan = plan_of(world, settings)
    every = list(loops(world, plan.request, settings))
    best = max(s.units for s in every) if gain else min(s.exposure for s in every)
    problem = problem_of(plan, gain=gain)
    for iterations in (1, 10, 20, 40, 80, 10_000):
        root = tighten(build_model(problem), settings.search.model_copy(update={"relaxed_iterations": iterations}))
        assert not root.infeasible
        if root.value is not None:
            assert root.value + 1.0 >= best if gain else root.value - 1.0 <= best


def test_rungs_tighten_upwards(settings: LoopSettings) -> None:
    """Balance must be weaker than turns, turns weaker than cuts, and cuts no better than the proven optimum."""
    problem = problem_of(plan_of(ground(40, 3), settings, (2500.0, 5000.0)), gain=True)
    model = build_model(problem)
    hint = local_search(problem, settings.search, 0)
    best = solve(problem, settings.search, hint)
    assert best.outcome is Outcome.SOLVED
    values = []
    for name in (BoundName.TURNS, BoundName.CUTS):
        root = tighten(model, settings.search.model_copy(update=RUNGS[name]))
        assert root.name is name
        values.append(root.value)
    assert values[0] > values[1] > best.value - 1.0


def test_too_little_work_falls_to_a_lower_rung(settings: LoopSettings) -> None:
    """Where even the first linear program is too much, the small model's bound, or none, must be named."""
    problem = problem_of(plan_of(ground(40, 3), settings, (2500.0, 5000.0)), gain=True)
    model = build_model(problem)
    seen = {}
    for iterations in (1, 50, 100, 150, 200, 300):
        root = tighten(model, settings.search.model_copy(update={"relaxed_iterations": iterations, "cut_rounds": 0}))
        seen.setdefault(root.name, root.value)
    assert seen[BoundName.SATURATION] is None
    assert seen[BoundName.BALANCE] > seen[BoundName.TURNS]


def test_answers_name_their_bound(settings: LoopSettings) -> None:
    """A proven loop must name the exact model; one bound by the relaxation alone, that; one by nothing, saturation."""
    quest = plan_of(ground(40, 3), settings, (2500.0, 5000.0)).quest
    answers = {}
    for word, changes in (
        ("exact", {}),
        ("cuts", {"exact_arcs": 1}),
        ("none", {"exact_arcs": 1, "relaxed_iterations": 1}),
    ):
        effort = quest.effort.model_copy(update=changes)
        answers[word] = training_rich(replace(quest, effort=effort))
        assert answers[word].bound >= answers[word].value
    assert answers["exact"].proven
    assert answers["exact"].bound_name is BoundName.EXACT
    assert answers["cuts"].bound_name is BoundName.CUTS
    assert answers["none"].bound_name is BoundName.SATURATION
    assert answers["exact"].bound <= answers["cuts"].bound <= answers["none"].bound
    mild = safest(replace(quest, effort=quest.effort.model_copy(update={"exact_arcs": 1, "relaxed_iterations": 1})))
    assert mild is None or mild.bound <= mild.value


def test_a_relaxation_without_a_solution_proves_that_there_is_no_loop(settings: LoopSettings) -> None:
    """Two rings, the window longer than both: the relaxed model must be enough to say no."""
    world = World([Trail(0, 1), Trail(1, 2), Trail(2, 0)])
    problem = problem_of(plan_of(world, settings, (310.0, 1000.0), max_redriven=0.0), gain=False)
    assert tighten(build_model(problem), settings.search).infeasible
