"""The terrain as tables."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from pipeline.survey.model import Network
from pipeline.terms import Basis
from pipeline.terrain.model import Terrain, TerrainParameters
from pipeline.terrain.summary import segments_table, stations_table
from tests.worlds import at, bowl, network_of, plane, plane_world, sine_hills, soil_of, surface_terrain

PARAMETERS = TerrainParameters(dem_rmse_m=0.1, dem_correlation_m=5.0)


@pytest.fixture
def hilly() -> tuple[Network, Terrain]:
    """Three segments on hills."""
    network = network_of(
        {"a": at((0, 0), (25, 9)), "b": at((25, 9), (60, 20), (70, 50)), "c": at((25, 9), (3, 33))},
        name={"a": "Long brow"},
        width_m=2.6,
        surveyed_on={"b": "2026-03-01"},
    )
    return network, surface_terrain(network, sine_hills(40.0, 3.0))


def with_stations(terrain: Terrain, **columns: np.ndarray) -> Terrain:
    """Change columns of the stations."""
    return replace(terrain, stations=replace(terrain.stations, **columns))


def test_a_plane_has_its_grades() -> None:
    """30 m at +20 % with 10 % rising to the right: angles, climb and length along the ground by hand."""
    network, slope = plane_world(30.0, 0.2, 0.1, 35.0)
    row = segments_table(network, surface_terrain(network, slope), soil_of("dirt")).iloc[0]
    assert row["grade_max_deg"] == pytest.approx(np.degrees(np.arctan(0.2)), abs=1e-4)
    assert row["grade_min_deg"] == pytest.approx(row["grade_max_deg"], abs=1e-4)
    assert row["grade_mean_deg"] == pytest.approx(np.degrees(np.arctan(0.2)), abs=1e-4)
    assert row["side_slope_max_deg"] == pytest.approx(np.degrees(np.arctan(0.1)), abs=1e-4)
    assert row["side_slope_p95_deg"] == pytest.approx(row["side_slope_max_deg"], abs=1e-4)
    assert row["rise_m"] == pytest.approx(6.0, abs=1e-4)
    assert row["fall_m"] == 0.0
    assert row["ground_length_m"] == pytest.approx(30.0 * np.hypot(1.0, 0.2), abs=1e-3)
    assert (row["height_coverage"], row["dem_cell_m"], row["surface"]) == (1.0, 1.0, "dirt")
    assert row["radius_min_m"] == np.inf


def test_every_column_is_a_plain_reduction_of_the_stations(hilly: tuple[Network, Terrain]) -> None:
    """Segment by segment with plain numpy."""
    network, terrain = hilly
    s, table = terrain.stations, segments_table(network, terrain, soil_of(*["dirt"] * 3))
    for row in range(3):
        part, got = slice(s.offsets[row], s.offsets[row + 1]), table.iloc[row]
        grade, side = np.degrees(np.arctan(s.grade[part])), np.degrees(np.arctan(np.abs(s.cross[part])))
        assert got["grade_max_deg"] == pytest.approx(grade.max(), abs=1e-5)
        assert got["grade_min_deg"] == pytest.approx(grade.min(), abs=1e-5)
        assert got["side_slope_max_deg"] == pytest.approx(side.max(), abs=1e-5)
        assert got["side_slope_p95_deg"] == pytest.approx(
            np.degrees(np.arctan(np.percentile(np.abs(s.cross[part].astype(np.float64)), 95))), abs=1e-5
        )
        assert got["elevation_min_m"] == s.z[part].min()
        assert got["elevation_max_m"] == s.z[part].max()
        steps = np.hypot(np.diff(s.chainage_m[part]), np.diff(s.z[part].astype(np.float64)))
        assert got["ground_length_m"] == pytest.approx(steps.sum(), abs=1e-6)
        assert got["rise_m"] - got["fall_m"] == pytest.approx(float(s.z[part][-1] - s.z[part][0]), abs=1e-4)
    assert table["name"].tolist()[0] == "Long brow"
    assert table["width_m"].tolist() == [2.6] * 3
    assert table["length_m"].tolist() == network.segments["length_m"].tolist()


def test_a_segment_without_heights_says_so() -> None:
    """Heights, grades and lengths along the ground are missing; coverage is 0; the radius is known."""
    network, slope = plane_world()
    terrain = surface_terrain(network, slope)
    blank = np.full(terrain.stations.z.size, np.nan, dtype=np.float32)
    basis = np.full(blank.size, Basis.NONE, dtype=np.uint8)
    terrain = with_stations(terrain, z=blank, grade=blank, cross=blank, cell_m=blank, basis=basis)
    row = segments_table(network, terrain, soil_of("dirt")).iloc[0]
    missing = [name for name in row.index if "elevation" in name or "grade" in name or "slope" in name]
    missing += ["ground_length_m", "rise_m", "fall_m", "dem_cell_m"]
    assert row[missing].isna().all()
    assert row["height_coverage"] == 0.0
    assert row["radius_min_m"] == np.inf


def test_half_a_segment_with_heights_is_half_covered() -> None:
    """Known stretches count, unknown ones by their plan length; the mean grade needs both ends."""
    network, slope = plane_world(20.0, 0.5, 0.0)
    terrain = surface_terrain(network, slope)
    gone = terrain.stations.chainage_m > 10.0
    columns = {
        n: np.where(gone, np.nan, getattr(terrain.stations, n)).astype(np.float32) for n in ("z", "grade", "cross")
    }
    row = segments_table(network, with_stations(terrain, **columns), soil_of("dirt")).iloc[0]
    assert row["height_coverage"] == pytest.approx(21 / 41)
    assert row["rise_m"] == pytest.approx(5.0, abs=1e-4)
    assert row["ground_length_m"] == pytest.approx(10.0 * np.hypot(1.0, 0.5) + 10.0, abs=1e-3)
    assert np.isnan(row["grade_mean_deg"])
    assert row["grade_max_deg"] == pytest.approx(np.degrees(np.arctan(0.5)), abs=1e-4)


def test_the_tightest_bend_and_the_coarsest_cell_count() -> None:
    """Curvature of either sign; one station on a 10 m model makes the segment's cell 10 m."""
    network, slope = plane_world(10.0)
    terrain = surface_terrain(network, slope)
    curvature, cell = np.zeros(21, dtype=np.float32), np.ones(21, dtype=np.float32)
    curvature[4], curvature[9], cell[7] = 0.05, -0.125, 10.0
    row = segments_table(network, with_stations(terrain, curvature=curvature, cell_m=cell), soil_of("dirt")).iloc[0]
    assert (row["radius_min_m"], row["dem_cell_m"]) == (8.0, 10.0)


