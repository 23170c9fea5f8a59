"""Plans of tight places in headless Chromium, read back and held against the lines table and the set-ups."""

import re
from collections.abc import Iterator
from dataclasses import replace
from math import floor, hypot
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from pipeline.products.facts import Facts
from pipeline.products.map_page import map_page
from pipeline.products.plain import WATER_CAUTION
from pipeline.terms import Part
from tests.products.browsing import ARTEFACTS, PHONE, chromium, watched_page
from tests.products.room_worlds import SPOTS, Spot, gap_of
from tests.products.worlds import hostile_facts, make_facts

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Locator, Page

pytestmark = pytest.mark.browser

PIXEL = 0.006
"""What a tenth of a pixel and whole centimetres leave of a place, m."""

READ = """plan => {
  const points = one => one.getAttribute("points").split(" ").map(pair => pair.split(",").map(Number));
  const all = kind => [...plan.querySelectorAll(kind)];
  const ends = one => ["x1", "y1", "x2", "y2"].map(key => Number(one.getAttribute(key)));
  return {
    bar: Number(plan.querySelector(".bar").getAttribute("d").match(/h([\\d.]+)/)[1]),
    outlines: all("polygon.outline").map(points), hulls: all("polygon.hull").map(points),
    tyres: all("polygon.tyre").map(points), mirrors: all("polygon.mirror").map(points),
    gaps: Object.fromEntries(all("line.gap").map(one => [one.dataset.side, ends(one)])),
    edges: all("polyline.edge").map(one => [one.dataset.side, one.classList.contains("whole")]),
    solids: all("line.solid").map(one => [...ends(one), Number(one.getAttribute("stroke-width"))]),
    overhead: all("line.overhead").length, signs: all("text.sign").map(one => one.textContent),
    labels: all(":scope > text.strong").map(one => one.textContent),
    north: Number(plan.querySelector(".north-mark").getAttribute("transform").match(/rotate\\(([-\\d.]+)/)[1]),
  };
}"""


@pytest.fixture(scope="module")
def browser() -> Iterator["Browser"]:
    """Start one Chromium for all tests of this module."""
    with chromium() as started:
        yield started


@pytest.fixture
def page(browser: "Browser") -> Iterator["Page"]:
    """Give a page with the network cut; at the end nothing was asked for and nothing complained of."""
    with watched_page(browser, 2400) as made:
        yield made


def _open(page: "Page", facts: Facts, folder: Path) -> Facts:
    target = folder / "map.html"
    target.write_text(map_page(facts), encoding="utf-8")
    page.goto(target.as_uri())
    return facts


def _pick(page: "Page", spot: Spot) -> "Locator":
    """Open the panel on a place, all its plans unfolded, and give the plan of the place."""
    page.select_option("#setup", str(spot.setup))
    page.select_option("#way", str(int(spot.direction.value == "against")))
    page.evaluate("i => pick(i, true)", int(spot.segment[1:]) - 1)
    page.evaluate("document.querySelectorAll('.place-plan').forEach(one => { one.open = true; })")
    return page.locator(f'#panel .place-plan[data-place="{spot.place}"]')


def _read(entry: "Locator") -> Any:  # noqa: ANN401 — what the page holds
    return entry.locator("svg.plan").first.evaluate(READ)


def _size(points: list[list[float]], scale: float) -> tuple[float, float]:
    """Length and width of a rectangle, m."""
    a, b, c, _ = (np.array(point) for point in points)
    return hypot(*(c - b)) / scale, hypot(*(b - a)) / scale


