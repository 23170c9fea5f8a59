"""A frame that breaks its contract is named with every breach; one that keeps it comes back as it is."""

from collections.abc import Callable

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from shapely import LineString, Point

from pipeline import tables
from pipeline.errors import ContractError
from pipeline.tables import VERDICTS, Column, Geometry, Kind, Table, empty, validate

UTM = "EPSG:32632"
PLAIN = Table(
    name="plain",
    key=("name",),
    columns=(
        Column("name", Kind.TEXT, "a name"),
        Column("word", Kind.TEXT, "a word", words=("one", "two"), nullable=True),
        Column("length_m", Kind.FLOAT, "a length", "m"),
        Column("count", Kind.INTEGER, "a count"),
        Column("open", Kind.FLAG, "a flag"),
    ),
)


def plain() -> pd.DataFrame:
    """Give a frame that keeps the contract."""
    return pd.DataFrame(
        {"name": ["a", "b"], "word": ["one", None], "length_m": [1.0, 2.0], "count": [1, 2], "open": [True, False]}
    )


def verdicts() -> gpd.GeoDataFrame:
    """Give a table with geometry that keeps its contract."""
    return gpd.GeoDataFrame(
        {
            "segment_id": ["s1", "s1"],
            "setup": ["long", "long"],
            "direction": ["with", "against"],
            "verdict": ["ample", "barred"],
            "utilisation": [0.4, np.nan],
            "check": ["roll", "height"],
            "at_m": [3.0, np.nan],
        },
        geometry=[LineString([(0, 0), (1, 1)])] * 2,
        crs=UTM,
    )


def breaches(frame: pd.DataFrame, table: Table) -> list[str]:
    """List the breaches of a frame."""
    with pytest.raises(ContractError) as caught:
        validate(frame, table)
    return [str(fault) for fault in caught.value.faults]


def test_a_good_frame_comes_back_itself() -> None:
    """Nothing is copied or changed."""
    for frame, table in ((plain(), PLAIN), (verdicts(), VERDICTS)):
        before = frame.copy()
        assert validate(frame, table) is frame
        pd.testing.assert_frame_equal(pd.DataFrame(frame), pd.DataFrame(before))


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        (lambda frame: frame.drop(columns="open"), "table plain:columns: name, word, length_m, count; allowed: name,"),
        (lambda frame: frame.assign(more=1), "table plain:columns: name, word, length_m, count, open, more; allowed"),
        (lambda frame: frame[["word", "name", "length_m", "count", "open"]], "table plain:columns: word, name,"),
        (lambda frame: frame.assign(length_m=[1, 2]), "table plain:column length_m: dtype int64; allowed: float64"),
        (lambda frame: frame.assign(length_m=np.float32([1, 2])), "column length_m: dtype float32; allowed: float64"),
        (lambda frame: frame.assign(count=[1.0, 2.0]), "column count: dtype float64; allowed: int64"),
        (lambda frame: frame.assign(open=[1, 0]), "column open: dtype int64; allowed: bool"),
        (lambda frame: frame.assign(name=[1, 2]), "column name: dtype int64; allowed: text"),
        (
            lambda frame: frame.assign(length_m=[1.0, np.nan]),
            "column length_m: 1 missing values; allowed: none missing",
        ),
        (lambda frame: frame.assign(word=["one", "three"]), "column word: three; allowed: one | two"),
        (lambda frame: frame.assign(name=["a", "a"]), "key name: 1 doubled, first ['a']; allowed: unique"),
    ],
)
def test_each_breach_is_named(change: Callable[[pd.DataFrame], pd.DataFrame], expected: str) -> None:
    """One breach, one fault that names the table, the column, what is there and what may be."""
    (message,) = breaches(change(plain()), PLAIN)
    assert expected in message


def test_all_breaches_come_at_once() -> None:
    """Three breaches in one frame, three faults."""
    frame = plain().assign(name=["a", "a"], word=["one", "three"], length_m=[np.nan, 1.0])
    assert len(breaches(frame, PLAIN)) == 3


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        (
            lambda frame: frame.set_crs(None, allow_override=True),
            "geometry: no CRS; allowed: a projected CRS in metres",
        ),
        (lambda frame: frame.set_geometry([Point(0, 0)] * 2, crs=UTM), "geometry: Point; allowed: LineString"),
        (lambda frame: frame.set_geometry([None, LineString()], crs=UTM), "geometry: 2 missing geometries"),
        (pd.DataFrame, "geometry: no geometry column; allowed: LineString"),
    ],
)
def test_geometry_is_checked(change: Callable[[gpd.GeoDataFrame], pd.DataFrame], expected: str) -> None:
    """Wrong shapes, missing shapes and a missing CRS are breaches."""
    assert any(expected in message for message in breaches(change(verdicts()), VERDICTS))


def test_missing_geometry_column() -> None:
    """A table that has lost its geometry is told so, not crashed on."""
    assert any("no geometry column" in message for message in breaches(verdicts().drop(columns="geometry"), VERDICTS))


ALL = [getattr(tables, name) for name in tables.__all__ if isinstance(getattr(tables, name), Table)]


@pytest.mark.parametrize("table", ALL, ids=lambda table: table.name)
def test_every_empty_table_keeps_its_contract(table: Table) -> None:
    """A stage with nothing to hand over hands over a table that fits."""
    frame = validate(empty(table, crs=UTM), table)
    assert len(frame) == 0
    assert isinstance(frame, gpd.GeoDataFrame) == (table.geometry is not None)


@pytest.mark.parametrize("table", ALL, ids=lambda table: table.name)
def test_units_stand_in_the_names(table: Table) -> None:
    """A column whose name ends in a unit has that unit, and the key columns exist."""
    suffixes = {
        "_m": "m",
        "_deg": "deg",
        "_min": "min",
        "_pct": "%",
        "_m_s": "m/s",
        "_kmh": "km/h",
        "_m2": "m²",
        "_mm": "mm",
    }
    for column in table.columns:
        found = max((end for end in suffixes if column.name.endswith(end)), key=len, default=None)
        assert column.unit == suffixes[found] if found else column.unit in {"", "1", "m", "m or 1"}, column.name
        assert column.meaning
    assert set(table.key) <= set(table.names)


@pytest.mark.parametrize(
    ("geometry", "types"),
    [
        (Geometry.LINE, {"LineString"}),
        (Geometry.LINES, {"LineString", "MultiLineString"}),
        (Geometry.POINT, {"Point"}),
    ],
)
def test_geometry_types(geometry: Geometry, types: set[str]) -> None:
    """The shapely names that a geometry allows."""
    assert set(geometry.types) == types
    assert types < set(Geometry.ANY.types)
