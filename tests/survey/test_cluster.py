"""Points joined to nodes.

Outside check: groups equal the connected components that scipy finds on the same pairs.
"""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from pipeline.survey.cluster import cluster

SNAP = 2.0


def joined(points: list[tuple[float, float]], rank: list[int] | None = None) -> tuple[list[int], list[list[float]]]:
    """Join points, all equally ready to move unless said otherwise."""
    nodes = cluster(np.array(points, dtype=float), np.array(rank or [0] * len(points)), SNAP)
    return nodes.node.tolist(), nodes.xy.tolist()


def test_near_points_are_one_node() -> None:
    """Points at the snap distance are one node, a little farther they are two."""
    assert len(joined([(0, 0), (2, 0)])[1]) == 1
    assert len(joined([(0, 0), (2.001, 0)])[1]) == 2


def test_node_stands_where_most_points_are() -> None:
    """An existing junction of two ends stays; the third end comes to it."""
    assert joined([(1, 0), (0, 0), (1, 0)])[1] == [[1.0, 0.0]]


def test_node_stands_on_the_firmest_point() -> None:
    """A crossing stands, free ends move, however many they are."""
    assert joined([(0, 0), (0, 0), (1, 0)], [2, 2, 0])[1] == [[1.0, 0.0]]


def test_tie_goes_to_the_smallest_coordinates() -> None:
    """Of two lone points the western one stands."""
    assert joined([(1, 0), (0, 0)])[1] == [[0.0, 0.0]]


def test_chain_is_parted() -> None:
    """In a chain of points 1.5 m apart no point moves farther than the snap distance."""
    points = np.column_stack((np.arange(40) * 1.5, np.zeros(40)))
    nodes = cluster(points, np.zeros(40, dtype=np.int64), SNAP)
    assert np.hypot(*(nodes.xy[nodes.node] - points).T).max() <= SNAP
    assert 13 <= len(nodes.xy) <= 27


@given(st.integers(0, 10_000))
def test_groups_against_scipy(seed: int) -> None:
    """Where no chain is too long, groups are the connected components of the pairs within the snap distance."""
    rng = np.random.default_rng(seed)
    points = np.concatenate([rng.uniform(-0.9, 0.9, (4, 2)) + centre for centre in rng.integers(0, 40, (12, 2)) * 10])
    pairs = cKDTree(points).query_pairs(SNAP, output_type="ndarray")
    graph = coo_matrix((np.ones(len(pairs)), pairs.T), shape=(len(points), len(points)))
    count, label = connected_components(graph, directed=False)
    nodes = cluster(points, np.zeros(len(points), dtype=np.int64), SNAP)
    moved = np.hypot(*(nodes.xy[nodes.node] - points).T)
    assert moved.max() <= SNAP + 1e-9
    if len(nodes.xy) == count:
        assert len({(a, b) for a, b in zip(label.tolist(), nodes.node.tolist(), strict=True)}) == count
    else:
        assert len(nodes.xy) > count


@given(st.integers(0, 10_000))
def test_order_of_points_does_not_matter(seed: int) -> None:
    """The nodes are the same in whatever order the points come."""
    rng = np.random.default_rng(seed)
    points = rng.uniform(0, 30, (60, 2))
    rank = rng.integers(0, 3, 60)
    order = rng.permutation(60)
    one, two = cluster(points, rank, SNAP), cluster(points[order], rank[order], SNAP)
    assert one.xy[one.node][order] == pytest.approx(two.xy[two.node])
