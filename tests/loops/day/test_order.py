"""The order inside a loop, against all permutations."""

from fractions import Fraction
from itertools import permutations

import numpy as np
import pytest

from pipeline.loops.day import order as order_module
from pipeline.loops.day.order import gentlest_order, roughness
from pipeline.loops.graph import Arcs
from pipeline.loops.settings import LoopSettings
from pipeline.loops.solve.hunt import training_rich
from pipeline.loops.solve.rules import Rules, breaches
from tests.loops.parts import plan_of
from tests.loops.worlds import Trail, World, tiny

FREE = Rules(length_dm=(0, 10**9), time_s=None, redriven=1.0)


def petals(levels: list[float], lengths: list[float]) -> World:
    """Lay rings of three trails each at the trailhead, one utilisation and one length of trail a ring."""
    trails = []
    for ring, (level, length) in enumerate(zip(levels, lengths, strict=True)):
        a, b = 2 * ring + 1, 2 * ring + 2
        trails += [Trail(x, y, length, utilisation=(level, level)) for x, y in ((0, a), (a, b), (b, 0))]
    return World(trails)


def mean_of_first_third(arcs: Arcs, walk: list[int]) -> Fraction:
    """Walk decimetre for decimetre, as a reader of the definition would."""
    levels = np.repeat(arcs.level[walk], arcs.length_dm[walk])
    whole, rest = divmod(len(levels), 3)
    first = sum(levels[:whole].tolist()) + Fraction(rest, 3) * (int(levels[whole]) if rest else 0)
    return first / (whole + Fraction(rest, 3))


def every_order(arcs: Arcs, walk: list[int], rules: Rules = FREE) -> list[list[int]]:
    """List all permutations that are loops."""
    return [
        list(p) for p in permutations(walk) if arcs.tail[p[0]] == arcs.trailhead and not breaches(arcs, list(p), rules)
    ]


def test_easy_ring_comes_first(settings: LoopSettings) -> None:
    """Of three rings at the trailhead the easiest must be driven first, and the smaller of the other two next."""
    arcs = plan_of(petals([0.9, 0.7, 0.55], [100.0, 100.0, 100.0]), settings, (800.0, 1000.0)).quest.arcs
    assert gentlest_order(arcs, [0, 2, 4, 6, 8, 10, 12, 14, 16]) == [12, 14, 16, 0, 2, 4, 6, 8, 10]


def test_below_the_comfort_floor_all_is_alike(settings: LoopSettings) -> None:
    """Utilisations up to the floor must count as equal: then the smallest sequence stands."""
    arcs = plan_of(petals([0.45, 0.2], [100.0, 100.0]), settings).quest.arcs
    assert gentlest_order(arcs, [6, 8, 10, 0, 2, 4]) == [0, 2, 4, 6, 8, 10]


@pytest.mark.parametrize("seed", range(12))
def test_gentlest_of_all_permutations(settings: LoopSettings, seed: int) -> None:
    """The order must be the one with the smallest mean over its first third, then the smallest, of all that there are.

    Four trails side by side, two more to another place, and a spur with room to turn; utilisations and lengths drawn.
    """
    rng = np.random.default_rng(seed)
    ends = [(0, 1), (0, 1), (0, 1), (0, 1), (0, 2), (0, 2), (1, 3)]
    trails = [Trail(a, b, rng.uniform(30.0, 140.0)) for a, b in ends]
    for trail in trails:
        trail.utilisation = (rng.uniform(0.4, 0.9), rng.uniform(0.4, 0.9))
    arcs = plan_of(World(trails, {3}), settings).quest.arcs
    walk = [0, 12, 13, 3, 4, 7, 8, 11]
    orders = every_order(arcs, walk)
    assert len(orders) > 10
    best = min(orders, key=lambda found: (mean_of_first_third(arcs, found), found))
    assert gentlest_order(arcs, orders[int(rng.integers(len(orders)))]) == best
    by_roughness = sorted(orders, key=lambda found: (roughness(arcs, found), found))
    assert by_roughness == sorted(orders, key=lambda found: (mean_of_first_third(arcs, found), found))


def test_the_first_leg_that_is_asked_for_stays_first(settings: LoopSettings) -> None:
    """An order that begins elsewhere must not be taken, however gentle."""
    arcs = plan_of(petals([0.9, 0.55], [100.0, 100.0]), settings).quest.arcs
    assert gentlest_order(arcs, [0, 2, 4, 6, 8, 10], begins={0})[0] == 0
    assert gentlest_order(arcs, [0, 2, 4, 6, 8, 10])[0] == 6


def test_found_loops_are_in_their_gentlest_order(settings: LoopSettings) -> None:
    """What the search hands over must keep its rules and be the gentlest of its orders, either way round."""
    worlds = [(petals([0.9, 0.6, 0.8], [70.0, 60.0, 80.0]), (600.0, 640.0))]
    worlds += [(tiny(seed), (500.0, 900.0)) for seed in range(3)]
    several = 0
    for world, window in worlds:
        plan = plan_of(world, settings, window, max_redriven=0.6)
        answer = training_rich(plan.quest)
        if answer is None or len(answer.numbers) > 9:
            continue
        arcs = plan.quest.arcs
        walk = np.searchsorted(arcs.number, answer.numbers).tolist()
        orders = every_order(arcs, walk, plan.quest.rules)
        several += len(orders) > 1
        assert mean_of_first_third(arcs, walk) == min(mean_of_first_third(arcs, found) for found in orders)
    assert several


def test_starts_are_kept_through_the_search(settings: LoopSettings) -> None:
    """With a first segment asked for, the loop that is handed over must begin on it although a gentler order exists."""
    plan = plan_of(petals([0.9, 0.55], [100.0, 100.0]), settings, (590.0, 610.0), start="s000")
    answer = training_rich(plan.quest)
    assert answer is not None
    assert plan.traversals[answer.numbers[0]].segment_id == "s000"


def test_the_best_so_far_stands_when_the_steps_run_out(settings: LoopSettings, monkeypatch: pytest.MonkeyPatch) -> None:
    """With too few steps for any order the walk itself must come back; with some, the gentle order that came first."""
    levels = [0.9, 0.8, 0.7, 0.6]
    arcs = plan_of(petals(levels, [100.0] * 4), settings, (1000.0, 1300.0)).quest.arcs
    walk = list(range(0, 24, 2))
    turned = walk[6:] + walk[:6]
    monkeypatch.setattr(order_module, "_STEPS", 11)
    assert gentlest_order(arcs, turned) == turned
    monkeypatch.setattr(order_module, "_STEPS", 18)
    assert gentlest_order(arcs, walk) == gentlest_order(arcs, turned) == [18, 20, 22, 12, 14, 16, 6, 8, 10, 0, 2, 4]
    monkeypatch.undo()
    assert gentlest_order(arcs, walk) == [18, 20, 22, 12, 14, 16, 0, 2, 4, 6, 8, 10]


def test_many_rings_are_put_in_order_at_once(settings: LoopSettings) -> None:
    """Of twenty rings in 20! orders the easy ones must come first, though not all orders can be looked at."""
    levels = [0.95 - 0.02 * ring for ring in range(20)]
    arcs = plan_of(petals(levels, [100.0] * 20), settings, (5000.0, 6300.0)).quest.arcs
    walk = list(range(0, 120, 2))
    found = gentlest_order(arcs, walk)
    assert not breaches(arcs, found, FREE)
    rings = sorted(arcs.level[walk[3 * ring]] for ring in range(20))
    assert roughness(arcs, found) == sum(3 * 3000 * int(level) for level in rings[:6]) + 6000 * int(rings[6])
