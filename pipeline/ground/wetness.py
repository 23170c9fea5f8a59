"""How wet the ground is, from the rain of the days before, its surface, the season and how it lies."""

from collections.abc import Sequence
from math import sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray
from pydantic import Field, ValidationInfo, field_validator

from pipeline.errors import Fault, SettingsError
from pipeline.settings import Strict
from pipeline.terms import Wetness

__all__ = ["DryingModel", "gathering", "kept_per_day", "rain_index", "wetness_at"]

Float64 = NDArray[np.float64]


class DryingModel(Strict):
    """Rain index from which the ground is damp, wet and soaked, and how much wetter low ground is."""

    damp_mm: float = Field(gt=0.0, le=500.0)
    """Index from which the ground is damp."""
    wet_mm: float = Field(gt=0.0, le=500.0)
    """Index from which it is wet."""
    soaked_mm: float = Field(gt=0.0, le=1000.0)
    """Index from which it is soaked."""
    open_twi: float = Field(ge=0.0, le=30.0)
    """Topographic wetness index, above the mean of the land round the trails, up to which ground sheds water."""
    hollow_twi: float = Field(ge=0.0, le=30.0)
    """The same from which it gathers water as a hollow does."""
    hollow_gathers: float = Field(ge=1.0, le=10.0)
    """Water that reaches a hollow, as a multiple of the rain that falls on it."""
    hollow_drains: float = Field(ge=1.0, le=10.0)
    """Time in which a hollow drains, as a multiple of that of open ground."""

    @field_validator("wet_mm", "soaked_mm", "hollow_twi")
    @classmethod
    def _ascending(cls, value: float, info: ValidationInfo) -> float:
        """Refuse a threshold that is not above the one before."""
        before = {"wet_mm": "damp_mm", "soaked_mm": "wet_mm"}.get(info.field_name or "", "open_twi")
        if before in info.data and value <= info.data[before]:
            unit = "" if before == "open_twi" else " mm"
            msg = f"{value:g}{unit} is not above {before} = {info.data[before]:g}{unit}"
            raise ValueError(msg)
        return value

    @property
    def thresholds(self) -> tuple[float, float, float]:
        """Index from which the ground is damp, wet and soaked, mm."""
        return self.damp_mm, self.wet_mm, self.soaked_mm

    def index_of(self, wetness: Wetness) -> float:
        """Give the index that stands for a word, mm: 0 when dry, else the middle of its range by ratio.

        Soaked has no upper end: it is as far above its threshold as wet is.
        """
        damp, wet, soaked = self.thresholds
        ranges = {Wetness.DAMP: damp * wet, Wetness.WET: wet * soaked, Wetness.SOAKED: soaked * soaked * soaked / wet}
        return sqrt(ranges.get(wetness, 0.0))


def kept_per_day(drains_days: ArrayLike, dries_days: ArrayLike, drying: float) -> Float64:
    """Give the share of the rain index that is left after a day.

    Water leaves downwards, in any season, and into the air, as fast as the season has it; each halves the index in its
    own time, and their rates add up: k = 2^−(1/drains + drying/dries).

    Parameters
    ----------
    drains_days
        Days in which half of the water drains.
    dries_days
        Days in which half of it dries off at midsummer.
    drying
        How fast it dries, as a share of midsummer.
    """
    return np.asarray(0.5 ** (1.0 / np.asarray(drains_days) + drying / np.asarray(dries_days)), dtype=np.float64)


def rain_index(rain_mm: Sequence[float], keep_per_day: ArrayLike) -> Float64:
    """Give the antecedent rain index after the last day, mm: API_t = k·API_(t−1) + rain_t, from 0.

    Parameters
    ----------
    rain_mm
        Daily totals, oldest first; finite and not negative; none at all is 0.
    keep_per_day
        Share k that is left a day later, 0 to 1, of any shape.

    Returns
    -------
    ndarray
        The index in the shape of *keep_per_day*.

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
    kept = np.asarray(keep_per_day, dtype=np.float64)[..., None] ** age
    return np.asarray(kept @ rain, dtype=np.float64)


def gathering(over_land: Float64, hollow: NDArray[np.bool_], model: DryingModel) -> Float64:
    """Say how far ground is like a hollow: 0 where it sheds water, 1 in a hollow.

    Between the two indices of the settings it rises evenly; where the index is not known, ground is taken as open
    unless it is known to be a hollow. The index is that of Beven and Kirkby (1979), ln(a / tan β); what it means for
    a trail is an assumption of the settings.

    Parameters
    ----------
    over_land
        Topographic wetness index above the mean of the land, NaN where it is not known.
    hollow
        A hollow without an outlet, whatever its index.
    model
        The settings.
    """
    share = np.clip((over_land - model.open_twi) / (model.hollow_twi - model.open_twi), 0.0, 1.0)
    return np.where(hollow, 1.0, np.nan_to_num(share, nan=0.0))


def wetness_at(index_mm: ArrayLike, model: DryingModel) -> NDArray[np.int64]:
    """Give the rank of :class:`~pipeline.terms.Wetness` that an index stands for; a threshold counts as reached.

    Parameters
    ----------
    index_mm
        Rain index, mm.
    model
        The settings.
    """
    return np.searchsorted(np.array(model.thresholds), np.asarray(index_mm, dtype=np.float64), side="right")
