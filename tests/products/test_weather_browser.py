"""The switch to other weather in headless Chromium: what the lines, the panel, the list and the loop then say."""

import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from pipeline.products.facts import Facts
from pipeline.products.map_page import map_page
from pipeline.products.plain import clean
from tests.products.browsing import ARTEFACTS, PHONE, chromium, watched_page
from tests.products.outlook_worlds import SHIFTS
from tests.products.worlds import HOSTILE, hostile_facts, make_facts

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = pytest.mark.browser

FACTS = make_facts()


@pytest.fixture(scope="module")
def browser() -> Iterator["Browser"]:
    """Start one Chromium for all tests of this module."""
    with chromium() as started:
        yield started


@pytest.fixture
def page(browser: "Browser") -> Iterator["Page"]:
    """Give a page with the network cut; at the end nothing was asked for and nothing complained of."""
    with watched_page(browser, 1800) as made:
        yield made


def _open(page: "Page", facts: Facts, folder: Path) -> None:
    """Open the map on all set-ups, either way, without a loop."""
    target = folder / "map.html"
    target.write_text(map_page(facts), encoding="utf-8")
    page.goto(target.as_uri())
    page.select_option("#loop", "")
    page.select_option("#setup", "")
    page.select_option("#way", "")


def _stroke(page: "Page", segment: int) -> list[str]:
    """Colour, width and dash of a trail as it is drawn."""
    script = "i => ['stroke', 'stroke-width', 'stroke-dasharray'].map(a => lines[i].getElement().getAttribute(a) ?? '')"
    return [str(one) for one in page.evaluate(script, segment)]


def _choose(page: "Page", setup: int, way: int) -> None:
    page.select_option("#setup", str(setup))
    page.select_option("#way", str(way))


def test_the_switch_redraws_lines_by_colour_and_pattern(page: "Page", tmp_path: Path) -> None:
    """A trail that rain bars gets another pattern, a ▲ and its word; back on the day it is as it was."""
    _open(page, FACTS, tmp_path)
    _choose(page, 1, 0)
    before = _stroke(page, 1)
    page.select_option("#weather", "0")
    after = _stroke(page, 1)
    assert after[0] != before[0]
    assert after[1:] != before[1:]
    assert page.locator(".shift").all_inner_texts() == ["▲"]
    label = page.evaluate("touch[1].getElement().getAttribute('aria-label')")
    assert label == "Top traverse, barred"
    page.screenshot(path=ARTEFACTS / "map_weather.png")
    page.select_option("#weather", "")
    assert _stroke(page, 1) == before
    assert page.locator(".shift").count() == 0


def test_what_is_shown_is_said(page: "Page", tmp_path: Path) -> None:
    """A live line names the weather and counts what shifts; on the day there is none."""
    _open(page, FACTS, tmp_path)
    note = page.locator("#weather-note")
    assert not note.is_visible()
    page.select_option("#weather", "0")
    said = note.inner_text()
    assert "After rain, ground wet (rain in mm, oldest day first: 0, 4.5, 20)" in said
    assert "worse than on the day ▲: 1; better ▽: 0" in said
    _choose(page, 1, 1)
    assert "worse than on the day ▲: 0; better ▽: 1" in note.inner_text()
    assert note.get_attribute("role") == "status"
    page.select_option("#weather", "1")
    assert "▲: 0; better ▽: 0" in note.inner_text()


def test_the_panel_shows_every_weather_side_by_side(page: "Page", tmp_path: Path) -> None:
    """Verdict and what decides, for the day and each outlook; the one that is shown is marked, and so is the worse."""
    _open(page, FACTS, tmp_path)
    _choose(page, 1, 0)
    page.select_option("#weather", "0")
    page.evaluate("pick(1, true)")
    rows = [row.locator("th, td").all_inner_texts() for row in page.locator(".weathers tbody tr").all()]
    day = FACTS.verdicts[
        (FACTS.verdicts["segment_id"] == "s2")
        & (FACTS.verdicts["setup"] == "Long wagon")
        & (FACTS.verdicts["direction"] == "with")
    ].iloc[0]
    assert [row[0].split("\n")[0] for row in rows] == ["the day", "After rain", "Like the day"]
    assert rows[0][1] == rows[2][1] == f"{day['verdict']} {day['utilisation']:.2f}"
    assert rows[1][1].split("\n") == ["barred 1.31", "▲ worse"]
    assert rows[1][2] == SHIFTS[0][-1]
    assert rows[0][2] == rows[2][2] != ""
    assert page.locator(".weathers tr[aria-current]").inner_text().startswith("After rain")
    assert "under After rain" in page.locator("#panel .for").inner_text()
    assert "worst: climb" in page.locator("#panel svg.profile").text_content()  # type: ignore[operator]
    assert "of the day" in page.locator(".weathers .note").inner_text()
    page.screenshot(path=ARTEFACTS / "map_weather_panel.png")


