"""The site under other weather: as if it had been judged under it, and wetter never better."""

from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from pipeline.checks.check import STUCK
from pipeline.checks.judged import Judged, judge_again, judge_setups
from pipeline.checks.outlook import Outlook, outlooks_table
from pipeline.checks.site import CheckSite
from pipeline.ground.model import Ground
from pipeline.ground.state import ground_state
from pipeline.ground.surface import Surfaces
from pipeline.ground.weather import Weather
from pipeline.settings import read_settings
from pipeline.tables import OUTLOOKS
from pipeline.terms import CheckName, Drive, Driver, Verdict, Wetness
from tests.checks.passing.worlds import thing
from tests.checks.worlds import LIMITS, envelope
from tests.worlds import at, network_of, sine_hills, surface_terrain

SURFACES = read_settings(Path("configs/surfaces.toml"), Surfaces)
WORDS = ("gravel", "grass", "mud", "asphalt", "sand", None)
THINGS = [
    {**thing("log", height_m=0.1, length_m=0.3, width_m=3.0, chainage_m=25.0), "segment_id": "t0"},
    {**thing("step", height_m=0.12, chainage_m=30.0), "segment_id": "t1"},
    {**thing("water", depth_m=0.3, flow_m_s=0.4, length_m=3.0, chainage_m=30.0), "segment_id": "t2"},
    {**thing("soft", length_m=4.0, chainage_m=20.0), "segment_id": "t2"},
    {**thing("water", depth_m=0.15, length_m=2.0, chainage_m=12.0), "segment_id": "t4"},
]
NETWORK = network_of(
    {f"t{k}": at((31.0 * k, 2.0), (31.0 * k + 6.0, 52.0)) for k in range(len(WORDS))},
    surface={f"t{k}": word for k, word in enumerate(WORDS)},
    obstacles=THINGS,
    obstacles_surveyed=True,
    surveyed_on="2026-03-01",
    width_m=3.5,
)
SETUPS = (
    envelope(),
    envelope(setup="guest", driver=Driver.FIRST_TIMER, drive=Drive.FRONT, low_range=False),
    envelope(setup="heavy", driver=Driver.PRACTISED, mass_kg=3400.0, drive=Drive.REAR),
)
DAY = Weather(rain_mm=(0.0, 4.0, 1.0))
WET_CHECKS = [
    name.value for name in (CheckName.SLIDE, CheckName.CLIMB, CheckName.DESCENT, CheckName.FORD, CheckName.SOFT)
]
RANK = {verdict.value: verdict.rank for verdict in Verdict}


def ground(weather: Weather) -> Ground:
    """Work out the ground of the trails."""
    return ground_state(NETWORK, SURFACES, weather)


SITE = CheckSite(NETWORK, surface_terrain(NETWORK, sine_hills(40.0, 1.6)), ground(DAY))


@pytest.fixture(scope="module")
def judged() -> Judged:
    """Judge three set-ups on six trails of six surfaces, with things in the way, water and soft ground."""
    return judge_setups(SITE, SETUPS, LIMITS)


def test_the_weather_of_the_day_gives_the_verdicts_of_the_day(judged: Judged) -> None:
    """Column for column, and the sentence is that of the check that decides."""
    table = outlooks_table(judged, [Outlook("today", ground(DAY))])
    assert set(table["outlook"]) == {"today"}
    for column in set(OUTLOOKS.names) - {"outlook", "reason"}:
        assert table[column].equals(judged.verdicts[column]), column
    assert table["reason"].tolist() == judged.checks_at(judged.verdicts)["reason"].tolist()


@pytest.mark.parametrize("weather", [Weather((0.0, 0.0)), Weather((5.0, 30.0, 8.0)), Weather(wetness=Wetness.SOAKED)])
def test_an_outlook_is_the_site_judged_under_it(judged: Judged, weather: Weather) -> None:
    """Every verdict, number and sentence is that of a build of its own under those conditions."""
    table = outlooks_table(judged, [Outlook("then", ground(weather))])
    anew = judge_setups(replace(SITE, ground=ground(weather)), SETUPS, LIMITS)
    for column in set(OUTLOOKS.names) - {"outlook", "reason"}:
        assert table[column].equals(anew.verdicts[column]), column
    assert table["reason"].tolist() == anew.checks_at(anew.verdicts)["reason"].tolist()


