"""A town's streets over an SRTM tile that ends at 12° E, a fifth of the way into the town.

Cells are 50 × 93 m: what can be known from them is how high and how steep, and nothing at the scale of a vehicle.
"""

import geopandas as gpd
import numpy as np
import pytest
from numpy.typing import NDArray
from pyproj import Transformer

from pipeline.tables import NETWORK, NODES, REPAIRS, SEGMENTS, validate
from pipeline.terms import Basis
from pipeline.terrain.summary import segments_table
from tests.real.conftest import Town
from tests.real.twin import Floats, bicubic, inner
from tests.worlds import soil_of

pytestmark = pytest.mark.open_data

STEP_M = 0.5
"""Half of the distance over which the twin takes its differences."""


def in_cells(town: Town, x: Floats, y: Floats) -> tuple[Floats, Floats]:
    """Place working coordinates on the tile: column and row, whole numbers at its posts, by the format's definition."""
    longitude, latitude = Transformer.from_crs(town.network.crs, "EPSG:4326", always_xy=True).transform(x, y)
    return (np.asarray(longitude) - 11.0) * 1200.0, (58.0 - np.asarray(latitude)) * 1200.0


def on_ground(town: Town) -> NDArray[np.bool_]:
    """Tell which stations lie on the ground that the tile shows: not on a bridge, not in a tunnel."""
    segments = town.network.segments
    aloft = (segments["bridge"] | segments["tunnel"]).to_numpy()
    return np.repeat(~aloft, np.diff(town.terrain.stations.offsets))


@pytest.fixture(scope="module")
def cells(town: Town) -> tuple[Floats, Floats]:
    """Columns and rows of all stations."""
    return in_cells(town, town.terrain.stations.x, town.terrain.stations.y)


@pytest.fixture(scope="module")
def inside(town: Town, cells: tuple[Floats, Floats]) -> NDArray[np.bool_]:
    """Stations on the ground with all 16 posts around them, a post clear of the edge."""
    return inner(cells[0] + 1.0, cells[1], town.heights.shape) & on_ground(town)


@pytest.fixture(scope="module")
def table(town: Town) -> gpd.GeoDataFrame:
    """Summarise the segments."""
    return segments_table(town.network, town.terrain, soil_of(*["asphalt"] * len(town.network.segments)))


def test_a_width_of_nothing_is_read_as_not_known(town: Town) -> None:
    """One way is tagged ``width=0``: it is kept, its width is not known, and the repair says so."""
    repairs = town.network.repairs
    told = repairs[repairs["feature"] == "feature 19624"]
    assert told["detail"].str.contains("width: 0 read as not known").any()
    way = town.network.segments["segment_id"].isin(told["segment_id"])
    assert way.any()
    assert town.network.segments.loc[way, "width_m"].isna().all()


def test_the_network_reads_whole(town: Town) -> None:
    """20,120 lines become a network of more segments, in the UTM zone of the town, that keeps every contract."""
    network = town.network
    assert len(network.segments) > 20_120
    assert network.crs.to_epsg() == 32632
    for frame, contract in ((network.segments, NETWORK), (network.nodes, NODES), (network.repairs, REPAIRS)):
        validate(frame, contract)
    assert network.segments["segment_id"].is_unique
    assert network.segments["bridge"].any()
    assert network.segments["tunnel"].any()
    assert (network.segments["oneway"] != 0).any()


def test_heights_end_where_the_tile_ends(town: Town, cells: tuple[Floats, Floats]) -> None:
    """West of 12° E every station on the ground has a height, east of it none (the last post is on it)."""
    column = cells[0]
    known = ~np.isnan(town.terrain.stations.z)
    assert known[(column < 1200.0 - 1e-3) & on_ground(town)].all()
    assert not known[column > 1200.0 + 1e-3].any()
    assert (town.terrain.stations.basis == np.where(known, Basis.DEM, Basis.NONE)).all()
    assert 0.7 < known.mean() < 0.9


