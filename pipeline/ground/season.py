"""How much sun dries the ground on a day of the year, north and south of the equator."""

import datetime as dt

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["drying_share", "sun_mj_m2"]

SOLAR_CONSTANT = 0.0820
"""MJ m⁻² min⁻¹ (FAO Irrigation and Drainage Paper 56, equation 21)."""
FULL_SUN_MJ_M2 = 40.0
"""Sun of a midsummer day, MJ m⁻² a day, for which the drying times of the surfaces hold: the table of the same paper
has 40 to 42 between 30 and 55 degrees of latitude."""
_DAYS = np.arange(1, 366)


def sun_mj_m2(day_of_year: ArrayLike, latitude_deg: float) -> NDArray[np.float64]:
    """Give the sun's radiation at the top of the air over a day, MJ m⁻².

    Parameters
    ----------
    day_of_year
        Number of the day, 1 to 366.
    latitude_deg
        Latitude, + north.

    Notes
    -----
    Equations 21 to 25 of FAO Irrigation and Drainage Paper 56 (Allen et al. 1998). Its example 8: 3 September at 20°
    south, 32.2 MJ m⁻².
    """
    year = 2.0 * np.pi * np.asarray(day_of_year, dtype=np.float64) / 365.0
    latitude = np.radians(latitude_deg)
    nearer = 1.0 + 0.033 * np.cos(year)
    declination = 0.409 * np.sin(year - 1.39)
    sunset = np.arccos(np.clip(-np.tan(latitude) * np.tan(declination), -1.0, 1.0))
    level = sunset * np.sin(latitude) * np.sin(declination)
    level = level + np.cos(latitude) * np.cos(declination) * np.sin(sunset)
    radiation: NDArray[np.float64] = 24.0 * 60.0 / np.pi * SOLAR_CONSTANT * nearer * level
    return radiation


def drying_share(date: dt.date | None, latitude_deg: float) -> float:
    """Say how fast the sun dries the ground, as a share of a midsummer day of middle latitudes.

    Evaporation is taken to follow the sun, clouds, wind and shade left aside: an assumption. Without a date it is the
    least of the year, so that a day that nobody named is not quietly a dry one.

    Parameters
    ----------
    date
        The day; ``None`` when it is not known.
    latitude_deg
        Latitude, + north.
    """
    if date is None:
        return float(sun_mj_m2(_DAYS, latitude_deg).min()) / FULL_SUN_MJ_M2
    return float(sun_mj_m2(date.timetuple().tm_yday, latitude_deg)) / FULL_SUN_MJ_M2
