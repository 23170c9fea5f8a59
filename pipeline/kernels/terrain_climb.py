"""Sum of climbs and descents of height profiles, blind to the small change of noise."""

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.compiled import inner, kernel

__all__ = ["climbs"]

Float32 = NDArray[np.float32]
Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]


@kernel
def climbs(z: Float32, offsets: Int64, dead_band: float) -> tuple[Float64, Float64]:
    """Sum the climbs and the descents of ragged profiles.

    A turn from up to down (or back) counts only once the height has moved away from the extreme by more than
    *dead_band*; without that, a centimetre of noise a metre adds several metres of climb to a flat kilometre.
    Rise less fall is always the last known height less the first.

    Parameters
    ----------
    z
        Heights, m; NaN is passed over.
    offsets
        Length profiles + 1.
    dead_band
        Smallest reversal that counts, m; 0 counts all.

    Returns
    -------
    tuple
        Rise and fall of every profile, m, both ≥ 0; NaN where no height is known.
    """
    rise, fall = np.full(offsets.size - 1, np.nan), np.full(offsets.size - 1, np.nan)
    for line in range(offsets.size - 1):
        rise[line], fall[line] = _climb(z[offsets[line] : offsets[line + 1]], dead_band)
    return rise, fall


@inner
def _climb(z: Float32, dead_band: float) -> tuple[float, float]:
    """Sum the climbs and descents of one profile."""
    rise = fall = 0.0
    low = high = turning = latest = np.nan
    heading = 0
    for k in range(z.size):
        height = np.float64(z[k])
        if np.isnan(height):
            continue
        if np.isnan(latest):
            low = high = turning = height
        latest = height
        low, high = min(low, height), max(high, height)
        if heading <= 0 and height - low > dead_band:
            fall += turning - low
            turning, high, heading = low, height, 1
        elif heading >= 0 and high - height > dead_band:
            rise += high - turning
            turning, low, heading = high, height, -1
    return rise + max(latest - turning, 0.0), fall + max(turning - latest, 0.0)
