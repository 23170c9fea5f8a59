"""A long trail over an elevation model in degrees that covers little of it."""

from collections.abc import Callable
from pathlib import Path

import geopandas as gpd
import numpy as np
import pytest
import rasterio
from pyproj import Transformer

from pipeline.survey.model import Network
from pipeline.terrain.measure import measure_terrain
from pipeline.terrain.model import TerrainParameters
from pipeline.terrain.summary import segments_table
from tests.real.twin import bicubic, inner
from tests.worlds import soil_of

pytestmark = pytest.mark.open_data

UTM_13 = "EPSG:32613"


def test_the_trail_has_heights_where_the_model_is(alpine: tuple[Path, Path], survey_of: Callable[..., Network]) -> None:
    """Stations inside the model have its heights (NumPy twin, exact projection), those outside have none."""
    model_path, trail_path = alpine
    start = gpd.read_file(trail_path).to_crs(UTM_13).geometry[0].coords[0]
    network = survey_of(trail_path, start[:2], crs=UTM_13)
    parameters = TerrainParameters(elevation=(model_path,), station_spacing_m=20.0, profile_step_m=5.0)
    terrain = measure_terrain(network, parameters)
    s = terrain.stations
    with rasterio.open(model_path) as model:
        grid, to_map = model.read(1).astype(np.float64), model.transform
    longitude, latitude = Transformer.from_crs(UTM_13, "EPSG:4326", always_xy=True).transform(s.x, s.y)
    column, row = (longitude - to_map.c) / to_map.a - 0.5, (latitude - to_map.f) / to_map.e - 0.5
    inside = inner(column, row, grid.shape)
    assert inside.sum() > 1000
    slope_across_cell = 1.0  # m of height for a thousandth of a cell (0.3 m): heights agree to a decimetre
    assert s.z[inside] == pytest.approx(bicubic(grid, column[inside], row[inside]), abs=0.1 * slope_across_cell)
    outside = (column < 0.0) | (row < 0.0) | (column > grid.shape[1] - 1) | (row > grid.shape[0] - 1)
    assert np.isnan(s.z[outside & (np.abs(column) > 1e-3)]).all()
    table = segments_table(network, terrain, soil_of(*["earth"] * len(network.segments)))
    share = float((~np.isnan(s.z)).sum()) / len(s.z)
    covered = float((table["height_coverage"] * np.diff(s.offsets)).sum()) / len(s.z)
    assert covered == pytest.approx(share)
    assert 0.0 < share < 0.05
    assert 2281.0 <= np.nanmin(s.z) < np.nanmax(s.z) <= 4261.0
