"""The raster the hill is drawn on, and the few array tools that drawing needs.

Everything here is made of sums, products and elementary functions in a fixed order: no random generator whose
stream could change with a library, no transform whose rounding depends on the machine.
"""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "COLUMNS",
    "CRS",
    "EAST_M",
    "NORTH_M",
    "ROWS",
    "Floats",
    "bilinear",
    "cell_centres",
    "noise",
    "polyline_distance",
    "smoothstep",
]

Floats = NDArray[np.float64]

CRS = "EPSG:25832"
"""ETRS89 / UTM zone 32N. The hill stands nowhere: its place was chosen for round numbers."""
EAST_M = 612_000.0
"""Easting of the south-west corner."""
NORTH_M = 5_384_000.0
"""Northing of the south-west corner."""
COLUMNS = 1100
"""Cells of 1 m, west to east."""
ROWS = 900
"""Cells of 1 m, south to north (row 0 of every array here is the southernmost)."""


def cell_centres() -> tuple[Floats, Floats]:
    """Give x and y of every cell centre, metres from the south-west corner, shape (ROWS, COLUMNS)."""
    y, x = np.mgrid[0:ROWS, 0:COLUMNS].astype(np.float64)
    return x + 0.5, y + 0.5


def _lattice(columns: NDArray[np.int64], rows: NDArray[np.int64], seed: int) -> Floats:
    """Give a number in −1…1 for every lattice point: the splitmix64 finaliser (Steele, Lea, Flood 2014)."""
    mix = columns.astype(np.uint64) * np.uint64(0x9E3779B97F4A7C15)
    mix ^= rows.astype(np.uint64) * np.uint64(0xC2B2AE3D27D4EB4F)
    mix += np.uint64(seed * 0xD1B54A32D192ED03 % (1 << 64))
    mix = (mix ^ (mix >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    mix = (mix ^ (mix >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    mix ^= mix >> np.uint64(31)
    return (mix >> np.uint64(11)).astype(np.float64) / float(1 << 52) - 1.0


def smoothstep(share: Floats) -> Floats:
    """Go from 0 to 1 with level ends (6t⁵ − 15t⁴ + 10t³); shares outside 0–1 are cut off."""
    t = np.clip(share, 0.0, 1.0)
    return t * t * t * (t * (t * 6.0 - 15.0) + 10.0)


def noise(x: Floats, y: Floats, wavelength_m: float, seed: int) -> Floats:
    """Give smooth value noise, about −1…1, with features of *wavelength_m* metres."""
    cell_x, cell_y = x / wavelength_m, y / wavelength_m
    column, row = np.floor(cell_x).astype(np.int64), np.floor(cell_y).astype(np.int64)
    u, v = smoothstep(cell_x - column), smoothstep(cell_y - row)
    south = _lattice(column, row, seed) * (1.0 - u) + _lattice(column + 1, row, seed) * u
    north = _lattice(column, row + 1, seed) * (1.0 - u) + _lattice(column + 1, row + 1, seed) * u
    return south * (1.0 - v) + north * v


def polyline_distance(x: Floats, y: Floats, line: Sequence[tuple[float, ...]]) -> tuple[Floats, Floats]:
    """Measure the distance to a polyline and blend its third coordinate.

    The value is the mean over all pieces of the line, weighted by the fourth power of 1 / (distance² + 25 m²),
    so that it changes smoothly across places that are equally near to two pieces.

    Parameters
    ----------
    x, y
        Places, any common shape, metres.
    line
        Vertices (x, y, value).

    Returns
    -------
    tuple of arrays
        Distance, m, and the blended value, both of the shape of *x*.
    """
    nearest = np.full(x.shape, np.inf)
    total, weights = np.zeros(x.shape), np.zeros(x.shape)
    for (ax, ay, av), (bx, by, bv) in pairwise(line):
        dx, dy = bx - ax, by - ay
        share = np.clip(((x - ax) * dx + (y - ay) * dy) / (dx * dx + dy * dy), 0.0, 1.0)
        square = np.square(x - ax - share * dx) + np.square(y - ay - share * dy)
        weight = np.square(np.square(1.0 / (square + 25.0)))
        nearest = np.minimum(nearest, square)
        total += weight * (av + share * (bv - av))
        weights += weight
    return np.sqrt(nearest), total / weights


def bilinear(grid: Floats, x: Floats, y: Floats) -> Floats:
    """Read *grid* at places given in metres from the south-west corner, bilinear between cell centres."""
    column = np.clip(x - 0.5, 0.0, COLUMNS - 1.000001)
    row = np.clip(y - 0.5, 0.0, ROWS - 1.000001)
    j, i = column.astype(np.int64), row.astype(np.int64)
    u, v = column - j, row - i
    south = grid[i, j] * (1.0 - u) + grid[i, j + 1] * u
    north = grid[i + 1, j] * (1.0 - u) + grid[i + 1, j + 1] * u
    return south * (1.0 - v) + north * v
