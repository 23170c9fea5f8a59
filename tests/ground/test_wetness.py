"""Rain index, the words for it, and how low ground gathers water."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.errors import SettingsError
from pipeline.ground.wetness import DryingModel, gathering, kept_per_day, rain_index, wetness_at
from pipeline.terms import Wetness
from tests.ground.worlds import surfaces

VALUES = {
    "damp_mm": 2.0,
    "wet_mm": 8.0,
    "soaked_mm": 20.0,
    "open_twi": 2.0,
    "hollow_twi": 5.0,
    "hollow_gathers": 2.5,
    "hollow_drains": 2.0,
}
MODEL = DryingModel(**VALUES)


def recursive_index(rain: list[float], keep: float) -> float:
    """API_t = k·API_(t−1) + rain_t, day by day."""
    index = 0.0
    for day in rain:
        index = keep * index + day
    return index


def test_index_by_hand() -> None:
    """8 mm the day before yesterday, 4 yesterday, none today, half kept: 2 + 2; none at all is nothing."""
    assert rain_index([8.0, 4.0, 0.0], 0.5) == pytest.approx(4.0)
    assert rain_index([], 0.5) == 0.0
    assert rain_index([8.0, 0.0], [0.5, 0.25]).tolist() == [4.0, 2.0]


@given(st.lists(st.floats(0.0, 100.0), max_size=40), st.floats(0.05, 0.99))
def test_index_is_the_published_recursion(rain: list[float], keep: float) -> None:
    """The sum over days is the antecedent precipitation index in its daily form (Kohler and Linsley 1951, memory)."""
    assert rain_index(rain, keep) == pytest.approx(recursive_index(rain, keep), rel=1e-9, abs=1e-12)


@given(st.lists(st.floats(0.0, 50.0), min_size=1, max_size=20), st.data())
def test_more_rain_is_never_drier(rain: list[float], data: st.DataObject) -> None:
    """Raising the rain of any day raises the index or leaves it."""
    day = data.draw(st.integers(0, len(rain) - 1))
    wetter = [*rain[:day], rain[day] + 5.0, *rain[day + 1 :]]
    assert rain_index(wetter, 0.85) >= rain_index(rain, 0.85) - 1e-9


@pytest.mark.parametrize(("drains", "dries"), [(4.0, 6.0), (0.5, 2.0), (14.0, 6.0)])
def test_half_is_gone_after_the_half_lives_in_parallel(drains: float, dries: float) -> None:
    """Two exponential decays side by side: 1/H = 1/H₁ + 1/H₂, as of parallel resistances; without sun the first."""
    half = 1.0 / (1.0 / drains + 1.0 / dries)
    assert float(kept_per_day(drains, dries, 1.0)) ** half == pytest.approx(0.5)
    assert float(kept_per_day(drains, dries, 0.0)) ** drains == pytest.approx(0.5)


def test_drained_loam_keeps_what_hydrology_has() -> None:
    """The shipped earth keeps 0.8 to 0.98 of its index a day, summer and winter: usual values (memory)."""
    earth = surfaces().classes["earth"]
    kept = [float(kept_per_day(earth.drains_days, earth.dries_days, share)) for share in (1.0, 0.2)]
    assert 0.80 < kept[0] < kept[1] < 0.98


@pytest.mark.parametrize(
    ("index", "wetness"),
    [
        (0.0, Wetness.DRY),
        (1.99, Wetness.DRY),
        (2.0, Wetness.DAMP),
        (7.99, Wetness.DAMP),
        (8.0, Wetness.WET),
        (19.99, Wetness.WET),
        (20.0, Wetness.SOAKED),
        (500.0, Wetness.SOAKED),
    ],
)
def test_thresholds_count_from_their_own_value(index: float, wetness: Wetness) -> None:
    """A threshold that is reached counts."""
    assert int(wetness_at(index, MODEL)) == wetness.rank


@pytest.mark.parametrize("wetness", list(Wetness))
def test_the_index_of_a_word_leads_back_to_it(wetness: Wetness) -> None:
    """Middle of the range by ratio: √(2·8) = 4 when damp; dry is none; soaked lies as far above as wet does."""
    index = MODEL.index_of(wetness)
    assert int(wetness_at(index, MODEL)) == wetness.rank
    by_hand = {Wetness.DRY: 0.0, Wetness.DAMP: 4.0, Wetness.WET: 160.0**0.5, Wetness.SOAKED: 20.0 * 2.5**0.5}
    assert index == pytest.approx(by_hand[wetness])


def test_low_ground_gathers_between_the_two_indices() -> None:
    """Nothing up to 2 above the land, all from 5 on, evenly between; unknown is open, a hollow always gathers."""
    over, hollow = np.array([-3.0, 2.0, 3.5, 5.0, 9.0, np.nan, np.nan]), np.array([False] * 6 + [True])
    assert gathering(over, hollow, MODEL).tolist() == pytest.approx([0.0, 0.0, 0.5, 1.0, 1.0, 0.0, 1.0])


def test_odd_rain_is_refused_day_by_day() -> None:
    """Negative and missing totals are faults, all at once, with their day."""
    with pytest.raises(SettingsError) as caught:
        rain_index([1.0, -2.0, float("nan")], 0.5)
    assert [fault.place for fault in caught.value.faults] == ["day 2", "day 3"]


@pytest.mark.parametrize(
    "change", [{"wet_mm": 2.0}, {"soaked_mm": 5.0}, {"hollow_twi": 2.0}, {"damp_mm": 0.0}, {"hollow_gathers": 0.5}]
)
def test_thresholds_rise(change: dict[str, float]) -> None:
    """Damp, wet, soaked in that order, and a hollow above open ground."""
    with pytest.raises(ValueError, match=next(iter(change))):
        DryingModel(**{**VALUES, **change})
