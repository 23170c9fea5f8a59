"""How far the bends of a line may be off, from the noise of its survey.

A shift of the whole line changes no bend. What does is the error of its vertices relative to each other, and of that a
position error given as one number says nothing but that it is not larger. The curvature is measured where the line lies
within ``line_tolerance_m`` of a circle, and that is what counts as the survey's noise, so the smaller of the two is
taken, independent from vertex to vertex. Errors that bend a line smoothly over the whole window stay unseen: no figure
for them is known.

Two ways of measuring bound each other, as the smaller reading counts (:mod:`pipeline.kernels.curvature`): a circle over
the window W through n vertices, whose curvature is twice the second coefficient of a least-squares parabola,

    2σ ÷ √(n (n² − 1) (n² − 4) ÷ 180 · (W ÷ (n − 1))⁴)

(sum of squares of the second discrete orthogonal polynomial; with three vertices √96 · σ ÷ W²), and the turn at one
vertex, √6 · σ ÷ d for vertices d apart, spread over W. Longer windows, which are tried first, do better; which one
was taken is not kept, so the figure is an upper one.
"""

import numpy as np
from numpy.typing import NDArray

from pipeline.terrain.model import TerrainParameters

__all__ = ["curvature_sd"]

Float64 = NDArray[np.float64]


def curvature_sd(parameters: TerrainParameters, apart_m: Float64) -> Float64:
    """Give the standard deviation of plan curvature, 1/m.

    Parameters
    ----------
    parameters
        Position error of the lines, tolerance and window of the curvature.
    apart_m
        Distance between the vertices of the line, m.

    Returns
    -------
    ndarray
        NaN everywhere when the position error is not known.
    """
    if parameters.line_rmse_m is None:
        return np.full(apart_m.shape, np.nan)
    noise, window = min(parameters.line_rmse_m, parameters.line_tolerance_m), parameters.radius_window_m
    count = np.maximum(np.floor(window / apart_m) + 1.0, 3.0)
    spread = count * (count**2 - 1.0) * (count**2 - 4.0) / 180.0
    circle = 2.0 * noise / np.sqrt(spread) / (window / (count - 1.0)) ** 2
    turn = np.sqrt(6.0) * noise / (apart_m * window)
    return np.asarray(np.minimum(circle, turn))
