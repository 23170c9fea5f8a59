"""The column contract of every table that crosses a stage border.

A table is a :class:`Table`: an ordered list of :class:`Column`, each with its
dtype kind, unit, nullability, allowed words and meaning. :func:`validate`
checks a frame against its contract and raises one :class:`ContractError` that
lists every breach; stages call it on what they hand over, so that a fault is
named where it is made. :func:`empty` gives a frame with no rows that fits.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from enum import StrEnum
from typing import TypeVar

import geopandas as gpd
import pandas as pd
from pyproj import CRS

from pipeline.errors import ContractError, Fault
from pipeline.tables.kinds import Geometry, Kind

__all__ = ["Column", "Table", "empty", "validate", "words"]

Frame = TypeVar("Frame", bound=pd.DataFrame)


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a table."""

    name: str
    """Column name; ends in its unit where it has one."""
    kind: Kind
    """What kind of values it holds."""
    meaning: str
    """What the values say, with sign conventions."""
    unit: str = ""
    """Unit symbol; empty for text and pure numbers."""
    nullable: bool = False
    """Whether a value may be missing."""
    words: tuple[str, ...] = ()
    """The allowed words of a text column; empty when any text is allowed."""


@dataclass(frozen=True, slots=True)
class Table:
    """The contract of one table."""

    name: str
    columns: tuple[Column, ...]
    key: tuple[str, ...] = ()
    """Columns that together name a row; no two rows share them."""
    geometry: Geometry | None = None
    """The geometry that the table carries; ``None`` for a plain table."""

    @property
    def names(self) -> tuple[str, ...]:
        """Column names in order, without the geometry."""
        return tuple(column.name for column in self.columns)


@dataclass(slots=True)
class _Breaches:
    """Collects what is wrong with one frame."""

    table: str
    found: list[Fault] = field(default_factory=list)

    def add(self, place: str, found: str, allowed: str) -> None:
        self.found.append(Fault(file=f"table {self.table}", place=place, found=found, allowed=allowed))


def words(vocabulary: type[StrEnum]) -> tuple[str, ...]:
    """List the words of a vocabulary, for :attr:`Column.words`."""
    return tuple(member.value for member in vocabulary)


def empty(table: Table, *, crs: CRS | None = None) -> pd.DataFrame | gpd.GeoDataFrame:
    """Make a frame with no rows that fits *table*.

    Parameters
    ----------
    table
        The contract.
    crs
        The CRS of the geometry; required when the table carries one.
    """
    data = {column.name: pd.Series([], dtype=column.kind.dtype) for column in table.columns}
    if table.geometry is None:
        return pd.DataFrame(data)
    return gpd.GeoDataFrame(data, geometry=[], crs=crs)


def validate(frame: Frame, table: Table) -> Frame:
    """Check *frame* against its contract and return it unchanged.

    Parameters
    ----------
    frame
        The table as a stage made it; column order must match, no column more.
    table
        The contract.

    Raises
    ------
    ContractError
        With every breach: missing or surplus columns, wrong kinds, missing
        values, unknown words, doubled keys, wrong geometry, missing CRS.
    """
    breaches = _Breaches(table.name)
    expected = table.names + (("geometry",) if table.geometry else ())
    if tuple(frame.columns) != expected:
        breaches.add("columns", ", ".join(map(str, frame.columns)), ", ".join(expected))
    for column in table.columns:
        if column.name in frame.columns:
            _check_column(frame[column.name], column, breaches)
    if table.key and set(table.key) <= set(frame.columns):
        doubled = frame.duplicated(list(table.key))
        if doubled.any():
            first = frame.loc[doubled, list(table.key)].iloc[0].tolist()
            breaches.add("key " + ", ".join(table.key), f"{int(doubled.sum())} doubled, first {first}", "unique")
    if table.geometry is not None:
        _check_geometry(frame, table.geometry, breaches)
    if breaches.found:
        raise ContractError(breaches.found)
    return frame


def _check_column(values: pd.Series, column: Column, breaches: _Breaches) -> None:
    """Check kind, missing values and words of one column."""
    place = f"column {column.name}"
    if not column.kind.holds(values):
        breaches.add(place, f"dtype {values.dtype}", column.kind.value)
        return
    missing = values.isna()
    if missing.any() and not column.nullable:
        breaches.add(place, f"{int(missing.sum())} missing values", "none missing")
    if column.words:
        known = values.dropna().isin(column.words)
        if not known.all():
            odd = sorted(set(values.dropna()[~known].astype(str)))[:5]
            breaches.add(place, ", ".join(odd), " | ".join(column.words))


def _check_geometry(frame: pd.DataFrame, geometry: Geometry, breaches: _Breaches) -> None:
    """Check that the frame carries the geometry, with a CRS."""
    if not isinstance(frame, gpd.GeoDataFrame) or "geometry" not in frame.columns:
        breaches.add("geometry", "no geometry column", geometry.value)
        return
    if frame.crs is None:
        breaches.add("geometry", "no CRS", "a projected CRS in metres")
    for found in _odd_types(frame.geometry, geometry):
        breaches.add("geometry", found, geometry.value)


def _odd_types(shapes: gpd.GeoSeries, geometry: Geometry) -> Iterator[str]:
    """Yield the geometry types that do not fit, and missing geometries."""
    missing = shapes.isna() | shapes.is_empty
    if missing.any():
        yield f"{int(missing.sum())} missing geometries"
    types = set(shapes[~missing].geom_type) - set(geometry.types)
    yield from sorted(types)
