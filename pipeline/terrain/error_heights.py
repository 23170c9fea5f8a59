"""How far combinations of heights read from an elevation model may be off: twists, tilts, heights over a chord.

The errors of the cells' heights are one stationary random field with standard deviation σ (the vertical RMSE) and
correlation ρ(d) = exp(−d ÷ L); without L they are independent. A height at a point is a weighted sum of the 4×4 cells
round it with the weights of the Catmull-Rom kernel K (R. G. Keys, IEEE Trans. ASSP 29, 1981). Over all positions that
two points a vector d apart can have within their cells, the mean covariance of their heights is, with d and m in cells,

    σ² · Σ_m ρ(|m| · cell) · a(d_x − m_x) · a(d_y − m_y),     a(s) = ∫ K(u) K(u + s) du,

the lattice sum over all cells m. The mean of it over the bearing of d is the *effective correlation* ρ_eff(d; cell, L)
(at d = 0 it is below 1: interpolation between cells averages errors). The variance of Σ w_i z_i is then
σ² · Σ_ij w_i w_j ρ_eff(d_ij).

It is a mean over positions and bearings: at one place the standard deviation may be some tenths larger or smaller where
the points are closer together than two cells, because a point on a cell centre has the whole error of one cell and one
between four centres the mean of theirs. Within a cell and a half of a void or an edge the kernel is bilinear; that is
left out, and so is the averaging over the footprint of a tyre (a few hundredths of a square metre).

On a survey-grade line the errors of the vertices are independent, and between two vertices the line is straight: there
the kernel is the hat, and the overlap of two of them the cubic B-spline.
"""

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

__all__ = ["HeightErrors", "combination_sd", "effective_correlation"]

Float64 = NDArray[np.float64]

REACH_CELLS = 10.0
"""Farther apart than this, interpolation no longer matters: ρ_eff = ρ (the kernel keeps planes and parabolas)."""
STEP_CELLS = 0.02
"""Spacing of the table; between its values ρ_eff is read linearly, within 10⁻⁴."""
BEARINGS = 8
"""Gauss-Legendre nodes over an eighth of a turn: the lattice has that symmetry."""
RATIO_STEP = 0.002
"""Cells, and ratios of correlation length to cell, that differ by less than this share are treated as one."""
SAME_PLACE_M = 1e-6
"""Points this close are one measurement."""


@dataclass(frozen=True, slots=True)
class HeightErrors:
    """Errors of the heights at the points of each row; arrays of shape (rows,)."""

    sd_m: Float64
    """Standard deviation of a cell's height, or of a measured height, m; NaN when it is not known."""
    cell_m: Float64
    """Cell of the elevation model, m; NaN for heights measured on the ground, whose errors are independent."""
    correlation_m: float | None
    """Correlation length of the elevation model's errors, m; ``None`` for independent errors."""
    apart_m: Float64
    """Distance between heights measured on the ground, m, between which the line is straight; 0 where every point was
    measured itself."""


def combination_sd(weights: Float64, x: Float64, y: Float64, errors: HeightErrors) -> Float64:
    """Give the standard deviation of Σ w_i z_i, row by row.

    Parameters
    ----------
    weights
        Shape (rows, points): what is made of the heights. The unit is that of the result over m.
    x, y
        Where the heights are, m, in any frame; the same shape.
    errors
        Errors of the heights of each row.

    Returns
    -------
    ndarray
        Shape (rows,): σ · √(wᵀ C w); NaN where the error, a place or a weight is not known.
    """
    apart = np.hypot(x[:, :, None] - x[:, None, :], y[:, :, None] - y[:, None, :])
    correlation = _measured(apart, errors.apart_m[:, None, None])
    gridded = np.flatnonzero(~np.isnan(errors.cell_m))
    for cell, rows in _alike(errors.cell_m[gridded], gridded):
        correlation[rows] = effective_correlation(apart[rows], cell, errors.correlation_m)
    variance = np.einsum("ri,rij,rj->r", weights, correlation, weights)
    return np.asarray(errors.sd_m * np.sqrt(np.maximum(variance, 0.0)))


