"""The ground beside the line: heights across every run, relative to the line itself."""

import numpy as np
from numpy.typing import NDArray

from pipeline.terrain.model import Strip, TerrainParameters

__all__ = ["level_strip", "strip_offsets"]

Int64 = NDArray[np.int64]


def strip_offsets(offsets: Int64, every: int) -> Int64:
    """Give the offsets of the rows of a strip: one row every *every* samples, and one at the last sample.

    Parameters
    ----------
    offsets
        Run ``r`` owns samples ``offsets[r]:offsets[r + 1]``.
    every
        Samples from one row to the next.
    """
    last = np.maximum(np.diff(offsets) - 1, 0)
    return np.concatenate(([0], np.cumsum(-(-last // every) + 1))).astype(np.int64)


def level_strip(offsets: Int64, parameters: TerrainParameters | None = None) -> Strip:
    """Make a strip that is level across everywhere.

    Parameters
    ----------
    offsets
        Run ``r`` owns samples ``offsets[r]:offsets[r + 1]``.
    parameters
        Spacing of the rows and places across.
    """
    chosen = parameters or TerrainParameters()
    rows = strip_offsets(offsets, chosen.strip_every)
    across = np.array(chosen.strip_across_m, dtype=np.float64)
    return Strip(across, chosen.strip_every, rows, np.zeros((int(rows[-1]), across.size), dtype=np.float32))
