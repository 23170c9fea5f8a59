"""Trails laid over land: points close together, the cells that they lie in, figures of a segment from its points."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.terrain.dem_land import Land
from pipeline.terrain.lines import CentreLines

__all__ = ["TrailPoints", "high_of", "mean_of", "place_points", "worst_of"]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]
Flags = NDArray[np.bool_]

_STEPS = 3.0
"""Steps along the trail in the side of a cell, at least."""
_APART_M = 1.0
"""Any distance above 0, by which lines are kept apart where they are laid end to end."""


@dataclass(frozen=True, slots=True)
class TrailPoints:
    """Points at equal steps along every segment, both ends included; arrays (points,), segment by segment."""

    row: Int64
    """Row of the segment."""
    at_m: Float64
    """Chainage, m."""
    x: Float64
    y: Float64
    cell: Int64
    """Number of the cell of the land that the point lies in; −1 beside it."""


def place_points(centre: CentreLines, land: Land) -> TrailPoints:
    """Place points along the lines of a network, a third of a cell apart or less."""
    length, lines = centre.length_m, centre.lines
    steps = np.maximum(np.ceil(length * _STEPS / land.cell_m), 1.0).astype(np.int64)
    row = np.repeat(np.arange(length.size), steps + 1)
    nth = np.arange(row.size) - np.repeat(np.cumsum(steps + 1) - steps - 1, steps + 1)
    at_m = nth * (length / steps)[row]
    begins = np.concatenate(([0.0], np.cumsum(length + _APART_M)[:-1]))
    known = lines.chainage + np.repeat(begins, np.diff(lines.offsets))
    x, y = (np.interp(at_m + begins[row], known, values) for values in (lines.x, lines.y))
    return TrailPoints(row, at_m, x, y, land.cells_at(x, y))


def mean_of(values: Float64, row: Int64, count: int) -> Float64:
    """Give the mean of the known values of each of *count* segments; NaN where none is known."""
    known = ~np.isnan(values)
    number = np.bincount(row[known], minlength=count)
    total = np.bincount(row[known], weights=values[known], minlength=count)
    mean: Float64 = np.divide(total, number, out=np.full(count, np.nan), where=number > 0)
    return mean


def worst_of(values: Float64, row: Int64, count: int) -> Float64:
    """Give the largest known value of each of *count* segments; NaN where none is known."""
    out = np.full(count, np.nan)
    np.fmax.at(out, row, values)
    return out


def high_of(values: Float64, row: Int64, count: int, share: float) -> Float64:
    """Give the value that a *share* of the known values of each of *count* segments is above; NaN where none is known.

    The value itself is one of them, the next higher where none has just that share above it.
    """
    known = np.flatnonzero(~np.isnan(values))
    known = known[np.lexsort((values[known], row[known]))]
    number = np.bincount(row[known], minlength=count)
    first = np.cumsum(number) - number
    nth = np.ceil((1.0 - share) * (number - 1)).astype(np.int64)
    out = np.full(count, np.nan)
    some = number > 0
    out[some] = values[known[(first + nth)[some]]]
    return out
