"""Layers of GeoPackage, GeoJSON and Shapefile: what GDAL passes over in silence is refused or understood."""

import datetime as dt
import json
import math
import re
import sqlite3
import struct
from contextlib import closing
from pathlib import Path

import geopandas as gpd
import numpy as np
import pyogrio.raw
import pytest
import shapely

from pipeline.survey.attributes import TRAIL_ATTRIBUTES, keys_of
from pipeline.survey.findings import Findings
from pipeline.survey.layer import Layer
from pipeline.survey.model import Source
from pipeline.survey.ogr import Wanted, read_ogr
from tests.survey.worlds import UTM, at, found, spot, write

LINES = Wanted("lines", ("LineString", "Curve"), keys_of(TRAIL_ATTRIBUTES, trail=True))


def read(source: Source) -> tuple[Layer | None, Findings]:
    """Read the lines of a file."""
    findings = Findings()
    return read_ogr(source, LINES, findings), findings


def usable(source: Source) -> Layer:
    """Read the lines of a file that holds no fault."""
    layer, findings = read(source)
    assert layer is not None, found(findings)
    return layer


def test_only_line_layer_is_taken(tmp_path: Path) -> None:
    """Without a name the only layer of lines is read, wherever it stands among points and areas."""
    path = tmp_path / "site.gpkg"
    write(path, [spot(0, 0)], layer="gates")
    write(path, [at((0, 0), (9, 0))], layer="trails", id=["A"])
    write(path, [spot(0, 0).buffer(5)], layer="woods")
    layer = usable(Source(path))
    assert layer.tags == [{"id": "A"}]
    assert layer.features == ["feature 1"]


def test_several_line_layers_need_a_name(tmp_path: Path) -> None:
    """Two layers of lines without a name are a fault that lists them; with a name one of them is read."""
    path = tmp_path / "site.gpkg"
    write(path, [at((0, 0), (9, 0))], layer="trails", id=["A"])
    write(path, [at((0, 0), (0, 9))], layer="fences", id=["F"])
    layer, findings = read(Source(path))
    assert layer is None
    assert "trails (LineString), fences (LineString)" in found(findings)
    assert usable(Source(path, "fences")).tags == [{"id": "F"}]


def test_misspelt_layer(tmp_path: Path) -> None:
    """A layer that is not there is a fault that names the nearest."""
    path = tmp_path / "site.gpkg"
    write(path, [at((0, 0), (9, 0))], layer="trails")
    _, findings = read(Source(path, "trials"))
    assert "layer 'trials' is not in the file" in found(findings)
    assert 'did you mean "trails"' in found(findings)


def test_no_line_layer(tmp_path: Path) -> None:
    """A file of points alone is a fault that lists what it holds."""
    path = tmp_path / "gates.gpkg"
    write(path, [spot(0, 0)], layer="gates")
    assert "no layer holds lines" in found(read(Source(path))[1])


def test_only_understood_columns_are_read(tmp_path: Path) -> None:
    """Photographs and other columns stay in the file; names read whatever their capitals."""
    source = write(tmp_path / "t.gpkg", [at((0, 0), (9, 0))], Width=["2 m"], photo=[b"\xff\xd8 not a word"], note=["x"])
    assert usable(source).tags == [{"width": "2 m"}]


def plant(path: Path, kind: int, points: list[tuple[float, ...]]) -> Source:
    """Write a GeoPackage of one line, then put a geometry into it that shapely cannot write.

    Layout: GeoPackage 1.3, clause 2.1.3 (header ``GP``, version, flags, srs_id), then ISO well-known binary.
    """
    write(path, [at((0, 0), (9, 0))], layer="trails", id=["A"])
    blob = b"GP" + struct.pack("<BBi", 0, 1, 32632) + struct.pack("<BII", 1, kind, len(points))
    blob += b"".join(struct.pack(f"<{len(point)}d", *point) for point in points)
    with closing(sqlite3.connect(path)) as database:
        for (name,) in database.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            database.execute(f'DROP TRIGGER "{name}"')
        database.execute("UPDATE trails SET geom = ?", (blob,))
        database.commit()
    return Source(path)


