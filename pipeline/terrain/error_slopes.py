"""How far the slopes at stations may be off: from the error of the heights, and from that of the line's position.

Heights. A slope read from the elevation model has the standard deviation of :func:`.error_model.gradient_sd`, the same
along and across. The grade of a survey-grade line is the rise between two neighbouring vertices whose heights have
independent errors: √2 · σ ÷ distance. Its side slope still is the elevation model's; a deck is level by construction.

Position. The line is taken as shifted as a whole by an error of σ_h in each axis, as one satellite fix is over a few
metres: the vehicle then stands on ground beside the line with the same bearing. With H the second derivatives of the
ground, t along and n to the right, a shift changes the grade ∇z·t by tᵀH and the side slope ∇z·n by nᵀH, so that

    σ²(grade) = σ_h² (z_ss² + z_sn²),    σ²(side) = σ_h² (z_sn² + z_nn²).

z_ss and z_sn come from the gradients at the neighbouring stations, z_nn from the second difference of the strip beside
the line. This holds while the ground is a parabola over σ_h; on rougher ground it is a first estimate only. A
survey-grade line has its heights where it was walked: a shift changes nothing of them.
"""

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.survey.model import Network
from pipeline.terms import Basis
from pipeline.terrain.error_model import gradient_sd
from pipeline.terrain.model import Profiles, Stations, Terrain, TerrainParameters

__all__ = ["SlopeErrors", "slope_errors", "vertices_apart"]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]

ACROSS_M = 0.6
"""The ground's bend across is measured over twice this, about as far as from station to station and back."""


@dataclass(frozen=True, slots=True)
class SlopeErrors:
    """Standard deviations at stations, rise over run; NaN where they are not known."""

    grade: Float64
    cross: Float64
    whole: Float64
    """Of the steepest slope there, √(grade² + cross²)."""


def slope_errors(
    network: Network, terrain: Terrain, parameters: TerrainParameters, pick: Int64 | None = None
) -> SlopeErrors:
    """Give the standard deviations of the slopes at stations.

    Parameters
    ----------
    network
        The trail network.
    terrain
        Its stations and the strip beside it.
    parameters
        Errors of heights and lines. Without ``dem_rmse_m`` slopes of the elevation model have none; without
        ``line_rmse_m`` the position is taken as exact.
    pick
        Indices of the stations; all of them without.
    """
    stations = terrain.stations
    chosen = np.arange(stations.x.size) if pick is None else pick
    grade, cross = (part[chosen].astype(np.float64) for part in (stations.grade, stations.cross))
    model = gradient_sd(stations.cell_m[chosen], parameters.dem_rmse_m, parameters.dem_correlation_m)
    by_height = _by_height(network, stations, chosen, (model, parameters.survey_rmse_m))
    moved = _moved(terrain, chosen, parameters.line_rmse_m)
    whole = np.hypot(grade, cross)
    # Level ground is as likely to slope one way as the other: any direction will do for its steepest.
    along, side = (
        np.divide(part, whole, out=np.full(whole.shape, np.sqrt(0.5)), where=whole > 0.0) for part in (grade, cross)
    )
    height = _root(along * by_height[0], side * by_height[1], ignored=side == 0.0)
    shift = np.hypot(along * moved[0] + side * moved[1], along * moved[1] + side * moved[2])
    return SlopeErrors(
        grade=np.hypot(by_height[0], np.hypot(moved[0], moved[1])),
        cross=np.hypot(by_height[1], np.hypot(moved[1], moved[2])),
        whole=np.hypot(height, shift),
    )


def _root(first: Float64, second: Float64, ignored: NDArray[np.bool_]) -> Float64:
    """Root of the sum of squares; where *ignored*, the second part does not count even if it is not known."""
    return np.hypot(first, np.where(ignored, 0.0, second))


def _by_height(
    network: Network, stations: Stations, pick: Int64, errors: tuple[Float64, float]
) -> tuple[Float64, Float64]:
    """Give what the heights' errors make of grade and side slope."""
    model, survey = errors
    basis = stations.basis[pick]
    surveyed = basis == Basis.SURVEYED
    from_model = np.where(basis == Basis.DEM, model, np.nan)
    if not surveyed.any():
        return from_model, from_model
    apart = np.full(pick.size, np.nan)
    apart[surveyed] = vertices_apart(network, stations, pick[surveyed])
    return np.where(surveyed, np.sqrt(2.0) * survey / apart, from_model), np.where(surveyed, model, from_model)


