"""Parts of the search of the line, made to be called from Python as those of ``called``."""

import numpy as np
from numba import njit
from numpy.typing import NDArray

from pipeline.kernels import line_lattice, line_refine, line_search, shunt
from pipeline.kernels.line_lattice import Body, Mesh, Stretch
from pipeline.kernels.line_search import Rules, Space

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]


def space(stages: int, places: int, slopes: int) -> Space:
    """Room for a lattice."""
    return Space(
        np.full((stages - 1, places, slopes, 3), line_search.CLOSED),
        np.zeros((stages, places)),
        np.zeros((stages, places), dtype=np.bool_),
        np.zeros((2, places, slopes, slopes, 2)),
        np.zeros((stages, places, slopes, slopes), dtype=np.int8),
    )


@njit
def search(room: Space, size: tuple[int, int], rules: Rules, widest: bool) -> tuple[float, int]:  # noqa: FBT001 - as it is compiled
    """Call ``line_search.search``."""
    return line_search.search(room, size, rules, widest)


@njit
def follow_back(room: Space, stages: int, last: int, way: Int64) -> None:
    """Call ``line_search.follow_back``."""
    line_search.follow_back(room, stages, last, way)


@njit
def bend_of(steps: Float64, k: int, came: tuple[int, int], goes: tuple[int, int]) -> float:
    """Call ``line_search.bend_of``."""
    return line_search.bend_of(steps, k, came, goes)


@njit
def place_of(line: Float64, k: int, ends: tuple[float, float, float, float], t: float) -> tuple[float, ...]:
    """Call ``line_lattice.place_of``."""
    return line_lattice.place_of(line, k, ends, t)


@njit
def control(rows: Float64, stride: int, line: Float64) -> None:
    """Call ``line_lattice.control``."""
    line_lattice.control(rows, stride, line)


@njit
def one_reverse(yard: shunt.Yard, most_m: float) -> bool:
    """Call ``shunt.one_reverse``."""
    return shunt.one_reverse(yard, most_m)


@njit
def lay(stretch: Stretch, body: Body, line: Float64, mesh: Mesh, rules: Rules, room: Space) -> None:
    """Call ``line_lattice.lay``."""
    line_lattice.lay(stretch, body, line, mesh, rules, room)


@njit
def better(
    stretch: Stretch, body: Body, mesh: Mesh, work: line_refine.Work, rules: Rules, known: tuple[float, float]
) -> tuple[float, float]:
    """Call ``line_refine._better``."""
    return line_refine._better(stretch, body, mesh, work, rules, known)
