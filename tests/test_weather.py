"""Weather from end to end: more rain, or the same rain later, never makes a trail better; nor does knowing less of it.

The worlds are the starter site with many flow paths on it, as surveyed and as nobody has surveyed it, and with
mixed surfaces. What is held is physics and common sense, not figures: no source.
"""

import datetime as dt
import json
import shutil
from collections.abc import Callable, Sequence
from itertools import pairwise
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import shapely

from pipeline.analysis import drain, ground_under, judge
from pipeline.checks.crossings import crossings_table
from pipeline.checks.ford.now import with_water_now
from pipeline.checks.judged import Judged, judge_again
from pipeline.ground.weather import Weather
from pipeline.project import Project, read_project
from pipeline.project.starter import write_starter
from pipeline.spread import serial
from pipeline.survey.network import read_survey
from pipeline.terms import CheckName, Verdict, Wetness
from pipeline.terrain.measure import measure_terrain

SPRING = dt.date(2026, 3, 28)
AMOUNTS = [Weather((mm,), None, SPRING) for mm in (0.0, 1.0, 4.0, 9.0, 15.0, 25.0, 40.0, 80.0, 200.0, 500.0)]
AGES = [Weather((50.0, *[0.0] * days), None, SPRING) for days in (60, 30, 20, 10, 5, 3, 1, 0)]
WORDS = [Weather((), wetness) for wetness in Wetness]
BY_WATER = [CheckName.SLIDE.value, CheckName.DESCENT.value, CheckName.FORD.value, CheckName.SOFT.value]
KEYS = ["segment_id", "setup", "check", "direction"]
RANK = {verdict.value: verdict.rank for verdict in Verdict}
Change = Callable[[Path], object]


def features(path: Path, change: Callable[[int, dict[str, object]], object]) -> None:
    """Change the attributes of every feature of a GeoJSON file."""
    data = json.loads(path.read_text(encoding="utf-8"))
    for number, feature in enumerate(data["features"]):
        change(number, feature["properties"])
    path.write_text(json.dumps(data), encoding="utf-8")


def as_it_is(_: Path) -> None:
    """Leave the starter site as it is."""


def of_mixed_surfaces(site: Path) -> None:
    """Give every trail two surfaces of very different grip and drainage."""
    mixed = ("gravel;sand", "wood;sand", "sand;grass", "clay;sand", "gravel;mud", "wood;woodchips")
    features(site / "trails.geojson", lambda k, of: of.update(surface=mixed[k % len(mixed)]))


def unsurveyed(site: Path) -> None:
    """Take away that anybody walked the trails."""
    features(site / "trails.geojson", lambda _, of: of.pop("surveyed_on", None))


def backwards(site: Path) -> None:
    """Digitise every trail from its other end."""
    data = json.loads((site / "trails.geojson").read_text(encoding="utf-8"))
    for feature in data["features"]:
        feature["geometry"]["coordinates"].reverse()
    (site / "trails.geojson").write_text(json.dumps(data), encoding="utf-8")


