"""Hollows of the land: what they hold, whether the water of their catchment fills them, what of them it reaches."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.terrain.flow import Flow

__all__ = ["Hollows", "connected", "find_hollows"]

Float32 = NDArray[np.float32]
Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Hollows:
    """Hollows that are deep enough to count; arrays (cells,) or (hollows,)."""

    of_cell: Int64
    """Which hollow each cell lies in; −1 for none."""
    depth_m: Float64
    """Depth of each cell below the rim of the hollow that it lies in, m; 0 for none."""
    flooded: Flags
    """Which cells the water of the catchment reaches, and lie deep enough below the rim to count."""
    exit: Int64
    """Cell of each hollow that most of its water leaves from, over the rim."""
    bottom: Int64
    """Its deepest cell."""
    deepest_m: Float64
    """Depth of that below the rim, m."""
    catchment_m2: Float64
    """Area that drains into it, its own included, m²."""
    keeps: Flags
    """Its catchment cannot fill it: the water stays."""


@dataclass(frozen=True, slots=True)
class _Pools:
    """Pools of standing water with every hollow filled, each cell in one; arrays (cells in pools,) or (pools,)."""

    cell: Int64
    """By pool, then from the deepest to the shallowest."""
    pool: Int64
    first: Int64
    """Where the cells of each pool begin."""
    exit: Int64
    catchment_m2: Float64


def find_hollows(
    heights: Float32, flow: Flow, catchment_m2: Float64, runoff_m: float, sizes: tuple[float, float]
) -> Hollows:
    """Find hollows.

    Parameters
    ----------
    heights
        m, shape (rows, columns); NaN where there is no ground.
    flow
        Ways of the water over it, with every hollow filled.
    catchment_m2
        Area above each cell, its own included, m²; shape (cells,).
    runoff_m
        Water that runs off the land, m.
    sizes
        Side of a cell, and least depth of a hollow that counts, m.

    Notes
    -----
    A pool that reaches up to a cell holds Σ (d − d₀) · cell², over the cells that are deeper than it (d₀ below the
    rim); it comes that far when that is no more than what the catchment brings.
    """
    cell_m, least_m = sizes
    depth = np.nan_to_num(flow.filled - heights.ravel(), nan=0.0).astype(np.float64)
    pools = _pools(depth.reshape(heights.shape), flow, catchment_m2)
    deep, pool = depth[pools.cell], pools.pool
    deeper = np.cumsum(deep) - deep
    deeper -= deeper[pools.first][pool]
    nth = np.arange(deep.size) - pools.first[pool]
    needed = (deeper - nth * deep) * cell_m**2
    brings = pools.catchment_m2 * runoff_m
    counted = deep[pools.first] >= least_m
    of_cell = np.full(depth.size, -1, dtype=np.int64)
    of_cell[pools.cell] = np.where(counted, np.cumsum(counted) - 1, -1)[pool]
    flooded = np.zeros(depth.size, dtype=np.bool_)
    flooded[pools.cell] = (deep >= least_m) & (needed <= brings[pool])
    holds = np.bincount(pool, weights=deep, minlength=counted.size) * cell_m**2
    return Hollows(
        of_cell=of_cell,
        depth_m=depth,
        flooded=flooded,
        exit=pools.exit[counted],
        bottom=pools.cell[pools.first][counted],
        deepest_m=deep[pools.first][counted],
        catchment_m2=pools.catchment_m2[counted],
        keeps=(holds > brings)[counted],
    )


def _pools(depth: Float64, flow: Flow, catchment_m2: Float64) -> _Pools:
    """Find the pools: cells under water that touch, be it at a corner, have one level; *depth* is (rows, columns)."""
    pool_of, count = connected(depth > 0.0)
    cell = np.flatnonzero(pool_of >= 0)
    cell = cell[np.lexsort((-depth.ravel()[cell], pool_of[cell]))]
    pool = pool_of[cell]
    leaves = cell[pool_of[flow.down[cell]] < 0]
    exits = leaves[np.lexsort((-catchment_m2[leaves], pool_of[leaves]))]
    _, main = np.unique(pool_of[exits], return_index=True)
    return _Pools(
        cell=cell,
        pool=pool,
        first=np.searchsorted(pool, np.arange(count)),
        exit=exits[main],
        catchment_m2=np.bincount(pool_of[leaves], weights=catchment_m2[leaves], minlength=count).astype(np.float64),
    )


def connected(wanted: Flags) -> tuple[Int64, int]:
    """Give cells the number of their group: those that touch, be it at a corner.

    Parameters
    ----------
    wanted
        Which cells, shape (rows, columns).

    Returns
    -------
    tuple
        The group of every cell, −1 for none, shape (cells,), in the order of their first cells; how many there are.
    """
    ring = np.pad(wanted, 1)
    cell, wide = np.flatnonzero(ring), ring.shape[1]
    number = np.full(ring.size, -1, dtype=np.int64)
    number[cell] = first = np.arange(cell.size)
    beside = np.concatenate([number[cell + step] for step in (1, wide - 1, wide, wide + 1)])
    one, other = np.tile(first, 4)[beside >= 0], beside[beside >= 0]
    while one.size:
        ends = np.sort(np.stack((first[one], first[other])), axis=0)
        np.minimum.at(first, ends[1], ends[0])
        while (first != first[first]).any():
            first = first[first]
        apart = first[one] != first[other]
        one, other = one[apart], other[apart]
    names, group = np.unique(first, return_inverse=True)
    number[cell] = group
    return number.reshape(ring.shape)[1:-1, 1:-1].ravel(), names.size
