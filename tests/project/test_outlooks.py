"""Outlooks of a site file: other weather on the same day or on a day of its own, each under a name of its own."""

import datetime as dt
from pathlib import Path

import pytest

from pipeline.errors import SettingsError
from pipeline.ground.weather import Weather
from pipeline.project import read_project
from pipeline.terms import Wetness
from tests.project.worlds import SITE, write_site

OUTLOOKS = """
[[outlooks]]
name = "after a storm"
rain_mm = [0.0, 2.5, 40.0]

[[outlooks]]
name = "soaked in winter"
wetness = "soaked"
date = 2026-12-20
"""
DAY = dt.date(2026, 3, 28)


def faults(folder: Path, *tables: str) -> list[str]:
    """List the faults of a site with more tables."""
    path = write_site(folder, SITE + "\n".join(("", *tables)))
    with pytest.raises(SettingsError) as caught:
        read_project(path)
    return [str(fault).replace(f"{path.parent}/", "") for fault in caught.value.faults]


def test_an_outlook_is_a_weather_on_the_day_or_its_own(tmp_path: Path) -> None:
    """Rain as given; the day of the conditions unless it names another."""
    project = read_project(write_site(tmp_path, SITE + OUTLOOKS))
    assert [one.name for one in project.outlooks] == ["after a storm", "soaked in winter"]
    assert [one.weather for one in project.outlooks] == [
        Weather((0.0, 2.5, 40.0), None, DAY),
        Weather((), Wetness.SOAKED, dt.date(2026, 12, 20)),
    ]
    assert project.weather.date == DAY


def test_no_outlooks_are_none(tmp_path: Path) -> None:
    """They are asked for, never assumed."""
    assert read_project(write_site(tmp_path)).outlooks == ()


def test_outlooks_decide_the_products(tmp_path: Path) -> None:
    """A build is stale when one is changed."""
    echoes = [read_project(write_site(tmp_path, text)).echo() for text in (SITE, SITE + OUTLOOKS)]
    assert echoes[0] != echoes[1]


def test_every_fault_of_outlooks_comes_at_once(tmp_path: Path) -> None:
    """Each with its place: no weather, two weathers, a name taken, a misspelt key, rain that is none."""
    found = faults(
        tmp_path,
        '[[outlooks]]\nname = "a"\ndate = 2026-12-20',
        '[[outlooks]]\nname = "a"\nwetness = "wet"\nrain_mm = [1.0]',
        '[[outlooks]]\nname = "b"\nwettness = "wet"',
        '[[outlooks]]\nname = "c"\nrain_mm = [-1.0]',
        '[[outlooks]]\nname = "d"\nrain_mm = []',
    )
    expected = [
        "outlooks[1] has neither rain_mm nor wetness; allowed: one of the two",
        'outlooks[2].name = "a"; allowed: a name of its own',
        'outlooks[2].wetness = "wet" beside rain_mm; allowed: one of the two',
        'unknown key outlooks[3].wettness = "wet"',
        "outlooks[4].rain_mm[1] = -1.0",
        "outlooks[5].rain_mm",
    ]
    for text in expected:
        assert sum(text in one for one in found) == 1, (text, found)
    assert len(found) == len(expected)
    assert all(one.startswith("site.toml:") for one in found)


@pytest.mark.parametrize("text", ["outlooks = 3\n", "outlooks = [1, { name = 2 }]\n"])
def test_odd_types_are_told_once(tmp_path: Path, text: str) -> None:
    """What is no table is told as that, without a fault about its weather."""
    path = write_site(tmp_path, text + SITE)
    with pytest.raises(SettingsError) as caught:
        read_project(path)
    assert not any("neither rain_mm" in str(fault) and "outlooks[1]" in str(fault) for fault in caught.value.faults)
