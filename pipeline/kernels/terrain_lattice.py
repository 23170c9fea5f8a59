"""A change of coordinates from a coarse lattice of exact values, with its derivatives.

A map projection is so smooth that between lattice points 200 m apart a bilinear patch is right to about a millimetre
(the error is at most spacing² ÷ 8 times the curvature of the map, which is about 1 ÷ the earth's radius), at a
hundredth of the cost of transforming every point.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.compiled import inner, kernel

__all__ = ["Lattice", "Warped", "warp_points"]

Float64 = NDArray[np.float64]


class Lattice(NamedTuple):
    """Exact values of the change of coordinates (x, y) → (u, v) on a square lattice."""

    x0: float
    y0: float
    """Coordinates of the lattice's first point."""
    spacing: float
    """Distance between lattice points, in the unit of x and y."""
    u: Float64
    v: Float64
    """Values of shape (rows, columns): rows go up in y, columns in x; both at least 2."""


class Warped(NamedTuple):
    """Points in the other coordinates, and how they move with x and y."""

    u: Float64
    v: Float64
    u_x: Float64
    """∂u/∂x."""
    u_y: Float64
    v_x: Float64
    v_y: Float64


@kernel
def warp_points(lattice: Lattice, x: Float64, y: Float64) -> Warped:
    """Change points to the other coordinates; outside the lattice the outermost patch goes on."""
    size = x.size
    out = Warped(np.empty(size), np.empty(size), np.empty(size), np.empty(size), np.empty(size), np.empty(size))
    rows, columns = lattice.u.shape
    for k in range(size):
        column, row = (x[k] - lattice.x0) / lattice.spacing, (y[k] - lattice.y0) / lattice.spacing
        j = min(max(int(np.floor(column)), 0), columns - 2)
        i = min(max(int(np.floor(row)), 0), rows - 2)
        s, t = column - j, row - i
        out.u[k], out.u_x[k], out.u_y[k] = _patch(lattice.u, i, j, s, t)
        out.v[k], out.v_x[k], out.v_y[k] = _patch(lattice.v, i, j, s, t)
        out.u_x[k] /= lattice.spacing
        out.u_y[k] /= lattice.spacing
        out.v_x[k] /= lattice.spacing
        out.v_y[k] /= lattice.spacing
    return out


@inner
def _patch(values: Float64, i: int, j: int, s: float, t: float) -> tuple[float, float, float]:
    """Give the bilinear patch at row *i*, column *j*: value, derivative by column, derivative by row."""
    a, b, c, d = values[i, j], values[i, j + 1], values[i + 1, j], values[i + 1, j + 1]
    return (
        a + s * (b - a) + t * (c - a) + s * t * (a - b - c + d),
        (1.0 - t) * (b - a) + t * (d - c),
        (1.0 - s) * (c - a) + s * (d - b),
    )
