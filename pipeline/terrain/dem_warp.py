"""Elevation models laid over an upright grid of pixels in another CRS."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from pyproj import CRS, Transformer
from rasterio.transform import Affine
from rasterio.warp import Resampling, reproject

from pipeline.terrain.dem_grid import Box, Grid, GridReader

__all__ = ["Frame", "box_under", "cell_in", "warp_grid"]

Float32 = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Frame:
    """An upright rectangle of pixels: row 0 in the north, column 0 in the west."""

    west: float
    south: float
    east: float
    north: float
    width: int
    height: int
    crs: CRS
    """A projected CRS, without heights."""

    @property
    def affine(self) -> Affine:
        """From pixel corners (column, row) to map coordinates."""
        along, down = (self.east - self.west) / self.width, (self.north - self.south) / self.height
        return Affine(along, 0.0, self.west, 0.0, -down, self.north)


def cell_in(grid: Grid, crs: CRS, bounds: tuple[float, float, float, float]) -> float:
    """Give the side of a grid's cell, along its rows, in another CRS at the middle of *bounds* (west … north)."""
    west, south, east, north = bounds
    x, y = 0.5 * (west + east), 0.5 * (south + north)
    u, v = _into(grid, crs).transform([x, x + 1.0], [y, y])
    a, _, _, d, _, _ = grid.transform
    return float(np.hypot(a, d) / np.hypot(u[1] - u[0], v[1] - v[0]))


def warp_grid(
    grid: Grid, reader: GridReader, frame: Frame, most: int, resampling: Resampling = Resampling.bilinear
) -> Float32 | None:
    """Lay the heights of a grid over a frame.

    Parameters
    ----------
    grid, reader
        The heights, and what reads them.
    frame
        Where they are wanted.
    most
        Most rows, and columns, of the grid that are read; cells are skipped beyond.
    resampling
        How cells become pixels.

    Returns
    -------
    ndarray or None
        Heights, m, shape (height, width), NaN where there are none; ``None`` where the grid lies beside the frame.

    Raises
    ------
    InputMissingError
        When a file cannot be read.
    """
    box = box_under(grid, frame)
    if box is None:
        return None
    shape = (min(box.rows, most), min(box.columns, most))
    source = reader.read(grid, box, shape)
    if source is None:
        return None
    warped = np.full((frame.height, frame.width), np.nan, dtype=np.float32)
    reproject(
        source,
        warped,
        src_transform=grid.transform_of(box, shape),
        src_crs=grid.crs,
        src_nodata=np.nan,
        dst_transform=frame.affine,
        dst_crs=frame.crs.to_wkt(),
        dst_nodata=np.nan,
        resampling=resampling,
    )
    return warped


def box_under(grid: Grid, frame: Frame) -> Box | None:
    """Give the cells of a grid that lie under a frame, and two more all round; ``None`` where there are none."""
    side = np.linspace(0.0, 1.0, 21)
    x = frame.west + side * (frame.east - frame.west)
    y = frame.south + side * (frame.north - frame.south)
    xx, yy = np.meshgrid(x, y)
    u, v = _into(grid, frame.crs).transform(xx.ravel(), yy.ravel())
    a, b, c, d, e, f = grid.to_cell
    column, row = a * u + b * v + c, d * u + e * v + f
    known = np.isfinite(column) & np.isfinite(row)
    if not known.any():
        return None
    left, top = int(np.floor(column[known].min())) - 2, int(np.floor(row[known].min())) - 2
    right, bottom = int(np.ceil(column[known].max())) + 3, int(np.ceil(row[known].max())) + 3
    return Box(left, top, right - left, bottom - top).overlap(grid.box)


def _into(grid: Grid, crs: CRS) -> Transformer:
    """Make the transformer from a CRS to a grid's, x before y, heights left alone."""
    return Transformer.from_crs(crs, CRS.from_wkt(grid.crs).to_2d(), always_xy=True)
