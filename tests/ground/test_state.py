"""The ground under a weather: how wet every segment is, and what follows from it."""

import datetime as dt
from dataclasses import replace
from itertools import pairwise, permutations

import numpy as np
import pandas as pd
import pytest

from pipeline.ground.model import Lie
from pipeline.ground.state import ground_state, latitude_of, open_lie
from pipeline.ground.weather import Weather
from pipeline.survey.model import Network
from pipeline.terms import Wetness
from tests.ground.worlds import surfaces, tagged

JULY, JANUARY = dt.date(2026, 7, 1), dt.date(2026, 1, 1)
NORTH_M = 5_400_000.0
"""Northing of the moved networks: 48.8 degrees north."""


def placed(*names: str, north: float = NORTH_M) -> Network:
    """Make a network of one segment a surface, far enough north or south for a season."""
    network = tagged(*((name, None, None) for name in names))
    moved = network.segments.set_geometry(network.segments.geometry.translate(500_000.0, north))
    return replace(network, segments=moved)


def in_hollow(segments: int) -> Lie:
    """Lay every segment in a hollow, deepest at 30 m."""
    lie = open_lie(segments)
    return replace(lie, hollow=np.ones(segments, dtype=np.bool_), hollow_m=np.full(segments, 30.0))


def wet_after(name: str, days: int, date: dt.date, lie: Lie | None = None) -> Wetness:
    """Tell how wet a surface is some days after 40 mm of rain."""
    weather = Weather((40.0, *[0.0] * days), None, date)
    return ground_state(placed(name), surfaces(), weather, lie).wet[0]


def test_ground_state_is_parallel_to_the_segments() -> None:
    """Arrays carry the class's own figures, in the order of the segments; rolling is the high value."""
    state = ground_state(
        tagged(("grass", None, None), ("asphalt", None, None)), surfaces(), Weather(wetness=Wetness.WET)
    )
    grass, asphalt = (surfaces().classes[name].wet for name in ("grass", "asphalt"))
    assert state.surface == ("grass", "asphalt")
    assert state.wetness is Wetness.WET
    np.testing.assert_array_equal(state.mu_low, [grass.adhesion[0], asphalt.adhesion[0]])
    np.testing.assert_array_equal(state.mu_typical, [grass.adhesion[1], asphalt.adhesion[1]])
    np.testing.assert_array_equal(state.mu_high, [grass.adhesion[2], asphalt.adhesion[2]])
    np.testing.assert_array_equal(state.rolling, [grass.rolling[1], asphalt.rolling[1]])
    np.testing.assert_array_equal(state.rolling_low, [grass.rolling[0], asphalt.rolling[0]])
    assert state.assumed.dtype == np.bool_


def test_ground_state_of_no_segments_is_empty() -> None:
    """A network without segments gives empty arrays, not an error."""
    state = ground_state(tagged(), surfaces(), Weather())
    assert state.surface == ()
    assert state.mu_low.shape == state.rolling.shape == state.assumed.shape == (0,)


def test_network_is_not_changed() -> None:
    """The stage leaves its argument as it was."""
    network = tagged((None, None, None), ("mud", None, None))
    before = network.segments.copy(deep=True)
    ground_state(network, surfaces(), Weather(wetness=Wetness.SOAKED))
    pd.testing.assert_frame_equal(network.segments, before)


def test_a_given_wetness_holds_on_every_surface() -> None:
    """What somebody saw is not argued with: gravel and clay, summer and winter are as wet as was said."""
    names = ("gravel", "clay", "asphalt", "earth")
    for wetness in Wetness:
        state = ground_state(placed(*names), surfaces(), Weather(wetness=wetness, date=JULY))
        assert state.wet == (wetness,) * 4
        assert state.wetness is wetness
        assert np.ptp(state.index_mm) == 0.0
        assert state.site_mm == state.index_mm[0]


