"""Which segment goes on from which at a node, and how straight.

A segment *end* has the number 2·row for the start of the digitised direction and 2·row + 1 for its end; arrays over
ends have length 2 × segments. Everything is vectorised over the ends.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.stations import Lines, Pieces, place_samples
from pipeline.survey.model import Network
from pipeline.terrain.lines import CentreLines

__all__ = ["Joins", "find_joins"]

Int64 = NDArray[np.int64]
Float64 = NDArray[np.float64]

LOOK_M = 2.0
"""The direction of a segment at its end is that of its chord over this length: one vertex does not turn it."""
SHARPEST_TURN_DEG = 135.0
"""Pairs that turn more sharply than this have no run across the node: no vehicle rolls from one to the other.

Common practice, no source: beyond it the driver shunts, and the vehicle is never on both lines at once.
"""


@dataclass(frozen=True, slots=True)
class Joins:
    """How segment ends meet at nodes."""

    straightest: Int64
    """For every end, the end of the straightest neighbour; −1 at a dead end."""
    through: NDArray[np.bool_]
    """For every end, whether just two ends meet there, so that the line simply goes on."""
    from_end: Int64
    """Ends of the pairs besides the straightest one, in order."""
    to_end: Int64
    """The neighbour's end of those pairs."""


def find_joins(network: Network, centre: CentreLines) -> Joins:
    """Pair the segment ends that meet at each node of *network*.

    A segment never goes on into the end it came from; a ring may go on into its own other end. Between equally
    straight neighbours the first in the order of the segments is taken.
    """
    node = network.segments[["node_a", "node_b"]].to_numpy().ravel()
    out_x, out_y = _directions(centre)
    first, second = _pairs(node)
    straightness = -(out_x[first] * out_x[second] + out_y[first] * out_y[second])
    order = np.lexsort((second, -np.round(straightness, 9), first))
    first, second, straightness = first[order], second[order], straightness[order]
    leads = np.concatenate(([True], first[1:] != first[:-1])) if first.size else np.zeros(0, dtype=bool)
    straightest = np.full(node.size, -1, dtype=np.int64)
    straightest[first[leads]] = second[leads]
    others = ~leads & (straightness >= np.cos(np.radians(SHARPEST_TURN_DEG)))
    _, place, degree = np.unique(node, return_inverse=True, return_counts=True)
    return Joins(straightest, degree[place] == 2, first[others], second[others])


def _pairs(node: Int64) -> tuple[Int64, Int64]:
    """List all ordered pairs of different ends at the same node."""
    order = np.argsort(node, kind="stable")
    _, start, degree = np.unique(node[order], return_index=True, return_counts=True)
    group, size = np.repeat(start, degree), np.repeat(degree, degree)
    first = np.repeat(np.arange(node.size), size)
    within = np.arange(first.size) - np.repeat(np.cumsum(size) - size, size)
    second = np.repeat(group, size) + within
    differ = first != second
    return order[first[differ]], order[second[differ]]


def _directions(centre: CentreLines) -> tuple[Float64, Float64]:
    """Give the unit vector from each end into its segment, over the first :data:`LOOK_M`."""
    lines, length = centre.lines, centre.length_m
    rows = np.arange(length.size)
    look = np.minimum(LOOK_M, length)
    chainage = np.stack((look, length - look), axis=1).ravel()
    x, y = points_at(lines, np.repeat(rows, 2), chainage)
    tips = np.stack((lines.offsets[:-1], lines.offsets[1:] - 1), axis=1).ravel()
    dx, dy = x - lines.x[tips], y - lines.y[tips]
    reach = np.hypot(dx, dy)
    reach[reach == 0.0] = 1.0
    return dx / reach, dy / reach


def points_at(lines: Lines, rows: Int64, chainage: Float64) -> tuple[Float64, Float64]:
    """Give the points at chainages (m) of lines *rows*, one each."""
    single = np.arange(rows.size + 1, dtype=np.int64)
    pieces = Pieces(single, rows.astype(np.int64), np.zeros(rows.size), np.ones(rows.size, np.int64), chainage)
    x, y, _, _ = place_samples(lines, pieces, single, chainage, np.zeros(rows.size))
    return x, y
