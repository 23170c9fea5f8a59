"""Loops under other weather are those of a build of that day; another driver is judged as named in the settings."""

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from pipeline.analysis import Clock, Measured, Tools, analyse, drain, judge
from pipeline.checks.judged import Judged
from pipeline.project import Project, read_project
from pipeline.project.starter import write_starter
from pipeline.searching import loop_inputs, search, with_driver
from pipeline.spread import serial
from pipeline.survey.network import read_survey
from pipeline.technique.inventory import technique_table
from pipeline.terms import Driver
from pipeline.terrain.measure import measure_terrain

LOOPS = """
[[loops]]
name = "wet round"
objective = "training-rich"
length_m = [300, 900]
setups = ["4x4, practised"]
alternatives = 1
aim = "wet day"
OUTLOOK
[[loops]]
name = "day round"
objective = "training-rich"
length_m = [300, 900]
setups = ["4x4, practised"]
"""
Site = tuple[Project, Judged, pd.DataFrame, Measured]
RAIN = "rain_mm = [0, 4, 0, 0, 2, 0, 0]"
STORM = "rain_mm = [0, 4, 0, 0, 2, 0, 20]"


def project_of(folder: Path, changes: Mapping[str, str], outlook: str) -> Project:
    """Read the starter site with loops of its own."""
    write_starter(folder)
    path = folder / "site.toml"
    text = path.read_text(encoding="utf-8")
    text = text[: text.index("[[loops]]")] + LOOPS.replace("OUTLOOK", outlook) + text[text.index("[[outlooks]]") :]
    for old, new in changes.items():
        assert old in text
        text = text.replace(old, new, 1)
    path.write_text(text, encoding="utf-8")
    return read_project(path)


def analysed(project: Project) -> Any:  # noqa: ANN401  # the facts, whatever is looked at
    """Run all stages in this process."""
    network = read_survey(project.survey, project.survey_parameters)
    return analyse(project, network, Tools(serial, Clock(lambda _: None), lambda _: None))


def test_a_loop_under_an_outlook_is_that_of_a_day_with_its_weather(tmp_path: Path) -> None:
    """Verdicts, legs, calls, practice and session: all of the outlook's weather; the loop of the day stays as it is."""
    under = analysed(project_of(tmp_path / "a", {}, 'outlook = "after 20 mm of rain"'))
    on_day = analysed(project_of(tmp_path / "b", {RAIN: STORM}, ""))
    plain = analysed(project_of(tmp_path / "c", {}, ""))
    assert under.loops["loop"].drop_duplicates().tolist() == ["wet round", "day round"]
    assert [name for name, _, _ in under.loop_notes] == ["wet round", "day round"]
    assert under.loops["outlook"].dropna().unique().tolist() == ["after 20 mm of rain"]
    for name in ("loops", "legs", "calls", "practice", "session", "convoy"):
        mine, then, day = (pd.DataFrame(getattr(facts, name)) for facts in (under, on_day, plain))
        assert len(mine), name
        for loop, other in (("wet round", then), ("day round", day)):
            left, right = (table[table["loop"] == loop].reset_index(drop=True) for table in (mine, other))
            columns = [column for column in left.columns if column != "outlook"]
            pd.testing.assert_frame_equal(left[columns], right[columns], check_dtype=False)
    wet, dry = (facts.loops[facts.loops["loop"] == "wet round"] for facts in (under, plain))
    assert wet["time_min"].iloc[0] != dry["time_min"].iloc[0]


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Site:
    """Judge the starter site."""
    project = project_of(tmp_path_factory.mktemp("site") / "site", {}, "")
    network = read_survey(project.survey, project.survey_parameters)
    measured = drain(project, network, measure_terrain(network, project.terrain))
    techniques = technique_table(network, measured.terrain, project.techniques)
    return project, judge(project, network, measured), techniques, measured


def test_another_driver_is_judged_as_if_the_settings_named_them(site: Site) -> None:
    """Drivers, checks and verdicts are those of a site file with that driver, number for number."""
    project, judged, techniques, measured = site
    changed = with_driver(project, judged, techniques, [("4x4, practised", Driver.FIRST_TIMER)])
    setups = tuple(replace(one, choice=replace(one.choice, driver=Driver.FIRST_TIMER)) for one in project.setups)
    anew = judge(replace(project, setups=setups), judged.prepared.scene.site.network, measured)
    expected = loop_inputs(project, anew, techniques)
    assert changed.drivers == {"4x4, practised": Driver.FIRST_TIMER}
    pd.testing.assert_frame_equal(changed.checks, expected.checks)
    pd.testing.assert_frame_equal(pd.DataFrame(changed.verdicts), pd.DataFrame(expected.verdicts))
    assert not changed.checks["verdict"].equals(judged.checks["verdict"])


def test_only_the_loops_of_one_weather_are_searched(site: Site) -> None:
    """A loop that names an outlook is left to the search under it."""
    project, judged, techniques, _ = site
    first, second = project.requests
    mixed = replace(project, requests=(replace(first, outlook="storm"), second))
    assert [note.loop for note in search(mixed, judged, techniques).notes] == ["day round"]
    assert [note.loop for note in search(mixed, judged, techniques, outlook="storm").notes] == ["wet round"]
