"""Joins points that lie closer than the snap distance into nodes."""

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

__all__ = ["Nodes", "cluster"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_SAME_M = 1e-5
"""Points nearer than about this are the same point computed twice, m."""
_ROUND_M = 1e-6
"""Distances that differ by less are equal when a representative is chosen, m."""


@dataclass(frozen=True, slots=True)
class Nodes:
    """Points joined to nodes."""

    node: Ints
    """Node of each point."""
    xy: Floats
    """Where each node stands, (nodes, 2), m."""


def cluster(xy: Floats, rank: Ints, snap_m: float) -> Nodes:
    """Join points closer than *snap_m*, also through others, into one node.

    The node stands on one of its points: of the lowest rank; of these, where most points coincide; of these, the
    nearest to the middle; of these, the smallest x, then y. So the outcome does not depend on the order of the
    points. Where points hang together in a chain so long that one of them would move farther than *snap_m*, the chain
    is parted: each chosen point in turn takes those within *snap_m*, so that none ever moves farther.

    Parameters
    ----------
    xy
        Points (n, 2), m.
    rank
        How ready each point is to move; the lowest stands firmest.
    snap_m
        Snap distance, m.
    """
    _, first, inverse, count = np.unique(
        np.round(xy / _SAME_M), axis=0, return_index=True, return_inverse=True, return_counts=True
    )
    places, inverse = xy[first], inverse.reshape(-1)
    best_rank = np.full(len(places), np.iinfo(np.int64).max)
    np.minimum.at(best_rank, inverse, rank)
    label = _components(places, snap_m)
    standing = _representatives(places, best_rank, count, label)[label]
    moved = np.hypot(*(places - places[standing]).T)
    for long in np.unique(label[moved > snap_m + _ROUND_M]):
        _part_chain(np.flatnonzero(label == long), places, best_rank, standing, snap_m)
    chosen, node = np.unique(standing, return_inverse=True)
    return Nodes(node.reshape(-1)[inverse].astype(np.int64), places[chosen])


def _components(places: Floats, snap_m: float) -> Ints:
    """Give a number to the groups of points that hang together, by the smallest index in each, made dense."""
    points = shapely.points(places)
    left, right = shapely.STRtree(points).query(points, predicate="dwithin", distance=snap_m)
    label = np.arange(len(places))
    while True:
        lower = label.copy()
        np.minimum.at(lower, left, label[right])
        lower = lower[lower]
        if np.array_equal(lower, label):
            break
        label = lower
    return np.unique(label, return_inverse=True)[1].astype(np.int64)


def _representatives(places: Floats, rank: Ints, count: Ints, label: Ints) -> Ints:
    """Choose the point on which each group stands."""
    groups = int(label.max()) + 1 if label.size else 0
    weight = np.bincount(label, weights=count, minlength=groups)
    middle = np.column_stack(
        [np.bincount(label, weights=count * places[:, column], minlength=groups) / weight for column in (0, 1)]
    )
    distance = np.round(np.hypot(*(places - middle[label]).T) / _ROUND_M)
    order = np.lexsort((places[:, 1], places[:, 0], distance, -count, rank, label))
    starts = np.searchsorted(label[order], np.arange(groups))
    return np.asarray(order[starts], dtype=np.int64)


def _part_chain(members: Ints, places: Floats, rank: Ints, standing: Ints, snap_m: float) -> None:
    """Part one chain: each chosen point in turn takes the free ones within reach; *standing* is filled in."""
    order = members[np.lexsort((places[members, 1], places[members, 0], rank[members]))]
    while order.size:
        taken = np.hypot(*(places[order] - places[order[0]]).T) <= snap_m
        standing[order[taken]] = order[0]
        order = order[~taken]
