"""From the numbers in an elevation file to heights in metres, in one pass."""

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.compiled import kernel

__all__ = ["stored_to_heights"]


@kernel
def stored_to_heights(
    stored: NDArray[np.number], nodata: float, line: tuple[float, float], beyond: float
) -> NDArray[np.float32]:
    """Turn stored numbers into heights; voids become NaN.

    Parameters
    ----------
    stored
        Numbers of shape (rows, columns) as the file holds them.
    nodata
        Stored number that stands for a void; NaN where there is none.
    line
        Metres a stored number, and metres at stored 0.
    beyond
        Heights at or beyond ± this are voids, m; so is NaN.

    Returns
    -------
    ndarray
        Heights in single precision, m.
    """
    rows, columns = stored.shape
    heights = np.empty((rows, columns), dtype=np.float32)
    for i in range(rows):
        for j in range(columns):
            number = np.float64(stored[i, j])
            height = number * line[0] + line[1]
            heights[i, j] = height if number != nodata and abs(height) < beyond else np.nan
    return heights
