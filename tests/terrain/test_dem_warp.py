"""Elevation models laid over a grid in another CRS."""

from pathlib import Path

import numpy as np
import pytest
from pyproj import CRS, Transformer
from rasterio.warp import Resampling

from pipeline.terrain.dem import open_grids
from pipeline.terrain.dem_grid import GridReader
from pipeline.terrain.dem_warp import Frame, box_under, cell_in, warp_grid
from tests.worlds import ORIGIN, UTM, Grid, plane, write_elevation

CRS_UTM = CRS.from_user_input(UTM)
EAST = plane(0.1, -0.05)


def frame(west: float = 5.0, south: float = 5.0, side: float = 30.0, pixels: int = 10) -> Frame:
    """Lay a square frame, metres from the origin of the tiny worlds."""
    x, y = ORIGIN[0] + west, ORIGIN[1] + south
    return Frame(x, y, x + side, y + side, pixels, pixels, CRS_UTM)


def test_an_average_of_cells_is_the_height_in_the_middle_of_a_plane(tmp_path: Path) -> None:
    """Three cells a pixel, whole ones: exact at the pixels' middles; row 0 is in the north."""
    (grid,) = open_grids([write_elevation(tmp_path / "plane.tif", EAST)])
    place = frame()
    with GridReader() as reader:
        got = warp_grid(grid, reader, place, 1000, Resampling.average)
    assert got is not None
    x = place.west + 3.0 * (np.arange(10) + 0.5)
    y = place.north - 3.0 * (np.arange(10) + 0.5)
    assert got == pytest.approx(EAST.height(*np.meshgrid(x, y)), abs=1e-3)


def test_degrees_are_laid_over_metres(tmp_path: Path) -> None:
    """A model in geographic coordinates: the same heights at the same places, as pyproj tells them."""
    to_degrees = Transformer.from_crs(UTM, "EPSG:4326", always_xy=True)
    lon, lat = to_degrees.transform(*ORIGIN)
    cell = 1e-5
    degrees = Grid(width=120, height=120, cell=cell, corner=(lon - 10 * cell, lat - 10 * cell), crs="EPSG:4326")
    lons, lats = degrees.centres()
    x, y = Transformer.from_crs("EPSG:4326", UTM, always_xy=True).transform(lons, lats)
    (grid,) = open_grids([write_elevation(tmp_path / "degrees.tif", EAST.height(x, y), degrees)])
    place = frame(pixels=30)
    with GridReader() as reader:
        got = warp_grid(grid, reader, place, 1000)
    assert got is not None
    x, y = np.meshgrid(place.west + np.arange(30) + 0.5, place.north - np.arange(30) - 0.5)
    assert got == pytest.approx(EAST.height(x, y), abs=0.05)
    wide, high = cell * 111_320.0 * np.cos(np.radians(lat)), cell * 111_000.0
    assert wide * 0.98 < cell_in(grid, CRS_UTM, (place.west, place.south, place.east, place.north)) < high


def test_a_grid_beside_the_frame_gives_nothing(tmp_path: Path) -> None:
    """No cell lies under it, and none is read."""
    (grid,) = open_grids([write_elevation(tmp_path / "plane.tif", EAST)])
    beside = frame(west=500.0)
    assert box_under(grid, beside) is None
    with GridReader() as reader:
        assert warp_grid(grid, reader, beside, 1000) is None


def test_only_the_cells_under_the_frame_are_read(tmp_path: Path) -> None:
    """Two more all round, and no more than the grid has."""
    (grid,) = open_grids([write_elevation(tmp_path / "plane.tif", EAST)])
    box = box_under(grid, frame(west=10.0, south=20.0, side=12.0))
    assert box is not None
    assert (box.column, box.row) == (8 - 1, 60 - 32 - 2 - 1)
    assert 12 + 4 <= box.columns <= 12 + 6
    whole = box_under(grid, frame(west=-50.0, south=-50.0, side=200.0))
    assert whole == grid.box


def test_half_of_a_frame_may_be_unknown(tmp_path: Path) -> None:
    """NaN where the model ends."""
    (grid,) = open_grids([write_elevation(tmp_path / "narrow.tif", EAST, Grid(width=20, height=60))])
    with GridReader() as reader:
        got = warp_grid(grid, reader, frame(west=5.0), 1000, Resampling.average)
    assert got is not None
    assert np.isnan(got[:, 5:]).all()
    assert not np.isnan(got[:, :5]).any()
