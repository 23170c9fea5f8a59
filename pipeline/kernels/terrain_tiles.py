"""Sorting points into the macro-tiles of a grid, so that each part of it is read once."""

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.compiled import inner, kernel

__all__ = ["sort_into_tiles"]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]


@kernel
def sort_into_tiles(
    points: tuple[Float64, Float64], to_cell: Float64, box: tuple[int, int, int, int], side: int, known: Float64
) -> tuple[Int64, Int64, Float64]:
    """Sort the points that still want a height into square tiles of cells, row by row of tiles.

    Parameters
    ----------
    points
        x and y of all points, in the grid's own coordinates.
    to_cell
        Six numbers to cell centres, as for :func:`pipeline.kernels.surface.sample_surface`.
    box
        First column and row, columns and rows of the grid; points more than a cell outside are left out.
    side
        Side of a tile, cells.
    known
        Heights so far: points whose height is not NaN are left out.

    Returns
    -------
    tuple
        Indices of the points, tile after tile and in their own order within it; where each tile begins among them
        (length tiles + 1); and the lowest and highest column and row of its points (tiles × 4, as column low, column
        high, row low, row high).
    """
    across, down = (box[2] + 1) // side + 1, (box[3] + 1) // side + 1
    starts = np.zeros(across * down + 1, dtype=np.int64)
    bounds = np.empty((across * down, 4))
    bounds[:, 0::2], bounds[:, 1::2] = np.inf, -np.inf
    tile = np.full(known.size, -1, dtype=np.int64)
    for i in range(known.size):
        if not (np.isnan(known[i]) and np.isfinite(points[0][i]) and np.isfinite(points[1][i])):
            continue
        column = to_cell[0] * points[0][i] + to_cell[1] * points[1][i] + to_cell[2]
        row = to_cell[3] * points[0][i] + to_cell[4] * points[1][i] + to_cell[5]
        right, below = column - box[0] + 1.0, row - box[1] + 1.0
        if 0.0 <= right <= box[2] + 1 and 0.0 <= below <= box[3] + 1:
            number = int(below) // side * across + int(right) // side
            tile[i] = number
            starts[number + 1] += 1
            _stretch(bounds[number], column, row)
    return _listed(tile, starts), np.cumsum(starts), bounds


@inner
def _stretch(bounds: Float64, column: float, row: float) -> None:
    """Stretch a tile's bounds to hold a point."""
    bounds[0], bounds[1] = min(bounds[0], column), max(bounds[1], column)
    bounds[2], bounds[3] = min(bounds[2], row), max(bounds[3], row)


@inner
def _listed(tile: Int64, counts: Int64) -> Int64:
    """List the points tile by tile; *counts* holds the number in tile ``k`` at ``k + 1``."""
    following = np.cumsum(counts)
    pick = np.empty(following[-1], dtype=np.int64)
    for i in range(tile.size):
        if tile[i] >= 0:
            pick[following[tile[i]]] = i
            following[tile[i]] += 1
    return pick