def effective_correlation(distance_m: Float64, cell_m: float, correlation_m: float | None) -> Float64:
    """Give the mean covariance, over σ², of two interpolated heights a distance apart.

    Parameters
    ----------
    distance_m
        Distances in plan, m; NaN stays NaN.
    cell_m
        Cell of the elevation model, m.
    correlation_m
        Correlation length of its errors, m; ``None`` for independent errors.
    """
    cells = np.asarray(distance_m, dtype=np.float64) / cell_m
    ratio = 0.0 if correlation_m is None else correlation_m / cell_m
    step = round(math.log(ratio) / RATIO_STEP) if ratio > 0.0 else None
    table = np.array(_table(step))
    near = np.interp(cells, np.arange(table.size) * STEP_CELLS, table)
    far = np.exp(-cells / ratio) if ratio > 0.0 else np.zeros(cells.shape)
    return np.asarray(np.where(cells > REACH_CELLS, far, near))


def _measured(distance_m: Float64, apart_m: Float64) -> Float64:
    """Give the mean covariance, over σ², of two heights on a line that is straight between measured heights.

    Over all positions along the line: the overlap of two hats, which is the cubic B-spline of distance ÷ spacing.
    """
    itself = (distance_m < SAME_PLACE_M).astype(np.float64)
    steps = np.divide(distance_m, apart_m, out=np.full(distance_m.shape, np.inf), where=apart_m > 0.0)
    hats = np.maximum(2.0 - steps, 0.0) ** 3 / 6.0 - 4.0 * np.maximum(1.0 - steps, 0.0) ** 3 / 6.0
    return np.where(np.isnan(distance_m + apart_m), np.nan, np.where(apart_m > 0.0, hats, itself))


def _alike(cell_m: Float64, rows: NDArray[np.intp]) -> list[tuple[float, NDArray[np.intp]]]:
    """Put rows together whose cells differ by rounding only."""
    sizes, which = np.unique(np.rint(np.log(cell_m) / RATIO_STEP), return_inverse=True)
    return [(float(np.median(cell_m[which == k])), rows[which == k]) for k in range(sizes.size)]


@lru_cache(maxsize=64)
def _table(ratio_step: int | None) -> tuple[float, ...]:
    """Tabulate ρ_eff at every :data:`STEP_CELLS` up to :data:`REACH_CELLS`; ``None`` for independent errors."""
    distance = np.arange(round(REACH_CELLS / STEP_CELLS) + 1) * STEP_CELLS
    nodes, shares = np.polynomial.legendre.leggauss(BEARINGS)
    bearing = (nodes + 1.0) * math.pi / 8.0
    cell = np.arange(-4, math.ceil(REACH_CELLS) + 5)
    finest = np.arange(4001) / 1000.0
    overlap = _autocorrelation(finest)
    across, along = (
        np.interp(np.abs(np.multiply.outer(distance, part)[:, :, None] - cell), finest, overlap)
        for part in (np.cos(bearing), np.sin(bearing))
    )
    lattice = np.hypot(cell[:, None], cell[None, :])
    reach = 0.0 if ratio_step is None else math.exp(ratio_step * RATIO_STEP)
    correlation = np.exp(-lattice / reach) if reach else (lattice == 0.0).astype(np.float64)
    between = np.einsum("dbm,mn,dbn->db", across, correlation, along, optimize=True)
    return tuple((between @ (0.5 * shares)).tolist())


def _autocorrelation(shift: Float64) -> Float64:
    """Give a(s) = ∫ K(u) K(u + s) du of the Catmull-Rom kernel for s ≥ 0; 0 from s = 4 on.

    Both factors are cubic between whole numbers and between those less s: four-point Gauss-Legendre quadrature is exact
    on each of the pieces.
    """
    part = shift - np.floor(shift)
    nodes, shares = np.polynomial.legendre.leggauss(4)
    nodes, shares = 0.5 * (nodes + 1.0), 0.5 * shares
    total = np.zeros(shift.shape)
    for whole in range(-2, 2):
        for begin, length in ((np.zeros(shift.shape), 1.0 - part), (1.0 - part, part)):
            u = whole + begin + nodes[:, None] * length
            total += shares @ (length * _kernel(u) * _kernel(u + shift))
    return total


def _kernel(u: Float64) -> Float64:
    """Give the Catmull-Rom kernel (cubic convolution with a = −½)."""
    d = np.abs(u)
    near = 1.0 + d * d * (1.5 * d - 2.5)
    far = 2.0 + d * (-4.0 + d * (2.5 - 0.5 * d))
    return np.where(d < 1.0, near, np.where(d < 2.0, far, 0.0))
