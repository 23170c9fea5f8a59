"""How wet the ground is, from the rain of the days before."""

from collections.abc import Sequence

import numpy as np
from pydantic import Field, ValidationInfo, field_validator

from pipeline.errors import Fault, SettingsError
from pipeline.settings import Strict
from pipeline.terms import Wetness

__all__ = ["DryingModel", "rain_index", "wetness_from_rain"]


class DryingModel(Strict):
    """Antecedent rain index and the amounts at which the ground counts as damp, wet and soaked."""

    keep_per_day: float = Field(gt=0.0, lt=1.0)
    """Share of the index that is left a day later."""
    damp_mm: float = Field(gt=0.0, le=500.0)
    """Index from which the ground is damp."""
    wet_mm: float = Field(gt=0.0, le=500.0)
    """Index from which it is wet."""
    soaked_mm: float = Field(gt=0.0, le=1000.0)
    """Index from which it is soaked."""

    @field_validator("wet_mm", "soaked_mm")
    @classmethod
    def _ascending(cls, value: float, info: ValidationInfo) -> float:
        """Refuse a threshold that is not above the one before."""
        before = "damp_mm" if info.field_name == "wet_mm" else "wet_mm"
        if before in info.data and value <= info.data[before]:
            msg = f"{value:g} mm is not above {before} = {info.data[before]:g} mm"
            raise ValueError(msg)
        return value


def rain_index(rain_mm: Sequence[float], keep_per_day: float) -> float:
    """Give the antecedent rain index after the last day, mm: API_t = k·API_(t−1) + rain_t, from 0.

    Parameters
    ----------
    rain_mm
        Daily totals, oldest first; finite and not negative.
    keep_per_day
        Share k that is left a day later, 0 to 1.

    Raises
    ------
    SettingsError
        For a daily total that is negative or not a number.
    """
    rain = np.asarray(rain_mm, dtype=np.float64)
    odd = np.flatnonzero(~(np.isfinite(rain) & (rain >= 0.0)))
    if odd.size:
        raise SettingsError(
            [Fault("rain_mm", f"day {day + 1}", f"{rain[day]:g}", "a daily total in mm, 0 or more") for day in odd]
        )
    age = np.arange(rain.size - 1, -1, -1)
    return float(np.sum(rain * keep_per_day**age))


def wetness_from_rain(rain_mm: Sequence[float], model: DryingModel) -> Wetness:
    """Tell how wet the ground is after the given days of rain.

    Parameters
    ----------
    rain_mm
        Daily totals in mm, oldest first; none at all is dry.
    model
        How fast the ground dries, and from which index it counts as damp, wet and soaked.

    Raises
    ------
    SettingsError
        For a daily total that is negative or not a number.

    Notes
    -----
    Antecedent precipitation index in its published daily form; what the index means for grip is an assumption of
    the surfaces file.
    """
    index = rain_index(rain_mm, model.keep_per_day)
    return list(Wetness)[sum(index >= threshold for threshold in (model.damp_mm, model.wet_mm, model.soaked_mm))]
