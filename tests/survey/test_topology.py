"""Lines joined to a network.

Outside checks: GEOS noding (shapely.node, shapely.unary_union) of random lines, and connected components by networkx.
"""

import networkx as nx
import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.survey.crossings import Levels
from pipeline.survey.topology import Stop, Topology, join_lines
from tests.survey.worlds import CORNER, X, Y, at, objects

SNAP = 2.0


def join(
    *shapes: shapely.LineString, apart: tuple[int, ...] = (), stops: tuple[Stop, ...] = (), snap_m: float = SNAP
) -> Topology:
    """Join lines; those numbered in *apart* are bridges."""
    rows = np.arange(len(shapes))
    return join_lines(objects(shapes), Levels(np.isin(rows, apart), np.zeros(len(rows), np.int64)), stops, snap_m)


def stand(x: float, y: float, reach_m: float = 15.0) -> Stop:
    """Make a stop counted from the corner."""
    return Stop(X + x, Y + y, reach_m)


def lengths(parts: Topology) -> list[float]:
    """List the lengths of the parts, in order."""
    return [round(shape.length, 6) for shape in parts.shapes]


def degrees(parts: Topology) -> dict[tuple[float, float], int]:
    """Count the ends at each node, by its place counted from the corner."""
    numbers, count = np.unique(parts.nodes, return_counts=True)
    rows = zip(parts.xy[numbers].tolist(), count.tolist(), strict=True)
    return {(round(x - X, 3) + 0.0, round(y - Y, 3) + 0.0): ends for (x, y), ends in rows}


def test_crossing_is_a_node_of_four() -> None:
    """Two lines that cross become four segments round one node, in order of line and chainage."""
    parts = join(at((0, 0), (10, 0)), at((4, -5), (4, 5)))
    assert parts.line.tolist() == [0, 0, 1, 1]
    assert lengths(parts) == [4.0, 6.0, 5.0, 5.0]
    assert degrees(parts)[(4.0, 0.0)] == 4


def test_bridge_is_not_noded_but_its_ends_connect() -> None:
    """A bridge passes over the track below; the trail goes on at both its ends."""
    parts = join(at((0, 0), (20, 0)), at((20, 0), (30, 0)), at((30, 0), (40, 0)), at((25, -9), (25, 9)), apart=(1,))
    assert lengths(parts) == [20.0, 10.0, 10.0, 18.0]
    assert degrees(parts)[(20.0, 0.0)] == degrees(parts)[(30.0, 0.0)] == 2


def test_shared_vertex_under_a_bridge_is_no_junction() -> None:
    """A vertex of the bridge with the very coordinates of a vertex below it joins nothing."""
    parts = join(at((0, 0), (25, 0), (50, 0)), at((25, -9), (25, 0), (25, 9)), apart=(0,))
    assert lengths(parts) == [50.0, 18.0]


def test_gap_at_a_junction_is_closed() -> None:
    """Three ends up to 1.5 m apart become one node; none moves farther than the snap distance."""
    parts = join(at((0, 0), (50, 0)), at((51, 0), (90, 0)), at((50, 1.4), (50, 60)))
    assert sorted(degrees(parts).values()) == [1, 1, 1, 3]
    assert all(np.hypot(move.new[0] - move.old[0], move.new[1] - move.old[1]) <= SNAP for move in parts.moves)
    assert len(parts.moves) == 2


@pytest.mark.parametrize("gap", [-1.5, -0.5, 0.0, 0.5, 1.5])
def test_end_near_a_line_makes_a_junction(gap: float) -> None:
    """An end that stops short of another line, touches it or overshoots it makes one T-junction and no stub."""
    parts = join(at((0, 0), (50, 0)), at((20, gap), (20, 60)))
    assert lengths(parts)[:2] == [20.0, 30.0]
    assert len(parts.shapes) == 3
    assert degrees(parts)[(20.0, 0.0)] == 3
    assert parts.shapes[2].coords[0] == (X + 20, Y)


def test_two_ends_from_either_side_make_one_crossroads() -> None:
    """Ends that come near a line from both sides, a little apart, share one node on it."""
    parts = join(at((0, 0), (50, 0)), at((20, 1), (20, 60)), at((20.5, -1), (20.5, -60)))
    assert sorted(degrees(parts).values()) == [1, 1, 1, 1, 4]


def test_closed_line_and_parallel_lines() -> None:
    """A closed line is a segment from a node to itself; two trails between the same nodes are two segments."""
    ring = join(at((0, 0), (30, 0), (30, 30), (0, 0)))
    assert ring.nodes.tolist() == [[0, 0]]
    pair = join(at((0, 0), (20, 10), (40, 0)), at((0, 0), (20, -10), (40, 0)))
    assert len(pair.shapes) == 2
    assert len({tuple(sorted(ends)) for ends in pair.nodes.tolist()}) == 1


def test_figure_of_eight_and_lollipop() -> None:
    """A line that crosses itself, or comes back to itself within the snap distance, becomes a loop with its tails."""
    eight = join(at((0, 0), (40, 40), (40, 0), (0, 40)))
    assert sorted(degrees(eight).values()) == [1, 1, 4]
    assert (eight.nodes[:, 0] == eight.nodes[:, 1]).tolist() == [False, True, False]
    for gap in (0.0, 1.0):
        lollipop = join(at((0, 0), (40, 0), (40, 30), (20, 30), (20, gap)))
        assert sorted(degrees(lollipop).values()) == [1, 3]


