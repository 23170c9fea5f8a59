"""Hollows of the land: what they hold, whether the water of their catchment fills them, what of them it reaches."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.terrain.flow import Flow

__all__ = ["Hollows", "find_hollows"]

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
    """Cell of each hollow that its water leaves from, over the rim."""
    bottom: Int64
    """Its deepest cell."""
    deepest_m: Float64
    """Depth of that below the rim, m."""
    keeps: Flags
    """Its catchment cannot fill it: the water stays."""


def find_hollows(flow: Flow, depth_m: Float64, supply_m3: Float64, cell_m: float, least_m: float) -> Hollows:
    """Find hollows.

    Parameters
    ----------
    flow
        Ways of the water, with every hollow filled.
    depth_m
        How much each cell was filled, m; 0 for not at all, and where there is no ground. Shape (cells,).
    supply_m3
        Water that comes to each cell, m³.
    cell_m
        Side of a cell.
    least_m
        Least depth that counts, m.

    Notes
    -----
    A pool that reaches up to a cell holds Σ (d − d₀) · cell², over the cells that are deeper than it (d₀ below the
    rim); it comes that far when that is no more than what the catchment brings.
    """
    leaves = _exits(flow, depth_m > 0.0)
    order = np.lexsort((-depth_m, leaves))
    order = order[leaves[order] >= 0]
    exits, first, counts = np.unique(leaves[order], return_index=True, return_counts=True)
    deep = depth_m[order]
    ahead = np.concatenate(([0.0], np.cumsum(deep)))
    deeper = ahead[:-1] - np.repeat(ahead[first], counts)
    nth = np.arange(order.size) - np.repeat(first, counts)
    needed = (deeper - nth * deep) * cell_m**2
    counted = deep[first] >= least_m
    of_cell = np.full(depth_m.size, -1, dtype=np.int64)
    of_cell[order] = np.repeat(np.where(counted, np.cumsum(counted) - 1, -1), counts)
    flooded = np.zeros(depth_m.size, dtype=np.bool_)
    flooded[order] = (deep >= least_m) & (needed <= supply_m3[np.repeat(exits, counts)])
    holds = np.add.reduceat(deep, first) * cell_m**2 if exits.size else np.zeros(0)
    return Hollows(
        of_cell=of_cell,
        depth_m=depth_m,
        flooded=flooded,
        exit=exits[counted],
        bottom=order[first][counted],
        deepest_m=deep[first][counted],
        keeps=(holds > supply_m3[exits])[counted],
    )


def _exits(flow: Flow, wet: Flags) -> Int64:
    """Give the cell that the water of each filled cell leaves its hollow from; −1 where none is filled."""
    leaves = np.full(wet.size, -1, dtype=np.int64)
    for stage in reversed(flow.stages):
        here = stage[wet[stage]]
        below = leaves[flow.down[here]]
        leaves[here] = np.where(below >= 0, below, here)
    return leaves