def test_hollows_are_a_step_wetter_than_was_said_unless_it_is_dry() -> None:
    """Damp ground is wet in a hollow, wet ground soaked; after a long drought a hollow is dry as well."""
    found = [
        ground_state(placed("earth"), surfaces(), Weather(wetness=wetness), in_hollow(1)).wet[0] for wetness in Wetness
    ]
    assert found == [Wetness.DRY, Wetness.WET, Wetness.SOAKED, Wetness.SOAKED]


def test_gravel_drains_in_a_day_or_two() -> None:
    """The day after heavy rain gravel is no more than damp, in winter too, and soon dry; a road is dry the next day."""
    assert [wet_after("gravel", days, JANUARY) for days in (0, 1, 2, 3)] == [
        Wetness.SOAKED,
        Wetness.DAMP,
        Wetness.DAMP,
        Wetness.DRY,
    ]
    assert wet_after("asphalt", 1, JANUARY) is Wetness.DRY


def test_clay_in_a_hollow_is_wet_for_more_than_a_week() -> None:
    """Open clay after 40 mm in July: damp within nine days; in a hollow it is wet still, in winter it is soaked."""
    assert wet_after("clay", 9, JULY) is Wetness.DAMP
    assert wet_after("clay", 9, JULY, in_hollow(1)).rank >= Wetness.WET.rank
    assert wet_after("clay", 9, JANUARY, in_hollow(1)) is Wetness.SOAKED


@pytest.mark.parametrize("name", ["gravel", "compacted", "earth", "grass", "clay", "wood_chips"])
def test_winter_dries_slower_than_summer_and_the_south_has_its_own(name: str) -> None:
    """The index after a week of no rain is larger in January in the north, in July in the south."""
    rain = (30.0, *[0.0] * 7)
    index = {
        (place, date): ground_state(placed(name, north=north), surfaces(), Weather(rain, None, date)).index_mm[0]
        for place, north in (("north", NORTH_M), ("south", -NORTH_M))
        for date in (JULY, JANUARY)
    }
    assert index["north", JANUARY] > index["north", JULY]
    assert index["south", JULY] > index["south", JANUARY]


def test_no_date_dries_as_in_midwinter() -> None:
    """A day that nobody named is never quietly a dry one."""
    rain = (30.0, 0.0, 0.0, 0.0)
    undated, winter, summer = (
        ground_state(placed("earth"), surfaces(), Weather(rain, None, date)).index_mm[0]
        for date in (None, dt.date(2026, 12, 21), JULY)
    )
    assert undated == pytest.approx(winter, rel=1e-3)
    assert undated > summer


def test_index_by_hand() -> None:
    """Earth in July at 48.8° north, 30 mm and a dry day: 30 · 2^−(1/6 + sun/8), the sun 41.8 of 40 MJ/m² (FAO 56)."""
    state = ground_state(placed("earth"), surfaces(), Weather((30.0, 0.0), None, JULY))
    assert state.index_mm[0] == pytest.approx(30.0 * 0.5 ** (1 / 6 + 41.5 / 40 / 8), rel=5e-3)
    assert state.site_mm == state.index_mm[0]


def test_wetness_by_lie_never_falls() -> None:
    """The lower a trail lies, the wetter it is, the less it bears and grips; what is not known counts as open."""
    over = np.array([np.nan, 0.0, 2.5, 4.0, 7.0])
    lie = replace(open_lie(5), twi=over + 6.0, over_land=over)
    state = ground_state(placed(*["earth"] * 5), surfaces(), Weather((8.0, 0.0), None, JULY), lie)
    assert state.index_mm[0] == state.index_mm[1]
    assert (np.diff(state.index_mm[1:]) > 0.0).all()
    assert (np.diff(state.bearing.low[1:]) <= 0.0).all()
    assert (np.diff(state.mu_low[1:]) <= 0.0).all()


