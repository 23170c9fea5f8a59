"""Antecedent rain index and the words it leads to."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.errors import SettingsError
from pipeline.ground.wetness import DryingModel, rain_index, wetness_from_rain
from pipeline.terms import Wetness
from tests.ground.worlds import surfaces

MODEL = DryingModel(keep_per_day=0.5, damp_mm=2.0, wet_mm=8.0, soaked_mm=20.0)


def recursive_index(rain: list[float], keep: float) -> float:
    """Slow twin: the index day by day, as it is published."""
    index = 0.0
    for day in rain:
        index = keep * index + day
    return index


def test_index_by_hand() -> None:
    """8 mm two days ago, 4 mm yesterday, none today, half kept a day: 8/4 + 4/2 = 4 mm."""
    assert rain_index([8.0, 4.0, 0.0], 0.5) == pytest.approx(4.0)


@settings(derandomize=True, deadline=None)
@given(st.lists(st.floats(0.0, 200.0), max_size=40), st.floats(0.05, 0.99))
def test_index_equals_the_daily_recursion(rain: list[float], keep: float) -> None:
    """The closed sum is the recursion API_t = k·API_(t−1) + rain_t."""
    assert rain_index(rain, keep) == pytest.approx(recursive_index(rain, keep), rel=1e-9, abs=1e-12)


@pytest.mark.parametrize(
    ("rain", "wetness"),
    [
        ([], Wetness.DRY),
        ([0.0, 1.9], Wetness.DRY),
        ([2.0], Wetness.DAMP),
        ([8.0], Wetness.WET),
        ([8.0, 0.0], Wetness.DAMP),
        ([19.99], Wetness.WET),
        ([20.0], Wetness.SOAKED),
        ([20.0, 10.0], Wetness.SOAKED),
    ],
)
def test_thresholds_count_from_their_own_value(rain: list[float], wetness: Wetness) -> None:
    """Each threshold belongs to the wetter word."""
    assert wetness_from_rain(rain, MODEL) is wetness


def test_a_dry_spell_dries_the_ground_out() -> None:
    """With the shipped figures a soaking is gone after three weeks without rain, and never comes back by itself."""
    words = [wetness_from_rain([60.0, *[0.0] * days], surfaces().drying).rank for days in range(25)]
    assert words == sorted(words, reverse=True)
    assert words[0] == Wetness.SOAKED.rank
    assert words[-1] == Wetness.DRY.rank


@settings(derandomize=True, deadline=None)
@given(st.lists(st.floats(0.0, 100.0), min_size=1, max_size=20), st.integers(0, 19), st.floats(0.0, 50.0))
def test_more_rain_is_never_drier(rain: list[float], day: int, more: float) -> None:
    """Adding rain to any day cannot lower the index."""
    wetter = list(rain)
    wetter[day % len(rain)] += more
    assert rain_index(wetter, 0.85) >= rain_index(rain, 0.85) - 1e-9


def test_odd_rain_is_refused_day_by_day() -> None:
    """Negative and missing totals are faults, each with its day."""
    with pytest.raises(SettingsError) as caught:
        wetness_from_rain([1.0, -2.0, float("nan")], MODEL)
    assert [fault.place for fault in caught.value.faults] == ["day 2", "day 3"]


@pytest.mark.parametrize("change", [{"wet_mm": 2.0}, {"soaked_mm": 5.0}, {"keep_per_day": 1.0}, {"damp_mm": 0.0}])
def test_thresholds_out_of_order_are_refused(change: dict[str, float]) -> None:
    """Damp below wet below soaked, and a share below 1."""
    with pytest.raises(ValueError, match="validation error"):
        DryingModel(**{**MODEL.model_dump(), **change})
