"""Heights and gradients of the ground at points, from one or more elevation models.

Models are asked in the order they are named, finest first: a point takes its height from the first that has one.
Points go to the model (transformed into its CRS), never the model to the points, and gradients come back as rise per
metre of the working CRS, whatever the model's own CRS, cell or rotation. Windows are read in tile order, just large
enough for the points in them; no slope raster is ever made.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from pyproj import CRS, Transformer

from pipeline.errors import DataError, Fault
from pipeline.kernels.surface import Patches, sample_surface
from pipeline.kernels.terrain_lattice import Lattice, Warped, warp_points
from pipeline.kernels.terrain_tiles import sort_into_tiles
from pipeline.terrain.dem_file import open_file
from pipeline.terrain.dem_grid import Box, Grid, GridReader, join_tiles

__all__ = ["Extent", "Samples", "cell_sides", "check_elevation", "open_grids", "sample_ground"]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]

MACRO_TILE = 2048
"""Side of the squares of cells in which points are sampled together: bounds the memory of a window to 17 MB."""
LATTICE_M = 200.0
"""Spacing of the lattice on which a change of CRS is exact; between its points it is right to about a millimetre."""
MARGIN = 2
"""Cells round a point that a bicubic patch may need."""


@dataclass(frozen=True, slots=True)
class Samples:
    """The ground at points; arrays of equal length."""

    height: Float64
    """m; NaN where no model has one."""
    gradient_x: Float64
    """Rise per metre of easting."""
    gradient_y: Float64
    """Rise per metre of northing."""
    model: Int64
    """Which of the grids gave the height, from 0; −1 for none."""


class Extent(NamedTuple):
    """Where a network lies."""

    west: float
    south: float
    east: float
    north: float
    crs: CRS
    """The working CRS that the bounds are in."""


def open_grids(paths: Sequence[Path]) -> tuple[Grid, ...]:
    """Open elevation models and join their tiles.

    Raises
    ------
    DataError
        With every fault of every file.
    """
    opened = [open_file(path) for path in paths]
    faults = [fault for _, found in opened for fault in found]
    if faults:
        raise DataError(faults)
    return join_tiles(file for file, _ in opened if file is not None)


def check_elevation(paths: Sequence[Path], extent: Extent | None = None) -> list[Fault]:
    """Find the faults of elevation models.

    Parameters
    ----------
    paths
        The files, finest first.
    extent
        Where the network lies; ``None`` when that is not known, and only the files themselves are looked at.

    Returns
    -------
    list of Fault
        Files that cannot be read, have no CRS, hold no heights, heights in an unknown unit, name tiles that are
        missing; models (files that share a grid are one) that lie beside the network altogether.
    """
    opened = [open_file(path) for path in paths]
    faults = [fault for _, found in opened for fault in found]
    if extent is None:
        return faults
    beside = "lies beside the network: no point of it has a height here"
    for grid in join_tiles(file for file, _ in opened if file is not None):
        if not _overlaps(grid, extent):
            path = grid.tiles[0].file.path
            faults.append(Fault(path, "", beside, mend="check its CRS, or take it out of the settings"))
    return faults


def _overlaps(grid: Grid, extent: Extent) -> bool:
    """Tell whether the cells of a grid and the bounds of a network have anything in common."""
    side = np.linspace(0.0, 1.0, 21)
    across, up = side * (extent.east - extent.west), side * (extent.north - extent.south)
    x, y = np.meshgrid(extent.west + across, extent.south + up)
    u, v = _transformer(extent.crs, grid).transform(x.ravel(), y.ravel())
    a, b, c, d, e, f = grid.to_cell
    column, row = a * u + b * v + c + 0.5, d * u + e * v + f + 0.5
    known = np.isfinite(column) & np.isfinite(row)
    if not known.any():
        return False
    column, row, box = column[known], row[known], grid.box
    meets = column.max() >= box.column and column.min() <= box.column + box.columns
    return bool(meets and row.max() >= box.row and row.min() <= box.row + box.rows)


def sample_ground(grids: Sequence[Grid], reader: GridReader, crs: CRS, x: Float64, y: Float64) -> Samples:
    """Sample height and gradient of the ground at points.

    Parameters
    ----------
    grids
        Elevation models in order of preference.
    reader
        An open reader.
    crs
        CRS of the points; projected, metres.
    x, y
        Points, m.

    Returns
    -------
    Samples
        The ground at the points, in their order.

    Raises
    ------
    InputMissingError
        When a file cannot be read.
    """
    patches = Patches(*(np.full(x.size, np.nan) for _ in range(3)))
    model = np.full(x.size, -1, dtype=np.int64)
    for number, grid in enumerate(grids):
        if (model >= 0).all():
            break
        _sample_grid(grid, reader, crs, (x, y), patches)
        model[(model < 0) & ~np.isnan(patches.height)] = number
    return Samples(patches.height, patches.gradient_x, patches.gradient_y, model)


def _sample_grid(grid: Grid, reader: GridReader, crs: CRS, points: tuple[Float64, Float64], patches: Patches) -> None:
    """Sample one grid at the points that have no height yet."""
    warped = None if _is_crs(crs, grid) else warp_points(_lattice(crs, grid, *points), *points)
    places = points if warped is None else (warped.u, warped.v)
    for pick, box in _windows(grid, places, patches.height):
        heights = reader.read(grid, box)
        if heights is None:
            continue
        sample_surface(heights, _shifted(grid.to_cell, box), places, pick, patches)
        if warped is not None:
            _to_working(patches, warped, pick)


def _shifted(to_cell: Float64, box: Box) -> Float64:
    """Count cells from the first one of a box."""
    return np.asarray(to_cell - np.array([0.0, 0.0, box.column, 0.0, 0.0, box.row]))


def _windows(grid: Grid, places: tuple[Float64, Float64], known: Float64) -> Iterator[tuple[Int64, Box]]:
    """Yield the points without a height in tile order, each lot with the smallest box that its patches need."""
    box = grid.box
    corner = (box.column, box.row, box.columns, box.rows)
    pick, starts, bounds = sort_into_tiles(places, grid.to_cell, corner, MACRO_TILE, known)
    for tile in np.flatnonzero(np.diff(starts)):
        window = _box_of(*bounds[tile]).overlap(box)
        if window is not None:
            yield pick[starts[tile] : starts[tile + 1]], window


def _box_of(column_low: float, column_high: float, row_low: float, row_high: float) -> Box:
    """Give the smallest box of cells for bicubic patches at points given in cell centres."""
    left, top = int(np.floor(column_low)) - MARGIN, int(np.floor(row_low)) - MARGIN
    right, bottom = int(np.floor(column_high)) + MARGIN + 1, int(np.floor(row_high)) + MARGIN + 1
    return Box(left, top, right - left + 1, bottom - top + 1)


def _to_working(patches: Patches, warped: Warped, pick: Int64) -> None:
    """Turn gradients per unit of the model's CRS into rise per metre of the working CRS (the chain rule)."""
    u, v = patches.gradient_x[pick], patches.gradient_y[pick]
    patches.gradient_x[pick] = u * warped.u_x[pick] + v * warped.v_x[pick]
    patches.gradient_y[pick] = u * warped.u_y[pick] + v * warped.v_y[pick]