def test_every_check_is_that_of_a_build_of_its_own(judged: Judged) -> None:
    """Not the deciding ones alone, whatever was kept from the day."""
    for weather in (Weather((0.0,)), Weather((40.0, 40.0))):
        again = judge_again(judged, SETUPS, ground(weather))
        assert again.checks.equals(judge_setups(replace(SITE, ground=ground(weather)), SETUPS, LIMITS).checks)


WEATHERS = {
    "words": [Weather(wetness=wetness) for wetness in Wetness],
    "rain": [Weather((0.0, 2.0, mm)) for mm in (0.0, 3.0, 8.0, 15.0, 30.0, 60.0, 120.0)],
}


@pytest.mark.parametrize("series", WEATHERS)
def test_wetter_is_never_better(judged: Judged, series: str) -> None:
    """No check of grip, ford or soft ground gets a better verdict or uses less of its limit.

    The climb on to a thing is the one exception: where the grip no longer takes a wheel up, the thing is passed
    another way (one wheel after the other, or beside it), and the climb that is left may ask for less. Then the way
    past a thing of that segment has changed.
    """
    made = [judge_again(judged, SETUPS, ground(weather)) for weather in WEATHERS[series]]
    for drier, wetter in pairwise(made):
        worse = wetter.checks["verdict"].map(RANK) >= drier.checks["verdict"].map(RANK)
        more = _used(wetter.checks) >= _used(drier.checks) - 1e-9
        wet = drier.checks["check"].isin(WET_CHECKS)
        broken = drier.checks[wet & ~(worse & more)]
        assert set(broken["check"]) <= {CheckName.CLIMB.value}
        changed = _passed_otherwise(drier, wetter)
        assert set(zip(broken["setup"], broken["segment_id"], strict=True)) <= changed
    first, last = (one.verdicts["verdict"].map(RANK).to_numpy() for one in (made[0], made[-1]))
    assert (last > first).any()


def _used(checks: pd.DataFrame) -> pd.Series:
    """Utilisation, up to what stands for being stuck; more than any where it is not known."""
    return checks["utilisation"].clip(upper=STUCK).fillna(np.inf)


def _passed_otherwise(drier: Judged, wetter: Judged) -> set[tuple[str, str]]:
    """List set-ups and segments with a thing that is passed another way."""
    found = set()
    for vehicle, before, after in zip(SETUPS, drier.prepared.choices, wetter.prepared.choices, strict=True):
        ways = [np.column_stack([one.passing, one.climb.angled]) for one in (before, after)]
        rows = before.things.row[(ways[0] != ways[1]).any(axis=1)]
        found |= {(vehicle.setup, NETWORK.segments["segment_id"].iloc[row]) for row in rows}
    return found


def test_outlooks_stand_in_the_order_asked(judged: Judged) -> None:
    """One after another, each with all rows."""
    names = ["wet", "dry"]
    weathers = [Weather((50.0,)), Weather((0.0,))]
    table = outlooks_table(judged, [Outlook(n, ground(w)) for n, w in zip(names, weathers, strict=True)])
    assert list(dict.fromkeys(table["outlook"])) == names
    assert len(table) == 2 * len(judged.verdicts)


def test_no_outlook_is_an_empty_table(judged: Judged) -> None:
    """Nothing asked, and nobody to drive: the columns of the contract, no rows."""
    assert outlooks_table(judged, []).empty
    nobody = judge_setups(SITE, [], LIMITS)
    table = outlooks_table(nobody, [Outlook("wet", ground(Weather((50.0,))))])
    assert table.empty
    assert list(table.columns) == list(OUTLOOKS.names)
