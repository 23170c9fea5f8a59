"""The Parquet tables: GeoParquet 1.1 metadata, units, and the same values as the frames."""

import json
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pyarrow.parquet as pq
import pytest
from pyproj import CRS

from pipeline.products.parquet import KEY, PLANS, write_parquet
from pipeline.products.plain import CAUTION
from pipeline.tables import validate
from tests.products.ground_worlds import without_ground
from tests.products.worlds import hostile_facts, make_facts, mixed, no_loops

FACTS = mixed(make_facts())
SPATIAL = ["segments", "verdicts", "loops", "lines", "crossings", "bypasses"]
PLAIN = [
    *("stations", "checks", "techniques", "legs", "poses", "passings", "stopping", "fitness", "comparisons"),
    *("outlooks", "practice", "session", "convoy"),
]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Write the plain world once."""
    where = tmp_path_factory.mktemp("parquet")
    write_parquet(FACTS, where)
    return where


def test_the_files_of_the_contract_and_no_others(folder: Path) -> None:
    """Nineteen tables, in the build folder under their own names."""
    assert sorted(path.name for path in folder.iterdir()) == sorted(f"{name}.parquet" for name in SPATIAL + PLAIN)


@pytest.mark.parametrize("name", SPATIAL)
def test_geo_metadata_is_that_of_geoparquet_1_1(folder: Path, name: str) -> None:
    """GeoParquet 1.1.0, "File metadata" and "Column metadata": required keys, PROJJSON CRS, covering on a bbox."""
    meta = pq.read_schema(folder / f"{name}.parquet").metadata
    geo = json.loads(meta[b"geo"])
    assert geo["version"] == "1.1.0"
    column = geo["columns"][geo["primary_column"]]
    assert column["encoding"] == "WKB"
    assert set(column["geometry_types"]) <= ({"Point"} if name == "crossings" else {"LineString", "MultiLineString"})
    assert CRS.from_json_dict(column["crs"]) == FACTS.crs
    assert column["covering"]["bbox"] == {side: ["bbox", side] for side in ("xmin", "ymin", "xmax", "ymax")}
    assert np.allclose(column["bbox"], getattr(FACTS, name).total_bounds)


@pytest.mark.parametrize("name", SPATIAL)
def test_the_bbox_of_a_row_covers_its_geometry(folder: Path, name: str) -> None:
    """A reader that skips rows by bbox must not lose any."""
    boxes = pd.DataFrame(pq.read_table(folder / f"{name}.parquet", columns=["bbox"]).to_pydict()["bbox"])
    bounds = getattr(FACTS, name).geometry.bounds.to_numpy()
    assert (boxes[["xmin", "ymin"]].to_numpy() <= bounds[:, :2]).all()
    assert (boxes[["xmax", "ymax"]].to_numpy() >= bounds[:, 2:]).all()


@pytest.mark.parametrize("name", SPATIAL)
def test_spatial_tables_read_back_as_the_frames(folder: Path, name: str) -> None:
    """Geopandas reads the frame of the contract: rows, kinds, values, geometry."""
    found = gpd.read_parquet(folder / f"{name}.parquet")
    expected = getattr(FACTS, name).reset_index(drop=True)
    validate(found, PLANS[name].table)
    pd.testing.assert_frame_equal(
        pd.DataFrame(found.drop(columns="geometry")), pd.DataFrame(expected.drop(columns="geometry"))
    )
    assert found.geometry.geom_equals_exact(expected.geometry, 0.0).all()


@pytest.mark.parametrize("name", PLAIN)
def test_plain_tables_read_back_as_the_frames(folder: Path, name: str) -> None:
    """Pandas reads the frame of the contract, float32 columns still float32."""
    found = pd.read_parquet(folder / f"{name}.parquet")
    expected = (FACTS.poses.table if name == "poses" else getattr(FACTS, name)).reset_index(drop=True)
    validate(found, PLANS[name].table)
    pd.testing.assert_frame_equal(found, expected)


@pytest.mark.parametrize("name", SPATIAL + PLAIN)
def test_each_file_says_its_units_and_the_caution(folder: Path, name: str) -> None:
    """Unit and meaning of every column, the caution and the warnings of the set-ups, in the file itself."""
    about = json.loads(pq.read_schema(folder / f"{name}.parquet").metadata[KEY])
    assert about["caution"] == CAUTION
    assert about["warnings"] == ["Long wagon: maker's figures on a modified vehicle: measure it"]
    assert about["format"] == 1
    assert about["columns"].keys() == set(PLANS[name].table.names)
    for column in PLANS[name].table.columns:
        assert about["columns"][column.name] == {"unit": column.unit, "meaning": column.meaning}


def test_how_the_bytes_are_packed(folder: Path) -> None:
    """Zstd throughout; the stations' floats as split byte streams, their ids as a dictionary."""
    for name in SPATIAL + PLAIN:
        group = pq.read_metadata(folder / f"{name}.parquet").row_group(0)
        assert {group.column(i).compression for i in range(group.num_columns)} == {"ZSTD"}
    group = pq.read_metadata(folder / "stations.parquet").row_group(0)
    encodings = {group.column(i).path_in_schema: group.column(i).encodings for i in range(group.num_columns)}
    assert all("BYTE_STREAM_SPLIT" in encodings[name] for name in encodings if name != "segment_id")
    assert "RLE_DICTIONARY" in encodings["segment_id"]


def test_the_same_facts_give_the_same_bytes(folder: Path, tmp_path: Path) -> None:
    """No clock and no random number goes in."""
    for path in write_parquet(FACTS, tmp_path):
        assert path.read_bytes() == (folder / path.name).read_bytes()


def test_tables_without_rows_keep_their_types(tmp_path: Path) -> None:
    """A site without loops has loop tables that read like any other."""
    write_parquet(no_loops(FACTS), tmp_path)
    validate(gpd.read_parquet(tmp_path / "loops.parquet"), PLANS["loops"].table)
    validate(pd.read_parquet(tmp_path / "legs.parquet"), PLANS["legs"].table)


def test_what_was_not_made_or_asked_for_is_a_table_without_rows(tmp_path: Path) -> None:
    """Poses without elevation, comparisons nobody asked for: the file is there, with the types of the contract."""
    written = write_parquet(without_ground(FACTS), tmp_path)
    assert [path.stem for path in written] == list(PLANS)
    for name in ("poses", "passings", "stopping", "fitness", "comparisons"):
        found = pd.read_parquet(tmp_path / f"{name}.parquet")
        assert found.empty
        validate(found, PLANS[name].table)


def test_hostile_texts_come_back_as_they_were(tmp_path: Path) -> None:
    """Parquet holds any text."""
    facts = hostile_facts()
    write_parquet(facts, tmp_path)
    assert gpd.read_parquet(tmp_path / "segments.parquet")["name"].tolist() == facts.segments["name"].tolist()
