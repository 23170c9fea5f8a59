"""The drawing of a pose in headless Chromium, read back and held against the poses table and the set-ups."""

import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
import pytest

from pipeline.products.comparison_page import comparison_page
from pipeline.products.facts import Facts
from pipeline.products.map_page import map_page
from pipeline.products.plain import clean, odds
from pipeline.terms import Wheel
from tests.products.browsing import ARTEFACTS, PHONE, chromium, watched_page
from tests.products.ground_worlds import PLOTS, without_ground
from tests.products.pose_reader import STEP, check_rear, check_side, read_view
from tests.products.worlds import HOSTILE, hostile_facts, make_facts

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def browser() -> Iterator["Browser"]:
    """Start one Chromium for all tests of this module."""
    with chromium() as started:
        yield started


@pytest.fixture
def page(browser: "Browser") -> Iterator["Page"]:
    """Give a page with the network cut; at the end nothing was asked for and nothing complained of."""
    with watched_page(browser, 3400) as made:
        yield made


def _open(page: "Page", facts: Facts, folder: Path) -> Facts:
    target = folder / "map.html"
    target.write_text(map_page(facts), encoding="utf-8")
    page.goto(target.as_uri())
    return facts


def _pick(page: "Page", segment: int, setup: int, way: int) -> None:
    page.select_option("#setup", str(setup))
    page.select_option("#way", str(way))
    page.evaluate("i => pick(i, true)", segment)


def _poses(page: "Page", facts: Facts) -> Iterator[tuple[object, int]]:
    """Open every pose of the table in turn: its row and the number of its set-up."""
    assert facts.poses is not None
    segments, setups = facts.segments["segment_id"].tolist(), [one.setup for one in facts.envelopes]
    for row in facts.poses.table.itertuples():
        setup = setups.index(row.setup)
        _pick(page, segments.index(row.segment_id), setup, ["with", "against"].index(row.direction))
        yield row, setup


def test_every_pose_is_drawn_as_the_table_says(page: "Page", tmp_path: Path) -> None:
    """Wheels, tyres, body, centre of gravity and worst point of all set-ups, both directions, from side and behind."""
    facts = _open(page, make_facts(), tmp_path)
    seen = 0
    for row, setup in _poses(page, facts):
        side, rear = read_view(page, "side-view"), read_view(page, "rear-view")
        assert side is not None
        check_side(side, row, facts.envelopes[setup])
        assert (rear is None) == np.isnan(row.roll_deg)  # type: ignore[attr-defined]
        if rear is not None:
            check_rear(rear, row, facts.envelopes[setup])
        seen += 1
        where = f"at the worst place of {row.check}, {row.at_m:.0f} m"  # type: ignore[attr-defined]
        assert where in page.locator("#panel .pose figcaption").inner_text()
    assert seen == len(PLOTS)
    _pick(page, 0, 1, 0)
    page.locator("#panel .pose").screenshot(path=ARTEFACTS / "pose_cross_axle.png")


def test_tyres_rest_on_the_ground_they_roll_on(page: "Page", tmp_path: Path) -> None:
    """Heights of the wheels in side view: a circle on the closed form of its plot, found by looking at every place."""
    facts = _open(page, make_facts(), tmp_path)
    for (row, setup), plot in zip(_poses(page, facts), PLOTS, strict=True):
        drawing = read_view(page, "side-view")
        assert drawing is not None
        own = facts.envelopes[setup]
        apart = abs(row.front_m - row.rear_m)  # type: ignore[attr-defined]
        rests = []
        for wheel in Wheel:
            y = 0.0 if not plot.beside else own.track_front_m / 2 * (1 if wheel % 2 == 0 else -1)
            axle = 0.0 if wheel < Wheel.REAR_LEFT else -apart
            x = axle + np.linspace(-own.tyre_radius_m, own.tyre_radius_m, 2001)
            rests.append((plot.height(x, y) + np.sqrt(np.maximum(own.tyre_radius_m**2 - (x - axle) ** 2, 0.0))).max())
        signs = np.array([1.0, -1.0, -1.0, 1.0])
        if isinstance(row.lifted, str):  # type: ignore[attr-defined]
            rests[1] += max(signs @ rests - own.wheel_travel_m, 0.0)
        heights = [drawing.tyres[wheel.word][1] for wheel in Wheel]
        assert np.allclose(heights, np.array(rests) - np.mean(rests), atol=STEP), row


