"""Heights and gradients from elevation files, against closed forms, scipy, rasterio and pyproj."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import rasterio
from numpy.typing import NDArray
from pyproj import CRS, Transformer
from rasterio.transform import Affine
from scipy import ndimage

from pipeline.errors import DataError
from pipeline.terrain import dem
from pipeline.terrain.dem import Extent, Samples, cell_sides, check_elevation, open_grids, sample_ground
from pipeline.terrain.dem_grid import GridReader
from tests.worlds import ORIGIN, UTM, Grid, Surface, bowl, cone, plane, sine_hills, write_elevation

Floats = NDArray[np.float64]
BOUNDS = (ORIGIN[0] + 5, ORIGIN[1] + 5, ORIGIN[0] + 55, ORIGIN[1] + 55)


def ground(paths: Sequence[Path], x: Floats, y: Floats, crs: str = UTM) -> Samples:
    """Sample elevation files at points."""
    with GridReader() as reader:
        return sample_ground(open_grids(paths), reader, CRS.from_user_input(crs), x, y)


def cells(paths: Sequence[Path], x: Floats, y: Floats) -> Floats:
    """Give the cell behind each height."""
    crs = CRS.from_user_input(UTM)
    return cell_sides(open_grids(paths), crs, ground(paths, x, y).model, x, y)


def points(seed: int = 1, count: int = 200, low: float = 3.0, high: float = 57.0) -> tuple[Floats, Floats]:
    """Give random points inside the tiny world."""
    rng = np.random.default_rng(seed)
    return ORIGIN[0] + rng.uniform(low, high, count), ORIGIN[1] + rng.uniform(low, high, count)


@pytest.mark.parametrize("area_or_point", ["Area", "Point"])
@pytest.mark.parametrize(("east", "north"), [(0.0, 0.0), (0.7, 0.0), (-0.2, 0.5), (1.5, -1.2)])
def test_a_plane_comes_out_exact(tmp_path: Path, east: float, north: float, area_or_point: str) -> None:
    """Height to a tenth of a millimetre, gradient to 0.01°, corner- or centre-registered: no half cell is lost."""
    slope = plane(east, north)
    path = write_elevation(tmp_path / "plane.tif", slope, Grid(area_or_point=area_or_point))
    x, y = points()
    got = ground([path], x, y)
    assert got.height == pytest.approx(slope.height(x, y), abs=1e-4)
    assert np.degrees(np.arctan(got.gradient_x)) == pytest.approx(np.degrees(np.arctan(east)), abs=0.01)
    assert np.degrees(np.arctan(got.gradient_y)) == pytest.approx(np.degrees(np.arctan(north)), abs=0.01)
    assert (cells([path], x, y) == 1.0).all()


def test_a_paraboloid_has_its_closed_form_gradient(tmp_path: Path) -> None:
    """∇z = bend · (x − x₀, y − y₀), which a bicubic patch meets exactly."""
    shape = bowl(ORIGIN[0] + 30, ORIGIN[1] + 30, 0.02)
    x, y = points()
    got = ground([write_elevation(tmp_path / "bowl.tif", shape, Grid(dtype="float64"))], x, y)
    expected = shape.gradient(x, y)
    assert got.height == pytest.approx(shape.height(x, y), abs=1e-4)
    assert got.gradient_x == pytest.approx(expected[0], abs=2e-4)
    assert got.gradient_y == pytest.approx(expected[1], abs=2e-4)


def test_a_cone_has_the_same_slope_all_round(tmp_path: Path) -> None:
    """Away from the top |∇z| is the cone's slope at every azimuth, within what a 1 m cell can carry."""
    shape = cone(ORIGIN[0] + 30, ORIGIN[1] + 30, 0.5)
    turn = np.linspace(0.0, 2 * np.pi, 90)
    x, y = ORIGIN[0] + 30 + 20 * np.sin(turn), ORIGIN[1] + 30 + 20 * np.cos(turn)
    got = ground([write_elevation(tmp_path / "cone.tif", shape)], x, y)
    assert np.hypot(got.gradient_x, got.gradient_y) == pytest.approx(0.5, abs=1e-3)
    assert np.arctan2(-got.gradient_x, -got.gradient_y) % (2 * np.pi) == pytest.approx(
        np.arctan2(x - ORIGIN[0] - 30, y - ORIGIN[1] - 30) % (2 * np.pi), abs=2e-3
    )


