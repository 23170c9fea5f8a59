"""Files joined into grids, and windows of them."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from pipeline.errors import InputMissingError
from pipeline.terrain.dem import open_grids
from pipeline.terrain.dem_grid import Box, GridReader
from tests.worlds import ORIGIN, Grid, plane, write_elevation

SLOPE = plane(0.25, -0.5)
WEST = Grid(width=8, height=6)
EAST = replace(WEST, corner=(ORIGIN[0] + 8.0, ORIGIN[1]))


def test_boxes_overlap_in_the_cells_they_share() -> None:
    """Half-open boxes: touching is not overlapping."""
    box = Box(0, 0, 8, 6)
    assert box.overlap(Box(5, -2, 10, 4)) == Box(5, 0, 3, 2)
    assert box.overlap(Box(8, 0, 2, 2)) is None
    assert box.overlap(Box(-3, -3, 20, 20)) == box


def test_aligned_tiles_are_one_grid(tmp_path: Path) -> None:
    """West and east tile of one model: one grid, the second eight columns on; a tile to the west counts backwards."""
    west, east = (write_elevation(tmp_path / f"{n}.tif", SLOPE, g) for n, g in (("w", WEST), ("e", EAST)))
    (grid,) = open_grids([west, east])
    assert [tile.box for tile in grid.tiles] == [Box(0, 0, 8, 6), Box(8, 0, 8, 6)]
    assert grid.box == Box(0, 0, 16, 6)
    (turned,) = open_grids([east, west])
    assert turned.box == Box(-8, 0, 16, 6)


@pytest.mark.parametrize(
    "other",
    [
        replace(EAST, cell=2.0),
        replace(EAST, corner=(ORIGIN[0] + 8.3, ORIGIN[1])),
        replace(EAST, crs="EPSG:32633"),
        replace(EAST, cell=1.01),
    ],
)
def test_other_cells_or_another_crs_are_another_grid(tmp_path: Path, other: Grid) -> None:
    """Tiles that do not fall on one another are asked one after the other, in the order given."""
    paths = [write_elevation(tmp_path / f"{k}.tif", SLOPE, grid) for k, grid in enumerate((WEST, other))]
    assert len(open_grids(paths)) == 2


def test_rounding_of_a_corner_does_not_split_a_model(tmp_path: Path) -> None:
    """A corner that is off by a millimetre of a 1 m cell is the same grid."""
    other = replace(EAST, corner=(ORIGIN[0] + 8.001, ORIGIN[1] - 0.002))
    paths = [write_elevation(tmp_path / f"{k}.tif", SLOPE, grid) for k, grid in enumerate((WEST, other))]
    assert len(open_grids(paths)) == 1


def test_a_grid_stands_where_its_first_file_is_named(tmp_path: Path) -> None:
    """Fine west, coarse, fine east: the fine grid comes first, whole."""
    coarse = Grid(width=4, height=4, cell=10.0)
    paths = [write_elevation(tmp_path / f"{k}.tif", SLOPE, g) for k, g in enumerate((WEST, coarse, EAST))]
    fine, rough = open_grids(paths)
    assert [len(fine.tiles), len(rough.tiles)] == [2, 1]
    assert fine.tiles[0].file.path == paths[0]


def test_a_window_runs_over_tile_borders(tmp_path: Path) -> None:
    """Cells of both tiles stand side by side; beyond all tiles there is NaN; beside them nothing."""
    paths = [write_elevation(tmp_path / f"{k}.tif", SLOPE, grid) for k, grid in enumerate((WEST, EAST))]
    (grid,) = open_grids(paths)
    with GridReader() as reader:
        window = reader.read(grid, Box(5, -1, 6, 4))
        assert reader.read(grid, Box(100, 0, 5, 5)) is None
    assert window is not None
    assert np.isnan(window[0]).all()
    x = ORIGIN[0] + 5.5 + np.arange(6.0)
    y = ORIGIN[1] + 5.5 - np.arange(3.0)
    assert window[1:] == pytest.approx(SLOPE.height(*np.meshgrid(x, y)), abs=1e-4)


def test_where_tiles_overlap_the_first_wins_and_the_next_fills_its_voids(tmp_path: Path) -> None:
    """A resurvey with a hole over an older tile."""
    newer = np.full((6, 8), 200.0)
    newer[2, 2] = np.nan
    paths = [write_elevation(tmp_path / "new.tif", newer, replace(WEST, nodata=-9999.0))]
    paths.append(write_elevation(tmp_path / "old.tif", np.full((6, 8), 100.0), WEST))
    (grid,) = open_grids(paths)
    with GridReader() as reader:
        window = reader.read(grid, grid.box)
    assert window is not None
    assert window[2, 2] == 100.0
    assert (window == 200.0).sum() == 47


def test_a_picture_skips_cells_and_keeps_tiles_in_their_place(tmp_path: Path) -> None:
    """Read at half size, the two tiles still meet in the middle."""
    flat = [np.full((6, 8), height) for height in (100.0, 200.0)]
    paths = [
        write_elevation(tmp_path / f"{k}.tif", z, g) for k, (z, g) in enumerate(zip(flat, (WEST, EAST), strict=True))
    ]
    (grid,) = open_grids(paths)
    with GridReader() as reader:
        window = reader.read(grid, grid.box, (3, 8))
    assert window is not None
    assert window.shape == (3, 8)
    assert window[1].tolist() == [100.0] * 4 + [200.0] * 4
    affine = grid.transform_of(grid.box, (3, 8))
    assert (affine.a, affine.e, affine.c, affine.f) == (2.0, -2.0, ORIGIN[0], ORIGIN[1] + 6.0)


def test_a_file_that_went_away_is_told(tmp_path: Path) -> None:
    """Opened before, gone when read."""
    path = write_elevation(tmp_path / "gone.tif", SLOPE, WEST)
    (grid,) = open_grids([path])
    path.unlink()
    with GridReader() as reader, pytest.raises(InputMissingError, match=r"gone\.tif"):
        reader.read(grid, grid.box)