def test_where_there_is_no_pose_the_panel_says_why(page: "Page", tmp_path: Path) -> None:
    """No heights at the worst place; no heights beside the middle; a build without poses."""
    _open(page, make_facts(), tmp_path)
    _pick(page, 2, 0, 0)
    assert page.locator("#panel .pose").count() == 0
    assert "the ground under its wheels is not known" in page.locator("#panel-body").inner_text()
    _pick(page, 3, 1, 0)
    assert page.locator("#panel svg.side-view").count() == 1
    assert "No view from behind" in page.locator("#panel .pose").inner_text()
    _open(page, without_ground(make_facts()), tmp_path)
    _pick(page, 0, 0, 0)
    assert page.locator("#panel .pose").count() == 0


def test_a_screen_reader_hears_the_figures(page: "Page", tmp_path: Path) -> None:
    """Each picture is one image, named and described by its own title and desc; ids are unique on the page."""
    _open(page, make_facts(), tmp_path)
    _pick(page, 0, 1, 0)
    for name in ("side-view", "rear-view"):
        picture = page.locator(f"#panel svg.{name}")
        assert picture.get_attribute("role") == "img"
        ids = (picture.get_attribute("aria-labelledby") or "").split()
        words = [page.locator(f"#{one}").text_content() or "" for one in ids]
        assert len(words) == 2
        assert all(words)
        assert "front right in the air" in words[1]
    ids = page.evaluate("[...document.querySelectorAll('[id]')].map(one => one.id)")
    assert len(set(ids)) == len(ids)


def _channel(value: float) -> float:
    return value / 12.92 if value <= 0.03928 else ((value + 0.055) / 1.055) ** 2.4


def _contrast(one: str, other: str) -> float:
    """Contrast ratio of WCAG 2.2, "relative luminance" and "contrast ratio", of two colours ``rgb(r, g, b)``."""
    lights = []
    for colour in (one, other):
        red, green, blue = (_channel(int(part) / 255) for part in re.findall(r"\d+", colour)[:3])
        lights.append(0.2126 * red + 0.7152 * green + 0.0722 * blue)
    return (max(lights) + 0.05) / (min(lights) + 0.05)


def test_every_line_and_letter_stands_out(page: "Page", tmp_path: Path) -> None:
    """WCAG 2.2: 7:1 for letters (1.4.6), 3:1 for parts of pictures (1.4.11), on white and on the ground's own tone."""
    _open(page, make_facts(), tmp_path)
    _pick(page, 0, 1, 0)
    tone = page.evaluate("getComputedStyle(document.querySelector('#panel .stand .ground-fill')).fill")
    letters = "[...document.querySelectorAll('#panel .stand text')].map(one => getComputedStyle(one).fill)"
    strokes = (
        "['.land', '.box', '.under', '.tyre', '.beam', '.plumb', '.tip', '.bar', '.heading', '.gravity .disc']"
        ".flatMap(one => [...document.querySelectorAll('#panel .stand ' + one)])"
        ".map(one => getComputedStyle(one).stroke)"
    )
    for colour in page.evaluate(letters):
        assert min(_contrast(colour, "rgb(255, 255, 255)"), _contrast(colour, tone)) >= 7
    drawn = page.evaluate(strokes)
    assert len(drawn) > 20
    for colour in drawn:
        assert min(_contrast(colour, "rgb(255, 255, 255)"), _contrast(colour, tone)) >= 3


def test_lines_and_tyres_are_told_apart_without_colour(page: "Page", tmp_path: Path) -> None:
    """Ground under left, middle and right by its dashes; near, far and lifted tyres by fill and outline."""
    _open(page, make_facts(), tmp_path)
    _pick(page, 0, 1, 0)
    look = (
        "one => { const s = getComputedStyle(document.querySelector('#panel svg.side-view ' + one));"
        " return [s.fill, s.strokeDasharray, s.strokeWidth].join(); }"
    )
    assert len({page.evaluate(look, f".land.{line}") for line in ("left", "middle", "right")}) == 3
    assert len({page.evaluate(look, f".tyre.{kind}") for kind in ("near:not(.air)", "far", "air")}) == 3


