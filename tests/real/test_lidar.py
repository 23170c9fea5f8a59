"""A net of lines over a real lidar model of 1 m, against SciPy, rasterio and a NumPy twin."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
import rasterio
import shapely
from numpy.typing import NDArray
from scipy import ndimage

from pipeline.survey.model import Network
from pipeline.terms import Basis
from pipeline.terrain.measure import measure_terrain
from pipeline.terrain.model import Stations, TerrainParameters
from tests.real.twin import bicubic, inner
from tests.worlds import network_of

pytestmark = pytest.mark.open_data

Floats = NDArray[np.float64]
UTM_15 = "EPSG:26915"


@dataclass(frozen=True)
class Measured:
    """The net, its stations, the model and where the stations lie on it."""

    network: Network
    stations: Stations
    grid: Floats
    column: Floats
    row: Floats

    @property
    def inside(self) -> NDArray[np.bool_]:
        """Stations with all 16 cells around them."""
        return inner(self.column, self.row, self.grid.shape)


@pytest.fixture(scope="module")
def measured(lidar_model: Path) -> Measured:
    """Lay 60 straight lines of any bearing over the model, some of them beyond its edge, and measure them."""
    with rasterio.open(lidar_model) as model:
        grid, bounds, to_map = model.read(1).astype(np.float64), model.bounds, model.transform
    generator = np.random.default_rng(15)
    x = generator.uniform(bounds.left - 30.0, bounds.right + 30.0, (60, 2))
    y = generator.uniform(bounds.bottom - 30.0, bounds.top + 30.0, (60, 2))
    lines = {f"L{k}": list(zip(x[k], y[k], strict=True)) for k in range(60)}
    network = network_of(lines, crs=UTM_15)
    stations = measure_terrain(network, TerrainParameters(elevation=(lidar_model,))).stations
    column = (stations.x - to_map.c) / to_map.a - 0.5
    row = (stations.y - to_map.f) / to_map.e - 0.5
    return Measured(network, stations, grid, column, row)


def test_heights_equal_the_twin(measured: Measured) -> None:
    """Where all 16 cells are there, heights are those of cubic convolution, to single precision."""
    inside = measured.inside
    assert inside.sum() > 15_000
    expected = bicubic(measured.grid, measured.column[inside], measured.row[inside])
    assert measured.stations.z[inside] == pytest.approx(expected, abs=1e-3)


def test_heights_lie_close_to_the_bilinear_ones_of_scipy(measured: Measured) -> None:
    """``map_coordinates`` of order 1 differs by centimetres only: the two surfaces meet at every cell centre."""
    inside = measured.inside
    place = [measured.row[inside], measured.column[inside]]
    difference = measured.stations.z[inside] - ndimage.map_coordinates(measured.grid, place, order=1)
    assert np.median(np.abs(difference)) < 0.02
    assert np.percentile(np.abs(difference), 99.0) < 0.15
    assert abs(difference.mean()) < 0.005


def test_heights_lie_close_to_the_spline_of_scipy(measured: Measured) -> None:
    """``map_coordinates`` of order 3 is another cubic through the same heights, and closer than the bilinear one."""
    inside = measured.inside
    place = [measured.row[inside], measured.column[inside]]
    spline = ndimage.map_coordinates(measured.grid, place, order=3)
    linear = ndimage.map_coordinates(measured.grid, place, order=1)
    z = measured.stations.z[inside]
    assert np.abs(z - spline).mean() < 0.5 * np.abs(linear - spline).mean()


def test_cell_centres_have_the_heights_of_the_file(lidar_model: Path) -> None:
    """A line from cell centre to cell centre meets at every metre what ``rasterio`` reads there: no half-cell shift."""
    with rasterio.open(lidar_model) as model:
        start, end = model.xy(120, 50), model.xy(120, 350)
        expected = [float(value[0]) for value in model.sample([model.xy(120, column) for column in range(50, 351)])]
    network = network_of({"row": [start, end]}, crs=UTM_15)
    stations = measure_terrain(network, TerrainParameters(elevation=(lidar_model,))).stations
    assert stations.z[::2] == pytest.approx(expected, abs=1e-4)


def test_grade_and_side_slope_equal_differences_of_the_twin(measured: Measured) -> None:
    """Along and across the line, the analytic slopes are central differences of the twin over 2 cm."""
    s = measured.stations
    inside = inner(measured.column - 1.0, measured.row - 1.0, np.subtract(measured.grid.shape, 2))
    bearing = s.bearing_rad[inside].astype(np.float64)
    column, row, half = measured.column[inside], measured.row[inside], 0.01

    def slope(east: Floats, north: Floats) -> Floats:
        ahead = bicubic(measured.grid, column + half * east, row - half * north)
        return (ahead - bicubic(measured.grid, column - half * east, row + half * north)) / (2.0 * half)

    smooth = np.minimum.reduce([column % 1.0, 1.0 - column % 1.0, row % 1.0, 1.0 - row % 1.0]) > half
    grade, cross = slope(np.sin(bearing), np.cos(bearing)), slope(np.cos(bearing), -np.sin(bearing))
    assert s.grade[inside][smooth] == pytest.approx(grade[smooth], abs=2e-3)
    assert s.cross[inside][smooth] == pytest.approx(cross[smooth], abs=2e-3)


def test_beyond_the_last_cell_centre_there_is_no_height(measured: Measured) -> None:
    """Stations outside the outermost cell centres have none, and say so; all others have one."""
    rows, columns = measured.grid.shape
    away = np.maximum.reduce(
        [-measured.column, measured.column - (columns - 1), -measured.row, measured.row - (rows - 1)]
    )
    known = ~np.isnan(measured.stations.z)
    assert not known[away > 1e-6].any()
    assert known[away < -1e-6].all()
    assert (measured.stations.basis == np.where(known, Basis.DEM, Basis.NONE)).all()


def test_stations_lie_on_the_lines_in_equal_steps(measured: Measured) -> None:
    """Ends included, steps of at most 0.5 m, as shapely interpolates them."""
    s = measured.stations
    for k, line in enumerate(measured.network.segments.geometry):
        part = slice(s.offsets[k], s.offsets[k + 1])
        at = s.chainage_m[part]
        assert at[0] == 0.0
        assert at[-1] == pytest.approx(line.length)
        assert np.ptp(np.diff(at)) < 1e-9
        assert at[1] <= 0.5
        expected = shapely.get_coordinates(shapely.line_interpolate_point(line, at))
        assert np.column_stack([s.x[part], s.y[part]]) == pytest.approx(expected, abs=1e-6)