def cell_sides(grids: Sequence[Grid], crs: CRS, model: Int64, x: Float64, y: Float64) -> Float64:
    """Give the larger side of the cell that each height came from, in metres of the working CRS.

    Parameters
    ----------
    grids, crs, x, y
        As for :func:`sample_ground`.
    model
        Which of the grids gave the height at each point; negative for none.

    Returns
    -------
    ndarray
        Cell, m; NaN without one.
    """
    out = np.full(x.size, np.nan)
    for number, grid in enumerate(grids):
        here = np.flatnonzero(model == number)
        if here.size:
            out[here] = _cell_side(grid, crs, x[here], y[here])
    return out


def _cell_side(grid: Grid, crs: CRS, x: Float64, y: Float64) -> float | Float64:
    """Give the larger side of one grid's cell: one number in the working CRS, one a point in another."""
    a, b, _, d, e, _ = grid.transform
    if _is_crs(crs, grid):
        return max(float(np.hypot(a, d)), float(np.hypot(b, e)))
    warped = warp_points(_lattice(crs, grid, x, y), x, y)
    scale = np.abs(warped.u_x * warped.v_y - warped.u_y * warped.v_x)
    by_column = np.hypot(warped.v_y * a - warped.u_y * d, warped.u_x * d - warped.v_x * a)
    by_row = np.hypot(warped.v_y * b - warped.u_y * e, warped.u_x * e - warped.v_x * b)
    return np.asarray(np.maximum(by_column, by_row) / scale)


def _lattice(crs: CRS, grid: Grid, x: Float64, y: Float64) -> Lattice:
    """Transform a lattice round the points exactly; it is anchored at 0, so that points share it whatever their lot."""
    first = [np.floor(values.min() / LATTICE_M) * LATTICE_M for values in (x, y)]
    sides = [max(int(np.ceil((v.max() - f) / LATTICE_M)), 1) + 1 for v, f in zip((x, y), first, strict=True)]
    xx, yy = np.meshgrid(first[0] + LATTICE_M * np.arange(sides[0]), first[1] + LATTICE_M * np.arange(sides[1]))
    u, v = _transformer(crs, grid).transform(xx, yy)
    return Lattice(float(first[0]), float(first[1]), LATTICE_M, np.ascontiguousarray(u), np.ascontiguousarray(v))


def _transformer(crs: CRS, grid: Grid) -> Transformer:
    """Make the transformer from the working CRS to a grid's, x before y, heights left alone."""
    return Transformer.from_crs(crs.to_2d(), CRS.from_wkt(grid.crs).to_2d(), always_xy=True)


def _is_crs(crs: CRS, grid: Grid) -> bool:
    """Tell whether a grid lies in the working CRS."""
    return CRS.from_wkt(grid.crs).to_2d().equals(crs.to_2d(), ignore_axis_order=True)
