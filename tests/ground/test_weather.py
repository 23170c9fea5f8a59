"""Weather as a value: it can be compared, and told."""

import datetime as dt

from pipeline.ground.weather import Weather, weather_words
from pipeline.terms import Wetness


def test_equal_weathers_are_one_key() -> None:
    """Two comparisons under the same weather share its ground."""
    day = dt.date(2026, 3, 28)
    assert len({Weather((1.0, 2.0), None, day), Weather((1.0, 2.0), None, day), Weather((2.0, 1.0), None, day)}) == 2


def test_words() -> None:
    """The word for the ground, and the rain where it decided."""
    assert weather_words(Weather((0.0, 12.5)), Wetness.WET) == "ground wet (rain in mm, oldest day first: 0, 12.5)"
    assert weather_words(Weather(wetness=Wetness.DRY), Wetness.DRY) == "ground dry"
    assert weather_words(Weather(), Wetness.DRY) == "ground dry"