def test_a_phone_shows_all_of_it(browser: "Browser", tmp_path: Path) -> None:
    """390 px wide: nothing sticks out, letters of the drawing are no smaller than 11 px, nothing lies outside it."""
    context = browser.new_context(viewport=PHONE, has_touch=True, is_mobile=True)
    try:
        page = context.new_page()
        facts = _open(page, make_facts(), tmp_path)
        for _ in _poses(page, facts):
            assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
            outside = page.evaluate(
                "[...document.querySelectorAll('#panel .stand')].flatMap(svg =>"
                " { const b = svg.getBoundingClientRect();"
                " return [...svg.querySelectorAll('text, polygon, circle, rect, polyline')].filter(one => {"
                " const a = one.getBoundingClientRect(); return a.left < b.left - 1 || a.right > b.right + 1"
                " || a.top < b.top - 1 || a.bottom > b.bottom + 1; }).map(one => one.outerHTML.slice(0, 120)); })"
            )
            assert outside == []
            assert page.evaluate("(t => t.scrollWidth - t.clientWidth)(document.querySelector('#panel .checks'))") <= 1
            sizes = page.evaluate(
                "[...document.querySelectorAll('#panel .stand text')].map(one =>"
                " parseFloat(getComputedStyle(one).fontSize) * one.ownerSVGElement.getBoundingClientRect().width / 400)"
            )
            assert min(sizes) >= 11
        _pick(page, 0, 1, 0)
        page.locator("#panel").screenshot(path=ARTEFACTS / "pose_phone.png")
    finally:
        context.close()


def test_words_in_a_drawing_do_not_run_into_each_other(page: "Page", tmp_path: Path) -> None:
    """No two texts of one picture overlap."""
    facts = _open(page, make_facts(), tmp_path)
    for row, _ in _poses(page, facts):
        meets = page.evaluate(
            "[...document.querySelectorAll('#panel .stand')].flatMap(svg => { const all ="
            " [...svg.querySelectorAll('text')].map(one => [one.textContent, one.getBoundingClientRect()]);"
            " return all.flatMap(([w, a], i) => all.slice(0, i).filter(([v, b]) => a.left < b.right && a.right > b.left"
            " && a.top + 3 < b.bottom && a.bottom - 3 > b.top).map(([v]) => w + ' / ' + v)); })"
        )
        assert meets == [], row


def test_printed_the_open_panel_is_on_the_paper(page: "Page", tmp_path: Path) -> None:
    """The drawing prints with its tones; buttons and the map do not."""
    _open(page, make_facts(), tmp_path)
    _pick(page, 0, 1, 0)
    page.emulate_media(media="print")
    assert page.locator("#panel svg.side-view").is_visible()
    assert page.locator("#panel svg.rear-view").is_visible()
    assert page.locator("#panel-close").is_hidden()
    assert page.locator(".ground").is_hidden()
    exact = "getComputedStyle(document.querySelector('#panel .stand .ground-fill')).printColorAdjust"
    assert page.evaluate(exact) == "exact"


def test_the_panel_says_how_sure_a_check_is(page: "Page", tmp_path: Path) -> None:
    """Demand ± its deviation, the typical limit beside the low one, the chance of being over as people say it."""
    facts = _open(page, make_facts(), tmp_path)
    _pick(page, 1, 1, 0)
    own = facts.checks[(facts.checks["segment_id"] == "s2") & (facts.checks["setup"] == "Long wagon")]
    rows = own[own["direction"] == "with"].set_index("check")
    texts = {
        row.locator("th").inner_text(): " ".join(row.inner_text().split())
        for row in page.locator("#panel .checks tbody tr:not(.why)").all()
    }
    whys = dict(zip(texts, page.locator("#panel .checks tr.why").all_inner_texts(), strict=True))
    assert "± 2.0°" in texts["roll"]
    assert odds(rows.loc["roll", "p_over"]) == "about 1 in 8"
    assert "Over the limit: about 1 in 8." in whys["roll"]
    assert f"typical {np.floor(10 * rows.loc['climb', 'limit_typical']) / 10:.1f}°" in texts["climb"]
    assert "±" not in texts["belly"]
    assert "Over the limit" not in whys["belly"]


