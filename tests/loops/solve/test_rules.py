"""The check of a walk in whole numbers, and the only way in."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from pipeline.loops.graph import Arcs
from pipeline.loops.settings import LoopSettings
from pipeline.loops.solve.rules import Rules, breaches, redriven_dm
from tests.loops.parts import plan_of
from tests.loops.worlds import Trail, World

SQUARE = World([Trail(0, 1), Trail(1, 2), Trail(2, 3), Trail(3, 0), Trail(1, 4)], {4})
FREE = Rules(length_dm=(0, 100_000), time_s=None, redriven=1.0)


@pytest.fixture
def arcs(settings: LoopSettings) -> Arcs:
    """Give the arcs of a square with a spur; arc 2k is segment k with, 2k + 1 against."""
    return plan_of(SQUARE, settings).quest.arcs


@pytest.mark.parametrize(
    ("walk", "said"),
    [
        ([], "empty"),
        ([2, 4, 6], "trailhead"),
        ([0, 2, 4], "trailhead"),
        ([0, 2, 4, 6, 0, 2, 4, 6], "twice"),
        ([0, 4, 6], "does not follow"),
        ([0, 1], "turns back"),
    ],
)
def test_walks_that_are_no_loops(arcs: Arcs, walk: list[int], said: str) -> None:
    """Every way of not being a loop must be told."""
    assert any(said in breach for breach in breaches(arcs, walk, FREE))


def test_loops_that_are(arcs: Arcs) -> None:
    """A plain loop, one with a spur that has room to turn, and both ways round must pass."""
    for walk in ([0, 2, 4, 6], [7, 5, 3, 1], [0, 8, 9, 2, 4, 6]):
        assert breaches(arcs, walk, FREE) == []


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"length_dm": (4001, 9000)}, "length 4000"),
        ({"length_dm": (0, 3999)}, "length 4000"),
        ({"time_s": (0, 1)}, "time"),
        ({"must": (("the spur", frozenset({8, 9})),)}, "leaves out the spur"),
        ({"earlier": (frozenset({0, 1, 2, 3}),), "overlap": 0.49}, "shares 2000 of 4000"),
    ],
)
def test_broken_rules_are_told(arcs: Arcs, changes: dict[str, Any], said: str) -> None:
    """Each rule that a loop breaks must be told with its figures."""
    assert [b for b in breaches(arcs, [0, 2, 4, 6], replace(FREE, **changes)) if said in b]


def test_rules_at_their_edge_hold(arcs: Arcs) -> None:
    """A value exactly at a limit must pass."""
    edge = replace(
        FREE,
        length_dm=(4000, 4000),
        must=(("corner", frozenset({2})),),
        earlier=(frozenset({0, 1, 2, 3}),),
        overlap=0.5,
        redriven=0.0,
    )
    assert breaches(arcs, [0, 2, 4, 6], edge) == []


def test_redriven_counts_both_directions(arcs: Arcs) -> None:
    """A spur driven in and out counts twice its length; the share must be kept to the unit."""
    walk = [0, 8, 9, 2, 4, 6]
    assert redriven_dm(arcs, np.array(walk)) == 2000
    assert breaches(arcs, walk, replace(FREE, redriven=2000 / 6000)) == []
    assert breaches(arcs, walk, replace(FREE, redriven=0.33)) == ["re-driven 2000 of 6000"]
