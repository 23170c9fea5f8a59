"""The worst place of each group of values."""

import math

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.compiled import kernel

__all__ = ["first_largest"]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]


@kernel
def first_largest(values: Float64, offsets: Int64) -> Int64:
    """Index of the first largest value of each group.

    Parameters
    ----------
    values
        All values; group ``i`` owns ``offsets[i]:offsets[i + 1]``. NaN is passed over.
    offsets
        Length groups + 1.

    Returns
    -------
    Int64
        Indices into *values*; −1 for a group without any value.
    """
    found = np.full(offsets.size - 1, -1, dtype=np.int64)
    for group in range(offsets.size - 1):
        best = -math.inf
        for k in range(offsets[group], offsets[group + 1]):
            if values[k] > best:
                best = values[k]
                found[group] = k
    return found