def test_the_panel_says_what_to_do_about_things_in_the_way(page: "Page", tmp_path: Path) -> None:
    """Each thing with its advice and reason; in the other direction in the order it is met."""
    facts = make_facts()
    more = facts.passings[facts.passings["segment_id"] == "s1"].assign(obstacle_id="o5", at_m=180.0, passing="barred")
    facts = _open(page, replace(facts, passings=pd.concat([facts.passings, more], ignore_index=True)), tmp_path)
    _pick(page, 0, 0, 0)
    told = page.locator("#panel .passings li").all_inner_texts()
    assert [" ".join(one.split()) for one in told] == [
        "At 75 m, rock: straddle take it between the wheels: 0.35 m high, 0.06 m to spare.",
        "At 180 m, log: barred take it between the wheels: 0.35 m high, 0.06 m to spare.",
    ]
    _pick(page, 0, 0, 1)
    assert [one.split(":")[0] for one in page.locator("#panel .passings li").all_inner_texts()] == [
        "At 180 m, log",
        "At 75 m, rock",
    ]
    _pick(page, 3, 0, 0)
    assert page.locator("#panel .passings").count() == 0


def test_the_signs_of_the_checks_are_explained(page: "Page", tmp_path: Path) -> None:
    """What ±, a chance, low and typical grip, μ and 1/m mean stands below the table that uses them, and only there."""
    _open(page, make_facts(), tmp_path)
    for segment in range(3):
        _pick(page, segment, 0, 0)
        note = page.locator("#panel .checks .note").all_inner_texts()
        table = page.locator("#panel .checks tbody").inner_text()
        signs = {"±": "±", "typical": "low grip", " μ": "μ is", "1/m": "1/m is"}
        assert {sign for sign in signs if sign in table} == {
            sign for sign, word in signs.items() if word in " ".join(note)
        }
        assert ("Over the limit" not in table) or "how likely" in note[0]


def test_the_panel_says_how_soon_it_stops_or_that_it_cannot(page: "Page", tmp_path: Path) -> None:
    """Reaction and braking in one distance, rounded up; a hill that low grip does not hold is said outright."""
    facts = _open(page, make_facts(), tmp_path)
    row = facts.stopping.set_index(["segment_id", "setup", "direction"]).loc[("s3", "Short wagon", "with")]
    _pick(page, 2, 0, 0)
    low, typical = (np.ceil(10 * (row.reaction_m + brake)) / 10 for brake in (row.brake_low_m, row.brake_typical_m))
    assert page.locator("#panel .stopping").inner_text() == (
        f"Stopping distance. From 8 km/h on its steepest descent, {row.grade_deg:.1f}° at {row.at_m:.0f} m: "
        f"{low:.1f} m at low grip, {typical:.1f} m at typical grip."
    )
    _pick(page, 2, 1, 0)
    assert page.locator("#panel .stopping").count() == 0
    warning = page.locator("#panel .warn", has_text="Cannot stop").inner_text()
    assert "it cannot stop at low grip, 2.5 m at typical grip" in warning


def test_hostile_names_in_poses_and_comparisons_stay_text(page: "Page", tmp_path: Path) -> None:
    """Set-ups, trails and comparisons named to break a page: shown as they are, on the map and beside it."""
    facts = _open(page, hostile_facts(), tmp_path)
    for row, setup in _poses(page, facts):
        drawing = read_view(page, "side-view")
        assert drawing is not None
        check_side(drawing, row, facts.envelopes[setup])
    target = tmp_path / "comparisons.html"
    target.write_text(comparison_page(facts), encoding="utf-8")
    page.goto(target.as_uri())
    heads = page.locator("section:not(.weather) h2").all_text_contents()
    assert heads == [clean(HOSTILE[2]), clean(HOSTILE[3])]
    assert page.locator("script, img, iframe").count() == 0


def test_comparisons_read_on_a_phone_and_on_paper(browser: "Browser", tmp_path: Path) -> None:
    """No sideways scroll of the page; printed, nothing is cut off at the right edge."""
    target = tmp_path / "comparisons.html"
    target.write_text(comparison_page(make_facts()), encoding="utf-8")
    context = browser.new_context(viewport=PHONE)
    try:
        page = context.new_page()
        page.goto(target.as_uri())
        assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
        page.screenshot(path=ARTEFACTS / "comparisons_phone.png", full_page=True)
        page.set_viewport_size({"width": 703, "height": 1000})  # an A4 page less its margins, 186 mm at 96 dpi
        page.emulate_media(media="print")
        assert page.evaluate("document.documentElement.scrollWidth") <= 703
    finally:
        context.close()
