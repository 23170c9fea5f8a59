"""The centre lines of a network as flat arrays."""

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.kernels.stations import Lines, vertex_chainages
from pipeline.survey.model import Network

__all__ = ["CentreLines", "centre_lines", "subset"]


@dataclass(frozen=True, slots=True)
class CentreLines:
    """Centre lines, with the heights of those that were surveyed."""

    lines: Lines
    """Vertices, in the order of the segments."""
    z: NDArray[np.float64]
    """Height of every vertex, m; NaN where the line brings none."""
    surveyed: NDArray[np.bool_]
    """Which lines are survey grade: their own heights are the profile."""
    deck: NDArray[np.bool_]
    """Which lines are carried over or under the ground (bridges, tunnels): no elevation model knows their heights."""

    @property
    def length_m(self) -> NDArray[np.float64]:
        """Plan length of every line, m."""
        return self.lines.chainage[self.lines.offsets[1:] - 1]


def centre_lines(network: Network) -> CentreLines:
    """Lay the centre lines of *network* out as flat arrays, in the order of its segments."""
    shapes = network.segments.geometry.to_numpy()
    coordinates, index = shapely.get_coordinates(shapes, include_z=True, return_index=True)
    counts = np.bincount(index, minlength=len(shapes))
    offsets = np.concatenate(([0], np.cumsum(counts))).astype(np.int64)
    x, y, z = (np.ascontiguousarray(column) for column in coordinates.T)
    surveyed = (network.segments["profile"] == "survey").fillna(value=False).to_numpy(dtype=bool)
    deck = (network.segments["bridge"] | network.segments["tunnel"]).to_numpy(dtype=bool)
    return CentreLines(Lines(x, y, vertex_chainages(x, y, offsets), offsets), z, surveyed, deck)


def subset(centre: CentreLines, rows: NDArray[np.int64]) -> CentreLines:
    """Take the lines at *rows*, in that order."""
    offsets, pick = ragged_pick(centre.lines.offsets, rows)
    lines = Lines(centre.lines.x[pick], centre.lines.y[pick], centre.lines.chainage[pick], offsets)
    return CentreLines(lines, centre.z[pick], centre.surveyed[rows], centre.deck[rows])


def ragged_pick(offsets: NDArray[np.int64], rows: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Index the members of ragged *rows*: their offsets once picked, and where each member stood."""
    counts = np.diff(offsets)[rows]
    picked = np.concatenate(([0], np.cumsum(counts))).astype(np.int64)
    return picked, np.repeat(offsets[rows] - picked[:-1], counts) + np.arange(picked[-1])
