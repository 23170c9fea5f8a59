"""The drainage stage: how a network lies to the water, from its elevation models.

Water is led over the land round the trails: depressions are filled to their rims, every cell's water takes the steepest
way down, catchments add up. What comes out: where flow paths of some size cross the trails, where trails lie in hollows
that fill, how wet each segment lies (the topographic wetness index).

An elevation model shows neither culverts nor drains. Where a trail lies on a bank, the water of the model stands behind
it and runs over the lowest place: how deep it would stand is told with the crossing.
"""

from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pipeline.survey.model import Network
from pipeline.terrain.dem import open_grids
from pipeline.terrain.dem_land import Land, read_land
from pipeline.terrain.drainage_lines import TrailPoints, high_of, mean_of, place_points, worst_of
from pipeline.terrain.drainage_model import Drainage
from pipeline.terrain.flow import Flow, accumulate, border_of, lead_water, most_above
from pipeline.terrain.flow_crossings import Streams, Trails, find_crossings
from pipeline.terrain.hollows import Hollows, find_hollows
from pipeline.terrain.lines import CentreLines, centre_lines
from pipeline.terrain.model import Terrain, TerrainParameters

__all__ = ["measure_drainage", "wetness_index"]

Float64 = NDArray[np.float64]
Flags = NDArray[np.bool_]

LEAST_SLOPE = 0.005
"""Least slope in the wetness index, so that level ground stays finite; errors of good models make as much of it."""
WETTEST = 0.1
"""Share of a segment's length that is wetter than its high index."""
_RMSE_SHARE = 2.0
"""Differences of height up to this many RMSE say nothing."""


class _Water(NamedTuple):
    """Water led over land."""

    flow: Flow
    catchment_m2: Float64
    """Area above each cell, its own included, m²."""
    hollows: Hollows


def measure_drainage(network: Network, terrain: Terrain, parameters: TerrainParameters) -> Terrain:
    """Find out how a network lies to the water.

    Parameters
    ----------
    network
        The trail network.
    terrain
        Its terrain.
    parameters
        Elevation models, how fine water is led over them, what counts as a flow path and as a hollow.

    Returns
    -------
    Terrain
        The same terrain with its drainage; unchanged where no elevation model is given.

    Raises
    ------
    DataError
        When elevation models hold faults.
    InputMissingError
        When one can no longer be read.
    """
    grids = open_grids(parameters.elevation)
    if not grids:
        return terrain
    west, south, east, north = network.segments.total_bounds
    reach = parameters.drainage_reach_m
    bounds = (west - reach, south - reach, east + reach, north + reach)
    land = read_land(grids, bounds, network.crs, parameters.drainage_cell_m)
    return replace(terrain, drainage=_drained(network, land, parameters))


def _drained(network: Network, land: Land, parameters: TerrainParameters) -> Drainage:
    """Lead water over the land, and lay the trails over it."""
    centre = centre_lines(network)
    least_m = max(parameters.hollow_m, _RMSE_SHARE * (parameters.dem_rmse_m or 0.0))
    water = _led(land, least_m, parameters.runoff_mm)
    falls = most_above(water.flow, water.flow.filled) - water.flow.filled >= least_m
    streams = Streams(
        land=land,
        down=water.flow.down,
        catchment_m2=water.catchment_m2,
        least=_cut_off(land, water.flow),
        runs=(water.catchment_m2 >= parameters.stream_catchment_m2) & falls,
        hollows=water.hollows,
    )
    points = place_points(centre, land)
    trails = Trails(network.segments.geometry.to_numpy(), centre.deck, points, _bridge_ends(network, centre))
    index = wetness_index(water.catchment_m2, water.flow.slope, land.cell_m)
    return _described(land, water.hollows, index, trails, streams)


def _led(land: Land, least_m: float, runoff_mm: float) -> _Water:
    """Lead water over land: once with every hollow filled, then with those that their catchment cannot fill as ends."""
    heights = land.heights
    flow = lead_water(heights, land.cell_m, np.zeros(0, dtype=np.int64))
    catchment = _catchments(land, flow)
    hollows = find_hollows(heights, flow, catchment, runoff_mm / 1000.0, (land.cell_m, least_m))
    if hollows.keeps.any():
        flow = lead_water(heights, land.cell_m, hollows.bottom[hollows.keeps])
        catchment = _catchments(land, flow)
    return _Water(flow, catchment, hollows)


def _catchments(land: Land, flow: Flow) -> Float64:
    """Give the area above each cell, its own included, m²; 0 where there is no ground."""
    return accumulate(flow, np.where(np.isnan(flow.filled), 0.0, land.cell_m**2))


def _cut_off(land: Land, flow: Flow) -> Flags:
    """Tell which cells may get water from beyond the land, or over a void in it: those below a cell of its border."""
    border = np.zeros(flow.down.size)
    border[border_of(land.heights)] = 1.0
    return accumulate(flow, border) > 0.0


def wetness_index(catchment_m2: Float64, slope: NDArray[np.float32], cell_m: float) -> Float64:
    """Give the topographic wetness index ln(a ÷ tan β) (Beven and Kirkby 1979).

    Parameters
    ----------
    catchment_m2
        Area above each cell, its own included, m²; 0 where there is no ground. Over the side of the cell it is a, the
        catchment per metre of contour.
    slope
        tan β: fall along the steepest way down; at least :data:`LEAST_SLOPE` counts.
    cell_m
        Side of a cell.

    Returns
    -------
    ndarray
        NaN where there is no ground.
    """
    known = catchment_m2 > 0.0
    index = np.full(catchment_m2.size, np.nan)
    index[known] = np.log(catchment_m2[known] / cell_m / np.maximum(slope[known], LEAST_SLOPE))
    return index


def _bridge_ends(network: Network, centre: CentreLines) -> Float64:
    """List x, y of the ends of all bridges."""
    lines, bridge = centre.lines, np.flatnonzero(network.segments["bridge"].to_numpy(np.bool_))
    ends = np.concatenate((lines.offsets[bridge], lines.offsets[bridge + 1] - 1))
    return np.column_stack((lines.x[ends], lines.y[ends]))


def _described(land: Land, hollows: Hollows, index: Float64, trails: Trails, streams: Streams) -> Drainage:
    """Gather the figures of every segment, and the places."""
    points, count = trails.points, trails.deck.size
    on_ground = (points.cell >= 0) & ~trails.deck[points.row]
    twi = _at(index, points, on_ground)
    known = ~np.isnan(twi)
    flooded = np.where(known, _at(hollows.flooded.astype(np.float64), points, on_ground), np.nan)
    deep = flooded * _at(hollows.depth_m, points, on_ground)
    return Drainage(
        cell_m=land.cell_m,
        twi=mean_of(twi, points.row, count),
        twi_high=high_of(twi, points.row, count, WETTEST),
        twi_land=float(np.mean(index[~np.isnan(index)])) if not np.isnan(index).all() else float("nan"),
        hollow_m=worst_of(deep, points.row, count),
        hollow_share=mean_of(flooded, points.row, count),
        crossings=find_crossings(streams, trails),
    )


def _at(values: Float64, points: TrailPoints, on_ground: Flags) -> Float64:
    """Take the values of the cells that points lie in; NaN for points that do not lie on the ground."""
    return np.where(on_ground, values[np.maximum(points.cell, 0)], np.nan)
