"""Height and gradient of a gridded surface at points, straight from the grid.

The surface between cell centres is the Catmull-Rom bicubic patch through 4×4 heights (cubic convolution with
a = −½: R. G. Keys, "Cubic convolution interpolation for digital image processing", IEEE Trans. ASSP 29, 1981), which
meets planes and quadratic surfaces exactly; its gradient is taken in closed form. Within a cell and a half of the
edge, or of a void, the bilinear patch through 2×2 heights takes its place; where one of those four is missing too,
the answer is NaN. Voids are NaN and stay where they are: no height is ever blended with a void.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.compiled import inner, kernel

__all__ = ["Patches", "sample_surface", "split_gradient"]

Float32 = NDArray[np.float32]
Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]

ON_CENTRE = 1e-6
"""A point that misses a row or column of cell centres by less than this (cells) lies on it: rounding of coordinates."""


class Patches(NamedTuple):
    """Heights and gradients at points; arrays of equal length, written in place."""

    height: Float64
    """m; NaN where there is none."""
    gradient_x: Float64
    """∂z/∂x, rise per unit of x."""
    gradient_y: Float64
    """∂z/∂y, rise per unit of y."""


@kernel
def sample_surface(grid: Float32, to_cell: Float64, points: tuple[Float64, Float64], pick: Int64, out: Patches) -> None:
    """Sample a grid of heights at points; results go into *out* at the same places.

    Parameters
    ----------
    grid
        Heights of shape (rows, columns), m; NaN is a void.
    to_cell
        Six numbers a, b, c, d, e, f: column = a·x + b·y + c and row = d·x + e·y + f, where whole numbers are **cell
        centres** (half a cell less than the usual corner-based transform).
    points
        x and y of all points, in the grid's own coordinates.
    pick
        Indices of the points to sample.
    out
        Where to write; the gradient is per unit of x and y.
    """
    a, b, c, d, e, f = to_cell[0], to_cell[1], to_cell[2], to_cell[3], to_cell[4], to_cell[5]
    for i in pick:
        column = a * points[0][i] + b * points[1][i] + c
        row = d * points[0][i] + e * points[1][i] + f
        height, by_column, by_row = _patch(grid, column, row)
        out.height[i] = height
        out.gradient_x[i] = by_column * a + by_row * d
        out.gradient_y[i] = by_column * b + by_row * e


@kernel
def split_gradient(gradient_x: Float64, gradient_y: Float64, bearing: Float64) -> tuple[Float64, Float64]:
    """Split gradients along and across a bearing.

    With t = (sin A, cos A) along the bearing A and n = (cos A, −sin A) to its right, grade = ∇z·t (+ uphill) and
    cross = ∇z·n (+ the ground rises to the right); grade² + cross² = |∇z|².

    Parameters
    ----------
    gradient_x, gradient_y
        Rise over run to the east and to the north.
    bearing
        Grid bearing, rad, clockwise from north.

    Returns
    -------
    tuple
        Grade and cross slope, rise over run.
    """
    grade, cross = np.empty(bearing.size), np.empty(bearing.size)
    latest, sine, cosine = np.nan, np.nan, np.nan
    for i in range(bearing.size):
        if bearing[i] != latest:  # stations on one piece of line share their bearing
            latest, sine, cosine = bearing[i], np.sin(bearing[i]), np.cos(bearing[i])
        grade[i] = gradient_x[i] * sine + gradient_y[i] * cosine
        cross[i] = gradient_x[i] * cosine - gradient_y[i] * sine
    return grade, cross


@inner
def _patch(grid: Float32, column: float, row: float) -> tuple[float, float, float]:
    """Give height and derivatives by column and by row at one point."""
    rows, columns = grid.shape
    if 1.0 <= column < columns - 2 and 1.0 <= row < rows - 2:
        j, i = int(np.floor(column)), int(np.floor(row))
        height, by_column, by_row = _bicubic(grid, j - 1, i - 1, column - j, row - i)
        if not np.isnan(height):
            return height, by_column, by_row
    column, row = _snap(column), _snap(row)
    if rows < 2 or columns < 2 or not (0.0 <= column <= columns - 1 and 0.0 <= row <= rows - 1):
        return np.nan, np.nan, np.nan
    j, i = min(int(np.floor(column)), columns - 2), min(int(np.floor(row)), rows - 2)
    return _linear_patch(grid, (j, i), column - j, row - i)


@inner
def _snap(cells: float) -> float:
    """Move a coordinate that misses a cell centre by rounding only onto it."""
    whole = np.round(cells)
    return whole if abs(cells - whole) < ON_CENTRE else cells


@inner
def _linear_patch(grid: Float32, cell: tuple[int, int], u: float, v: float) -> tuple[float, float, float]:
    """Give the bilinear patch; a point on a line of cell centres may lie on the patch on either side of it."""
    for back_v in range(2 if v == 0.0 and cell[1] > 0 else 1):
        for back_u in range(2 if u == 0.0 and cell[0] > 0 else 1):
            height, by_column, by_row = _bilinear(grid, cell[0] - back_u, cell[1] - back_v, u + back_u, v + back_v)
            if not np.isnan(height):
                return height, by_column, by_row
    return np.nan, np.nan, np.nan


@inner
def _bicubic(grid: Float32, j: int, i: int, u: float, v: float) -> tuple[float, float, float]:
    """Give the Catmull-Rom patch whose 4×4 heights begin at column *j*, row *i*."""
    w0, w1, w2, w3 = _weights(u)
    d0, d1, d2, d3 = _slopes(u)
    z0, z1, z2, z3 = grid[i], grid[i + 1], grid[i + 2], grid[i + 3]
    across = (
        w0 * z0[j] + w1 * z0[j + 1] + w2 * z0[j + 2] + w3 * z0[j + 3],
        w0 * z1[j] + w1 * z1[j + 1] + w2 * z1[j + 2] + w3 * z1[j + 3],
        w0 * z2[j] + w1 * z2[j + 1] + w2 * z2[j + 2] + w3 * z2[j + 3],
        w0 * z3[j] + w1 * z3[j + 1] + w2 * z3[j + 2] + w3 * z3[j + 3],
    )
    slope = (
        d0 * z0[j] + d1 * z0[j + 1] + d2 * z0[j + 2] + d3 * z0[j + 3],
        d0 * z1[j] + d1 * z1[j + 1] + d2 * z1[j + 2] + d3 * z1[j + 3],
        d0 * z2[j] + d1 * z2[j + 1] + d2 * z2[j + 2] + d3 * z2[j + 3],
        d0 * z3[j] + d1 * z3[j + 1] + d2 * z3[j + 2] + d3 * z3[j + 3],
    )
    down, steep = _weights(v), _slopes(v)
    return _dot(down, across), _dot(down, slope), _dot(steep, across)


@inner
def _dot(a: tuple[float, float, float, float], b: tuple[float, float, float, float]) -> float:
    """Give the sum of products of four pairs."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2] + a[3] * b[3]


