"""One block of segments, measured: the part of the terrain stage that can be sent to another process."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from pyproj import CRS

from pipeline.kernels.curvature import Bending, curvatures
from pipeline.kernels.stations import Pieces, count_stations, line_heights, line_slopes, place_samples, place_stations
from pipeline.kernels.surface import split_gradient
from pipeline.terms import Basis
from pipeline.terrain.dem import Samples, cell_sides, sample_ground
from pipeline.terrain.dem_grid import Grid, GridReader
from pipeline.terrain.levels import join_levels
from pipeline.terrain.lines import CentreLines
from pipeline.terrain.model import TerrainParameters
from pipeline.terrain.runs import Runs
from pipeline.terrain.strip import Beside, place_beside, rises

__all__ = ["Block", "Measured", "measure_block"]

Float64 = NDArray[np.float64]
Float32 = NDArray[np.float32]
Int64 = NDArray[np.int64]
UInt8 = NDArray[np.uint8]


@dataclass(frozen=True, slots=True)
class Block:
    """What one task needs: its segments, their neighbours, and where the heights are."""

    grids: tuple[Grid, ...]
    crs: str
    """Working CRS, as WKT."""
    centre: CentreLines
    """Lines of the block's own segments first, then of their neighbours."""
    own: int
    """Number of the block's own segments."""
    runs: Runs
    """Runs of the own segments: first one each, in order, then those across nodes; rows count in ``centre``."""
    parameters: TerrainParameters


@dataclass(frozen=True, slots=True)
class Measured:
    """What a block found; stations of its own segments, samples of its runs, one after another."""

    station_counts: Int64
    chainage_m: Float64
    x: Float64
    y: Float64
    z: Float32
    bearing_rad: Float32
    grade: Float32
    cross: Float32
    curvature: Float32
    basis: UInt8
    cell_m: Float32
    sample_counts: Int64
    start_m: Float64
    sample_z: Float32
    sample_basis: UInt8
    rise_m: Float32
    """Rows of the strip of every run, one after another, shape (rows, places across)."""


@dataclass(frozen=True, slots=True)
class _Path:
    """Samples along runs, before they have heights."""

    offsets: Int64
    start_m: Float64
    x: Float64
    y: Float64
    segment: Int64
    chainage: Float64


@dataclass(frozen=True, slots=True)
class _Places:
    """Stations before they have heights."""

    offsets: Int64
    chainage: Float64
    x: Float64
    y: Float64
    bearing: Float64
    segment: Int64


def measure_block(block: Block) -> Measured:
    """Measure the stations and profiles of a block of segments.

    Raises
    ------
    InputMissingError
        When an elevation file cannot be read.
    """
    places = _place(block)
    path = _sample_runs(block)
    beside = place_beside(path.x, path.y, path.offsets, block.parameters)
    crs, deck = CRS.from_wkt(block.crs), block.centre.deck
    at_stations, on_runs, around = _sampled(block, crs, (places, path, beside))
    rise = rises(beside, on_runs, around, block.parameters)
    rise[deck[path.segment[beside.sample]]] = 0.0
    at_stations = _without_decks(at_stations, deck[places.segment])
    on_runs = _without_decks(on_runs, deck[path.segment])
    cell_m = cell_sides(block.grids, crs, at_stations.model, places.x, places.y)
    z, grade, cross, basis = _station_values(block, places, at_stations)
    sample_z, sample_basis = _sample_values(block, path, on_runs)
    return Measured(
        station_counts=np.diff(places.offsets),
        chainage_m=places.chainage,
        x=places.x,
        y=places.y,
        z=z.astype(np.float32),
        bearing_rad=places.bearing.astype(np.float32),
        grade=grade.astype(np.float32),
        cross=cross.astype(np.float32),
        curvature=_bends(block, places).astype(np.float32),
        basis=basis,
        cell_m=cell_m.astype(np.float32),
        sample_counts=np.diff(path.offsets),
        start_m=path.start_m,
        sample_z=sample_z.astype(np.float32),
        sample_basis=sample_basis,
        rise_m=rise.astype(np.float32),
    )


def _sampled(block: Block, crs: CRS, points: tuple[_Places, _Path, Beside]) -> tuple[Samples, Samples, Samples]:
    """Sample the ground at stations, on runs and beside them, all at once: every window of a file is read once."""
    x, y = np.concatenate([part.x for part in points]), np.concatenate([part.y for part in points])
    with GridReader() as reader:
        ground = sample_ground(block.grids, reader, crs, x, y)
    marks = np.cumsum([part.x.size for part in points])[:-1]
    parts = [np.split(getattr(ground, name), marks) for name in ("height", "gradient_x", "gradient_y", "model")]
    first, second, third = (Samples(*columns) for columns in zip(*parts, strict=True))
    return first, second, third


def _place(block: Block) -> _Places:
    """Place the stations of the own segments."""
    lines = block.centre.lines
    own = lines._replace(offsets=lines.offsets[: block.own + 1])
    offsets = count_stations(own, block.parameters.station_spacing_m)
    chainage, x, y, bearing = place_stations(own, offsets)
    segment = np.repeat(np.arange(block.own), np.diff(offsets))
    return _Places(offsets, chainage, x, y, bearing, segment)