def test_heights_and_measures(tmp_path: Path) -> None:
    """A line with heights and measures (ISO type 3002, ZM) keeps its heights and loses its measures."""
    source = plant(tmp_path / "zm.gpkg", 3002, [(5e5, 54e5, 101.0, 0.0), (5e5 + 9, 54e5, 102.0, 9.0)])
    (shape,) = usable(source).shapes
    assert shape.has_z
    assert not shapely.has_m(shape)
    assert [point[2] for point in shape.coords] == [101.0, 102.0]


def test_curves_become_lines(tmp_path: Path) -> None:
    """An arc (ISO type 8) comes as a line of short chords: a quarter circle of radius 10 m is 15.708 m long."""
    bend = 10.0 * math.sqrt(0.5)
    source = plant(tmp_path / "arc.gpkg", 8, [(5e5 + 10, 54e5), (5e5 + bend, 54e5 + bend), (5e5, 54e5 + 10)])
    (shape,) = usable(source).shapes
    assert shape.geom_type == "LineString"
    assert shape.length == pytest.approx(5.0 * math.pi, abs=0.01)


def test_broken_geometry_does_not_take_the_layer_down(tmp_path: Path) -> None:
    """A line of one position, which GEOS refuses, comes as no geometry; its neighbours are read."""
    path = tmp_path / "t.geojson"
    features = [
        {"type": "Feature", "properties": {"id": "A"}, "geometry": {"type": "LineString", "coordinates": [[9, 48]]}},
        {
            "type": "Feature",
            "properties": {"id": "B", "oneway": True},
            "geometry": {"type": "LineString", "coordinates": [[9, 48], [9.001, 48, 3]]},
        },
        {"type": "Feature", "properties": None, "geometry": None},
        {"type": "Feature", "properties": {"width": 3}, "geometry": {"type": "GeometryCollection", "geometries": []}},
    ]
    path.write_text(json.dumps({"type": "FeatureCollection", "features": features}))
    layer = usable(Source(path))
    assert layer.shapes[0] is None
    assert layer.shapes[1].length == pytest.approx(0.001)
    assert layer.crs.to_epsg() == 4326
    assert [tags["id"] for tags in layer.tags[:2]] == ["A", "B"]


def test_shapefile_without_prj_is_refused(tmp_path: Path) -> None:
    """A Shapefile without its CRS is refused with the way out."""
    source = write(tmp_path / "t.shp", [at((0, 0), (9, 0))], id=["A"])
    (tmp_path / "t.prj").unlink()
    layer, findings = read(source)
    assert layer is None
    assert "t.shp: the coordinate reference system is not given" in found(findings)
    assert "copy t.prj beside it" in found(findings)


@pytest.mark.parametrize("part", [".shx", ".dbf"])
def test_incomplete_shapefile(tmp_path: Path, part: str) -> None:
    """Without its index or its table a Shapefile is refused by name; GDAL would drop all attributes in silence."""
    source = write(tmp_path / "t.shp", [at((0, 0), (9, 0))], id=["A"])
    (tmp_path / f"t{part}").unlink()
    layer, findings = read(source)
    assert layer is None
    assert f"t{part} missing beside it" in found(findings)
    assert findings.missing


def test_cut_field_names(tmp_path: Path) -> None:
    """Field names cut to ten characters by the dBASE table are understood by what they begin with."""
    path = tmp_path / "t.shp"
    frame = gpd.GeoDataFrame(
        {"surveyed_o": ["2025-05-31"], "max_height": [3.5], "maxwidth_p": ["6'7\""], "smoothness": ["bad"]},
        geometry=[at((0, 0), (9, 0))],
        crs=UTM,
    )
    frame.to_file(path)
    (tags,) = usable(Source(path)).tags
    assert tags == {
        "surveyed_on": "2025-05-31", "max_height_m": 3.5, "maxwidth_physical": "6'7\"", "smoothness": "bad",
    }  # fmt: skip


def test_shapefile_encoding_is_left_to_gdal(tmp_path: Path) -> None:
    """Latin-1 names without a .cpg read right through the code-page byte of the table."""
    source = write(tmp_path / "t.shp", [at((0, 0), (9, 0))], name=["x"])
    frame = gpd.GeoDataFrame({"name": ["Größe"]}, geometry=[at((0, 0), (9, 0))], crs=UTM)
    frame.to_file(source.path, encoding="ISO-8859-1")
    (tmp_path / "t.cpg").unlink(missing_ok=True)
    assert usable(source).tags == [{"name": "Größe"}]