@inner
def _weights(t: float) -> tuple[float, float, float, float]:
    """Give the Catmull-Rom weights of four heights at −1, 0, 1, 2 for a point at *t* in [0, 1]."""
    return (
        t * (-0.5 + t * (1.0 - 0.5 * t)),
        1.0 + t * t * (-2.5 + 1.5 * t),
        t * (0.5 + t * (2.0 - 1.5 * t)),
        t * t * (-0.5 + 0.5 * t),
    )


@inner
def _slopes(t: float) -> tuple[float, float, float, float]:
    """Give the derivatives of :func:`_weights` by *t*."""
    return (
        -0.5 + t * (2.0 - 1.5 * t),
        t * (-5.0 + 4.5 * t),
        0.5 + t * (4.0 - 4.5 * t),
        t * (-1.0 + 1.5 * t),
    )


@inner
def _bilinear(grid: Float32, j: int, i: int, u: float, v: float) -> tuple[float, float, float]:
    """Give the bilinear patch whose 2×2 heights begin at column *j*, row *i*."""
    z00, z01 = np.float64(grid[i, j]), np.float64(grid[i, j + 1])
    z10, z11 = np.float64(grid[i + 1, j]), np.float64(grid[i + 1, j + 1])
    upper, lower = z00 + u * (z01 - z00), z10 + u * (z11 - z10)
    return (
        upper + v * (lower - upper),
        (1.0 - v) * (z01 - z00) + v * (z11 - z10),
        lower - upper,
    )
