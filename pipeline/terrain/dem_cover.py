"""Looks whether elevation models hold heights where the network lies, before anything is computed from them."""

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import shapely
from numpy.typing import NDArray
from pyproj import CRS

from pipeline.errors import Fault, InputMissingError
from pipeline.terrain.dem import open_grids, sample_ground
from pipeline.terrain.dem_grid import Grid, GridReader

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
    x, y = np.ascontiguousarray(shapely.get_coordinates(dense).T)
    with GridReader() as reader:
        found = [_look(grid, reader, crs, x, y) for grid in open_grids(paths)]
    return [fault for fault in found if fault is not None]


def _look(grid: Grid, reader: GridReader, crs: CRS, x: NDArray[np.float64], y: NDArray[np.float64]) -> Fault | None:
    """Find the fault of one model."""
    path = grid.tiles[0].file.path
    try:
        height = sample_ground([grid], reader, crs, x, y).height
    except InputMissingError as error:
        return error.faults[0]
    known = height[~np.isnan(height)]
    if not known.size:
        mend = "check its CRS and its nodata value, or take it out of the settings"
        return Fault(path, "", "holds no height under any trail: it is void there", "heights under the trails", mend)
    if not known.any():
        mend = "mark them as void: gdal_edit.py -a_nodata 0 <file>"
        return Fault(path, "", "every height under the trails is exactly 0", "heights in metres", mend)
    return None