def test_hills_are_met_far_better_than_by_neighbouring_cells(tmp_path: Path) -> None:
    """Waves of 12 m on a 1 m grid: height within 1 cm and slope within 2 %, where the nearest cell is off by 15 cm."""
    hills = sine_hills(12.0, 0.8)
    x, y = points()
    path = write_elevation(tmp_path / "hills.tif", hills)
    got = ground([path], x, y)
    assert np.abs(got.height - hills.height(x, y)).max() < 0.01
    assert np.abs(got.gradient_x - hills.gradient(x, y)[0]).max() < 0.02
    with rasterio.open(path) as source:
        nearest = np.array([value[0] for value in source.sample(zip(x, y, strict=True))])
    assert np.abs(nearest - hills.height(x, y)).max() > 0.15


def test_at_pixel_centres_heights_are_those_of_rasterio(tmp_path: Path) -> None:
    """At a cell's centre every reader must say the same: rasterio's sample() is the judge."""
    z = np.random.default_rng(2).normal(100.0, 5.0, (60, 60))
    path = write_elevation(tmp_path / "noise.tif", z)
    x, y = (values[3:57, 3:57].ravel() for values in Grid().centres())
    with rasterio.open(path) as source:
        expected = np.array([value[0] for value in source.sample(zip(x, y, strict=True))])
    assert ground([path], x, y).height == pytest.approx(expected, abs=1e-5)


def test_beside_voids_heights_are_bilinear_as_scipy_has_them(tmp_path: Path) -> None:
    """scipy.ndimage.map_coordinates (order 1) where the 2×2 is known; NaN, never a blend with −9999, where not."""
    z = np.random.default_rng(3).normal(100.0, 5.0, (60, 60))
    holed = z.copy()
    holed[::4, ::4] = np.nan
    path = write_elevation(tmp_path / "holes.tif", holed, Grid(nodata=-9999.0))
    x, y = points(4)
    column, row = x - ORIGIN[0] - 0.5, ORIGIN[1] + 60 - y - 0.5
    linear = ndimage.map_coordinates(z.astype(np.float32).astype(np.float64), [row, column], order=1)
    corners = np.stack(
        [holed[(np.floor(row) + i).astype(int), (np.floor(column) + j).astype(int)] for i in (0, 1) for j in (0, 1)]
    )
    void = np.isnan(corners).any(axis=0)
    got = ground([path], x, y).height
    assert void.any()
    assert np.isnan(got).tolist() == void.tolist()
    assert got[~void] == pytest.approx(linear[~void], abs=1e-4)


def test_over_a_tile_border_the_patch_is_the_same_as_in_one_file(tmp_path: Path) -> None:
    """Four tiles and one whole file of rough ground: the same heights and gradients to the last bit."""
    z = np.random.default_rng(5).normal(100.0, 2.0, (60, 60))
    whole = write_elevation(tmp_path / "whole.tif", z)
    tiles = [
        write_elevation(tmp_path / f"{r}{c}.tif", z[r : r + 30, c : c + 30], _quarter(r, c))
        for r in (0, 30)
        for c in (0, 30)
    ]
    x, y = points(6)
    one, four = ground([whole], x, y), ground(tiles, x, y)
    assert four.height.tolist() == one.height.tolist()
    assert four.gradient_x.tolist() == one.gradient_x.tolist()


def _quarter(row: int, column: int) -> Grid:
    """Lay out a quarter of the tiny world."""
    return Grid(width=30, height=30, corner=(ORIGIN[0] + column, ORIGIN[1] + 30 - row))


