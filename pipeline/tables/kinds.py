"""The kinds of values and geometries that a table contract can ask for."""

from enum import StrEnum

import pandas as pd
from pandas.api import types

__all__ = ["Geometry", "Kind"]


class Kind(StrEnum):
    """What kind of values a column holds."""

    TEXT = "text"
    FLOAT = "float64"
    FLOAT32 = "float32"
    INTEGER = "int64"
    FLAG = "bool"

    @property
    def dtype(self) -> str:
        """The pandas dtype of an empty column of this kind."""
        return "str" if self is Kind.TEXT else self.value

    def holds(self, values: pd.Series) -> bool:
        """Tell whether *values* are of this kind (text columns may be ``object`` when every value is text)."""
        if self is Kind.TEXT and values.dtype == object:
            return all(isinstance(value, str) for value in values.dropna())
        if self is Kind.TEXT:
            return bool(types.is_string_dtype(values.dtype))
        if self is Kind.FLAG and values.dtype == "boolean":  # with room for missing values
            return True
        return bool(values.dtype == self.value)


class Geometry(StrEnum):
    """What geometry a table carries."""

    POINT = "Point"
    LINE = "LineString"
    LINES = "LineString | MultiLineString"
    ANY = "any"

    @property
    def types(self) -> tuple[str, ...]:
        """The shapely type names that fit."""
        if self is Geometry.ANY:
            return ("Point", "LineString", "MultiLineString", "Polygon", "MultiPolygon", "MultiPoint", "LinearRing")
        return tuple(name.strip() for name in self.value.split("|"))
