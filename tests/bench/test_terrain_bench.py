"""How fast the terrain is measured, as ratios against peers in the same run.

``pytest tests/bench/test_terrain_bench.py --benchmark-enable -s`` prints the ratios of the processor time (medians of
interleaved rounds) and holds them to the goals; the normal run only makes sure that both sides give the same answer.
"""

import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
import rasterio
import shapely
from numpy.typing import NDArray
from pyproj import CRS
from pytest_benchmark.fixture import BenchmarkFixture
from rasterio.windows import Window
from scipy import ndimage

from pipeline.kernels.stations import Lines, count_stations, place_stations, vertex_chainages
from pipeline.kernels.surface import Patches, sample_surface, split_gradient
from pipeline.terrain.dem import open_grids, sample_ground
from pipeline.terrain.dem_grid import GridReader
from tests.worlds import ORIGIN, UTM, Grid, write_elevation

Floats = NDArray[np.float64]

SIDE = 2000
"""Cells of the model each way: 4 km² at 1 m."""


@dataclass(frozen=True)
class Site:
    """A network of random walks on a model with hills and noise."""

    lines: list[shapely.LineString]
    path: Path
    z: NDArray[np.float32]


@dataclass(frozen=True)
class Placed:
    """Stations of the site."""

    x: Floats
    y: Floats
    bearing: Floats

    @property
    def column(self) -> Floats:
        """Column, in cell centres."""
        return self.x - ORIGIN[0] - 0.5

    @property
    def row(self) -> Floats:
        """Row, in cell centres."""
        return ORIGIN[1] + SIDE - self.y - 0.5


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Site:
    """Give 250 segments, about 50 km, on 4 million cells."""
    rng = np.random.default_rng(1)
    u, v = np.meshgrid(np.arange(SIDE), np.arange(SIDE))
    z = 100 + 20 * np.sin(u / 60) * np.cos(v / 80) + 3 * np.sin(u / 9 + v / 13) + rng.normal(0, 0.015, (SIDE, SIDE))
    tiled = {"tiled": True, "blockxsize": 512, "blockysize": 512, "compress": "deflate", "predictor": 3}
    path = write_elevation(tmp_path_factory.mktemp("bench") / "site.tif", z, Grid(SIDE, SIDE, options=tiled))
    lines = []
    for _ in range(250):
        heading = rng.uniform(0, 2 * np.pi) + np.cumsum(rng.normal(0, 0.25, 26))
        walk = np.cumsum(8.0 * np.stack((np.cos(heading), np.sin(heading)), axis=1), axis=0)
        start = rng.uniform(220, SIDE - 220, 2)
        lines.append(shapely.LineString(walk + start + np.array(ORIGIN)))
    return Site(lines, path, z.astype(np.float32))


def flat(lines: list[shapely.LineString]) -> Lines:
    """Lay lines out as flat arrays, as the terrain stage does."""
    xy, index = shapely.get_coordinates(lines, return_index=True)
    offsets = np.concatenate(([0], np.cumsum(np.bincount(index)))).astype(np.int64)
    x, y = np.ascontiguousarray(xy[:, 0]), np.ascontiguousarray(xy[:, 1])
    return Lines(x, y, vertex_chainages(x, y, offsets), offsets)


@pytest.fixture(scope="module")
def placed(site: Site) -> Placed:
    """Place the stations, 0.5 m apart."""
    lines = flat(site.lines)
    _, x, y, bearing = place_stations(lines, count_stations(lines, 0.5))
    return Placed(x, y, bearing)


def cpu(function: Callable[[], object]) -> float:
    """Time one call, seconds of processor time."""
    begin = time.process_time()
    function()
    return time.process_time() - begin


def compare(benchmark: BenchmarkFixture, name: str, ours: Callable[[], object], peer: Callable[[], object]) -> float:
    """Run both sides in turn; give the peer's time ÷ ours (medians), nan when benchmarks are off."""
    benchmark(ours)
    if benchmark.disabled:
        return float("nan")
    pairs = [(cpu(ours), cpu(peer)) for _ in range(7)]
    mine, theirs = np.median(np.array(pairs), axis=0)
    print(f"\n{name}: ours {1e3 * mine:.1f} ms, peer {1e3 * theirs:.1f} ms, ratio {theirs / mine:.2f}")  # noqa: T201
    benchmark.extra_info["ratio"] = theirs / mine
    return float(theirs / mine)


