"""A plain NumPy twin of the elevation sampling, written from the published definitions.

Bicubic: cubic convolution with a = −½ (R. G. Keys, "Cubic convolution interpolation for digital image processing",
IEEE Trans. ASSP 29, 1981), as weights of distance, row by row; nothing in it is shared with the package.
"""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def keys(distance: Floats) -> Floats:
    """Weigh a cell by its distance in cells."""
    d = np.abs(distance)
    near = 1.5 * d**3 - 2.5 * d**2 + 1.0
    far = -0.5 * d**3 + 2.5 * d**2 - 4.0 * d + 2.0
    return np.where(d <= 1.0, near, np.where(d < 2.0, far, 0.0))


def bicubic(grid: Floats, column: Floats, row: Floats) -> Floats:
    """Read heights between cell centres (whole numbers); all 16 cells must be inside the grid."""
    j, i = np.floor(column).astype(np.int64), np.floor(row).astype(np.int64)
    height = np.zeros(column.shape)
    for down in range(-1, 3):
        line = np.zeros(column.shape)
        for right in range(-1, 3):
            line += grid[i + down, j + right] * keys(column - (j + right))
        height += line * keys(row - (i + down))
    return height


def inner(column: Floats, row: Floats, shape: tuple[int, ...]) -> NDArray[np.bool_]:
    """Tell which places have all 16 cells."""
    return (column >= 1.0) & (column < shape[1] - 2.0) & (row >= 1.0) & (row < shape[0] - 2.0)
