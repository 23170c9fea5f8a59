"""``site.gpkg`` against the GeoPackage 1.3 rules that a reader depends on, and against the tables."""

import sqlite3
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import numpy as np
import pandas as pd
import pyogrio
import pytest

from pipeline.products.facts import Facts
from pipeline.products.geopackage import LAYERS, write_geopackage
from pipeline.products.plain import CAUTION, WATER_CAUTION
from pipeline.products.styles import STYLES
from tests.products.ground_worlds import without_ground
from tests.products.worlds import hostile_facts, make_facts, mixed, no_loops, with_heights

FACTS = mixed(make_facts())


@pytest.fixture(scope="module")
def package(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Write the plain world once."""
    return write_geopackage(FACTS, tmp_path_factory.mktemp("gpkg") / "site.gpkg")


@pytest.fixture
def database(package: Path) -> Iterator[sqlite3.Connection]:
    """Open the package as the SQLite file it is."""
    with closing(sqlite3.connect(f"file:{package}?mode=ro", uri=True)) as connection:
        yield connection


def test_it_declares_itself_a_geopackage_1_3(database: sqlite3.Connection) -> None:
    """OGC 12-128r17 (1.3), Requirement 2: application_id "GPKG" = 1196444487, user_version 10300."""
    assert database.execute("PRAGMA application_id").fetchone() == (1196444487,)
    assert database.execute("PRAGMA user_version").fetchone() == (10300,)


def test_the_required_reference_systems_are_there(database: sqlite3.Connection) -> None:
    """Requirement 11: 4326, −1 and 0 must be in gpkg_spatial_ref_sys; and so must the system of the site."""
    found = dict(database.execute("SELECT srs_id, organization FROM gpkg_spatial_ref_sys"))
    assert {4326, -1, 0, 32632} <= set(found)
    assert found[-1] == found[0] == "NONE"


def test_every_layer_is_registered(database: sqlite3.Connection) -> None:
    """Requirement 13: each user table has a row in gpkg_contents; feature tables one in gpkg_geometry_columns."""
    contents = dict(database.execute("SELECT table_name, data_type FROM gpkg_contents"))
    assert contents == {**dict.fromkeys(LAYERS, "features"), "layer_styles": "attributes"}
    geometry = dict(database.execute("SELECT table_name, geometry_type_name FROM gpkg_geometry_columns"))
    assert geometry == {
        "segments": "LINESTRING",
        "obstacles": "POINT",
        "verdicts": "LINESTRING",
        "loops": "GEOMETRY",
        "bypasses": "GEOMETRY",
        "calls": "POINT",
        "passings": "POINT",
        "lines": "LINESTRING",
        "crossings": "POINT",
        "repairs": "GEOMETRY",
    }
    systems = {row[0] for row in database.execute("SELECT srs_id FROM gpkg_geometry_columns")}
    assert systems == {32632}


def test_the_caution_stands_in_every_description(database: sqlite3.Connection) -> None:
    """Whoever opens one layer alone reads it."""
    descriptions = [row[0] for row in database.execute("SELECT description FROM gpkg_contents")]
    assert descriptions
    assert all(CAUTION in description for description in descriptions)


def test_the_database_is_sound(database: sqlite3.Connection) -> None:
    """SQLite's own check finds nothing, and no journal is left behind."""
    assert database.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    assert database.execute("PRAGMA foreign_key_check").fetchall() == []


def test_nothing_lies_beside_the_package(package: Path) -> None:
    """A WAL or journal file beside it would be lost when the file is copied to a stick."""
    assert [path.name for path in package.parent.iterdir()] == ["site.gpkg"]


@pytest.mark.parametrize("layer", sorted(set(LAYERS) - {"passings"}))
def test_layers_read_back_as_the_tables(package: Path, layer: str) -> None:
    """Same rows, columns, values and geometries, in the same order and reference system."""
    expected = getattr(FACTS, layer).reset_index(drop=True)
    found = pyogrio.read_dataframe(package, layer=layer)
    assert found.crs == expected.crs
    assert list(found.columns) == list(expected.columns)
    assert found.geometry.geom_equals_exact(expected.geometry, 0.0).all()
    for name in expected.columns.drop("geometry"):
        if pd.api.types.is_numeric_dtype(expected[name]):
            values = expected[name].to_numpy(dtype=float)
            assert np.array_equal(found[name].to_numpy(dtype=float), values, equal_nan=True), name
        else:
            assert found[name].isna().tolist() == expected[name].isna().tolist(), name
            assert found[name].dropna().tolist() == expected[name].dropna().tolist(), name


def test_passings_lie_on_their_segments(package: Path) -> None:
    """One point a row, at its chainage along the line; columns and rows of the table, in its order."""
    found = pyogrio.read_dataframe(package, layer="passings")
    assert found.crs == FACTS.crs
    expected = FACTS.passings.reset_index(drop=True)
    shown = pd.DataFrame(found.drop(columns="geometry"))
    pd.testing.assert_frame_equal(shown, expected, check_dtype=False)
    lines = FACTS.segments.set_index("segment_id").geometry
    for row in found.itertuples():
        line = lines[row.segment_id]
        assert line.distance(row.geometry) < 1e-6
        assert line.project(row.geometry) == pytest.approx(row.at_m, abs=1e-6)


def test_whoever_opens_the_crossings_reads_what_the_limits_of_water_are(database: sqlite3.Connection) -> None:
    """Draft criteria for vehicles that stand in water: said where the depths are."""
    found = dict(database.execute("SELECT table_name, description FROM gpkg_contents"))
    assert WATER_CAUTION in found["crossings"]
    assert not any(WATER_CAUTION in told for name, told in found.items() if name != "crossings")


def test_a_build_without_lines_makes_their_layers(tmp_path: Path) -> None:
    """In the working CRS, with all columns and no rows."""
    path = write_geopackage(without_ground(FACTS), tmp_path / "site.gpkg")
    for layer in ("lines", "crossings"):
        found = pyogrio.read_dataframe(path, layer=layer)
        assert len(found) == 0
        assert list(found.columns) == list(getattr(FACTS, layer).columns)
        assert found.crs == FACTS.crs


def test_hostile_texts_are_stored_as_they_are(tmp_path: Path) -> None:
    """A database holds text as it is; only a NUL, which would cut it short, is made visible."""
    facts = hostile_facts()
    facts.segments.loc[0, "name"] = "before\x00after"
    found = pyogrio.read_dataframe(write_geopackage(facts, tmp_path / "site.gpkg"), layer="segments")
    assert found["name"].tolist() == ["before\ufffdafter", *facts.segments["name"].tolist()[1:]]


def test_empty_tables_make_layers_with_their_columns(tmp_path: Path) -> None:
    """A site without loops has a loops layer without rows, so that saved projects still open."""
    path = write_geopackage(no_loops(FACTS), tmp_path / "site.gpkg")
    found = pyogrio.read_dataframe(path, layer="loops")
    assert len(found) == 0
    assert list(found.columns) == list(FACTS.loops.columns)


def test_the_same_facts_give_the_same_bytes(package: Path, tmp_path: Path) -> None:
    """A rebuild a second later, over an older file, is byte-identical: no clock goes in."""
    path = tmp_path / "site.gpkg"
    write_geopackage(hostile_facts(), path)
    time.sleep(1.1)
    assert write_geopackage(FACTS, path).read_bytes() == package.read_bytes()


def test_the_drivers_clock_is_put_back(tmp_path: Path) -> None:
    """Writing leaves no trace in the settings of the process."""
    pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": "2001-01-01T00:00:00.000Z"})
    try:
        write_geopackage(FACTS, tmp_path / "site.gpkg")
        assert pyogrio.get_gdal_config_option("OGR_CURRENT_DATE") == "2001-01-01T00:00:00.000Z"
    finally:
        pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": None})


def test_each_styled_layer_has_one_default_style(database: sqlite3.Connection) -> None:
    """The desktop GIS takes the row with useAsDefault for table and geometry column."""
    rows = database.execute(
        "SELECT f_table_name, f_geometry_column, useAsDefault, styleQML FROM layer_styles"
    ).fetchall()
    assert [row[0] for row in rows] == list(STYLES)
    columns = dict(database.execute("SELECT table_name, column_name FROM gpkg_geometry_columns"))
    for table, column, default, qml in rows:
        assert columns[table] == column
        assert default == 1
        assert qml.startswith("<!DOCTYPE qgis")


def _bounds(facts: Facts) -> list[float]:
    return [round(value, 3) for value in facts.segments.total_bounds]


def test_the_extent_is_the_networks(database: sqlite3.Connection) -> None:
    """A GIS zooms to the extent in gpkg_contents when a layer is opened."""
    row = database.execute(
        "SELECT min_x, min_y, max_x, max_y FROM gpkg_contents WHERE table_name='segments'"
    ).fetchone()
    assert [round(value, 3) for value in row] == _bounds(FACTS)


def test_survey_grade_lines_are_written_flat(tmp_path: Path) -> None:
    """Some lines carry heights and others do not; every layer is of one kind, and no reader is told otherwise."""
    path = write_geopackage(with_heights(FACTS), tmp_path / "site.gpkg")
    for layer in ("segments", "verdicts", "loops"):
        found = pyogrio.read_dataframe(path, layer=layer)
        assert not found.has_z.any()
        assert found.geometry.geom_equals_exact(getattr(FACTS, layer).geometry.reset_index(drop=True), 0.0).all()