def _sample_runs(block: Block) -> _Path:
    """Place the profile samples of the runs; samples fall on whole steps from the main segment's start."""
    step = block.parameters.profile_step_m
    pieces = block.runs.pieces
    low, high = block.runs.begin[pieces.offsets[:-1]], pieces.end[pieces.offsets[1:] - 1]
    return _samples_between(block, pieces, np.full(low.size, step), (low, high))


def _samples_between(block: Block, pieces: Pieces, step: Float64, reach: tuple[Float64, Float64]) -> _Path:
    """Place samples on whole steps between two run coordinates of each run."""
    first, last = np.ceil(reach[0] / step - 1e-6), np.floor(reach[1] / step + 1e-6)
    offsets = np.concatenate(([0], np.cumsum(np.maximum(last - first, 0.0) + 1.0))).astype(np.int64)
    x, y, segment, chainage = place_samples(block.centre.lines, pieces, offsets, first * step, step)
    return _Path(offsets, first * step + 0.0, x, y, segment, chainage)  # no negative zero


def _without_decks(ground: Samples, deck: NDArray[np.bool_]) -> Samples:
    """Take the ground away where the line is carried over or under it: its heights are not those of the line."""
    if not deck.any():
        return ground
    height, gradient_x, gradient_y = (
        np.where(deck, np.nan, values) for values in (ground.height, ground.gradient_x, ground.gradient_y)
    )
    return Samples(height, gradient_x, gradient_y, np.where(deck, -1, ground.model))


def _station_values(block: Block, places: _Places, ground: Samples) -> tuple[Float64, Float64, Float64, UInt8]:
    """Give height, grade, cross slope and basis of every station; surveyed decks are built level across."""
    grade, cross = split_gradient(ground.gradient_x, ground.gradient_y, places.bearing)
    z, basis = _with_survey(block.centre, ground.height, places.segment, places.chainage)
    surveyed = np.where(basis == Basis.SURVEYED, places.segment, -1)
    if (surveyed >= 0).any():
        slopes = line_slopes(block.centre.lines, block.centre.z, surveyed, places.chainage)
        grade = np.where(surveyed >= 0, slopes, grade)
        cross = np.where((surveyed >= 0) & block.centre.deck[places.segment], 0.0, cross)
    return z, grade, cross, basis


def _sample_values(block: Block, path: _Path, ground: Samples) -> tuple[Float64, UInt8]:
    """Give height and basis of every profile sample."""
    z, basis = _with_survey(block.centre, ground.height, path.segment, path.chainage)
    source = np.where(basis == Basis.SURVEYED, len(block.grids) + path.segment, ground.model)
    middle = 0.5 * (block.runs.own_from_m + block.runs.own_to_m) - path.start_m
    own = np.rint(middle / block.parameters.profile_step_m).astype(np.int64)
    anchor = np.minimum(path.offsets[:-1] + own, path.offsets[1:] - 1)
    return join_levels(z, source, path.offsets, anchor), basis


def _with_survey(centre: CentreLines, height: Float64, segment: Int64, chainage: Float64) -> tuple[Float64, UInt8]:
    """Put the heights that survey-grade lines bring in the place of the model's; tell where each came from."""
    basis = np.where(np.isnan(height), Basis.NONE, Basis.DEM).astype(np.uint8)
    asked = np.where(centre.surveyed[segment], segment, -1)
    if not (asked >= 0).any():
        return height, basis
    own = line_heights(centre.lines, centre.z, asked, chainage)
    known = ~np.isnan(own)
    basis[known] = Basis.SURVEYED
    return np.where(known, own, height), basis


def _bends(block: Block, places: _Places) -> Float64:
    """Measure the plan curvature at the stations, over the line as it goes on where just two ends meet."""
    parameters = block.parameters
    step = places.chainage[places.offsets[1:] - 1] / (np.diff(places.offsets) - 1)
    pieces, reach = _simple_pieces(block, step)
    path = _samples_between(block, pieces, step, reach)
    ahead = np.rint(-path.start_m / step).astype(np.int64)
    own = (path.offsets[:-1] + ahead, np.diff(places.offsets))
    bending = Bending(parameters.radius_window_m, parameters.line_tolerance_m)
    return np.asarray(curvatures((path.x, path.y), path.offsets, step, own, bending))


def _simple_pieces(block: Block, step: Float64) -> tuple[Pieces, tuple[Float64, Float64]]:
    """Keep the pieces of the own segments' runs that the line simply goes on over, and how far they reach."""
    pieces, runs = block.runs.pieces, block.runs
    kept = np.flatnonzero(runs.simple[: pieces.offsets[block.own]])
    run = np.repeat(np.arange(block.own), np.diff(pieces.offsets[: block.own + 1]))[kept]
    offsets = np.concatenate(([0], np.cumsum(np.bincount(run, minlength=block.own)))).astype(np.int64)
    simple = Pieces(offsets, *(getattr(pieces, name)[kept] for name in ("segment", "zero", "sign", "end")))
    reach = 2.0 * block.parameters.radius_window_m + 2.0 * step
    low = np.maximum(runs.begin[kept][offsets[:-1]], -reach)
    high = np.minimum(simple.end[offsets[1:] - 1], block.centre.length_m[: block.own] + reach)
    return simple, (low, high)