def test_segments_have_flat_lines() -> None:
    """Survey heights stay out of the table's geometry."""
    line = [(*p, 7.0) for p in at((0, 0), (9, 0))]
    network = network_of({"a": line}, profile="survey")
    table = segments_table(network, surface_terrain(network, plane()), soil_of("dirt"))
    assert not table.geometry.has_z.any()
    assert table.crs == network.crs


def test_stations_carry_angles_and_radii(hilly: tuple[Network, Terrain]) -> None:
    """One row a station, in order, in degrees; straight is inf."""
    network, terrain = hilly
    table = stations_table(network, terrain, PARAMETERS)
    s = terrain.stations
    assert table["segment_id"].tolist() == np.repeat(["a", "b", "c"], np.diff(s.offsets)).tolist()
    assert table["grade_deg"].to_numpy() == pytest.approx(np.degrees(np.arctan(s.grade)), abs=1e-4)
    assert table["side_slope_deg"].to_numpy() == pytest.approx(np.degrees(np.arctan(s.cross)), abs=1e-4)
    assert table["bearing_deg"].to_numpy() == pytest.approx(np.degrees(s.bearing_rad), abs=1e-4)
    assert np.isinf(table["radius_m"]).all()
    bent = np.full(s.x.size, -0.1, dtype=np.float32)
    assert stations_table(network, with_stations(terrain, curvature=bent), PARAMETERS)["radius_m"].to_numpy() == (
        pytest.approx(10.0)
    )


def test_standard_deviations_are_of_angles() -> None:
    """The slope's deviation ÷ (1 + slope²), in degrees: smaller on a steep face than on the flat."""
    network, slope = plane_world(10.0, 1.0, 0.0)
    table = stations_table(network, surface_terrain(network, slope), PARAMETERS)
    flat = stations_table(network, surface_terrain(network, plane()), PARAMETERS)
    assert table["grade_sd_deg"].to_numpy() == pytest.approx(flat["grade_sd_deg"].to_numpy() / 2.0, rel=1e-4)
    assert table["side_slope_sd_deg"].to_numpy() == pytest.approx(flat["side_slope_sd_deg"].to_numpy(), rel=1e-4)


def test_deviations_are_missing_where_the_error_is_not_known() -> None:
    """No RMSE: both missing. A surveyed grade has that of its survey, the side slope still the model's."""
    network, shape = plane_world(10.0)[0], bowl(*at((5, 5))[0], 0.01)
    unknown = stations_table(network, surface_terrain(network, shape), TerrainParameters())
    assert unknown[["grade_sd_deg", "side_slope_sd_deg"]].isna().all(axis=None)
    terrain = surface_terrain(network, shape)
    surveyed = with_stations(terrain, basis=np.full(21, Basis.SURVEYED, dtype=np.uint8))
    table = stations_table(network, surveyed, PARAMETERS)
    level = np.cos(np.arctan(terrain.stations.grade)) ** 2
    by_vertices = np.degrees(np.sqrt(2.0) * PARAMETERS.survey_rmse_m / 10.0 * level)
    assert table["grade_sd_deg"].to_numpy() == pytest.approx(by_vertices, rel=1e-5)
    model = stations_table(network, terrain, PARAMETERS)
    pd.testing.assert_series_equal(table["side_slope_sd_deg"], model["side_slope_sd_deg"])


def test_deviations_take_in_the_position_of_the_line() -> None:
    """In a bowl that bends by 0.01 a metre, half a metre of position error adds 0.005 of slope, as squares."""
    network, shape = plane_world(10.0)[0], bowl(*at((5, 5))[0], 0.01)
    terrain = surface_terrain(network, shape)
    exact = stations_table(network, terrain, PARAMETERS)
    moved = stations_table(network, terrain, replace(PARAMETERS, line_rmse_m=0.5))
    for name, slope in (("grade_sd_deg", terrain.stations.grade), ("side_slope_sd_deg", terrain.stations.cross)):
        added = np.sqrt(moved[name].astype(float) ** 2 - exact[name].astype(float) ** 2).to_numpy()
        assert added == pytest.approx(np.degrees(0.005 / (1.0 + slope.astype(float) ** 2)), rel=0.02)