def test_every_place_is_drawn_as_the_table_says(page: "Page", tmp_path: Path) -> None:
    """Gaps to scale and in figures, cut off; the body, wheels and mirrors of the set-up; the edges that are known."""
    facts = _open(page, make_facts(), tmp_path)
    for spot in SPOTS:
        own = facts.envelopes[spot.setup]
        drawn = _read(_pick(page, spot))
        scale = drawn["bar"]
        long = own.length_rear_m + own.wheelbase_m + own.length_front_m
        lean = (own.height_m - own.underbody[:, 1].min()) * np.sin(np.radians(spot.roll_deg))
        for hull in (*drawn["hulls"], *drawn["outlines"]):
            assert _size(hull, scale) == pytest.approx((long, own.width_m + lean), abs=2 * PIXEL)
        assert len(drawn["tyres"]) >= 4
        assert len(drawn["mirrors"]) >= 2
        assert sorted(drawn["gaps"]) == sorted({("left", "right")[beside.side] for beside in spot.besides})
        labels = dict(label.split(" ", 1) for label in drawn["labels"])
        for beside in spot.besides:
            side, gap = ("left", "right")[beside.side], gap_of(spot, beside, own)
            x1, y1, x2, y2 = drawn["gaps"][side]
            assert hypot(x2 - x1, y2 - y1) / scale == pytest.approx(abs(gap), abs=3 * PIXEL)
            assert (y2 < y1) == ((beside.side == 0) == (gap > 0))
            cut = floor(100 * gap + 1e-6) / 100
            told = f"{cut:.2f} m" if cut >= 0 else f"{-cut:.2f} m short"
            name = {"o4": "rock", "o5": "log", None: "edge of the trail"}[beside.thing]
            assert labels[side] == f"{told}: {beside.part} to {name}"
        known = [(("left", "right")[side], spot.whole) for side in (0, 1) if np.isfinite(spot.half_m[side])]
        assert [tuple(edge) for edge in drawn["edges"]] == known


def test_a_side_that_is_nearest_elsewhere_is_told_with_its_place(page: "Page", tmp_path: Path) -> None:
    """No gap is drawn for it; its figure says where."""
    facts = make_facts()
    assert facts.plans is not None
    nearest = facts.plans.nearest.copy()
    nearest[0, 1] = facts.plans.ways.offsets[1] - 1
    _open(page, replace(facts, plans=replace(facts.plans, nearest=nearest)), tmp_path)
    drawn = _read(_pick(page, SPOTS[0]))
    assert list(drawn["gaps"]) == ["left"]
    assert drawn["labels"][1] == "right 0.53 m at 35 m: wheel to edge of the trail"


def test_shapes_stand_where_the_gap_ends(page: "Page", tmp_path: Path) -> None:
    """A trunk is full, as thick as it is, and ends the gap; a branch is drawn as overhead; each has its sign."""
    _open(page, make_facts(), tmp_path)
    drawn = _read(_pick(page, SPOTS[0]))
    (x, y, _, _, wide) = drawn["solids"][0]
    assert wide / drawn["bar"] == pytest.approx(0.4, abs=PIXEL)
    end = np.array(drawn["gaps"]["left"][2:])
    assert hypot(*(end - [x, y])) / drawn["bar"] == pytest.approx(0.2, abs=3 * PIXEL)
    assert drawn["signs"] == ["R"]
    branch = _read(_pick(page, SPOTS[3]))
    low_side = max(
        point[1] for point in branch["hulls"][0]
    )  # leans to the right: its top is what the branch is near to
    assert branch["gaps"]["right"][1] == pytest.approx(low_side, abs=1.0)
    assert (branch["overhead"], branch["solids"], branch["signs"]) == (1, [], ["L"])


def test_it_drives_to_the_right_and_north_is_turned_with_it(page: "Page", tmp_path: Path) -> None:
    """The second point of a body lies ahead of the fourth on the picture; the mark turns by the heading."""
    _open(page, make_facts(), tmp_path)
    for spot in SPOTS:
        drawn = _read(_pick(page, spot))
        front, rear = drawn["hulls"][-1][0], drawn["hulls"][-1][3]
        assert front[0] - rear[0] > 100
        assert front[1] == pytest.approx(rear[1], abs=0.5)
    east = {"s1": (60, 40), "s2": (100, 20)}
    for spot in (SPOTS[0], SPOTS[2], SPOTS[3]):
        heading = np.degrees(np.arctan2(*east[spot.segment][::-1])) + (180 if spot.direction.value == "against" else 0)
        turn = _read(_pick(page, spot))["north"]
        assert np.cos(np.radians(turn - (heading - 90))) == pytest.approx(1.0, abs=1e-3)


