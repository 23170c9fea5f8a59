"""Which segment goes on from which."""

import itertools

import numpy as np
import pytest

from pipeline.survey.model import Network
from pipeline.terrain.joins import Joins, find_joins, points_at
from pipeline.terrain.lines import centre_lines
from tests.worlds import ORIGIN, at, network_of

A0, A1, B0, B1, C0, C1, D0, D1 = range(8)
"""Ends of the first four segments: 2·row for the start, 2·row + 1 for the end."""


def joins_of(network: Network) -> Joins:
    """Find the joins of a network."""
    return find_joins(network, centre_lines(network))


@pytest.fixture
def cross() -> Network:
    """Four segments meet at (30, 30): a from the west, b to the east, c from the north, d to the south-east."""
    return network_of(
        {
            "a": at((0, 30), (30, 30)),
            "b": at((30, 30), (60, 32)),
            "c": at((30, 60), (30, 30)),
            "d": at((30, 30), (45, 0)),
        }
    )


def test_the_straightest_neighbour_goes_on(cross: Network) -> None:
    """West to east, north to south-east; dead ends go nowhere."""
    found = joins_of(cross).straightest
    assert found.tolist() == [-1, B0, A1, -1, -1, D0, C1, -1]


def test_every_other_pair_is_listed_once_each_way(cross: Network) -> None:
    """Of the twelve ordered pairs at the crossing, four are the straightest; the rest are listed unless too sharp."""
    joins = joins_of(cross)
    pairs = set(zip(joins.from_end.tolist(), joins.to_end.tolist(), strict=True))
    ordered = set(itertools.permutations((A1, B0, C1, D0), 2))
    straight = {(A1, B0), (B0, A1), (C1, D0), (D0, C1)}
    assert pairs == ordered - straight
    assert len(joins.from_end) == len(pairs)


def test_turns_that_no_vehicle_rolls_through_are_left_out() -> None:
    """Two segments that leave side by side: no run from one to the other, but both from the third."""
    fork = network_of({"a": at((0, 0), (30, 0)), "b": at((30, 0), (60, 5)), "c": at((30, 0), (60, -4))})
    joins = joins_of(fork)
    assert joins.straightest.tolist() == [-1, C0, A1, -1, A1, -1]
    assert list(zip(joins.from_end, joins.to_end, strict=True)) == [(A1, B0)]


def test_through_nodes_join_just_two_ends(cross: Network) -> None:
    """A split of one line is gone through; a crossing and a dead end are not."""
    split = network_of({"a": at((0, 0), (10, 0)), "b": at((10, 0), (20, 0))})
    assert joins_of(split).through.tolist() == [False, True, True, False]
    assert not joins_of(cross).through.any()


def test_a_ring_may_go_on_into_itself_but_never_into_the_end_it_came_from() -> None:
    """A ring alone at its node: its end goes on into its start."""
    ring = network_of({"a": at((0, 0), (20, 0), (20, 20), (0, 20), (0, 0))})
    joins = joins_of(ring)
    assert joins.straightest.tolist() == [A1, A0]
    assert joins.through.all()
    assert joins.from_end.size == 0


def test_the_direction_at_an_end_is_not_that_of_one_crooked_vertex() -> None:
    """A last vertex that is off by 0.2 m turns the last 0.3 m by 34°, but not the segment's direction over 2 m."""
    network = network_of(
        {
            "a": at((0, 0), (29.7, 0.2), (30, 0)),
            "b": at((30, 0), (60, -9)),
            "c": at((30, 0), (60, 12)),
        }
    )
    assert joins_of(network).straightest[A1] == B0


def test_equally_straight_neighbours_are_taken_in_order() -> None:
    """Two mirror images: the first in the order of the segments goes on, whatever the rounding."""
    fork = network_of({"a": at((0, 0), (30, 0)), "b": at((30, 0), (60, 7)), "c": at((30, 0), (60, -7))})
    assert joins_of(fork).straightest[A1] == B0


def test_points_at_chainages() -> None:
    """One point a line, at its chainage."""
    centre = centre_lines(network_of({"a": at((0, 0), (10, 0)), "b": at((10, 0), (10, 8))}))
    x, y = points_at(centre.lines, np.array([1, 0]), np.array([3.0, 4.5]))
    assert (x - ORIGIN[0]).tolist() == [10.0, 4.5]
    assert (y - ORIGIN[1]).tolist() == [3.0, 0.0]