def test_line_shorter_than_the_snap_distance_shrinks_into_its_node() -> None:
    """A stub of 1 m between two trails is left out, and they stay connected."""
    parts = join(at((0, 0), (50, 0)), at((50, 0), (51, 0)), at((51, 0), (90, 0)))
    assert parts.line.tolist() == [0, 2]
    assert parts.nodes[0, 1] == parts.nodes[1, 0]


def test_survey_heights_are_interpolated_at_a_split() -> None:
    """A survey-grade line keeps its heights; a crossing gets the height between its neighbours."""
    parts = join(at((0, 0, 100), (10, 0, 110)), at((4, -5), (4, 5)))
    assert parts.shapes[0].coords[-1] == (X + 4, Y, 104.0)
    assert parts.shapes[1].coords[0] == (X + 4, Y, 104.0)
    assert not parts.shapes[2].has_z


def test_stops() -> None:
    """A place takes the node within the snap distance, else splits the nearest trail in reach, else has none."""
    trail = at((0, 0), (100, 0))
    parts = join(trail, stops=(stand(1, 1), stand(40, 10), stand(41, -5), stand(70, 20)))
    assert lengths(parts) == [40.0, 60.0]
    first, split, shared, none = parts.stop_nodes
    assert none is None
    assert split == shared
    assert parts.xy[first].tolist() == [X, Y]
    assert parts.xy[split].tolist() == [X + 40, Y]


def test_two_stops_split_one_trail_in_order() -> None:
    """Two places along one trail make three segments, whatever their order."""
    for stops in ((stand(20, 1), stand(60, 1)), (stand(60, 1), stand(20, 1))):
        assert lengths(join(at((0, 0), (100, 0)), stops=stops)) == [20.0, 40.0, 40.0]


def random_lines(seed: int, count: int, vertices: int = 2) -> list[shapely.LineString]:
    """Draw lines of a few vertices in a square of 100 m."""
    rng = np.random.default_rng(seed)
    return [shapely.LineString(rng.uniform(0, 100, (vertices, 2)) + CORNER) for _ in range(count)]


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 10_000), st.integers(2, 4))
def test_noding_against_geos(seed: int, vertices: int) -> None:
    """With a snap distance of next to nothing, the parts are those of shapely.node: number, length, and where."""
    lines = random_lines(seed, 12, vertices)
    parts = join(*lines, snap_m=1e-5)
    geos = shapely.get_parts(shapely.node(shapely.multilinestrings(lines)))
    ours, theirs = np.sort(shapely.length(parts.shapes)), np.sort(shapely.length(geos))
    ours, theirs = ours[ours > 1e-3], theirs[theirs > 1e-3]
    assert ours == pytest.approx(theirs, abs=1e-3)
    union = shapely.unary_union(lines)
    assert shapely.length(parts.shapes).sum() == pytest.approx(union.length, abs=1e-2)
    assert shapely.hausdorff_distance(shapely.union_all(parts.shapes), union) < 1e-3


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 10_000))
def test_noding_keeps_the_total_length(seed: int) -> None:
    """Cutting loses nothing: the parts of each line are together as long as the line."""
    lines = random_lines(seed, 15, 3)
    parts = join(*lines, snap_m=1e-5)
    total = np.bincount(parts.line, weights=shapely.length(parts.shapes), minlength=15)
    assert total == pytest.approx(shapely.length(objects(lines)), abs=1e-2)


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 10_000))
def test_parts_end_at_their_nodes_and_meet_nowhere_else(seed: int) -> None:
    """Parts begin and end where their nodes stand, and two of them touch only at shared nodes."""
    parts = join(*random_lines(seed, 10, 3), snap_m=1e-5)
    for end, column in ((0, 0), (-1, 1)):
        there = shapely.get_coordinates(shapely.get_point(parts.shapes, end))
        assert there == pytest.approx(parts.xy[parts.nodes[:, column]])
    left, right = shapely.STRtree(parts.shapes).query(parts.shapes, predicate="crosses")
    inner = [
        shapely.intersection(parts.shapes[a], parts.shapes[b]).distance(
            shapely.multipoints(parts.xy[np.intersect1d(parts.nodes[a], parts.nodes[b])])
        )
        for a, b in zip(left.tolist(), right.tolist(), strict=True)
        if a < b
    ]
    assert all(gap < 1e-3 for gap in inner)


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 10_000))
def test_connectivity_against_networkx(seed: int) -> None:
    """Lines are connected in the network exactly where their union is one piece."""
    lines = random_lines(seed, 8)
    parts = join(*lines, snap_m=1e-5)
    graph = nx.MultiGraph(list(map(tuple, parts.nodes.tolist())))
    merged = shapely.get_parts(shapely.unary_union(shapely.buffer(objects(lines), 1e-4)))
    assert nx.number_connected_components(graph) == len(merged)


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 10_000))
def test_direction_and_order_of_lines_do_not_matter(seed: int) -> None:
    """Lines drawn the other way round, in another order, give the same nodes and the same shapes."""
    rng = np.random.default_rng(seed)
    lines = random_lines(seed, 10, 3)
    turned = [shapely.reverse(lines[row]) if rng.random() < 0.5 else lines[row] for row in rng.permutation(10)]
    one, two = join(*lines), join(*turned)
    assert sorted(degrees(one).items()) == sorted(degrees(two).items())
    assert sorted(lengths(one)) == pytest.approx(sorted(lengths(two)), abs=1e-5)


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 10_000))
def test_no_end_moves_farther_than_the_snap_distance(seed: int) -> None:
    """However dense the lines, nothing moves farther than the snap distance."""
    parts = join(*random_lines(seed, 20, 3))
    moved = [np.hypot(move.new[0] - move.old[0], move.new[1] - move.old[1]) for move in parts.moves]
    assert max(moved, default=0.0) <= SNAP + 1e-6
