"""Grip and rolling resistance of every segment under the conditions of the day."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.terms import Wetness

__all__ = ["Ground"]


@dataclass(frozen=True, slots=True)
class Ground:
    """Arrays parallel to the segments of the network."""

    wetness: Wetness
    surface: tuple[str, ...]
    """Surface class of each segment, a key of the surfaces settings."""
    assumed: NDArray[np.bool_]
    """The surface was not tagged: the class is an assumption."""
    mu_low: NDArray[np.float64]
    """Adhesion coefficient, low value of the published range."""
    mu_typical: NDArray[np.float64]
    mu_high: NDArray[np.float64]
    rolling: NDArray[np.float64]
    """Rolling resistance coefficient, high value of the range."""
    rolling_low: NDArray[np.float64]
    """The same, low value."""
