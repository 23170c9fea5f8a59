"""The search on a lattice against every way there is, tried one by one."""

import itertools

import numpy as np
import pytest

from pipeline.kernels.line_search import (
    ASIDE,
    CHANGE,
    CLOSED,
    FAR,
    GAP,
    HEADING,
    LENGTH,
    ROOM,
    SHARP,
    Rules,
    Space,
)  # fmt: skip
from tests.kernels import line_called as called

pytestmark = pytest.mark.kernel

SPACING, APART = 2.0, 0.2


def lattice(seed: int, stages: int = 5, places: int = 4, slopes: int = 5) -> Space:
    """Lay a lattice on a straight trail, gaps drawn by lot, a few steps closed."""
    rng = np.random.default_rng(seed)
    room = called.space(stages, places, slopes)
    for k, i, s in itertools.product(range(stages - 1), range(places), range(slopes)):
        if 0 <= i + s - slopes // 2 < places:
            across = (s - slopes // 2) * APART
            room.steps[k, i, s] = -np.arctan2(across, SPACING), np.hypot(SPACING, across), rng.uniform(-0.3, 0.7)
            if rng.random() < 0.1:
                room.steps[k, i, s, GAP] = CLOSED
    room.aside[:] = rng.uniform(0.0, 1.0, room.aside.shape)
    return room


def every_way(room: Space, rules: Rules) -> list[tuple[float, float, tuple[int, ...]]]:
    """List gap, cost and places of every way that keeps the rules."""
    slopes, (steps, places) = room.steps.shape[2], room.steps.shape[:2]
    found = []
    for way in itertools.product(range(places), repeat=steps + 1):
        pairs = [(i, j - i + slopes // 2) for i, j in itertools.pairwise(way)]
        if any(not 0 <= s < slopes for _, s in pairs):
            continue
        gaps = np.array([room.steps[k, i, s, GAP] for k, (i, s) in enumerate(pairs)])
        angle = np.diff([room.steps[k, i, s, HEADING] for k, (i, s) in enumerate(pairs)])
        length = np.array([room.steps[k, i, s, LENGTH] for k, (i, s) in enumerate(pairs)])
        bend = 2.0 * angle * (1.0 + angle**2 * 5.0 / 24.0) / (length[1:] + length[:-1])
        turned = np.diff(bend) / rules.spacing
        if (
            gaps.min() < rules.floor
            or np.abs(bend).max() > rules.bend
            or np.abs(turned).max(initial=0.0) > rules.change
        ):
            continue
        short = np.maximum(rules.comfort - gaps[1:], 0.0)
        aside = np.array([room.aside[k, i] for k, i in enumerate(way)])[2:]
        cost = (ROOM * short**2 + ASIDE * aside**2 + SHARP * bend**2).sum() + (CHANGE * turned**2).sum()
        found.append((min(gaps.min(), rules.comfort), cost, way))
    return found


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize(("bend", "change"), [(1.0, 1.0), (0.12, 1.0), (0.12, 0.05), (0.06, 0.03)])
def test_widest_and_cheapest_are_those_of_all_ways(seed: int, bend: float, change: float) -> None:
    """The largest smallest gap, and the cheapest way that keeps it, are the best of all ways tried one by one."""
    room = lattice(seed)
    rules = Rules(bend, change, 0.5, 0.5 * CLOSED, SPACING)
    ways = every_way(room, rules)
    gap, _ = called.search(room, (5, 4), rules, True)
    if not ways:
        assert gap >= FAR
        return
    best = max(one[0] for one in ways)
    assert -gap == pytest.approx(best, abs=1e-12)
    kept = rules._replace(floor=best - 0.05)
    cost, last = called.search(room, (5, 4), kept, False)
    cheapest = min(one[1] for one in every_way(room, kept))
    assert cost == pytest.approx(cheapest, abs=1e-12)
    way = np.zeros(5, dtype=np.int64)
    called.follow_back(room, 5, last, way)
    assert {one[2]: one[1] for one in every_way(room, kept)}[tuple(way)] == pytest.approx(cheapest, abs=1e-12)


def test_three_stages_are_one_turn() -> None:
    """The shortest lattice has a single turn, and its way is found too."""
    room = lattice(3, stages=3)
    rules = Rules(1.0, 1.0, 0.5, 0.5 * CLOSED, SPACING)
    gap, last = called.search(room, (3, 4), rules, True)
    way = np.zeros(3, dtype=np.int64)
    called.follow_back(room, 3, last, way)
    assert -gap == max(one[0] for one in every_way(room, rules))
    assert all(0 <= place < 4 for place in way)


def test_no_way_is_told() -> None:
    """Where all steps of a stage are closed, nothing leads through."""
    room = lattice(0)
    room.steps[2, :, :, GAP] = CLOSED
    assert called.search(room, (5, 4), Rules(1.0, 1.0, 0.5, 0.5 * CLOSED, SPACING), True) == (FAR, -1)


def test_curvature_is_that_of_the_spline() -> None:
    """Between steps at an angle φ the curvature is 2 tan(φ/2) ÷ (l cos(φ/2)), to the third order."""
    for angle in (0.05, 0.2, 0.4):
        steps = np.zeros((2, 1, 1, 3))
        steps[:, 0, 0, LENGTH], steps[1, 0, 0, HEADING] = 2.0, angle
        exact = 2.0 * np.tan(angle / 2.0) / (2.0 * np.cos(angle / 2.0))
        assert called.bend_of(steps, 1, (0, 0), (0, 0)) == pytest.approx(exact, rel=0.1 * angle**4 + 1e-9)


def test_ties_are_broken_the_same_way_every_time() -> None:
    """Of ways of equal cost the same one is found, whatever stood in the space before."""
    ways = []
    for seed in (1, 2):
        room = lattice(seed, stages=4, places=3, slopes=3)
        called.search(room, (4, 3), Rules(1.0, 1.0, 0.5, 0.5 * CLOSED, SPACING), False)
        room.aside[:] = 0.0
        for k, i, s in itertools.product(range(3), range(3), range(3)):
            room.steps[k, i, s] = 0.0, SPACING, 1.0 if 0 <= i + s - 1 < 3 else CLOSED
        cost, last = called.search(room, (4, 3), Rules(1.0, 1.0, 0.5, 0.0, SPACING), False)
        way = np.zeros(4, dtype=np.int64)
        called.follow_back(room, 4, last, way)
        assert cost == 0.0
        ways.append(way.tolist())
    assert ways[0] == ways[1]
