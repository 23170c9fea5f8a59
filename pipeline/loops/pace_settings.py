"""Settings of what grade and surface do to the pace (``configs/loops.toml``)."""

from itertools import pairwise
from typing import Annotated

import numpy as np
from numpy.typing import NDArray
from pydantic import Field, ValidationInfo, field_validator

from pipeline.settings import Strict
from pipeline.terms import Wetness

__all__ = ["OTHER_SURFACE", "GradePace", "SurfacePace"]

Floats = NDArray[np.float64]
OTHER_SURFACE = "other"
"""Surface class whose share holds for those without one of their own."""

Angles = Annotated[list[Annotated[float, Field(ge=0.0, lt=90.0)]], Field(min_length=2)]
Speeds = Annotated[list[Annotated[float, Field(gt=0.2, le=200.0)]], Field(min_length=2)]


class GradePace(Strict):
    """Fastest pace by grade in low range, linear between the angles named, as at the last beyond it."""

    up_deg: Angles
    """Angles uphill, from 0, rising."""
    up_kmh: Speeds
    """Fastest pace at each."""
    down_deg: Angles
    """Angles downhill, from 0, rising."""
    down_kmh: Speeds
    """Fastest pace at each."""

    @field_validator("up_deg", "down_deg")
    @classmethod
    def _rises(cls, value: list[float]) -> list[float]:
        """Refuse angles that do not begin with 0 or do not rise."""
        if value[0] != 0.0 or any(a >= b for a, b in pairwise(value)):
            msg = f"{value}: angles begin with 0 and rise"
            raise ValueError(msg)
        return value

    @field_validator("up_kmh", "down_kmh")
    @classmethod
    def _falls(cls, value: list[float], info: ValidationInfo) -> list[float]:
        """Refuse paces that are not one for each angle, or are faster where it is steeper."""
        angles = info.data.get(str(info.field_name).replace("_kmh", "_deg"))
        if angles is not None and len(angles) != len(value):
            msg = f"{len(value)} paces for {len(angles)} angles"
            raise ValueError(msg)
        if any(a < b for a, b in pairwise(value)):
            msg = f"{value}: steeper ground is not driven faster"
            raise ValueError(msg)
        return value

    def kmh(self, grade_deg: Floats) -> Floats:
        """Give the fastest pace on grades, + uphill in the direction of travel, shape of *grade_deg*; NaN for NaN."""
        up = np.interp(grade_deg, self.up_deg, self.up_kmh)
        down = np.interp(-grade_deg, self.down_deg, self.down_kmh)
        return np.where(grade_deg < 0.0, down, up)


class SurfacePace(Strict):
    """Share of the pace on one class of surface."""

    dry: float = Field(gt=0.0, le=1.0)
    """Dry or damp."""
    wet: float = Field(gt=0.0, le=1.0)
    """Wet or soaked."""

    def share(self, wetness: Wetness) -> float:
        """Give the share of the pace."""
        return self.wet if wetness.rank >= Wetness.WET.rank else self.dry
