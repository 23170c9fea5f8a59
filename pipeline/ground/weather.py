"""The weather of a day, as the settings tell it: rain of the days before, or how wet the ground is."""

import datetime as dt
from dataclasses import dataclass

from pipeline.terms import Wetness

__all__ = ["Weather", "weather_words"]


@dataclass(frozen=True, slots=True)
class Weather:
    """What decides how wet the ground is; equal weathers make equal ground, and can be told apart by ``==``."""

    rain_mm: tuple[float, ...] = ()
    """Daily rain totals, oldest first, the last one the day's own, mm; empty when none were given."""
    wetness: Wetness | None = None
    """How wet the open ground is, instead of what the rain says; ``None`` lets the rain decide."""
    date: dt.date | None = None
    """The day: it decides how fast the ground dries. Without one, it dries as slowly as it ever does there."""


def weather_words(weather: Weather, wetness: Wetness) -> str:
    """Tell a weather in words: ``ground wet (rain in mm, oldest day first: 0, 12)``.

    Parameters
    ----------
    weather
        The weather.
    wetness
        How wet it makes the open ground.
    """
    rain = ", ".join(f"{day:g}" for day in weather.rain_mm)
    told = f" (rain in mm, oldest day first: {rain})" if rain and weather.wetness is None else ""
    return f"ground {wetness.value}{told}"
