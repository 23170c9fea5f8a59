"""How a set-up stands at the worst place of each segment: what a drawing of it needs."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

__all__ = ["Poses"]


@dataclass(frozen=True, slots=True)
class Poses:
    """Poses with the ground round them; arrays are parallel to the rows of the table."""

    table: pd.DataFrame
    """Contract POSES."""
    step_m: float
    """Distance along the ground between the heights."""
    first_m: NDArray[np.float64]
    """Where the first height lies, m in travel from below the middle of the front axle, shape (poses,); negative."""
    ground_m: NDArray[np.float32]
    """Heights over the mean of the ground under the four wheels, m, shape (poses, places, 3): under the left wheels,
    the middle and the right wheels, in travel; NaN where there is none, and beyond the reach of the set-up."""