def test_bearing_of_ground_hollow_and_soft_spot() -> None:
    """A hollow bears what its surface does a step wetter; a soft spot is mud, or the surface where that is worse."""
    lie = replace(open_lie(2), hollow_m=np.array([np.nan, 12.0]))
    state = ground_state(placed("earth", "earth"), surfaces(), Weather(wetness=Wetness.DAMP), lie)
    earth, mud = (surfaces().classes[name].bearing_kpa for name in ("earth", "mud"))
    assert state.bearing.low.tolist() == [earth.damp[0]] * 2
    assert state.bearing.typical.tolist() == [earth.damp[1]] * 2
    np.testing.assert_array_equal(state.hollow_bearing.low, [np.nan, earth.wet[0]])
    np.testing.assert_array_equal(state.hollow_bearing.typical, [np.nan, earth.wet[1]])
    assert state.spot_bearing.low.tolist() == [mud.wet[0]] * 2


def test_latitude() -> None:
    """UTM 32 north, false northing 5 400 km: 48.75° north; a network without segments has the equator's."""
    assert latitude_of(placed("earth")) == pytest.approx(48.75, abs=0.05)
    assert latitude_of(tagged()) == 0.0


def test_a_hollow_gathers_and_keeps_its_water_longer() -> None:
    """On the day 2.5 times the rain; a dry week later more than that of open ground: it drains half as fast."""
    sunk, week = in_hollow(1), (20.0, *[0.0] * 7)

    def index(rain: tuple[float, ...], lie: Lie | None) -> float:
        return float(ground_state(placed("earth"), surfaces(), Weather(rain, None, JULY), lie).index_mm[0])

    assert index((20.0,), sunk) == pytest.approx(2.5 * 20.0)
    gained = index(week, sunk) / index(week, None)
    assert gained == pytest.approx(2.5 * 2.0 ** (7.0 / 12.0))  # 2^(7/6 − 7/12): half of the draining is left


def test_a_list_of_surfaces_is_the_worst_of_each_and_never_better_when_wetter() -> None:
    """Gravel with sand, sand with grass, boards with chips: no rain swaps a poor surface for the one beside it."""
    first: dict[str, str] = {}
    for word, name in surfaces().surface.items():
        first.setdefault(name, word)
    pairs = list(permutations(first.values(), 2))
    network = tagged(*((f"{one};{other}", None, None) for one, other in pairs), *((one, None, None) for one in first))
    single = {name: len(pairs) + k for k, name in enumerate(first)}
    grounds = [ground_state(network, surfaces(), Weather((float(mm),))) for mm in (0, 3, 12, 40, 100, 200)]
    for drier, wetter in pairwise(grounds):
        for name in ("mu_low", "mu_typical", "mu_high"):
            assert (getattr(wetter, name) <= getattr(drier, name)).all()
        assert (wetter.rolling >= drier.rolling).all()
        assert (wetter.bearing.low <= drier.bearing.low).all()
        assert (wetter.index_mm >= drier.index_mm).all()
    named = {word: name for name, word in first.items()}
    for ground in grounds:
        for row, pair in enumerate(pairs):
            for alone in (single[named[word]] for word in pair):
                assert ground.mu_low[row] <= ground.mu_low[alone]
                assert ground.bearing.low[row] <= ground.bearing.low[alone]
                assert ground.index_mm[row] >= ground.index_mm[alone]


def test_a_list_names_its_slipperiest_and_its_softest() -> None:
    """Dry sand grips worse than dry gravel and bears less; the words go with the figures."""
    ground = ground_state(tagged(("gravel;sand", None, None), ("wood;mud", None, None)), surfaces(), Weather((0.0,)))
    assert ground.surface == ("sand", "mud")
    assert ground.softest == ("sand", "mud")
    soaked = ground_state(tagged(("wood;sand", None, None)), surfaces(), Weather(wetness=Wetness.SOAKED))
    assert (soaked.surface, soaked.softest) == (("wood",), ("sand",))
    assert (soaked.mu_low[0], soaked.rolling[0], soaked.bearing.low[0]) == (0.15, 0.35, 50.0)
