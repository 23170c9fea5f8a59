"""Runs: segments continued into their neighbours, and the ways across nodes."""

from itertools import pairwise

import numpy as np
import pytest

from pipeline.survey.model import Network
from pipeline.terrain.joins import find_joins
from pipeline.terrain.lines import centre_lines
from pipeline.terrain.runs import Runs, make_runs, take_runs
from tests.worlds import at, network_of

Piece = tuple[int, float, int, float, float]
"""Segment, zero, sign, from, to."""


def runs_of(network: Network, reach_m: float = 10.0) -> Runs:
    """Make the runs of a network."""
    centre = centre_lines(network)
    return make_runs(find_joins(network, centre), centre.length_m, reach_m)


def pieces_of(runs: Runs, run: int) -> list[Piece]:
    """List the pieces of one run."""
    p = runs.pieces
    rows = range(p.offsets[run], p.offsets[run + 1])
    return [(int(p.segment[k]), p.zero[k], int(p.sign[k]), runs.begin[k], p.end[k]) for k in rows]


def test_a_lone_segment_just_stops() -> None:
    """One run, one piece, all its own."""
    runs = runs_of(network_of({"a": at((0, 0), (40, 0))}))
    assert runs.segment.tolist() == [0]
    assert (runs.own_from_m.tolist(), runs.own_to_m.tolist()) == ([0.0], [40.0])
    assert pieces_of(runs, 0) == [(0, 0.0, 1, 0.0, 40.0)]


@pytest.mark.parametrize("turned", [False, True])
def test_a_run_goes_on_into_a_neighbour_digitised_either_way(*, turned: bool) -> None:
    """Beyond the end, chainage of the neighbour counts up from its start, or down from its end."""
    b = at((40, 0), (70, 0))
    runs = runs_of(network_of({"a": at((0, 0), (40, 0)), "b": b[::-1] if turned else b}))
    beyond = (1, 70.0, -1, 40.0, 50.0) if turned else (1, 40.0, 1, 40.0, 50.0)
    assert pieces_of(runs, 0) == [(0, 0.0, 1, 0.0, 40.0), beyond]
    before = (0, 70.0, -1, 30.0, 40.0) if turned else (0, -40.0, 1, -10.0, 0.0)
    own = (1, 0.0, 1, 0.0, 30.0)
    assert sorted(pieces_of(runs, 1)) == sorted([own, before])


def test_before_the_start_a_neighbour_that_also_starts_there_counts_backwards() -> None:
    """Two segments that leave from one node: seen from the first, the second lies at negative coordinates."""
    runs = runs_of(network_of({"a": at((0, 0), (40, 0)), "b": at((0, 0), (-30, 0))}))
    assert pieces_of(runs, 0) == [(1, 0.0, -1, -10.0, 0.0), (0, 0.0, 1, 0.0, 40.0)]


def test_short_neighbours_are_followed_on_until_the_reach_is_used() -> None:
    """3 m of b, 4 m of c, and the rest of the 10 m on d."""
    lines = {"a": at((0, 0), (40, 0)), "b": at((40, 0), (43, 0)), "c": at((47, 0), (43, 0)), "d": at((47, 0), (90, 0))}
    runs = runs_of(network_of(lines))
    assert pieces_of(runs, 0) == [
        (0, 0.0, 1, 0.0, 40.0),
        (1, 40.0, 1, 40.0, 43.0),
        (2, 47.0, -1, 43.0, 47.0),
        (3, 47.0, 1, 47.0, 50.0),
    ]
    assert runs.simple.all()


def test_a_ring_is_driven_round_again() -> None:
    """A ring of 12 m goes on into itself, twice if need be."""
    runs = runs_of(network_of({"a": at((0, 0), (3, 0), (3, 3), (0, 3), (0, 0))}), reach_m=20.0)
    assert pieces_of(runs, 0) == [
        (0, -24.0, 1, -20.0, -12.0),
        (0, -12.0, 1, -12.0, 0.0),
        (0, 0.0, 1, 0.0, 12.0),
        (0, 12.0, 1, 12.0, 24.0),
        (0, 24.0, 1, 24.0, 32.0),
    ]


