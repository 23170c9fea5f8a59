"""What the ground along the segments is like to drive on: grades and surfaces."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Going", "Stretches"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Stretches:
    """One segment as stretches of even grade, in the digitised direction."""

    length_m: Floats
    """Plan length of each stretch; they add up to that of the segment."""
    grade_deg: Floats
    """Grade of each, + uphill in the digitised direction; NaN where it is not known."""
    surface: str | None = None
    """Surface class."""


@dataclass(frozen=True, slots=True)
class Going:
    """The ground along the segments, by segment id; one that is not listed is taken for level and firm."""

    segments: Mapping[str, Stretches]
