"""How far a grade read from an elevation model may be off, from the error of its heights.

The errors of the cells' heights are taken as one stationary random field with standard deviation σ (the vertical
RMSE) whose correlation falls off as exp(−d ÷ L) with distance d; L is the correlation length, and without one the
errors are independent, which is the upper bound (correlated errors partly cancel in a difference).

The gradient at a point is a weighted sum of the 4×4 heights round it: the Catmull-Rom derivative one way, the
Catmull-Rom weights the other way, divided by the cell. Its variance is therefore σ² ÷ cell² · wᵀ C w with C the
correlation of the 16 cells. Points fall anywhere in a cell, so the mean of it over the cell is taken; the weights
are cubic, so that Gauss-Legendre quadrature with four nodes each way is exact. By symmetry the two components have the
same variance and no mean covariance: the standard deviation of a slope is the same at every bearing.

At a cell centre alone, with independent errors, this is the two-point difference over two cells, σ ÷ (√2 · cell): the
constant of Zevenbergen and Thorne's slope (0.70711; Florinsky 1998, from memory, not verified).
"""

import numpy as np
from numpy.typing import NDArray

__all__ = ["gradient_sd", "nva_95"]

Float64 = NDArray[np.float64]

CELL_STEP = 0.005
"""Cells that differ by less than this share are treated as one: the answer moves by less than that."""


def gradient_sd(cell_m: NDArray[np.floating], rmse_m: float | None, correlation_m: float | None) -> Float64:
    """Give the standard deviation of a slope component (rise over run) read from cells of given sizes.

    Parameters
    ----------
    cell_m
        Cell of the elevation model at each place, m; NaN without one.
    rmse_m
        Standard deviation of its heights' error, m; ``None`` when it is not known.
    correlation_m
        Correlation length of the error, m; ``None`` for independent errors.

    Returns
    -------
    ndarray
        Standard deviation, rise over run; NaN without a cell, or when the error is not known.
    """
    cells = np.asarray(cell_m, dtype=np.float64)
    out = np.full(cells.shape, np.nan)
    known = ~np.isnan(cells)
    if rmse_m is None or not known.any():
        return out
    step, which = np.unique(np.rint(np.log(cells[known]) / CELL_STEP), return_inverse=True)
    sizes = np.exp(step * CELL_STEP)
    ratio = np.zeros(sizes.size) if correlation_m is None else correlation_m / sizes
    factor = np.array([_factor(value) for value in ratio])
    out[known] = rmse_m * factor[which] / cells[known]
    return out


def nva_95(rmse_m: float) -> float:
    """Give the non-vegetated vertical accuracy at 95 % of an RMSE of heights, m: 1.96 × RMSEz.

    Source: USGS Lidar Base Specification, quality levels (as transcribed by documents that cite it).
    """
    return 1.96 * rmse_m


def _factor(correlation_cells: float) -> float:
    """Give √(wᵀ C w), the mean over the cell, for a correlation length in cells."""
    weights = _gradient_weights()
    place = np.stack(np.meshgrid(np.arange(4.0), np.arange(4.0)), axis=-1).reshape(16, 2)
    distance = np.hypot(*(place[:, None, :] - place[None, :, :]).transpose(2, 0, 1))
    correlation = np.exp(-distance / correlation_cells) if correlation_cells > 0.0 else np.eye(16)
    _, shares = _quadrature()
    variance = np.einsum("uvi,ij,uvj->uv", weights, correlation, weights)
    return float(np.sqrt(shares @ variance @ shares))


def _quadrature() -> tuple[Float64, Float64]:
    """Give the nodes and weights of four-point Gauss-Legendre quadrature on [0, 1]."""
    nodes, shares = np.polynomial.legendre.leggauss(4)
    return 0.5 * (nodes + 1.0), 0.5 * shares


def _gradient_weights() -> Float64:
    """Give the weights of the 16 heights in ∂z/∂column (per cell) at the nodes: shape (u, v, 16), rows outermost."""
    t, _ = _quadrature()
    value = np.stack(
        (
            t * (-0.5 + t * (1 - 0.5 * t)),
            1 + t * t * (-2.5 + 1.5 * t),
            t * (0.5 + t * (2 - 1.5 * t)),
            t * t * (t - 1) / 2,
        )
    )
    slope = np.stack((-0.5 + t * (2 - 1.5 * t), t * (-5 + 4.5 * t), 0.5 + t * (4 - 4.5 * t), t * (1.5 * t - 1)))
    return np.asarray(np.einsum("cu,rv->uvrc", slope, value).reshape(4, 4, 16))
