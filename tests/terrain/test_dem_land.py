"""The land round a network as one grid of heights."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from pyproj import CRS

from pipeline.terrain import dem_land
from pipeline.terrain.dem import open_grids
from pipeline.terrain.dem_land import Land, read_land
from tests.worlds import ORIGIN, UTM, Grid, Surface, plane, sine_hills, write_elevation

CRS_UTM = CRS.from_user_input(UTM)
BOUNDS = (ORIGIN[0] + 5.0, ORIGIN[1] + 5.0, ORIGIN[0] + 55.0, ORIGIN[1] + 55.0)
SLOPE = plane(0.1, -0.05)


def land(*paths: Path, cell_m: float = 3.0, bounds: tuple[float, float, float, float] = BOUNDS) -> Land:
    """Read land from files."""
    return read_land(open_grids(paths), bounds, CRS_UTM, cell_m)


def heights_at(got: Land, surface: Surface) -> NDArray[np.float64]:
    """Give the true heights in the middles of the cells."""
    x, y = got.middles(np.arange(got.heights.size))
    return surface.height(x, y).reshape(got.heights.shape)


def test_cells_lie_on_multiples_of_their_side_round_the_bounds(tmp_path: Path) -> None:
    """Whatever the bounds: a trail that is added moves no cell."""
    path = write_elevation(tmp_path / "plane.tif", SLOPE)
    one, other = land(path), land(path, bounds=(BOUNDS[0] + 7.3, BOUNDS[1] + 2.9, BOUNDS[2] - 1.1, BOUNDS[3]))
    for got in (one, other):
        assert got.west % 3.0 == got.north % 3.0 == 0.0
    shift = round((other.west - one.west) / 3.0), round((one.north - other.north) / 3.0)
    rows, columns = other.heights.shape
    part = one.heights[shift[1] : shift[1] + rows, shift[0] : shift[0] + columns]
    assert np.array_equal(part, other.heights, equal_nan=True)


def test_a_plane_is_met_to_the_grain(tmp_path: Path) -> None:
    """Averages of whole cells, in steps of 1/1024 m."""
    got = land(write_elevation(tmp_path / "plane.tif", SLOPE))
    inner = got.heights[1:-1, 1:-1]
    assert inner == pytest.approx(heights_at(got, SLOPE)[1:-1, 1:-1], abs=1e-3)
    assert (inner * 1024.0 % 1.0 == 0.0).all()


def test_points_find_their_cells_and_cells_their_middles(tmp_path: Path) -> None:
    """There and back; beside the grid there is none."""
    got = land(write_elevation(tmp_path / "plane.tif", SLOPE))
    cells = np.arange(got.heights.size)
    assert np.array_equal(got.cells_at(*got.middles(cells)), cells)
    beside = np.array([got.west - 0.1, got.west + 1.0]), np.array([got.north - 1.0, got.north + 0.1])
    assert got.cells_at(*beside).tolist() == [-1, -1]


def test_a_coarse_model_keeps_its_own_cell(tmp_path: Path) -> None:
    """Nothing is known between cells of 10 m."""
    coarse = Grid(width=12, height=12, cell=10.0, corner=(ORIGIN[0] - 30.0, ORIGIN[1] - 30.0))
    got = land(write_elevation(tmp_path / "coarse.tif", SLOPE, coarse))
    assert got.cell_m == pytest.approx(10.0)
    assert got.heights == pytest.approx(heights_at(got, SLOPE), abs=2e-3)


def test_a_large_site_gets_larger_cells(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """As many as may be led over, within one row and one column."""
    monkeypatch.setattr(dem_land, "MOST_CELLS", 100)
    got = land(write_elevation(tmp_path / "plane.tif", SLOPE))
    assert got.cell_m == pytest.approx(5.0)
    assert got.heights.shape == (11, 11)


def test_gaps_are_filled_by_the_next_model_raised_to_the_first(tmp_path: Path) -> None:
    """A second model whose datum lies 1.3 m lower: no step where the first one ends, or has a hole.

    At its edges a cell is the average of the part that is known, a quarter of a metre off at most on these slopes.
    """
    hills = sine_hills(40.0, 2.0)
    first, other = Grid(width=35, height=60, nodata=-9999.0), Grid(width=122, height=122, cell=0.5)
    other = replace(other, corner=(ORIGIN[0] - 0.2, ORIGIN[1] - 0.2))
    lower = replace(hills, height=lambda x, y: hills.height(x, y) - 1.3)
    z = hills.height(*first.centres())
    z[20:32, 10:22] = np.nan
    got = land(write_elevation(tmp_path / "first.tif", z, first), write_elevation(tmp_path / "next.tif", lower, other))
    assert not np.isnan(got.heights[1:-1, 1:-1]).any()
    assert got.heights[1:-1, 1:-1] == pytest.approx(heights_at(got, hills)[1:-1, 1:-1], abs=0.25)


def test_models_that_share_no_cell_keep_their_heights(tmp_path: Path) -> None:
    """Nothing says how their datums differ."""
    west = write_elevation(tmp_path / "west.tif", plane(base=100.0), Grid(width=24, height=60))
    corner = (ORIGIN[0] + 36.0, ORIGIN[1])
    east = write_elevation(
        tmp_path / "east.tif", plane(base=90.0), Grid(width=31, height=61, corner=corner, cell=0.999)
    )
    known = land(west, east).heights
    assert set(known[~np.isnan(known)].tolist()) == {100.0, 90.0}


def test_where_the_first_model_knows_all_no_other_is_asked(tmp_path: Path) -> None:
    """Another that says something else is not read."""
    first = write_elevation(tmp_path / "first.tif", SLOPE)
    other = write_elevation(tmp_path / "other.tif", plane(0.5), Grid(cell=0.999))
    inside = (ORIGIN[0] + 10.0, ORIGIN[1] + 10.0, ORIGIN[0] + 40.0, ORIGIN[1] + 40.0)
    assert np.array_equal(land(first, bounds=inside).heights, land(first, other, bounds=inside).heights)


def test_a_second_model_elsewhere_changes_nothing(tmp_path: Path) -> None:
    """It lies beside the land altogether."""
    near = write_elevation(tmp_path / "near.tif", SLOPE, Grid(width=30, height=60))
    far = write_elevation(tmp_path / "far.tif", SLOPE, Grid(corner=(ORIGIN[0] + 5000.0, ORIGIN[1]), cell=2.0))
    assert np.array_equal(land(near).heights, land(near, far).heights, equal_nan=True)
