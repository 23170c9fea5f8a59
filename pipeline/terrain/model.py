"""What the terrain stage takes and hands over: flat arrays, ragged by offsets."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from pipeline.terrain.drainage_model import Drainage

__all__ = ["Profiles", "Stations", "Strip", "Terrain", "TerrainParameters"]

Float64 = NDArray[np.float64]
Float32 = NDArray[np.float32]
Int64 = NDArray[np.int64]
UInt8 = NDArray[np.uint8]


@dataclass(frozen=True, slots=True)
class TerrainParameters:
    """How the terrain is measured."""

    elevation: tuple[Path, ...] = ()
    """Absolute paths of the elevation models, finest first."""
    station_spacing_m: float = 0.5
    """Largest distance between stations; every segment has whole equal steps, ends included."""
    profile_step_m: float = 0.1
    """Spacing of the profiles that vehicles are rolled over."""
    profile_reach_m: float = 10.0
    """How far a profile goes on into the neighbouring segments."""
    dem_rmse_m: float | None = None
    """Vertical RMSE of the elevation model; ``None`` when it is not known."""
    dem_correlation_m: float | None = None
    """Correlation length of its error."""
    line_rmse_m: float | None = None
    """Horizontal position error of the trail lines, one axis; ``None`` when it is not known."""
    survey_rmse_m: float = 0.01
    """Error of heights measured on the ground, one against the next: survey-grade lines and obstacles. A level, a total
    station or a tape is good to about a centimetre; common practice, no source."""
    strip_every: int = 5
    """Every how many samples of a profile the ground is measured across it: half a metre, the finest usual cell."""
    strip_across_m: tuple[float, ...] = (-1.5, -1.2, -0.9, -0.6, -0.3, 0.0, 0.3, 0.6, 0.9, 1.2, 1.5)
    """Places across the line, m, + right: they hold the tyres of the widest vehicle; 0 is among them."""
    radius_window_m: float = 4.0
    """Length of line over which plan curvature is measured."""
    line_tolerance_m: float = 0.15
    """How far (root mean square) a line may lie off a smooth curve before it counts as a bend: the survey's noise."""
    drainage_cell_m: float = 3.0
    """Side of the cells that water is led over, or the elevation model's own cell where that is larger. About the width
    of a trail: finer cells follow every wheel mark, coarser ones lose the ditch. Common practice is 2 to 5 m."""
    drainage_reach_m: float = 500.0
    """How far beyond the trails land is looked at for the water that comes from there."""
    stream_catchment_m2: float = 20_000.0
    """Least catchment of a flow path that crosses a trail. Channels begin between half a hectare and some hectares,
    by soil and rain (common practice, no source); two hectares is an assumption to be held against the site's own."""
    hollow_m: float = 0.2
    """Least depth of a hollow below its rim; at least twice the RMSE of the elevation model, whose errors look like
    hollows."""
    runoff_mm: float = 50.0
    """Water that may run off the land at once. A hollow that it cannot fill, a quarry say, keeps its water; a trail
    that it does not reach stays dry. Assumption: a heavy day's rain on ground that takes up nothing more."""


@dataclass(frozen=True, slots=True)
class Stations:
    """Stations of all segments, one after another; segment ``i`` owns ``offsets[i]:offsets[i + 1]``.

    Arrays are parallel, of length ``offsets[-1]``. Grades are rise over run.
    """

    offsets: Int64
    """Length segments + 1."""
    chainage_m: Float64
    """Plan distance from the segment's start."""
    x: Float64
    y: Float64
    z: Float32
    """Height, m; NaN where there is none."""
    bearing_rad: Float32
    """Grid bearing of the with direction, clockwise from north."""
    grade: Float32
    """∇z·t, + uphill in the with direction; NaN without height."""
    cross: Float32
    """∇z·n with n to the right of the with direction, + ground rises to the right; NaN without height."""
    curvature: Float32
    """Signed plan curvature, 1/m, + bends to the left in the with direction; 0 on a straight."""
    basis: UInt8
    """``terms.Basis`` of the height: NONE, DEM or SURVEYED."""
    cell_m: Float32
    """Cell of the elevation model used (the larger side, in metres); NaN without one."""


@dataclass(frozen=True, slots=True)
class Profiles:
    """Height profiles for rolling vehicles over, one *run* after another.

    Run ``r`` owns samples ``offsets[r]:offsets[r + 1]``, ``step_m`` apart. Its run coordinate is the chainage of
    its main segment, so sample ``k`` of it is at ``start_m[r] + k * step_m``; it may begin before 0 and end after
    ``length_m`` of that segment, where it goes on into neighbours. The first ``len(segments)`` runs are the
    segments in order, each continued at both ends into the straightest neighbour (at a dead end it just stops).
    Further runs are short ones across every other pair of neighbours at a node, so that no brow at a junction
    goes unseen. Only ground points with a run coordinate in ``[own_from_m, own_to_m]`` count for the run's
    segment. Where a run passes from one source of heights to another, the far side is shifted so that no difference of
    datums stands there as a cliff; heights are then relative to the main segment's.
    """

    step_m: float
    offsets: Int64
    """Length runs + 1."""
    start_m: Float64
    """Run coordinate of the first sample."""
    segment: Int64
    """Row of the main segment."""
    own_from_m: Float64
    own_to_m: Float64
    z: Float32
    """Height of every sample, m; NaN where there is none."""
    basis: UInt8
    """``terms.Basis`` of every sample."""
    piece_offsets: Int64
    """Run ``r`` is made of pieces ``piece_offsets[r]:piece_offsets[r + 1]``; length runs + 1."""
    piece_segment: Int64
    """Row of the segment that the piece lies on."""
    piece_zero_m: Float64
    """Run coordinate of that segment's chainage 0."""
    piece_sign: Int64
    """+1 or −1: run coordinate = piece_zero_m + piece_sign × chainage."""
    piece_from_m: Float64
    """Lowest run coordinate of the piece."""
    piece_to_m: Float64
    """Highest run coordinate of the piece."""
    strip: "Strip"
    """The ground beside the line."""


@dataclass(frozen=True, slots=True)
class Strip:
    """The ground beside the runs: heights across the line, relative to the line itself.

    Run ``r`` owns rows ``offsets[r]:offsets[r + 1]``. Row ``j`` of it lies across its sample ``j * every``, the last
    row across its last sample.
    """

    across_m: Float64
    """Places across, m, ascending, + right of the run's own direction; 0 is among them."""
    every: int
    """Every how many samples of a run there is a row."""
    offsets: Int64
    """Length runs + 1."""
    rise_m: Float32
    """Height over the ground on the line, m, shape (rows, places across); NaN where there is none."""


@dataclass(frozen=True, slots=True)
class Terrain:
    """Stations and profiles of a network, and how it lies to the water."""

    stations: Stations
    profiles: Profiles
    drainage: Drainage | None = None
    """How the network lies to the water; ``None`` where no elevation model tells."""