def vertices_apart(network: Network, stations: Stations, pick: Int64) -> Float64:
    """Give the distance of the two vertices of the line between which each station lies, m.

    Parameters
    ----------
    network
        Geometry of the lines.
    stations
        All stations.
    pick
        Indices of those asked for.
    """
    xy, line = shapely.get_coordinates(network.segments.geometry.to_numpy(), return_index=True)
    step = np.where(np.diff(line, prepend=-1) == 0, np.hypot(*np.diff(xy, axis=0, prepend=xy[:1]).T), 0.0)
    once = (step > 0.0) | (np.diff(line, prepend=-1) > 0)  # a vertex that stands there twice ends no piece
    line, along = line[once], np.cumsum(step)[once]
    start = along[np.searchsorted(line, np.arange(stations.offsets.size - 1))]
    segment = np.searchsorted(stations.offsets, pick, side="right") - 1
    place = start[segment] + stations.chainage_m[pick]
    first, last = np.searchsorted(line, segment), np.searchsorted(line, segment, side="right") - 1
    after = np.clip(np.searchsorted(along, place, side="right"), first + 1, last)
    return np.asarray(along[after] - along[after - 1])


def _moved(terrain: Terrain, pick: Int64, line_rmse_m: float | None) -> tuple[Float64, Float64, Float64]:
    """Give σ_h times the second derivatives z_ss, z_sn and z_nn of the ground; 0 where the position is exact."""
    stations = terrain.stations
    on_model = stations.basis[pick] == Basis.DEM
    if line_rmse_m is None or line_rmse_m == 0.0 or not on_model.any():
        nothing = np.zeros(pick.size)
        return nothing, nothing, nothing
    along, twist = _bends_along(stations, pick)
    bends = (along, twist, _bend_across(terrain.profiles, stations, pick))
    first, second, third = (np.where(on_model, line_rmse_m * bend, 0.0) for bend in bends)
    return first, second, third


def _bends_along(stations: Stations, pick: Int64) -> tuple[Float64, Float64]:
    """Give z_ss and z_sn, 1/m: how the gradient changes from the station before to the one after."""
    segment = np.searchsorted(stations.offsets, pick, side="right") - 1
    before = np.maximum(pick - 1, stations.offsets[segment])
    after = np.minimum(pick + 1, stations.offsets[segment + 1] - 1)
    east, north = (
        late - early for late, early in zip(_gradient(stations, after), _gradient(stations, before), strict=True)
    )
    run = stations.chainage_m[after] - stations.chainage_m[before]
    bearing = stations.bearing_rad[pick].astype(np.float64)
    sine, cosine = np.sin(bearing), np.cos(bearing)
    return (east * sine + north * cosine) / run, (east * cosine - north * sine) / run


def _gradient(stations: Stations, pick: Int64) -> tuple[Float64, Float64]:
    """Put grade and side slope together again: the gradient to the east and to the north."""
    bearing = stations.bearing_rad[pick].astype(np.float64)
    grade, cross = stations.grade[pick].astype(np.float64), stations.cross[pick].astype(np.float64)
    sine, cosine = np.sin(bearing), np.cos(bearing)
    return grade * sine + cross * cosine, grade * cosine - cross * sine


def _bend_across(profiles: Profiles, stations: Stations, pick: Int64) -> Float64:
    """Give z_nn, 1/m: the second difference of the strip beside each station."""
    strip = profiles.strip
    segment = np.searchsorted(stations.offsets, pick, side="right") - 1
    row = np.rint((stations.chainage_m[pick] - profiles.start_m[segment]) / (profiles.step_m * strip.every))
    row = np.clip(strip.offsets[segment] + row.astype(np.int64), strip.offsets[segment], strip.offsets[segment + 1] - 1)
    left, right = (int(np.abs(strip.across_m - place).argmin()) for place in (-ACROSS_M, ACROSS_M))
    rise = strip.rise_m[row].astype(np.float64)  # over the line itself, so that of the middle is 0
    return np.asarray((rise[:, left] + rise[:, right]) / strip.across_m[right] ** 2)
