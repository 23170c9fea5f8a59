"""How far the bends of a line may be off, from the noise of its survey.

A shift of the whole line changes no bend. What does is the error of its vertices relative to each other, and of that a
position error given as one number says nothing but that it is not larger. The curvature is measured where the line lies
within ``line_tolerance_m`` of a circle, and that is what counts as the survey's noise, so the smaller of the two is
taken, independent from vertex to vertex. Errors that bend a line smoothly over the whole window stay unseen: no figure
for them is known.

The curvature is that of a circle over the longest of three windows that it fits (:mod:`pipeline.kernels.curvature`).
With n vertices in a window W its standard deviation is that of twice the second coefficient of a parabola by least
squares,

    2σ ÷ √(n (n² − 1) (n² − 4) ÷ 180 · (W ÷ (n − 1))⁴)

(sum of squares of the second discrete orthogonal polynomial; with three vertices √96 · σ ÷ W²). In the shortest window
the turn at one vertex may count instead, √6 · σ ÷ d for vertices d apart, spread over W: the smaller of the two is
taken. Which window was used is seen from the line as it is, with a parabola in the place of the circle and within the
segment only: where that finds a shorter one, as in bends of more than a quarter turn, the figure is on the large side.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.terrain.model import Stations, TerrainParameters

__all__ = ["bend_sd", "curvature_sd", "windows_used"]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]

SCALES = (2.0, 4.0)
"""Longer windows, in shortest ones, ascending."""
POINTS = 17
"""A window is looked at in so many points."""
CHORD_SLACK = 0.15
"""How much of a window's length its chord may differ from that of its circle."""


@dataclass(frozen=True, slots=True)
class _Window:
    """Points of the line in a window of each row, shape (rows, :data:`POINTS`), along and aside of its chord, m."""

    along: Float64
    aside: Float64
    chord: Float64
    """Shape (rows,)."""


def bend_sd(stations: Stations, parameters: TerrainParameters, pick: Int64, apart_m: Float64) -> Float64:
    """Give the standard deviation of the plan curvature at stations, 1/m.

    Parameters
    ----------
    stations
        All stations.
    parameters
        Position error of the lines, tolerance and window of the curvature.
    pick
        Indices of those asked for.
    apart_m
        Distance between the vertices of the line there, m.

    Returns
    -------
    ndarray
        NaN everywhere when the position error is not known.
    """
    if parameters.line_rmse_m is None:
        return np.full(pick.shape, np.nan)
    return curvature_sd(parameters, apart_m, windows_used(stations, parameters, pick))


def curvature_sd(parameters: TerrainParameters, apart_m: Float64, window_m: Float64) -> Float64:
    """Give the standard deviation of plan curvature measured over windows, 1/m.

    Parameters
    ----------
    parameters
        Position error of the lines, tolerance and shortest window of the curvature; the error must be known.
    apart_m
        Distance between the vertices of the line, m.
    window_m
        Window used, m.
    """
    noise = min(parameters.line_rmse_m or 0.0, parameters.line_tolerance_m)
    count = np.maximum(np.floor(window_m / apart_m + 1e-9) + 1.0, 3.0)
    spread = count * (count**2 - 1.0) * (count**2 - 4.0) / 180.0
    circle = 2.0 * noise / np.sqrt(spread) / (window_m / (count - 1.0)) ** 2
    turn = np.sqrt(6.0) * noise / (apart_m * window_m)
    return np.where(window_m <= parameters.radius_window_m, np.minimum(circle, turn), circle)


def windows_used(stations: Stations, parameters: TerrainParameters, pick: Int64) -> Float64:
    """Find the longest window round each station over which the line is one circle, m.

    Parameters
    ----------
    stations
        All stations.
    parameters
        Tolerance and shortest window.
    pick
        Indices of those asked for.

    Returns
    -------
    ndarray
        4, 2 or 1 times the shortest window; less where the segment itself is shorter.
    """
    last = stations.offsets[np.searchsorted(stations.offsets, pick, side="right")] - 1
    length = stations.chainage_m[last]
    used = np.minimum(parameters.radius_window_m, length)
    for scale in SCALES:
        window = np.full(pick.shape, scale * parameters.radius_window_m)
        fits = (window <= length) & _one_circle(_window(stations, pick, window), window, parameters.line_tolerance_m)
        used = np.where(fits, window, used)
    return used


def _window(stations: Stations, pick: Int64, window: Float64) -> _Window:
    """Take the points of the line in windows round stations, moved inwards at the ends of their segments."""
    segment = np.searchsorted(stations.offsets, pick, side="right") - 1
    begin = np.repeat(stations.offsets[:-1], np.diff(stations.offsets))
    # One ascending coordinate through all segments: no window reaches from one into the next.
    along = stations.chainage_m + np.cumsum(np.where(begin == np.arange(begin.size), 1.0, 0.0)) * 1e6
    first, last = along[stations.offsets[segment]], along[stations.offsets[segment + 1] - 1]
    start = np.maximum(np.minimum(along[pick] - 0.5 * window, last - window), first)
    at = start[:, None] + window[:, None] * np.linspace(0.0, 1.0, POINTS)
    x, y = (np.interp(at, along, part) for part in (stations.x, stations.y))
    east, north = x[:, -1] - x[:, 0], y[:, -1] - y[:, 0]
    chord = np.hypot(east, north)
    unit = np.where(chord > 0.0, chord, 1.0)[:, None]
    x, y = x - x.mean(axis=1, keepdims=True), y - y.mean(axis=1, keepdims=True)
    return _Window(
        along=(x * east[:, None] + y * north[:, None]) / unit,
        aside=(y * east[:, None] - x * north[:, None]) / unit,
        chord=chord,
    )


def _one_circle(window: _Window, length: Float64, tolerance: float) -> NDArray[np.bool_]:
    """Say whether the line in a window is one bend: a parabola fits it, and its chord is as long as that bend's."""
    powers = window.along[:, :, None] ** np.arange(3)
    normal = np.einsum("rpi,rpj->rij", powers, powers)
    normal += 1e-9 * np.eye(3)  # a window that closes on itself has no chord to fit along
    coefficients = np.linalg.solve(normal, np.einsum("rpi,rp->ri", powers, window.aside)[:, :, None])
    rest = window.aside - (powers @ coefficients)[:, :, 0]
    half = np.abs(coefficients[:, 2, 0]) * length
    expected = length * np.sinc(half / np.pi)
    close = np.sqrt((rest**2).mean(axis=1)) <= tolerance
    return np.asarray(close & (np.abs(window.chord - expected) <= CHORD_SLACK * length))