@pytest.fixture
def tee() -> Network:
    """Give a straight way a–b with c joining from the north at (40, 0); c is 6 m long and goes on as d."""
    return network_of(
        {
            "a": at((0, 0), (40, 0)),
            "b": at((40, 0), (80, 0)),
            "c": at((40, 0), (40, 6)),
            "d": at((40, 6), (40, 50)),
        }
    )


def test_other_ways_across_a_node_get_short_runs(tee: Network) -> None:
    """The main runs first; then a→c, b→c and c→b (a being c's straightest), each with its own stretch only."""
    runs = runs_of(tee)
    assert runs.segment.tolist() == [0, 1, 2, 3, 0, 1, 2]
    assert pieces_of(runs, 4) == [(0, 0.0, 1, 30.0, 40.0), (2, 40.0, 1, 40.0, 46.0), (3, 46.0, 1, 46.0, 50.0)]
    assert (runs.own_from_m[4], runs.own_to_m[4]) == (30.0, 40.0)
    assert pieces_of(runs, 5) == [(3, -6.0, -1, -10.0, -6.0), (2, 0.0, -1, -6.0, 0.0), (1, 0.0, 1, 0.0, 10.0)]
    assert (runs.own_from_m[5], runs.own_to_m[5]) == (0.0, 10.0)


def test_a_short_main_segment_goes_on_at_its_other_end(tee: Network) -> None:
    """The segment c is 6 m: its run across the node takes 4 m of d behind it, so that a whole vehicle finds room."""
    runs = runs_of(tee)
    assert pieces_of(runs, 6) == [(1, 0.0, -1, -10.0, 0.0), (2, 0.0, 1, 0.0, 6.0), (3, 6.0, 1, 6.0, 10.0)]
    assert (runs.own_from_m[6], runs.own_to_m[6]) == (0.0, 6.0)


def test_pieces_are_simple_only_over_nodes_of_two_ends(tee: Network) -> None:
    """The segment d goes on into c simply, and from c into a no longer."""
    runs = runs_of(tee, reach_m=20.0)
    by_segment = {piece[0]: flag for piece, flag in zip(pieces_of(runs, 3), runs.simple[_span(runs, 3)], strict=True)}
    assert by_segment == {3: True, 2: True, 0: False}


def _span(runs: Runs, run: int) -> slice:
    """Give the rows of one run's pieces."""
    return slice(runs.pieces.offsets[run], runs.pieces.offsets[run + 1])


def test_pieces_of_a_run_join_without_gaps(tee: Network) -> None:
    """Each piece begins where the one before it ends, in plan too."""
    centre = centre_lines(tee)
    runs = make_runs(find_joins(tee, centre), centre.length_m, 25.0)
    for run in range(runs.segment.size):
        pieces = pieces_of(runs, run)
        for one, following in pairwise(pieces):
            assert one[4] == pytest.approx(following[3])
            assert _place(tee, one, one[4]) == pytest.approx(_place(tee, following, following[3]))


def _place(network: Network, piece: Piece, along: float) -> tuple[float, float]:
    """Give the point of a piece at a run coordinate."""
    line = network.segments.geometry.iloc[piece[0]]
    point = line.interpolate((along - piece[1]) * piece[2])
    return point.x, point.y


def test_taken_runs_count_segments_anew(tee: Network) -> None:
    """Runs 4 and 0 for a block that holds the segments 3, 0, 2, 1 in that order."""
    runs, order = runs_of(tee), np.array([3, 0, 2, 1])
    part = take_runs(runs, np.array([4, 0]), order)
    assert part.segment.tolist() == [1, 1]
    again = [(int(order[s]), *rest) for s, *rest in pieces_of(part, 0)]
    assert again == pieces_of(runs, 4)
    assert part.own_to_m.tolist() == [40.0, 40.0]
