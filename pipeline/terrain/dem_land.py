"""The land round a network as one grid of heights, coarse enough to lead water over.

Cells of a finer model are averaged, those of a coarser one interpolated. Models are asked in the order they are named;
one that fills the gaps of those before it is shifted by the middle difference where both know the ground, so that no
difference of datums stands there as a dam. Heights are whole multiples of 1/1024 m: sums and differences of such
numbers are exact in single precision, so that water that stands is level to the last digit.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from pyproj import CRS
from rasterio.warp import Resampling

from pipeline.terrain.dem_grid import Grid, GridReader
from pipeline.terrain.dem_warp import Frame, cell_in, warp_grid

__all__ = ["Land", "read_land"]

Float32 = NDArray[np.float32]
Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]

MOST_CELLS = 4_000_000
"""Cells of a larger site are coarser: 36 km² at 3 m. Water is led over as many in some four seconds."""
GRAIN = np.float32(1024.0)
"""Grains of height a metre; exact in single precision up to 16 km."""
FINE = 0.75
"""A model whose cells are smaller than this share of the land's is averaged."""
DETAIL = 4
"""Most cells of a model that are averaged along a side of a cell of the land; cells are skipped beyond."""


@dataclass(frozen=True, slots=True)
class Land:
    """Heights of land on an upright grid of square cells."""

    heights: Float32
    """m, shape (rows, columns), row 0 in the north; NaN where there are none."""
    west: float
    north: float
    cell_m: float

    def cells_at(self, x: Float64, y: Float64) -> Int64:
        """Give the number of the cell, counted by rows, that each point lies in; −1 beside the grid."""
        column = np.floor((x - self.west) / self.cell_m).astype(np.int64)
        row = np.floor((self.north - y) / self.cell_m).astype(np.int64)
        rows, columns = self.heights.shape
        inside = (row >= 0) & (row < rows) & (column >= 0) & (column < columns)
        return np.where(inside, row * columns + column, -1)

    def middles(self, cells: Int64) -> tuple[Float64, Float64]:
        """Give the middles of cells."""
        row, column = np.divmod(cells, self.heights.shape[1])
        return self.west + (column + 0.5) * self.cell_m, self.north - (row + 0.5) * self.cell_m


def read_land(grids: Sequence[Grid], bounds: tuple[float, float, float, float], crs: CRS, cell_m: float) -> Land:
    """Read the land within bounds.

    Parameters
    ----------
    grids
        Elevation models, finest first; at least one.
    bounds
        West, south, east, north, m.
    crs
        The working CRS.
    cell_m
        Side of the cells that is wanted. The finest model's own cell is taken where that is larger, and a larger one
        where there would be more than :data:`MOST_CELLS`.

    Raises
    ------
    InputMissingError
        When a file cannot be read.
    """
    frame, cell_m = _frame(bounds, crs.to_2d(), max(cell_m, cell_in(grids[0], crs.to_2d(), bounds)))
    heights = np.full((frame.height, frame.width), np.nan, dtype=np.float32)
    with GridReader() as reader:
        for grid in grids:
            gaps = np.isnan(heights)
            if gaps.any():
                _fill(heights, gaps, _warped(grid, reader, frame, cell_m))
    grains: Float32 = np.round(heights * GRAIN)
    return Land(grains / GRAIN, frame.west, frame.north, cell_m)


def _frame(bounds: tuple[float, float, float, float], crs: CRS, cell_m: float) -> tuple[Frame, float]:
    """Lay whole cells round bounds; their borders lie on multiples of the cell, whatever the bounds."""
    west, south, east, north = bounds
    cell_m = max(cell_m, float(np.sqrt((east - west) * (north - south) / MOST_CELLS)))
    left, bottom = int(np.floor(west / cell_m)), int(np.floor(south / cell_m))
    right, top = int(np.floor(east / cell_m)) + 1, int(np.floor(north / cell_m)) + 1
    sides = (left * cell_m, bottom * cell_m, right * cell_m, top * cell_m)
    return Frame(*sides, width=right - left, height=top - bottom, crs=crs), cell_m


def _warped(grid: Grid, reader: GridReader, frame: Frame, cell_m: float) -> Float32 | None:
    """Lay one grid over the frame."""
    own_m = cell_in(grid, frame.crs, (frame.west, frame.south, frame.east, frame.north))
    how = Resampling.average if own_m < FINE * cell_m else Resampling.bilinear
    return warp_grid(grid, reader, frame, DETAIL * max(frame.width, frame.height), how)


def _fill(heights: Float32, gaps: NDArray[np.bool_], more: Float32 | None) -> None:
    """Fill the gaps of *heights* with more, raised or lowered to them where both are known."""
    if more is None:
        return
    apart = (heights - more)[~gaps]
    known = apart[~np.isnan(apart)]
    shift = np.float32(np.median(known)) if known.size else np.float32(0.0)
    np.copyto(heights, more + shift, where=gaps)