@pytest.fixture(scope="module")
def starter(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Write a starter site on which flow paths begin early."""
    site = tmp_path_factory.mktemp("starter") / "site"
    write_starter(site)
    text = (site / "site.toml").read_text(encoding="utf-8")
    many = text.replace("snap_m = 2.0", "snap_m = 2.0\nstream_catchment_m2 = 1000.0")
    (site / "site.toml").write_text(many, encoding="utf-8")
    return site


def judged(starter: Path, folder: Path, change: Change) -> tuple[Project, Judged, pd.DataFrame]:
    """Judge a changed copy of the site under its own weather; gives its crossings as well."""
    site = Path(shutil.copytree(starter, folder / "site"))
    change(site)
    project = read_project(site / "site.toml")
    network = read_survey(project.survey, project.survey_parameters)
    measured = drain(project, network, measure_terrain(network, project.terrain))
    found = judge(project, network, measured)
    return project, found, with_water_now(crossings_table(network, measured.terrain), found.prepared.scene)


def under(project: Project, day: Judged, weather: Weather) -> pd.DataFrame:
    """Judge the same set-ups under another weather."""
    site = day.prepared.scene.site
    ground = ground_under(weather, project, site.network, site.terrain)
    checks = judge_again(day, day.prepared.envelopes, ground, serial).checks
    return checks.set_index(KEYS).sort_index()


@pytest.mark.parametrize("change", [as_it_is, of_mixed_surfaces, unsurveyed])
def test_wetter_is_never_better(change: Change, starter: Path, tmp_path: Path) -> None:
    """Grip on a side slope and downhill, water and soft ground: no verdict and no utilisation falls as water comes."""
    project, day, crossings = judged(starter, tmp_path, change)
    assert (crossings["kind"] == "flow path").any()
    worse = 0
    for weathers in (AMOUNTS, AGES, WORDS):
        tables = [under(project, day, weather) for weather in weathers]
        worse += sum(held(drier, wetter) for drier, wetter in pairwise(tables))
    assert worse > 0, "the weather does something"


def held(drier: pd.DataFrame, wetter: pd.DataFrame) -> int:
    """Hold the checks of wetter ground against those of drier; gives how many verdicts are worse."""
    wet = drier.index.get_level_values("check").isin(BY_WATER)
    before, after = (table[wet]["verdict"].map(RANK) for table in (drier, wetter))
    assert (after >= before).all()
    both = drier[wet]["utilisation"].notna() & wetter[wet]["utilisation"].notna()
    assert (wetter[wet]["utilisation"][both] >= drier[wet]["utilisation"][both] - 1e-9).all()
    return int((after > before).sum())


def test_nobody_surveyed_is_never_better_in_any_weather(starter: Path, tmp_path: Path) -> None:
    """The same trails, walked and not: at each rain every verdict on water is as bad or worse where nobody went."""
    seen_project, seen, _ = judged(starter, tmp_path / "a", as_it_is)
    project, unseen, _ = judged(starter, tmp_path / "b", unsurveyed)
    for weather in AMOUNTS[::3]:
        walked, not_walked = under(seen_project, seen, weather), under(project, unseen, weather)
        ford = walked.index.get_level_values("check") == CheckName.FORD.value
        assert (not_walked[ford]["verdict"].map(RANK) >= walked[ford]["verdict"].map(RANK)).all()


def test_a_site_digitised_the_other_way_round_has_the_same_water(starter: Path, tmp_path: Path) -> None:
    """As many crossings in the same places, as deep and fast; the way in is the way out, `with` is `against`."""
    _, one, there = judged(starter, tmp_path / "a", as_it_is)
    _, other, back = judged(starter, tmp_path / "b", backwards)
    places: Sequence[np.ndarray] = [shapely.get_coordinates(table.geometry) for table in (there, back)]
    order = [np.lexsort(np.round(place, 1).T) for place in places]
    np.testing.assert_allclose(places[0][order[0]], places[1][order[1]], atol=0.05)
    there, back = there.iloc[order[0]], back.iloc[order[1]]
    for column in ("catchment_m2", "depth_m", "depth_now_m", "flow_now_m_s"):
        np.testing.assert_allclose(there[column], back[column], rtol=1e-6)
    np.testing.assert_allclose(there["entry_deg"], back["exit_deg"], atol=1.0)
    np.testing.assert_allclose(there["exit_deg"], back["entry_deg"], atol=1.0)
    checks = [found.checks[found.checks["check"] == CheckName.FORD.value] for found in (one, other)]
    turned = checks[1].assign(direction=checks[1]["direction"].map({"with": "against", "against": "with"}))
    keys = ["segment_id", "setup", "direction"]
    pd.testing.assert_series_equal(
        checks[0].set_index(keys)["utilisation"].sort_index(), turned.set_index(keys)["utilisation"].sort_index()
    )