def test_coverage_is_whole_none_or_in_part(town: Town, table: gpd.GeoDataFrame) -> None:
    """Segments on the ground are covered west of 12° E, not east of it, in part on it; bridges and tunnels never."""
    lines = town.network.segments.geometry.to_crs("EPSG:4326").bounds
    coverage = table["height_coverage"].to_numpy()
    aloft = town.network.segments["bridge"] | town.network.segments["tunnel"]
    assert (coverage[(lines["maxx"] < 12.0 - 1e-6) & ~aloft] == 1.0).all()
    assert (coverage[aloft] == 0.0).all()
    assert (coverage[lines["minx"] > 12.0 + 1e-6] == 0.0).all()
    across = (~aloft & (lines["minx"] < 12.0 - 2e-4) & (lines["maxx"] > 12.0 + 2e-4)).to_numpy()
    assert across.sum() > 20
    assert ((coverage[across] > 0.0) & (coverage[across] < 1.0)).all()
    none = table[coverage == 0.0]
    assert none[["elevation_min_m", "grade_max_deg", "rise_m", "dem_cell_m"]].isna().all(axis=None)
    validate(table, SEGMENTS)


def test_heights_equal_the_twin(town: Town, cells: tuple[Floats, Floats], inside: NDArray[np.bool_]) -> None:
    """Heights are those of cubic convolution at the exactly projected place, to 2 cm (slopes here reach 20 %)."""
    expected = bicubic(town.heights, cells[0][inside], cells[1][inside])
    assert inside.sum() > 100_000
    assert np.abs(town.terrain.stations.z[inside] - expected).max() < 0.02


def test_grades_are_distributed_as_the_twins(town: Town, inside: NDArray[np.bool_]) -> None:
    """Every percentile of grade and of side slope is that of central differences of the twin over a metre."""
    s = town.terrain.stations
    x, y, bearing = s.x[inside], s.y[inside], s.bearing_rad[inside].astype(np.float64)

    def slope(east: Floats, north: Floats) -> Floats:
        ends = [in_cells(town, x + side * east, y + side * north) for side in (STEP_M, -STEP_M)]
        ahead, behind = (bicubic(town.heights, column, row) for column, row in ends)
        return (ahead - behind) / (2.0 * STEP_M)

    for ours, twin in (
        (s.grade[inside], slope(np.sin(bearing), np.cos(bearing))),
        (s.cross[inside], slope(np.cos(bearing), -np.sin(bearing))),
    ):
        shares = np.arange(0.0, 101.0, 1.0)
        assert np.percentile(ours, shares) == pytest.approx(np.percentile(twin, shares), abs=1e-3)
        assert np.percentile(np.abs(ours - twin), 99.9) < 2e-3


def test_flat_streets_are_flat(town: Town, cells: tuple[Floats, Floats], inside: NDArray[np.bool_]) -> None:
    """Where the 16 posts round a station differ by a metre at most (the tile's own rounding), streets are flat.

    The derivative weights of cubic convolution add up to 3 at most in size, its weights to 1.25: a metre between the
    posts can make a slope of 0.5 × 3 × 1.25 ÷ 49 m = 3.8 % and an overshoot of 0.5 × (1.25² − 1) = 0.28 m, not more.
    Half of these stations have less than 1.5 %.
    """
    column, row = (np.floor(part[inside]).astype(np.int64) for part in cells)
    heights = town.heights
    around = np.stack([heights[row + i, column + j] for i in range(-1, 3) for j in range(-1, 3)])
    flat = np.ptp(around, axis=0) <= 1.0
    assert flat.sum() > 100
    stations = town.terrain.stations
    slope = np.hypot(stations.grade[inside][flat], stations.cross[inside][flat])
    assert slope.max() < 0.5 * 3.0 * 1.25 / 49.0
    assert np.median(slope) < 0.015
    z = stations.z[inside][flat]
    assert (z > around.min(axis=0)[flat] - 0.3).all()
    assert (z < around.max(axis=0)[flat] + 0.3).all()


def test_the_cell_is_said_to_be_as_coarse_as_it_is(town: Town) -> None:
    """3″ of latitude are 92.8 m (a minute of arc is a nautical mile, 1852 m, to 0.3 %)."""
    cell = town.terrain.stations.cell_m
    assert np.nanmedian(cell) == pytest.approx(1852.0 / 20.0, rel=0.01)