def test_the_tightest_is_open_and_the_words_stand_above_it(page: "Page", tmp_path: Path) -> None:
    """Advice word for word; a place that does not pass is told as such, with what is missing."""
    facts = _open(page, make_facts(), tmp_path)
    for spot, row in zip(SPOTS, facts.lines.itertuples(), strict=True):
        entry = _pick(page, spot)
        assert row.advice in entry.inner_text()
        summary = entry.locator("summary").inner_text()
        assert f"At {spot.at_m:.0f} m" in summary
        assert ("none passes" in summary) == (spot.missing_m > 0)
        assert entry.locator(".warn").count() == int(spot.missing_m > 0)
    page.evaluate("i => pick(i, true)", 2)
    page.select_option("#setup", "1")
    page.select_option("#way", "0")
    page.evaluate("i => pick(i, true)", 1)
    assert page.locator("#panel .place-plan[open]").get_attribute("data-place") == "1"
    page.evaluate("i => pick(i, true)", 3)
    assert page.locator("#panel .plans").count() == 0


def test_a_screen_reader_hears_the_gaps(page: "Page", tmp_path: Path) -> None:
    """Each plan is one image, named and described by its own title and desc; ids are unique on the page."""
    _open(page, make_facts(), tmp_path)
    for spot in SPOTS[3:5]:
        picture = _pick(page, spot).locator("svg.plan").first
        assert picture.get_attribute("role") == "img"
        ids = (picture.get_attribute("aria-labelledby") or "").split()
        words = [page.locator(f"#{one}").text_content() or "" for one in ids]
        assert words[0] == "Seen from above, driven to the right"
        assert re.search(r"(left|right) 0\.\d\d m: \w+ to log", words[1])
    ids = page.evaluate("[...document.querySelectorAll('[id]')].map(one => one.id)")
    assert len(set(ids)) == len(ids)


def test_words_keep_clear_of_each_other_and_of_the_rim(browser: "Browser", tmp_path: Path) -> None:
    """On a phone nothing sticks out of the page or of a plan, no two texts meet, letters are 11 px at least."""
    context = browser.new_context(viewport=PHONE, has_touch=True, is_mobile=True)
    try:
        page = context.new_page()
        _open(page, make_facts(), tmp_path)
        for spot in SPOTS:
            _pick(page, spot)
            assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
            meets = page.evaluate(
                "[...document.querySelectorAll('#panel svg.plan[role]')].flatMap(svg => {"
                " const b = svg.getBoundingClientRect(), all = [...svg.querySelectorAll('text')]"
                ".map(one => [one.textContent, one.getBoundingClientRect()]);"
                " const out = all.filter(([, a]) => a.left < b.left || a.right > b.right || a.top < b.top"
                " || a.bottom > b.bottom).map(([w]) => 'outside ' + w);"
                " return out.concat(all.flatMap(([w, a], i) => all.slice(0, i).filter(([, c]) => a.left < c.right"
                " && a.right > c.left && a.top + 3 < c.bottom && a.bottom - 3 > c.top).map(([v]) => w + ' / ' + v)));"
                " })"
            )
            assert meets == [], spot
            sizes = page.evaluate(
                "[...document.querySelectorAll('#panel svg.plan[role] text')].map(one => parseFloat("
                "getComputedStyle(one).fontSize) * one.closest('svg[role]').getBoundingClientRect().width / 400)"
            )
            assert min(sizes) >= 11
        _pick(page, SPOTS[0])
        page.locator("#panel .plans").screenshot(path=ARTEFACTS / "plan_phone.png")
    finally:
        context.close()


def test_lines_are_told_apart_without_colour(page: "Page", tmp_path: Path) -> None:
    """Edges by their dashes, ways by theirs, what stands from what hangs by its fill, the sweep from the body."""
    _open(page, make_facts(), tmp_path)
    look = (
        "kind => { const s = getComputedStyle(document.querySelector('#panel .plan ' + kind));"
        " return [s.fill, s.strokeDasharray, s.strokeWidth].join(); }"
    )
    _pick(page, SPOTS[0])
    tyres, *kinds = (
        page.evaluate(look, kind) for kind in (".edge.tyres", ".way.front", ".way.rear", ".hull", ".outline")
    )
    assert len({tyres, *kinds}) == 5
    _pick(page, SPOTS[2])
    assert page.evaluate(look, ".edge.whole") != tyres