def test_windows_do_not_show(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Sampled in windows of 7 cells or all at once: the same to the last bit."""
    path = write_elevation(tmp_path / "rough.tif", np.random.default_rng(7).normal(100.0, 2.0, (60, 60)))
    x, y = points(8, 500)
    at_once = ground([path], x, y)
    monkeypatch.setattr(dem, "MACRO_TILE", 7)
    in_parts = ground([path], x, y)
    assert in_parts.height.tolist() == at_once.height.tolist()
    assert in_parts.gradient_y.tolist() == at_once.gradient_y.tolist()


def test_the_first_model_that_knows_a_point_wins(tmp_path: Path) -> None:
    """Fine ground in the middle, coarse round it, nothing beyond: heights, cell and model say which."""
    fine = write_elevation(tmp_path / "fine.tif", plane(base=200.0), Grid(width=20, height=60, cell=0.5))
    coarse = write_elevation(tmp_path / "coarse.tif", plane(base=100.0), Grid(width=6, height=6, cell=10.0))
    x, y = ORIGIN[0] + np.array([5.0, 30.0, 300.0]), ORIGIN[1] + np.array([15.0, 30.0, 30.0])
    got = ground([fine, coarse], x, y)
    assert got.height[:2].tolist() == [200.0, 100.0]
    assert cells([fine, coarse], x, y)[:2].tolist() == [0.5, 10.0]
    assert got.model.tolist() == [0, 1, -1]
    assert np.isnan(got.height[2])
    assert np.isnan(cells([fine, coarse], x, y)[2])
    assert ground([coarse, fine], x, y).height[0] == 100.0


def test_turned_grids_keep_the_gradient(tmp_path: Path) -> None:
    """A grid turned by 30°: the plane's own gradient comes back."""
    turn = np.radians(30.0)
    affine = Affine(np.cos(turn), np.sin(turn), ORIGIN[0], np.sin(turn), -np.cos(turn), ORIGIN[1] + 40)
    slope = plane(0.3, -0.2)
    grid = Grid(transform=affine)
    path = write_elevation(tmp_path / "turned.tif", slope, grid)
    x, y = (values[20:40, 20:40].ravel() for values in grid.centres())
    got = ground([path], x, y)
    assert got.gradient_x == pytest.approx(0.3, abs=2e-4)
    assert got.gradient_y == pytest.approx(-0.2, abs=2e-4)
    assert cells([path], x, y) == pytest.approx(1.0)


def geographic(tmp_path: Path, slope: Surface, arc_seconds: float) -> Path:
    """Write a surface that is known in UTM as a grid of longitude and latitude."""
    to_degrees = Transformer.from_crs(UTM, "EPSG:4326", always_xy=True)
    west, south = to_degrees.transform(ORIGIN[0] - 50, ORIGIN[1] - 50)
    step, count = arc_seconds / 3600.0, 60
    grid = Grid(count, count, step, (west, south), "EPSG:4326", "float64")
    lon, lat = grid.centres()
    x, y = to_degrees.transform(lon, lat, direction="INVERSE")
    return write_elevation(tmp_path / "degrees.tif", slope.height(x, y), grid)


@pytest.mark.parametrize(("east", "north"), [(0.3, 0.0), (0.0, 0.3), (-0.25, 0.4)])
def test_a_model_in_degrees_gives_metric_slopes(tmp_path: Path, east: float, north: float) -> None:
    """One arc second at 48.7° north: cells are 20 m by 31 m, and the plane still has its slope to 0.01°."""
    slope = plane(east, north)
    path = geographic(tmp_path, slope, 1.0)
    x, y = points(9, high=900.0)
    got = ground([path], x, y)
    assert got.height == pytest.approx(slope.height(x, y), abs=0.02)
    assert np.degrees(np.arctan(got.gradient_x)) == pytest.approx(np.degrees(np.arctan(east)), abs=0.01)
    assert np.degrees(np.arctan(got.gradient_y)) == pytest.approx(np.degrees(np.arctan(north)), abs=0.01)
    assert cells([path], x, y) == pytest.approx(30.9, abs=0.1)


def test_a_model_in_the_next_zone_is_sampled_in_its_own_crs(tmp_path: Path) -> None:
    """UTM 33 seen from zone 32, where grid north differs by 4.5°: the slope comes back in the working grid."""
    slope = plane(0.3, -0.1)
    to_33 = Transformer.from_crs(UTM, "EPSG:32633", always_xy=True)
    middle = to_33.transform(ORIGIN[0] + 30, ORIGIN[1] + 30)
    grid = Grid(120, 120, 1.0, (np.floor(middle[0]) - 60, np.floor(middle[1]) - 60), "EPSG:32633", "float64")
    x, y = to_33.transform(*grid.centres(), direction="INVERSE")
    path = write_elevation(tmp_path / "zone33.tif", slope.height(x, y), grid)
    px, py = points(10)
    got = ground([path], px, py)
    assert got.height == pytest.approx(slope.height(px, py), abs=0.005)
    assert got.gradient_x == pytest.approx(0.3, abs=3e-4)
    assert got.gradient_y == pytest.approx(-0.1, abs=3e-4)
    assert cells([path], px, py) == pytest.approx(1.0, abs=5e-3)


def test_nothing_is_known_without_models_and_no_points_give_no_samples(tmp_path: Path) -> None:
    """No model: NaN everywhere. No points: empty."""
    x, y = points(11, 3)
    assert np.isnan(ground([], x, y).height).all()
    path = write_elevation(tmp_path / "plane.tif", plane())
    assert ground([path], x[:0], y[:0]).height.size == 0


def test_all_faults_of_all_files_are_raised_at_once(tmp_path: Path) -> None:
    """Two bad files, one error with both names."""
    paths = [write_elevation(tmp_path / f"{k}.tif", plane(), Grid(crs=None)) for k in "ab"]
    with pytest.raises(DataError) as raised:
        open_grids(paths)
    assert [Path(fault.file).name for fault in raised.value.faults] == ["a.tif", "b.tif"]


def test_a_good_model_has_no_faults(tmp_path: Path) -> None:
    """In the working CRS, in degrees, and with the network only partly on it."""
    path = write_elevation(tmp_path / "good.tif", plane())
    assert check_elevation([path, geographic(tmp_path, plane(), 1.0)], Extent(*BOUNDS, CRS.from_user_input(UTM))) == []
    partly = (BOUNDS[0] - 4000, BOUNDS[1], BOUNDS[2], BOUNDS[3])
    assert check_elevation([path], Extent(*partly, CRS.from_user_input(UTM))) == []


@pytest.mark.parametrize(
    "grid",
    [
        Grid(corner=(ORIGIN[0] + 5000, ORIGIN[1])),
        Grid(crs="EPSG:32733"),
        Grid(crs="EPSG:4326", cell=0.001, corner=(-70.0, 10.0)),
    ],
)
def test_a_model_beside_the_network_is_a_fault(tmp_path: Path, grid: Grid) -> None:
    """Kilometres off, on the other side of the equator, on the other side of the ocean."""
    path = write_elevation(tmp_path / "beside.tif", plane(), grid)
    (fault,) = check_elevation([path], Extent(*BOUNDS, CRS.from_user_input(UTM)))
    assert fault.file == path
    assert "beside the network" in fault.found
    assert "CRS" in fault.mend


def test_a_small_model_inside_a_large_network_overlaps(tmp_path: Path) -> None:
    """A 60 m model inside 40 km of network lies between all points of a coarse look: it must still be found."""
    grid = replace(Grid(), corner=(ORIGIN[0] + 1234.0, ORIGIN[1] + 777.0))
    path = write_elevation(tmp_path / "small.tif", plane(), grid)
    wide = (ORIGIN[0] - 20_000, ORIGIN[1] - 20_000, ORIGIN[0] + 20_000, ORIGIN[1] + 20_000)
    assert check_elevation([path], Extent(*wide, CRS.from_user_input(UTM))) == []


def test_a_tile_beside_the_network_is_no_fault(tmp_path: Path) -> None:
    """Of two tiles of one model the network lies on the first: the second is simply not needed."""
    cells = Grid().cells if hasattr(Grid(), "cells") else 60
    here = write_elevation(tmp_path / "here.tif", plane())
    east = replace(Grid(), corner=(Grid().corner[0] + cells * 100.0, Grid().corner[1]))
    there = write_elevation(tmp_path / "there.tif", plane(), east)
    assert check_elevation([here, there], Extent(*BOUNDS, CRS.from_user_input(UTM))) == []


def test_without_an_extent_only_the_files_count(tmp_path: Path) -> None:
    """Where the network is not known, a readable model far away has no fault."""
    far = write_elevation(tmp_path / "far.tif", plane(), Grid(corner=(ORIGIN[0] + 5000, ORIGIN[1])))
    assert check_elevation([far]) == []


def test_an_unreadable_model_is_a_fault(tmp_path: Path) -> None:
    """Noise with the name of a raster."""
    path = tmp_path / "noise.tif"
    path.write_bytes(b"noise")
    (fault,) = check_elevation([path], Extent(*BOUNDS, CRS.from_user_input(UTM)))
    assert "cannot be read" in fault.found


def test_raw_shuttle_radar_tiles_are_read_as_they_come(tmp_path: Path) -> None:
    """Two neighbouring 3″ .hgt tiles (SRTM format: 1,201² big-endian 16-bit, −32768 void, edges shared).

    They are one grid, so that a point between their last shared columns has a bicubic patch; voids stay voids.
    """
    slope = 0.02
    for lon in (8, 9):
        degrees = lon + np.arange(1201) / 1200.0
        row = np.rint((degrees - 8.0) * 1200.0 * 10.0 * slope)
        z = np.tile(row, (1201, 1)).astype(">i2")
        z[100:110, 300:310] = -32768
        z.tofile(tmp_path / f"N48E00{lon}.hgt")
    paths = [tmp_path / "N48E008.hgt", tmp_path / "N48E009.hgt"]
    assert len(open_grids(paths)) == 1
    to_utm = Transformer.from_crs("EPSG:4326", UTM, always_xy=True)
    lon, lat = np.array([9.0003, 8.9997, 8.0 + 305 / 1200]), np.array([48.5, 48.5, 49.0 - 105 / 1200])
    x, y = to_utm.transform(lon, lat)
    got = ground(paths, x, y)
    assert got.height[:2] == pytest.approx((lon[:2] - 8.0) * 240.0, abs=0.5)
    assert np.isnan(got.height[2])
    around = Extent(x[0] - 500, y[0] - 500, x[0] + 500, y[0] + 500, CRS.from_user_input(UTM))
    assert check_elevation(paths, around) == []
