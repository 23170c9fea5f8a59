"""Water led over land: hollows filled to their rims, every cell's way down, what comes together.

Hollows are filled, and level ground is crossed, by the priority flood of pyflwdir (Wang and Liu 2006; as Barnes,
Lehman and Mulla 2014): filled(c) = the larger of z(c) and the lowest barrier on any way from c to an outlet. Where the
filled ground falls, water takes the steepest of the eight ways (D8, O'Callaghan and Mark 1984); the flood by itself
would lead it to the lowest neighbour, which is always a corner one on an even slope.

Cells are numbered by rows. Heights must be such that their sums and differences are exact (see ``dem_land``): else a
last digit would stand as a rim in standing water.
"""

import sys
from collections.abc import Callable
from dataclasses import dataclass
from importlib import import_module
from importlib.util import find_spec
from types import ModuleType
from typing import Any

import numpy as np
from numpy.typing import NDArray

__all__ = ["Flow", "accumulate", "border_of", "fill_in", "lead_water", "most_above", "stages_of"]

Float32 = NDArray[np.float32]
Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]
UInt8 = NDArray[np.uint8]
Flags = NDArray[np.bool_]

_WAYS = ((-1, -1), (-1, 0), (-1, 1), (0, -1), (0, 1), (1, -1), (1, 0), (1, 1))
"""The eight neighbours: rows down, columns to the right."""
_CODES = (32, 64, 128, 16, 1, 8, 4, 2)
"""What pyflwdir calls the ways to them."""


@dataclass(frozen=True, slots=True)
class Flow:
    """Ways of water; arrays (cells,)."""

    filled: Float32
    """Height of the ground with its hollows filled, m; NaN where there is none."""
    down: Int64
    """Cell that the water goes to; its own number where it leaves the land or stays."""
    slope: Float32
    """Fall along that way, m a metre; 0 over standing water and level ground."""
    stages: tuple[Int64, ...]
    """Cells with ground in an order in which all water has come together before it goes on."""


def lead_water(heights: Float32, cell_m: float, keeps: Int64) -> Flow:
    """Lead water over land.

    Parameters
    ----------
    heights
        m, shape (rows, columns); NaN where there is no ground: water that comes there leaves the land.
    cell_m
        Side of a cell.
    keeps
        Cells that keep the water that comes to them, such as the bottom of a hollow too large to fill.
    """
    filled, codes = fill_in(heights, np.concatenate([border_of(heights), keeps]))
    down = _followed(codes)
    slope = _steepest(filled, cell_m, down)
    return Flow(filled.ravel(), down, slope, stages_of(down, ~np.isnan(heights.ravel())))


def border_of(heights: Float32) -> Int64:
    """List the cells where water can leave: those at the edge of the land, and of every void in it."""
    known = np.pad(~np.isnan(heights), 1)
    inner = known.copy()
    for row, column in _WAYS:
        inner &= np.roll(known, (row, column), axis=(0, 1))
    return np.flatnonzero((known & ~inner)[1:-1, 1:-1])


def fill_in(heights: Float32, outlets: Int64) -> tuple[Float32, UInt8]:
    """Fill hollows up to their rims.

    Parameters
    ----------
    heights
        m, shape (rows, columns); NaN where there is no ground.
    outlets
        Cells where water leaves.

    Returns
    -------
    tuple
        Filled heights, and the way in which each cell was flooded, backwards, as pyflwdir codes it.
    """
    filled, codes = _flood()(np.ascontiguousarray(heights), idxs_pit=outlets, nodata=np.nan)
    return filled, codes


def _flood() -> Callable[..., Any]:
    """Give pyflwdir's flood; only a site with an elevation model needs it.

    Its package loads scipy's integrators, optimisers and more for what is not wanted here, a quarter of a second in
    every build. The module needs none of them: it is loaded under an empty stand-in for the package.
    """
    where = find_spec("pyflwdir")
    if where is None or "pyflwdir" in sys.modules:
        return import_module("pyflwdir.dem").fill_depressions  # type: ignore[no-any-return]
    stand_in = ModuleType("pyflwdir")
    stand_in.__path__ = list(where.submodule_search_locations or ())
    sys.modules["pyflwdir"] = stand_in
    try:
        return import_module("pyflwdir.dem").fill_depressions  # type: ignore[no-any-return]
    finally:
        del sys.modules["pyflwdir"]


def _followed(codes: UInt8) -> Int64:
    """Turn codes of ways into numbers of cells."""
    step = np.zeros(256, dtype=np.int64)
    for (row, column), code in zip(_WAYS, _CODES, strict=True):
        step[code] = row * codes.shape[1] + column
    return np.asarray(np.arange(codes.size) + step[codes.ravel()])


def _steepest(filled: Float32, cell_m: float, down: Int64) -> Float32:
    """Turn the ways of cells that have lower neighbours to the steepest (changes *down*); gives the fall along it."""
    rows, columns = filled.shape
    ring = np.pad(filled, 1, constant_values=np.nan)
    slope = np.zeros(filled.shape, dtype=np.float32)
    ways = down.reshape(filled.shape)
    here = np.arange(filled.size).reshape(filled.shape)
    for row, column in _WAYS:
        beside = ring[1 + row : 1 + row + rows, 1 + column : 1 + column + columns]
        fall = (filled - beside) / np.float32(cell_m * np.hypot(row, column))
        steeper = fall > slope  # not so where either is void
        np.copyto(slope, fall, where=steeper)
        np.copyto(ways, here + (row * columns + column), where=steeper)
    return slope.ravel()


def stages_of(down: Int64, known: Flags) -> tuple[Int64, ...]:
    """Put cells into stages: the water of a cell goes to one of a later stage.

    Parameters
    ----------
    down
        Cell that each cell's water goes to; its own where it stays. Ways must not close.
    known
        Which cells have ground.
    """
    goes_on = known & (down != np.arange(down.size))
    waits = np.bincount(down[goes_on], minlength=down.size)
    stages, ready = [], np.flatnonzero(known & (waits == 0))
    seat = np.empty_like(down)
    while ready.size:
        stages.append(ready)
        below = down[ready[goes_on[ready]]]
        np.subtract.at(waits, below, 1)
        below = below[waits[below] == 0]
        nth = np.arange(below.size)
        seat[below] = nth
        ready = below[seat[below] == nth]  # each once
    return tuple(stages)


def accumulate(flow: Flow, brings: NDArray[Any]) -> Float64:
    """Add up what all cells above each cell bring, its own included; shape (cells,)."""
    return _gathered(flow, brings, np.add)


def most_above(flow: Flow, values: NDArray[Any]) -> Float64:
    """Give the largest value of all cells above each cell, its own included; shape (cells,)."""
    return _gathered(flow, values, np.maximum)


def _gathered(flow: Flow, values: NDArray[Any], joined: np.ufunc) -> Float64:
    """Join the values of cells on their ways down."""
    out = values.astype(np.float64)
    for stage in flow.stages:
        on = stage[flow.down[stage] != stage]
        joined.at(out, flow.down[on], out[on])
    return out
