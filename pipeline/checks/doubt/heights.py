"""How far a demand may be off that is made of the heights of a few points of the ground.

A demand that is a function of a few heights z_i has, to first order, the variance of Σ w_i z_i with w_i its derivatives
(:mod:`pipeline.terrain.error_heights`). A run that leaves its segment for another than the straightest neighbour is
looked up on the segment's own run.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.check import Case
from pipeline.checks.doubt.beside import slopes_at
from pipeline.checks.obstacles import IN_PROFILE
from pipeline.terms import Basis
from pipeline.terrain.error_heights import HeightErrors, combination_sd
from pipeline.terrain.error_slopes import vertices_apart

__all__ = ["Stance", "height_sd", "station_cell", "station_near"]

Float64 = NDArray[np.float64]
UInt8 = NDArray[np.uint8]
Int64 = NDArray[np.int64]

EDGE_M = 1e-6
"""At its very edge a thing has no height: a point there is on the ground, whatever the last digit of its place says."""


@dataclass(frozen=True, slots=True)
class Stance:
    """Points of the ground that demands are made of, flattened to rows; the last axis is the points of a row."""

    segment: Int64
    """Shape (rows,)."""
    at_m: Float64
    """Chainage, shape (rows, points)."""
    offset_m: Float64
    """+ right of the digitised direction, the same shape."""
    weights: Float64
    """What is made of the heights, the same shape."""
    basis: UInt8
    """``terms.Basis`` at the worst place, shape (rows,)."""


def height_sd(case: Case, stance: Stance) -> Float64:
    """Give the standard deviation of Σ w_i z_i of every row.

    From the elevation model: correlated errors of its cells, the error of surveyed things among the points, and the
    shift of the line over the slopes beside it. From heights surveyed on the ground: their own independent errors.

    Parameters
    ----------
    case
        The set-up on its site.
    stance
        The points.

    Returns
    -------
    ndarray
        Shape (rows,); NaN where the error is not known.
    """
    measured = case.scene.site.measured
    model = stance.basis == Basis.DEM
    cell = _cell(case, stance)
    unknown = np.nan if measured.dem_rmse_m is None else measured.dem_rmse_m
    sigma = np.select(
        [model & ~np.isnan(cell), stance.basis == Basis.SURVEYED], [unknown, measured.survey_rmse_m], np.nan
    )
    errors = HeightErrors(sigma, np.where(model, cell, np.nan), measured.dem_correlation_m, _apart(case, stance))
    by_height = combination_sd(stance.weights, stance.at_m, stance.offset_m, errors)
    thing = np.where(model[:, None] & _on_things(case, stance), stance.weights * measured.survey_rmse_m, 0.0)
    by_place = np.zeros(sigma.shape)
    if measured.line_rmse_m:
        slopes = slopes_at(case.scene.site.terrain.profiles, stance.segment[:, None], stance.at_m, stance.offset_m)
        change = [(stance.weights * slope).sum(axis=1) for slope in slopes]
        by_place = np.where(model, measured.line_rmse_m * np.hypot(*change), 0.0)
    return np.asarray(np.sqrt(by_height**2 + (thing**2).sum(axis=1) + by_place**2))


def _cell(case: Case, stance: Stance) -> Float64:
    """Cell of the elevation model round the middle of the points, m; NaN where it is not known."""
    return station_cell(case, stance.segment, stance.at_m.mean(axis=1))


def station_cell(case: Case, segment: Int64, at_m: Float64) -> Float64:
    """Cell of the elevation model at the station nearest to a chainage, m; NaN without one."""
    stations = case.scene.site.terrain.stations
    return np.where(np.isnan(at_m), np.nan, stations.cell_m[station_near(case, segment, at_m)])


def station_near(case: Case, segment: Int64, at_m: Float64) -> Int64:
    """Index of the station nearest to a chainage; that of the start where there is none."""
    stations, spacing = case.scene.site.terrain.stations, case.scene.spacing_m
    first, last = stations.offsets[segment], stations.offsets[segment + 1] - 1
    steps = np.rint(np.nan_to_num(at_m / spacing[segment])).astype(np.int64)
    return np.asarray(np.clip(first + steps, first, last))


def _apart(case: Case, stance: Stance) -> Float64:
    """Distance between the surveyed heights round the points of every row, m; 0 where none are surveyed."""
    surveyed = (stance.basis == Basis.SURVEYED) & ~np.isnan(stance.at_m).any(axis=1)
    apart = np.zeros(surveyed.shape)
    if surveyed.any():
        site = case.scene.site
        pick = station_near(case, stance.segment[surveyed], stance.at_m[surveyed].mean(axis=1))
        apart[surveyed] = vertices_apart(site.network, site.terrain.stations, pick)
    return apart


def _on_things(case: Case, stance: Stance) -> NDArray[np.bool_]:
    """Mark the points that lie on a surveyed thing, in the shape of the points."""
    things = case.scene.things.of(*IN_PROFILE)
    reach = 0.5 * np.nan_to_num(things.length_m, nan=2.0 * case.limits.step_fade_m)
    order = np.searchsorted(stance.segment, things.row), np.searchsorted(stance.segment, things.row, side="right")
    hit = np.zeros(stance.at_m.shape, dtype=np.bool_)
    for k in range(2):  # both directions of a segment
        row = np.minimum(order[0] + k, max(stance.segment.size - 1, 0))
        near = np.abs(stance.at_m[row] - things.at_m[:, None]) < reach[:, None] - EDGE_M
        np.logical_or.at(hit, row, near & (row < order[1])[:, None])
    return hit