@pytest.mark.parametrize("name", ["t.gpkg", "t.geojson", "t.shp"])
def test_rubbish_is_a_fault(tmp_path: Path, name: str) -> None:
    """A file that is not what its ending says is one fault that says so, not a crash."""
    path = tmp_path / name
    for part in (path, path.with_suffix(".shx"), path.with_suffix(".dbf")):
        part.write_bytes(b"rubbish")
    layer, findings = read(Source(path))
    assert layer is None
    assert f"what is in it is not what {path.suffix} files hold" in found(findings)


def test_layers_of_different_crs(tmp_path: Path) -> None:
    """Each layer comes in its own CRS."""
    path = tmp_path / "site.gpkg"
    write(path, [at((0, 0), (9, 0))], layer="metric")
    write(path, [shapely.LineString([(9, 48), (9.1, 48)])], layer="degrees", crs="EPSG:4258")
    assert usable(Source(path, "metric")).crs.to_epsg() == 32632
    assert usable(Source(path, "degrees")).crs.to_epsg() == 4258


def test_dates_of_a_date_column(tmp_path: Path) -> None:
    """A column of dates comes as text that the date reader understands."""
    source = write(tmp_path / "t.gpkg", [at((0, 0), (9, 0))], surveyed_on=[dt.date(2025, 5, 31)])
    (tags,) = usable(source).tags
    assert str(tags["surveyed_on"]).startswith("2025-05-31")


def with_dates(path: Path, day: bytes) -> Source:
    """Write six trails into a Shapefile with a date column, and put *day* into the fourth."""
    shapes = np.array([at((0, k), (9, k)).wkb for k in range(6)], dtype=object)
    days = np.array(["2026-03-20"] * 6, dtype="datetime64[D]")
    pyogrio.raw.write(path, shapes, [days], ["surveyed_o"], geometry_type="LineString", crs=UTM)
    table = path.with_suffix(".dbf").read_bytes()
    places = [match.start() for match in re.finditer(b"20260320", table)]
    path.with_suffix(".dbf").write_bytes(table[: places[3]] + day + table[places[3] + 8 :])
    return Source(path)


def test_date_column_with_a_day_that_is_none(tmp_path: Path) -> None:
    """A date column is made into dates by the reader: a 30th of February names its feature and column, no crash."""
    assert usable(with_dates(tmp_path / "good.shp", b"20260228")).tags[3]["surveyed_on"] == "2026-02-28"
    layer, findings = read(with_dates(tmp_path / "bad.shp", b"20260230"))
    assert layer is None
    assert found(findings).startswith("bad.shp:feature 3: surveyed_o is no date of the calendar; allowed: a date as")


def test_shapefile_cut_off(tmp_path: Path) -> None:
    """GDAL reads what is left and leaves the other features empty; the length in the header tells what is missing."""
    path = tmp_path / "t.shp"
    source = write(path, [at((0, k), (9, k)) for k in range(6)], id=list("ABCDEF"))
    whole = path.read_bytes()
    path.write_bytes(whole[:-100])
    layer, findings = read(source)
    assert layer is None
    assert "its last 100 bytes are missing" in found(findings)


def test_an_empty_file(tmp_path: Path) -> None:
    """Nothing in it is said in these words."""
    (tmp_path / "t.gpkg").write_bytes(b"")
    assert "t.gpkg: the file is empty" in found(read(Source(tmp_path / "t.gpkg"))[1])


def test_remarks_of_the_reader_are_recorded(tmp_path: Path) -> None:
    """What GDAL says about a file that it reads all the same stands among the repairs, not on the terminal."""
    path = tmp_path / "t.gpkg"
    source = write(path, [at((0, 0), (9, 0))], surveyed_on=[dt.datetime(2026, 3, 20, tzinfo=dt.UTC)])
    with closing(sqlite3.connect(path)) as base:
        for (name,) in base.execute("select name from sqlite_master where type = 'trigger'").fetchall():
            base.execute(f'drop trigger "{name}"')
        base.execute("update t set surveyed_on = '20.3.2026'")
        base.commit()
    layer, findings = read(source)
    assert layer is not None
    assert [repair.repair for repair in findings.repairs] == ["read as it is"]
    assert "20.3.2026" in findings.repairs[0].detail
