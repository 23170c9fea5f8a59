"""The terrain stage: stations and profiles of a whole network, in blocks of segments that lie together."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pipeline.spread import Mapper, serial
from pipeline.survey.model import Network
from pipeline.terrain.block import Block, Measured, measure_block
from pipeline.terrain.dem import open_grids
from pipeline.terrain.dem_grid import Grid
from pipeline.terrain.joins import find_joins
from pipeline.terrain.lines import CentreLines, centre_lines, ragged_pick, subset
from pipeline.terrain.model import Profiles, Stations, Strip, Terrain, TerrainParameters
from pipeline.terrain.runs import Runs, make_runs, take_runs
from pipeline.terrain.strip import strip_offsets

__all__ = ["measure_terrain"]

Int64 = NDArray[np.int64]
Float64 = NDArray[np.float64]

BLOCK_M = 4_000.0
"""Side of the squares of land whose segments are measured together, m: 4,000² cells of a 1 m model, about half a
second of work."""
BLOCK_LINE_M = 80_000.0
"""Most length of line in a block: bounds its memory (about 2.6 million points, those beside the line among them)."""


def measure_terrain(network: Network, parameters: TerrainParameters, mapper: Mapper = serial) -> Terrain:
    """Measure heights, grades, side slopes and bends along a network.

    Parameters
    ----------
    network
        The trail network.
    parameters
        Elevation models and steps. Without elevation models, only survey-grade lines get heights.
    mapper
        How blocks of segments are spread over workers; the result is the same for any.

    Returns
    -------
    Terrain
        Stations of all segments, in order, and profiles to roll vehicles over.

    Raises
    ------
    DataError
        When elevation models hold faults: all of them, at once.
    InputMissingError
        When one can no longer be read.
    """
    grids = open_grids(parameters.elevation)
    centre = centre_lines(network)
    runs = make_runs(find_joins(network, centre), centre.length_m, parameters.profile_reach_m)
    task = _Task(grids, network.crs.to_wkt(), centre, runs, parameters)
    rows = _lots(centre)
    run_rows = _runs_of(runs, rows, centre.length_m.size)
    measured = mapper(measure_block, [task.block(*pair) for pair in zip(rows, run_rows, strict=True)])
    return Terrain(
        stations=_join_stations(measured, np.concatenate(rows)),
        profiles=_join_profiles(measured, np.concatenate(run_rows), runs, parameters),
    )


@dataclass(frozen=True, slots=True)
class _Task:
    """What all blocks share."""

    grids: tuple[Grid, ...]
    crs: str
    centre: CentreLines
    runs: Runs
    parameters: TerrainParameters

    def block(self, rows: Int64, run_rows: Int64) -> Block:
        """Cut out the block of the segments *rows* and their runs."""
        pieces = self.runs.pieces
        _, members = ragged_pick(pieces.offsets, run_rows)
        touched = np.unique(pieces.segment[members])
        segments = np.concatenate((rows, np.setdiff1d(touched, rows)))
        return Block(
            grids=self.grids,
            crs=self.crs,
            centre=subset(self.centre, segments),
            own=rows.size,
            runs=take_runs(self.runs, run_rows, segments),
            parameters=self.parameters,
        )


def _lots(centre: CentreLines) -> list[Int64]:
    """Put the segments into lots by the square of land that holds their middle vertex, row by row of squares."""
    middle = (centre.lines.offsets[:-1] + centre.lines.offsets[1:]) // 2
    square = np.floor(np.stack((centre.lines.x[middle], centre.lines.y[middle])) / BLOCK_M)
    order = np.lexsort((square[0], square[1]))
    length = np.cumsum(centre.length_m[order])
    heap = np.floor(length / BLOCK_LINE_M)
    changes = (np.diff(square[:, order], axis=1) != 0).any(axis=0) | (np.diff(heap) != 0)
    return [np.sort(lot) for lot in np.split(order, np.flatnonzero(changes) + 1)]


def _runs_of(runs: Runs, lots: list[Int64], count: int) -> list[Int64]:
    """List the runs of each lot of segments: first one a segment, then those across nodes."""
    lot_of = np.empty(count, dtype=np.int64)
    for number, rows in enumerate(lots):
        lot_of[rows] = number
    across = lot_of[runs.segment[count:]]
    order = np.argsort(across, kind="stable")
    ends = np.searchsorted(across[order], np.arange(len(lots) + 1))
    return [np.concatenate((rows, count + order[ends[k] : ends[k + 1]])) for k, rows in enumerate(lots)]


def _stacked(measured: list[Measured], name: str) -> Any:  # noqa: ANN401 - each column has its own dtype
    """Join one column of all blocks, in the order of the blocks."""
    return np.concatenate([getattr(part, name) for part in measured])


def _in_order(counts: Int64, rows: Int64) -> tuple[Int64, Int64]:
    """Index ragged members that lie in the order *rows* so that they lie in the order 0, 1, 2 …: offsets, picks."""
    offsets = np.concatenate(([0], np.cumsum(counts))).astype(np.int64)
    return ragged_pick(offsets, np.argsort(rows, kind="stable"))


def _join_stations(measured: list[Measured], rows: Int64) -> Stations:
    """Join the stations of all blocks, in the order of the segments."""
    offsets, pick = _in_order(_stacked(measured, "station_counts").astype(np.int64), rows)
    names = ("chainage_m", "x", "y", "z", "bearing_rad", "grade", "cross", "curvature", "basis", "cell_m")
    columns = {name: _stacked(measured, name)[pick] for name in names}
    return Stations(offsets=offsets, **columns)


def _join_profiles(measured: list[Measured], rows: Int64, runs: Runs, parameters: TerrainParameters) -> Profiles:
    """Join the profiles of all blocks, in the order of the runs."""
    offsets, pick = _in_order(_stacked(measured, "sample_counts").astype(np.int64), rows)
    return Profiles(
        step_m=parameters.profile_step_m,
        offsets=offsets,
        start_m=_stacked(measured, "start_m")[np.argsort(rows, kind="stable")],
        segment=runs.segment,
        own_from_m=runs.own_from_m,
        own_to_m=runs.own_to_m,
        z=_stacked(measured, "sample_z")[pick],
        basis=_stacked(measured, "sample_basis")[pick],
        piece_offsets=runs.pieces.offsets,
        piece_segment=runs.pieces.segment,
        piece_zero_m=runs.pieces.zero,
        piece_sign=runs.pieces.sign,
        piece_from_m=runs.begin,
        piece_to_m=runs.pieces.end,
        strip=_join_strip(measured, rows, offsets, parameters),
    )


def _join_strip(measured: list[Measured], rows: Int64, offsets: Int64, parameters: TerrainParameters) -> Strip:
    """Join the ground beside the runs of all blocks, in the order of the runs; *offsets* are those of the samples."""
    strip = strip_offsets(offsets, parameters.strip_every)
    counts = np.diff(strip)
    _, pick = _in_order(counts[rows], rows)
    across = np.array(parameters.strip_across_m, dtype=np.float64)
    return Strip(across, parameters.strip_every, strip, _stacked(measured, "rise_m")[pick])