def in_memory(site: Site, placed: Placed) -> tuple[Patches, Floats, Floats]:
    """Height, grade and cross slope at all stations from an array in memory."""
    to_cell = np.array([1.0, 0.0, -ORIGIN[0] - 0.5, 0.0, -1.0, ORIGIN[1] + SIDE - 0.5])
    out = Patches(*(np.empty(placed.x.size) for _ in range(3)))
    sample_surface(site.z, to_cell, (placed.x, placed.y), np.arange(placed.x.size), out)
    return out, *split_gradient(out.gradient_x, out.gradient_y, placed.bearing)


def from_file(site: Site, placed: Placed) -> Floats:
    """Height and gradient at all stations, from the file."""
    with GridReader() as reader:
        return sample_ground(open_grids([site.path]), reader, CRS.from_user_input(UTM), placed.x, placed.y).height


def test_bicubic_with_gradients_against_scipys_bilinear_heights(
    benchmark: BenchmarkFixture, site: Site, placed: Placed
) -> None:
    """Height, grade and side slope from bicubic patches cost about what scipy's bilinear height alone costs."""

    def peer() -> Floats:
        return ndimage.map_coordinates(site.z, [placed.row, placed.column], order=1, output=np.float64)

    assert in_memory(site, placed)[0].height == pytest.approx(peer(), abs=0.2)
    ratio = compare(benchmark, "bicubic + slopes / map_coordinates order 1", lambda: in_memory(site, placed), peer)
    assert not ratio < 0.5


def test_from_the_file_against_the_bare_read(benchmark: BenchmarkFixture, site: Site, placed: Placed) -> None:
    """Reading and sampling costs little more than reading: decoding is the limit."""

    def peer() -> NDArray[np.float32]:
        with rasterio.open(site.path) as source:
            return source.read(1)

    assert peer().shape == site.z.shape
    ratio = compare(benchmark, "from file / bare read", lambda: from_file(site, placed), peer)
    assert not ratio < 0.5


def test_from_the_file_against_point_queries(benchmark: BenchmarkFixture, site: Site, placed: Placed) -> None:
    """Point queries of rasterio (every tenth station, nearest cell): per point we are tens of times faster."""
    few = list(zip(placed.x[::10], placed.y[::10], strict=True))

    def peer() -> list[float]:
        with rasterio.open(site.path) as source:
            return [value[0] for value in source.sample(few)]

    assert from_file(site, placed)[::10] == pytest.approx(peer(), abs=3.0)
    ratio = 10.0 * compare(benchmark, "from file / sample(), a tenth of it", lambda: from_file(site, placed), peer)
    assert not ratio < 25.0


def test_slopes_at_stations_against_a_slope_raster(benchmark: BenchmarkFixture, site: Site, placed: Placed) -> None:
    """A slope raster of the whole model, looked up at the stations: many times the cost, and coarser."""
    row, column = np.rint(placed.row).astype(int), np.rint(placed.column).astype(int)

    def peer() -> Floats:
        south, east = np.gradient(site.z)
        return np.arctan(np.hypot(east, south))[row, column]

    _, grade, cross = in_memory(site, placed)
    assert np.median(np.abs(np.arctan(np.hypot(grade, cross)) - peer())) < 0.05
    ratio = compare(benchmark, "slopes at stations / slope raster", lambda: in_memory(site, placed), peer)
    assert not ratio < 5.0


def test_stations_against_segmentize(benchmark: BenchmarkFixture, site: Site) -> None:
    """Equal steps with bearings, from shapes, against shapely.segmentize (unequal steps, no bearings)."""

    def ours() -> tuple[Floats, ...]:
        lines = flat(site.lines)
        return place_stations(lines, count_stations(lines, 0.5))

    def peer() -> Floats:
        return shapely.get_coordinates(shapely.segmentize(site.lines, 0.5))

    assert len(ours()[0]) == pytest.approx(len(peer()), rel=0.05)
    assert not compare(benchmark, "stations / segmentize", ours, peer) < 1.0


def test_a_window_of_a_large_model_is_all_that_is_read(site: Site) -> None:
    """Ten metres of trail read a few dozen cells, not four million."""
    asked: list[Window] = []

    class Watched(GridReader):
        """Notes what is read."""

        def read(self, grid, box, shape=None):  # type: ignore[no-untyped-def]  # noqa: ANN001, ANN202
            asked.append(box)
            return super().read(grid, box, shape)

    x = ORIGIN[0] + 700.0 + np.arange(0.0, 10.0, 0.5)
    with Watched() as reader:
        sample_ground(open_grids([site.path]), reader, CRS.from_user_input(UTM), x, np.full(x.size, ORIGIN[1] + 900.0))
    assert sum(box.rows * box.columns for box in asked) < 100
