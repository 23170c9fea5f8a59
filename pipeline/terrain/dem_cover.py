"""Looks whether elevation models hold heights where the network lies, before anything is computed from them.

Nearest cells are looked up in plain NumPy: no sampling kernel is compiled before the inputs are known to be good.
"""

from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np
import shapely
from numpy.typing import NDArray
from pyproj import CRS, Transformer

from pipeline.errors import Fault, InputMissingError
from pipeline.terrain.dem import MACRO_TILE, open_grids
from pipeline.terrain.dem_grid import Box, Grid, GridReader

__all__ = ["check_cover"]

_EVERY_M = 10.0
"""Distance of the points that are looked at; a model finds all its cells of at least this size, and every block."""
_MOST_POINTS = 400_000
"""Points of a large network are farther apart, so that looking stays a matter of a second."""


def check_cover(paths: Sequence[Path], trails: Sequence[shapely.LineString], crs: CRS) -> list[Fault]:
    """Find elevation models that fail, or are void, along the trails.

    Parameters
    ----------
    paths
        Files in which :func:`~pipeline.terrain.dem.check_elevation` found no fault.
    trails
        Lines of the network.
    crs
        Their CRS.

    Returns
    -------
    list of Fault
        One for each model (files that share a grid are one) with cells under the trails that cannot be read, with no
        height under any trail, or with 0 as the height everywhere, which is an unmarked void.
    """
    length = float(shapely.length(trails).sum())
    dense = shapely.segmentize(shapely.force_2d(trails), max(_EVERY_M, length / _MOST_POINTS))
    xy = shapely.get_coordinates(dense)
    with GridReader() as reader:
        found = [_look(grid, reader, crs, xy) for grid in open_grids(paths)]
    return [fault for fault in found if fault is not None]


def _look(grid: Grid, reader: GridReader, crs: CRS, xy: NDArray[np.float64]) -> Fault | None:
    """Find the fault of one model."""
    path = grid.tiles[0].file.path
    try:
        known = np.concatenate([np.empty(0), *_heights(grid, reader, _cells(grid, crs, xy))])
    except InputMissingError as error:
        return error.faults[0]
    if not known.size:
        mend = "check its CRS and its nodata value, or take it out of the settings"
        return Fault(path, "", "holds no height under any trail: it is void there", "heights under the trails", mend)
    if not known.any():
        mend = "mark them as void: gdal_edit.py -a_nodata 0 <file>"
        return Fault(path, "", "every height under the trails is exactly 0", "heights in metres", mend)
    return None


def _cells(grid: Grid, crs: CRS, xy: NDArray[np.float64]) -> NDArray[np.int64]:
    """Give column and row of the cells under the points, each once; points beside the grid have none."""
    into = Transformer.from_crs(crs.to_2d(), CRS.from_wkt(grid.crs).to_2d(), always_xy=True)
    u, v = into.transform(xy[:, 0], xy[:, 1])
    a, b, c, d, e, f = grid.to_cell
    cells = np.column_stack((a * u + b * v + c, d * u + e * v + f))
    box = grid.box
    low = np.array([box.column, box.row]) - 0.5
    high = low + np.array([box.columns, box.rows])
    inside = ((cells >= low) & (cells < high)).all(axis=1)  # not so where not finite
    return np.unique(np.rint(cells[inside]).astype(np.int64), axis=0)


def _heights(grid: Grid, reader: GridReader, cells: NDArray[np.int64]) -> Iterator[NDArray[np.float64]]:
    """Yield the heights of cells, m, voids left out; window by window, as the terrain will be read."""
    squares, square = np.unique(cells // MACRO_TILE, axis=0, return_inverse=True)
    for number in range(len(squares)):
        here = cells[square.ravel() == number]
        (left, top), (right, bottom) = here.min(axis=0), here.max(axis=0)
        heights = reader.read(grid, Box(int(left), int(top), int(right - left + 1), int(bottom - top + 1)))
        if heights is not None:
            there = heights[here[:, 1] - top, here[:, 0] - left].astype(np.float64)
            yield there[~np.isnan(there)]