def test_the_way_is_on_the_map_from_near_by(page: "Page", tmp_path: Path) -> None:
    """Not on the whole site; near by for the set-up and direction that are chosen; dashed where none passes."""
    facts = _open(page, make_facts(), tmp_path)
    page.select_option("#setup", "1")
    page.select_option("#way", "1")
    page.evaluate("MAP.setZoom(16.5, { animate: false })")
    assert page.locator(".room-way").count() == 0
    page.evaluate("MAP.setView(latLngs(0)[0], 18, { animate: false })")
    assert page.locator(".room-way").count() == 1
    assert page.locator(".room-way.none").get_attribute("stroke-dasharray") == "3 4"
    page.select_option("#way", "0")
    page.select_option("#setup", "0")
    assert page.locator(".room-way.none").count() == 0
    assert page.locator(".room-way").count() == 1
    page.select_option("#way", "1")
    assert page.locator(".room-way.none").count() == page.locator(".room-way").count() == 1
    page.evaluate("MAP.setView(latLngs(1)[0], 18, { animate: false })")
    page.select_option("#setup", "1")
    page.select_option("#way", "0")
    assert page.locator(".room-spot").count() == 3
    page.locator(".room-spot").last.dispatch_event("click")
    assert facts.segments["name"][1] in page.locator("#panel-head").inner_text()
    assert page.locator('#panel .place-plan[data-place="2"]').get_attribute("open") is not None
    page.screenshot(path=ARTEFACTS / "plan_map.png")


def test_printed_the_plans_are_on_the_paper(page: "Page", tmp_path: Path) -> None:
    """With their tones, no wider than the paper."""
    _open(page, make_facts(), tmp_path)
    entry = _pick(page, SPOTS[0])
    page.emulate_media(media="print")
    plan = entry.locator("svg.plan[role]")
    assert plan.is_visible()
    box = plan.bounding_box()
    assert box is not None
    assert box["width"] <= 105 / 25.4 * 96 + 1
    for kind in (".swept", ".tyre", ".solid"):
        exact = f"getComputedStyle(document.querySelector('#panel .plan {kind}')).printColorAdjust"
        assert page.evaluate(exact) == "exact"


def test_hostile_names_stay_text(page: "Page", tmp_path: Path) -> None:
    """Advice and names of things that look like markup are shown as they are."""
    _open(page, hostile_facts(), tmp_path)
    for spot in SPOTS:
        entry = _pick(page, spot)
        assert "{{7*7}}" in entry.inner_text()
        assert entry.locator("img, script").count() == 0


def test_parts_of_the_page_are_those_of_the_program() -> None:
    """The script counts the parts in their order."""
    script = (Path("pipeline/products/templates") / "map_plan.js").read_text(encoding="utf-8")
    told = ", ".join(f"{part.name} = {part.value}" for part in Part)
    assert f"const {told};" in script


def test_the_panel_tells_of_water_and_what_its_limits_are(page: "Page", tmp_path: Path) -> None:
    """Crossings with their sentences; the caveat where a ford asks for anything, and only there."""
    facts = _open(page, make_facts(), tmp_path)
    page.evaluate("i => pick(i, true)", 2)
    assert "At 208 m: " + facts.crossings["reason"][0] in page.locator("#panel .water").inner_text()
    assert WATER_CAUTION in page.locator("#panel .checks").inner_text()
    page.evaluate("i => pick(i, true)", 0)
    assert page.locator("#panel .water").count() == 0
    page.evaluate(
        "SITE.details.rows[0].forEach(row => { if (SITE.checks[row[1]] === 'ford') row[2] = 0; }); pick(0, true)"
    )
    assert WATER_CAUTION not in page.locator("#panel .checks").inner_text()
