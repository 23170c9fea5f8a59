"""Comparisons of a site file: each is its set-up with one thing changed, told in words."""

import datetime as dt
from pathlib import Path

import pytest

from pipeline.errors import SettingsError
from pipeline.ground.weather import Weather
from pipeline.project import read_project
from pipeline.terms import Driver, Wetness
from tests.project.worlds import SITE, write_site

COMPARISONS = """
[[comparisons]]
name = "empty"
setup = "long"
loads = []

[[comparisons]]
name = "other hands"
setup = "long"
driver = "first-timer"
wetness = "soaked"

[[comparisons]]
name = "dry spell"
setup = "short"
rain_mm = [0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0]
"""


def faults(folder: Path, *tables: str) -> list[str]:
    """List the faults of a site with more tables."""
    path = write_site(folder, SITE + "\n".join(("", *tables)))
    with pytest.raises(SettingsError) as caught:
        read_project(path)
    return [str(fault).replace(f"{path.parent}/", "") for fault in caught.value.faults]


def test_a_comparison_changes_what_it_names_and_nothing_else(tmp_path: Path) -> None:
    """The rest of the set-up stays: driver where loads change, loads where the driver changes; the day stays."""
    project = read_project(write_site(tmp_path, SITE + COMPARISONS))
    empty, hands, dry = project.comparisons
    long, short = (one.choice for one in project.setups)
    assert (empty.choice.loads, empty.choice.driver, empty.choice.suspension) == ((), long.driver, long.suspension)
    assert (hands.choice.loads, hands.choice.driver) == (long.loads, Driver.FIRST_TIMER)
    day = dt.date(2026, 3, 28)
    weathers = (None, Weather(wetness=Wetness.SOAKED, date=day), Weather((0.0,) * 7, None, day))
    assert (empty.weather, hands.weather, dry.weather) == weathers
    assert dry.choice == short
    assert [one.setup for one in project.comparisons] == ["long", "long", "short"]


def test_a_change_is_told_in_words(tmp_path: Path) -> None:
    """A reader knows what was changed of the set-up without the settings; the weather is told with what it does."""
    words = [one.words for one in read_project(write_site(tmp_path, SITE + COMPARISONS)).comparisons]
    assert words == [
        "loads none",
        "driver first-timer",
        "",
    ]


def test_no_comparisons_are_none(tmp_path: Path) -> None:
    """Nobody has to compare."""
    assert read_project(write_site(tmp_path)).comparisons == ()


def test_every_fault_of_comparisons_comes_at_once(tmp_path: Path) -> None:
    """Nothing changed, wet twice, no such set-up, a name twice, loads and suspensions the vehicle does not have."""
    told = faults(
        tmp_path,
        '[[comparisons]]\nname = "a"\nsetup = "long"',
        '[[comparisons]]\nname = "a"\nsetup = "lung"\nwetness = "wet"\nrain_mm = [1.0]',
        '[[comparisons]]\nname = "b"\nsetup = "long"\nloads = ["piano"]\nsuspension = "rised"',
    )
    expected = (
        "comparisons[1] changes nothing; allowed: at least one of suspension, loads, driver, wetness, rain_mm",
        'comparisons[2].name = "a"; allowed: a name of its own',
        'comparisons[2].setup = "lung": no such set-up; allowed: "long" | "short"; did you mean "long"?',
        'comparisons[2].wetness = "wet" beside rain_mm; allowed: one of the two',
        'load "piano" is unknown to',
        'suspension = "rised" is unknown to',
    )
    assert len(told) == len(expected)
    for text in expected:
        assert any(text in fault for fault in told), (text, told)
    assert all(fault.startswith("site.toml:") for fault in told)


def test_a_change_to_what_is_there_already_is_a_fault(tmp_path: Path) -> None:
    """The same driver, or the same loads in another order, would be a page about nothing; ground may turn out alike."""
    told = faults(
        tmp_path,
        '[[comparisons]]\nname = "a"\nsetup = "long"\ndriver = "practised"\nloads = ["driver"]',
        '[[comparisons]]\nname = "b"\nsetup = "short"\nsuspension = "normal"',
        '[[comparisons]]\nname = "c"\nsetup = "short"\nwetness = "dry"\ndriver = "expert"',
        '[[comparisons]]\nname = "d"\nsetup = "short"\nsuspension = "normal"\ndriver = "practised"',
    )
    lines = (SITE + "\n").count("\n")
    assert told == [
        f'site.toml:{lines + line}: comparisons[{number}] changes nothing: "{setup}" is like that already; '
        "allowed: something else in at least one of suspension, loads, driver, wetness, rain_mm"
        for number, line, setup in ((1, 1, "long"), (2, 6, "short"))
    ]


def test_what_a_vehicle_lacks_is_told_at_its_line(tmp_path: Path) -> None:
    """Loads and suspension each at the line of their key."""
    told = faults(tmp_path, '[[comparisons]]\nname = "b"\nsetup = "long"\nloads = ["piano"]\nsuspension = "rised"')
    first = (SITE + "\n").count("\n")
    assert sorted(fault.split(" is unknown")[0] for fault in told) == [
        f'site.toml:{first + 4}: load "piano"',
        f'site.toml:{first + 5}: suspension = "rised"',
    ]


def test_a_misspelt_change_is_one_fault(tmp_path: Path) -> None:
    """The key that is not known is told; that nothing is changed only follows from it."""
    (told,) = faults(tmp_path, '[[comparisons]]\nname = "a"\nsetup = "long"\nload = []')
    assert 'unknown key comparisons[1].load = []; did you mean "loads"?' in told