def test_only_the_deciding_check_is_offered_of_other_weather(page: "Page", tmp_path: Path) -> None:
    """A chosen check gives way, and can be chosen again on the day."""
    _open(page, FACTS, tmp_path)
    page.select_option("#check", "3")
    page.select_option("#weather", "0")
    assert page.locator("#check").is_disabled()
    assert page.locator("#check").input_value() == ""
    page.select_option("#weather", "")
    assert page.locator("#check").is_enabled()


def test_the_list_follows(page: "Page", tmp_path: Path) -> None:
    """Filtered by a verdict, the list is that of the weather that is shown."""
    _open(page, FACTS, tmp_path)
    _choose(page, 1, 0)
    barred = page.evaluate("BARRED")
    page.select_option("#only", str(barred))
    before = page.locator("#list .who").all_inner_texts()
    page.select_option("#weather", "0")
    after = page.locator("#list .who").all_inner_texts()
    assert len(after) == len(before) + 1
    assert any(one.startswith("Top traverse") for one in after)


def test_the_loop_says_who_can_still_drive_it(page: "Page", tmp_path: Path) -> None:
    """At a glance who cannot, all of it when opened."""
    _open(page, FACTS, tmp_path)
    page.select_option("#loop", "0")
    shut = page.locator(".loop-weather")
    assert shut.locator("summary").inner_text() == "Under other weather: not for Long wagon (After rain)"
    shut.locator("summary").click()
    text = shut.inner_text()
    assert "Short wagon still drives it (spot at worst)." in text
    assert "Long wagon cannot drive it: barred on s2 Top traverse (with): climb asks 31.4° of 24.0°." in text
    page.select_option("#loop", "1")
    assert "every set-up can still drive it" in page.locator(".loop-weather summary").inner_text()


def test_the_keyboard_reaches_and_turns_the_switch(page: "Page", tmp_path: Path) -> None:
    """Tab on from the loop, arrow down for the next weather."""
    _open(page, FACTS, tmp_path)
    page.focus("#loop")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.id") == "weather"
    page.keyboard.press("ArrowDown")
    assert page.evaluate("choice.weather") == 0
    assert page.locator("label", has=page.locator("#weather")).inner_text().startswith("Weather")


def test_on_a_phone_nothing_runs_out_of_the_page(page: "Page", tmp_path: Path) -> None:
    """The switch is as tall as a finger and as wide as the page allows."""
    page.set_viewport_size(PHONE)
    _open(page, FACTS, tmp_path)
    page.select_option("#weather", "0")
    page.evaluate("pick(1, true)")
    box = page.locator("#weather").bounding_box()
    assert box is not None
    assert box["height"] >= 44
    assert box["x"] + box["width"] <= PHONE["width"]
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]


def test_without_outlooks_there_is_no_switch(page: "Page", tmp_path: Path) -> None:
    """Nor a table in the panel, nor a line on the loop."""
    _open(page, replace(FACTS, outlooked=(), outlooks=FACTS.outlooks.iloc[:0]), tmp_path)
    assert not page.locator("#weather").is_visible()
    page.select_option("#loop", "0")
    page.evaluate("pick(1, true)")
    assert page.locator(".weathers, .loop-weather, .shift").count() == 0


def test_hostile_names_of_weather_stay_text(page: "Page", tmp_path: Path) -> None:
    """Names made to break pages: shown as they are."""
    _open(page, hostile_facts(), tmp_path)
    page.select_option("#weather", "0")
    page.evaluate("pick(1, true)")
    shown = page.locator(".weathers th bdi").all_text_contents()
    assert shown[:5:2] == ["the day", clean(HOSTILE[3]), clean(HOSTILE[4])]
    assert re.search(re.escape(clean(HOSTILE[3])), page.locator("#weather-note").text_content() or "")
