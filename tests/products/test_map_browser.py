"""The products in headless Chromium, with the network cut: what a person sees and does.

Screenshots are left in ``tests/artefacts`` to be looked at.
"""

import re
import shutil
from collections.abc import Iterator
from dataclasses import dataclass, field
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pypdf
import pytest

from pipeline.products.drive_sheet import sheet_page
from pipeline.products.facts import Facts
from pipeline.products.map_codes import BASIS_WORDS
from pipeline.products.map_page import map_page
from pipeline.products.plain import CAUTION, clean
from tests.products.worlds import HOSTILE, hostile_facts, make_facts, many_segments, mixed, no_loops
from tests.tools import need

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext, Page

pytestmark = pytest.mark.browser

CHROMIUM = "/usr/bin/chromium"
ARTEFACTS = Path(__file__).parents[1] / "artefacts"
DESKTOP = {"width": 1280, "height": 860}
PHONE = {"width": 390, "height": 844}


@dataclass(slots=True)
class Opened:
    """A page that was opened, and everything it did besides showing itself."""

    page: "Page"
    requests: list[str] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)
    dialogs: list[str] = field(default_factory=list)

    def check_quiet(self, url: str) -> None:
        """Hold that it asked for nothing but itself, complained of nothing and ran nothing foreign."""
        outside = [one for one in self.requests if one != url and not one.startswith("data:")]
        assert outside == []
        assert self.complaints == []
        assert self.dialogs == []


@pytest.fixture(scope="module")
def browser() -> Iterator["Browser"]:
    """Start one Chromium for all tests of this module."""
    need(find_spec("playwright") is not None, "playwright is not installed")
    need(Path(CHROMIUM).exists() or shutil.which("chromium") is not None, "Chromium is not installed")
    from playwright.sync_api import sync_playwright  # noqa: PLC0415 — only where it is there

    path = CHROMIUM if Path(CHROMIUM).exists() else shutil.which("chromium")
    ARTEFACTS.mkdir(exist_ok=True)
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=path, args=["--no-sandbox", "--disable-gpu"])
        yield started
        started.close()


def _open(context: "BrowserContext", content: str, path: Path) -> Opened:
    """Write *content* to a file and open it with the network cut."""
    path.write_text(content, encoding="utf-8")
    context.set_offline(True)
    context.route(re.compile(r"^(?!file:|data:)"), lambda route: route.abort())
    page = context.new_page()
    opened = Opened(page)
    page.on("request", lambda request: opened.requests.append(request.url))
    page.on(
        "console",
        lambda message: opened.complaints.append(message.text) if message.type in {"error", "warning"} else None,
    )
    page.on("pageerror", lambda error: opened.complaints.append(str(error)))
    page.on("dialog", lambda dialog: (opened.dialogs.append(dialog.message), dialog.dismiss()))
    page.goto(path.as_uri())
    return opened


@pytest.fixture
def context(browser: "Browser") -> Iterator["BrowserContext"]:
    """Give a fresh context of desktop size."""
    made = browser.new_context(viewport=DESKTOP)
    made.set_default_timeout(8000)
    yield made
    made.close()


def _map(context: "BrowserContext", facts: Facts, tmp_path: Path) -> Opened:
    return _open(context, map_page(facts), tmp_path / "map.html")


def _stroke(page: "Page", segment: int) -> str:
    """Colour, width and dash of a trail as it is drawn."""
    return str(
        page.evaluate(
            "i => { const p = lines[i].getElement(); return [p.getAttribute('stroke'), p.getAttribute('stroke-width'),"
            " p.getAttribute('stroke-dasharray') ?? 'none'].join(' '); }",
            segment,
        )
    )


def _rows(page: "Page") -> dict[str, list[str]]:
    """Check table of the panel: name of the check → its cells."""
    cells = page.locator("#panel .checks tbody tr:not(.why)").all()
    bases = page.locator("#panel .checks .basis").all_inner_texts()
    return {
        row.locator("th").inner_text(): [*row.locator("td").all_inner_texts(), basis.strip()]
        for row, basis in zip(cells, bases, strict=True)
    }


def test_it_opens_from_a_file_with_the_network_cut(context: "BrowserContext", tmp_path: Path) -> None:
    """Nothing is asked for beyond the file, nothing is complained of, the caution is in sight."""
    opened = _map(context, make_facts(), tmp_path)
    page = opened.page
    assert page.locator(".leaflet-container").is_visible()
    assert page.locator(".caution").inner_text().endswith(CAUTION)
    assert page.locator(".caution").is_visible()
    assert page.evaluate("document.querySelector('.caution').getBoundingClientRect().bottom <= innerHeight")
    page.screenshot(path=ARTEFACTS / "map.png")
    opened.check_quiet((tmp_path / "map.html").as_uri())


def test_a_click_on_a_trail_opens_its_profile_with_the_right_numbers(context: "BrowserContext", tmp_path: Path) -> None:
    """The profile spans the heights of the stations; the worst point and the checks are those of the tables."""
    facts = make_facts()
    page = _map(context, facts, tmp_path).page
    page.select_option("#setup", "1")
    page.select_option("#way", "0")
    place = page.evaluate("(() => { const p = MAP.latLngToContainerPoint(along(3, 0.5)); return [p.x, p.y]; })()")
    page.locator("#map_site").click(position={"x": place[0], "y": place[1]})
    assert page.locator("#panel-head").inner_text() == "Meadow link"
    own = facts.stations[facts.stations["segment_id"] == "s4"]
    title = page.locator("#panel svg.profile title").text_content()
    low, high = own["z_m"].min(), own["z_m"].max()
    span = re.search(r"heights from ([\d.]+) to ([\d.]+) m", title or "")
    assert span is not None
    assert float(span[1]) == pytest.approx(low, abs=0.1)
    assert float(span[2]) == pytest.approx(high, abs=0.1)
    assert "driven with" in (title or "")
    assert page.locator("#panel .worst-words").inner_html() == "worst: climb at 67 m"
    keys = ["segment_id", "setup", "direction", "check"]
    checks = facts.checks.set_index(keys).sort_index().loc[("s4", "Long wagon", "with")]
    rows = _rows(page)
    assert set(rows) == {name.replace("_", " ") for name in checks.index}
    for name, check in checks.iterrows():
        demand, limit, share, verdict, basis = rows[str(name).replace("_", " ")]
        assert verdict == check["verdict"]
        assert basis == f"Basis: {BASIS_WORDS.get(check['basis'], check['basis'])}."
        assert share == ("–" if check["verdict"] == "unsurveyed" else f"{check['utilisation']:.2f}")
        digits, unit = {"°": (1, "°"), "1": (2, "")}.get(check["unit"], (2, f" {check['unit']}"))
        asked, allowed = (
            np.ceil(check["demand"] * 10**digits - 1e-4) / 10**digits,
            np.floor(check["limit"] * 10**digits + 1e-4) / 10**digits,
        )
        gripping = np.floor(check["limit_typical"] * 10**digits + 1e-4) / 10**digits
        typical = "" if np.isnan(gripping) else f"\ntypical {gripping:.{digits}f}{unit}"
        spread = "" if np.isnan(check["demand_sd"]) else f"\n± {check['demand_sd']:.1f}{unit}"
        assert limit == f"{allowed:.{digits}f}{unit}{typical}"
        assert demand == ("–" if check["verdict"] == "unsurveyed" else f"{asked:.{digits}f}{unit}{spread}")
    assert page.locator("#panel tr.deciding th").inner_text() == "climb"
    page.set_viewport_size({"width": 1280, "height": 3600})
    page.locator("#panel").screenshot(path=ARTEFACTS / "map_panel.png")


def test_the_profile_reads_off_under_the_pointer(context: "BrowserContext", tmp_path: Path) -> None:
    """Half way along the first segment: the chainage, and the height of the nearest station."""
    facts = make_facts()
    page = _map(context, facts, tmp_path).page
    page.select_option("#way", "0")
    page.evaluate("pick(0, true)")
    box = page.locator("#panel svg.profile").bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + box["width"] * (44 + 346 * 0.5) / 400, box["y"] + box["height"] * 0.3)
    words = page.locator("#panel .reading").text_content() or ""
    found = re.match(r"at (\d+) m: ([\d.]+) m, grade ([−\d.]+)°", words)
    assert found is not None, words
    own = facts.stations[facts.stations["segment_id"] == "s1"]
    nearest = own.iloc[(own["chainage_m"] - own["chainage_m"].max() / 2).abs().argmin()]
    assert float(found[1]) == pytest.approx(nearest["chainage_m"], abs=2)
    assert float(found[2]) == pytest.approx(nearest["z_m"], abs=0.5)
    assert float(found[3].replace("−", "-")) == pytest.approx(nearest["grade_deg"], abs=0.7)


def test_driven_against_the_grade_changes_its_sign(context: "BrowserContext", tmp_path: Path) -> None:
    """What climbs one way descends the other."""
    page = _map(context, make_facts(), tmp_path).page
    words = []
    for way in ("0", "1"):
        page.select_option("#way", way)
        page.evaluate("pick(0, true)")
        box = page.locator("#panel svg.profile").bounding_box()
        assert box is not None
        page.mouse.move(box["x"] + box["width"] * 0.5, box["y"] + box["height"] * 0.3 + int(way))
        words.append(re.search(r"grade (−?)([\d.]+)", page.locator("#panel .reading").text_content() or ""))
    assert words[0] is not None
    assert words[1] is not None
    assert (words[0][1], words[1][1]) == ("", "−")
    assert words[0][2] == words[1][2]


def test_enter_in_the_list_and_on_a_trail_opens_the_panel(context: "BrowserContext", tmp_path: Path) -> None:
    """The whole map can be used with the keyboard: by the list, and along the trails with the arrow keys."""
    page = _map(context, make_facts(), tmp_path).page
    page.select_option("#order", "name")
    page.locator("#list button").first.focus()
    page.keyboard.press("Enter")
    assert page.locator("#panel-head").inner_text() == "Meadow link"
    assert page.evaluate("document.activeElement.id") == "panel"
    page.locator("#panel-close").press("Enter")
    assert page.locator("#panel").is_hidden()
    assert page.evaluate("document.activeElement.dataset.segment") == "3"
    page.keyboard.press("ArrowRight")
    assert page.evaluate("document.activeElement.dataset.segment") == "4"
    page.keyboard.press("Enter")
    assert page.locator("#panel-head").inner_text() == "Old adit spur"
    stops = page.evaluate("document.querySelectorAll('path[tabindex=\"0\"]').length")
    assert stops == 1


def test_a_change_of_setup_recolours_the_trails(context: "BrowserContext", tmp_path: Path) -> None:
    """The same trail is barred for one set-up and not for the other, and looks it."""
    page = _map(context, make_facts(), tmp_path).page
    page.select_option("#setup", "0")
    short = _stroke(page, 2)
    assert page.evaluate("over.bars.getLatLngs().length") == 0
    page.select_option("#setup", "1")
    assert _stroke(page, 2) != short
    assert page.evaluate("over.bars.getLatLngs().length") == 1
    assert _stroke(page, 2) == "#00224e 7 4 5"


def test_colour_by_one_check(context: "BrowserContext", tmp_path: Path) -> None:
    """With a check chosen, the list shows that check's verdict and utilisation for every segment."""
    facts = make_facts()
    page = _map(context, facts, tmp_path).page
    page.select_option("#setup", "0")
    page.select_option("#way", "0")
    page.select_option("#check", label="climb")
    page.select_option("#order", "name")
    shown = dict(
        zip(page.locator("#list .who bdi").all_inner_texts(), page.locator("#list .v").all_inner_texts(), strict=True)
    )
    checks = facts.checks[
        (facts.checks["setup"] == "Short wagon")
        & (facts.checks["direction"] == "with")
        & (facts.checks["check"] == "climb")
    ]
    names = facts.segments.set_index("segment_id")["name"]
    assert shown == {names[row.segment_id]: f"{row.verdict} {row.utilisation:.2f}" for row in checks.itertuples()}


def test_it_opens_on_the_first_loop_as_that_is_driven(context: "BrowserContext", tmp_path: Path) -> None:
    """The first look is the first loop, its first set-up, each leg in its own sense; all set-ups stay a choice."""
    facts = make_facts()
    page = _map(context, facts, tmp_path).page
    loop = facts.loops.iloc[0]
    first = facts.loop_setups[loop["loop"]][0]
    assert page.locator("#setup option:checked").inner_text().startswith(first)
    assert page.locator("#way option:checked").inner_text() == "as the loop runs"
    assert page.locator("#setup option").first.inner_text() == "all set-ups, the severest"
    verdicts = facts.verdicts.set_index(["segment_id", "setup", "direction"])["verdict"]
    legs = facts.legs[(facts.legs["loop"] == loop["loop"]) & (facts.legs["rank"] == 1)]
    ids = facts.segments["segment_id"].tolist()
    order = ["ample", "watch", "spot", "unsurveyed", "barred"]
    for segment_id, ways in legs.groupby("segment_id")["direction"]:
        wanted = max(order.index(verdicts[segment_id, first, way]) for way in ways)
        assert page.evaluate("i => worst(i).verdict", ids.index(str(segment_id))) == wanted
    page.select_option("#loop", "")
    both = [verdicts["s1", first, way] for way in ("with", "against")]
    assert page.evaluate("worst(0).verdict") == max(map(order.index, both))


def test_letters_are_told_in_words(context: "BrowserContext", tmp_path: Path) -> None:
    """Every letter that can stand on the map is in the legend with its word."""
    page = _map(context, make_facts(), tmp_path).page
    legend = dict(text.split("\n", 1) for text in page.locator("#signs li").all_inner_texts())
    page.evaluate("MAP.setView(along(0, 0.25), 19, { animate: false })")
    letters = set(page.locator(".leaflet-marker-icon .thing").all_inner_texts())
    assert letters
    assert letters == set(legend)
    assert all(len(word) > 2 for word in legend.values())


def test_find_filter_and_order(context: "BrowserContext", tmp_path: Path) -> None:
    """By name without regard to case, by verdict, by severity; the count says how many."""
    page = _map(context, make_facts(), tmp_path).page
    page.select_option("#setup", "")
    page.select_option("#way", "")
    assert page.locator("#list .v").first.inner_text() == "barred 1.08"
    page.fill("#find", "TRAV")
    assert page.locator("#list .who bdi").all_inner_texts() == ["Top traverse"]
    assert page.locator("#count").inner_text() == "1 of 5 segments"
    page.fill("#find", "")
    page.select_option("#only", label="unsurveyed")
    assert page.locator("#list .who bdi").all_inner_texts() == ["Old adit spur"]


def test_the_loop_is_drawn_with_arrows_and_numbered_calls(context: "BrowserContext", tmp_path: Path) -> None:
    """Choosing a loop shows its band, its arrows, its calls and what to do before each."""
    page = _map(context, make_facts(), tmp_path).page
    assert page.locator("#course-head").inner_text() == "Hill round"
    assert page.locator(".leaflet-marker-icon .call").all_inner_texts() == ["1", "2", "3", "4"]
    assert page.locator(".leaflet-marker-icon svg path").count() > 5
    assert "low range, first gear" in page.locator("#call-3").inner_text()
    page.locator(".leaflet-marker-icon:has(.call.spotter)").last.click()
    assert page.evaluate("document.activeElement.id") == "call-4"
    page.select_option("#loop", "")
    assert page.locator("#course").is_hidden()
    assert page.locator(".leaflet-marker-icon .call").count() == 0
    assert "no loop of 9 km" in page.locator(".missing").inner_text()


def test_what_comes_with_a_loop_is_shown(context: "BrowserContext", tmp_path: Path) -> None:
    """Proof and ways round at once; plan, practice and descents when they are opened; a line shows its place."""
    page = _map(context, mixed(make_facts()), tmp_path).page
    course = page.locator("#course-body")
    assert "bound 41.5 m of exposure (exact model); proven: no loop" in course.inner_text()
    assert "Long wagon goes round: leaves at 287 m, back at 478 m" in course.locator(".detours").inner_text()
    assert page.locator(".leaflet-course-pane path[stroke-dasharray]").count() == 1
    parts = course.locator(".loop-part")
    heads = ["Session plan: 7 lines", "What it teaches: 250.0 of 700 points", "Descents and spotters: 2 stretches"]
    assert parts.locator("summary").all_inner_texts() == heads
    for at in range(3):
        parts.nth(at).locator("summary").click()
    assert parts.nth(0).locator("tbody tr.key-stop").count() == 2
    assert parts.nth(1).locator("tbody tr").first.inner_text().split("\t")[:4] == ["climb", "160 m", "80 m", "72 m"]
    assert "one at a time" in parts.nth(2).inner_text()
    before = page.evaluate("MAP.getCenter().lng")
    parts.nth(0).locator(".at-place").last.click()
    page.wait_for_function("before => MAP.getCenter().lng !== before", arg=before)
    page.screenshot(path=ARTEFACTS / "map_course.png")


def test_marks_that_meet_give_way_to_ways_out(context: "BrowserContext", tmp_path: Path) -> None:
    """No two marks that show cover each other; exits and muster points always show, and closer in so does the rest."""
    page = _map(context, make_facts(), tmp_path).page
    overlaps = (
        "(() => { const all = [...document.querySelectorAll('.leaflet-marker-pane .mark:not(.crowded)')]"
        ".filter(m => m.querySelector('.call, .thing, .place')).map(m => m.firstElementChild.getBoundingClientRect());"
        " return all.filter((a, i) => all.slice(0, i).some(b => a.left < b.right - 3 && a.right > b.left + 3"
        " && a.top < b.bottom - 3 && a.bottom > b.top + 3)).length; })()"
    )
    for zoom in (12, 14, 19):
        page.evaluate("zoom => MAP.setZoom(zoom, { animate: false })", zoom)
        assert page.evaluate(overlaps) == 0
    page.evaluate("MAP.setZoom(12, { animate: false })")
    assert page.locator(".mark.crowded .thing").count() == 3
    page.evaluate("MAP.setView(along(0, 0.25), 19, { animate: false })")
    assert page.locator(".mark.crowded .thing").count() == 0
    assert page.locator(".mark:not(.crowded) .place.exit").count() == 1


def test_lines_are_thinner_far_out(context: "BrowserContext", tmp_path: Path) -> None:
    """A whole region on a small screen must not run together."""
    page = _map(context, make_facts(), tmp_path).page
    page.select_option("#setup", "1")
    page.evaluate("MAP.setZoom(18, { animate: false })")
    near = float(_stroke(page, 2).split()[1])
    page.evaluate("MAP.setZoom(13, { animate: false })")
    far = float(_stroke(page, 2).split()[1])
    assert (near, far) == (7, 3.5)


def test_legend_names_every_pattern(context: "BrowserContext", tmp_path: Path) -> None:
    """In words, beside a piece of the line itself."""
    page = _map(context, make_facts(), tmp_path).page
    words = page.locator("#patterns li").all_inner_texts()
    assert [text.split(":")[0].strip() for text in words] == ["ample", "watch", "spot", "unsurveyed", "barred"]
    assert page.locator("#patterns svg.swatch").count() == 5
    assert page.locator(".leaflet-control-scale").is_visible()
    assert page.locator(".north").is_visible()


def test_hostile_names_are_shown_and_nothing_runs(context: "BrowserContext", tmp_path: Path) -> None:
    """Every hostile name literally in the list, the panel and the tooltip; no dialog, no request, no complaint."""
    opened = _map(context, hostile_facts(), tmp_path)
    page = opened.page
    shown = set(page.locator("#list .who bdi").all_text_contents())
    assert shown == {clean(name) for name in HOSTILE}
    for segment in range(5):
        page.evaluate("i => { pick(i, true); touch.forEach(one => one.closeTooltip()) }", segment)
        page.evaluate("i => { touch[i].openTooltip() }", segment)
        assert page.locator("#panel-head").text_content() == clean(HOSTILE[segment])
        assert page.locator(".hint b").last.text_content() == clean(HOSTILE[segment])
    page.evaluate("THINGS.eachLayer(layer => layer.openTooltip())")
    page.evaluate("COURSE.eachLayer(layer => layer.openTooltip && layer.openTooltip())")
    page.wait_for_timeout(200)
    assert page.locator("img:not(.leaflet-image-layer)").count() == 0
    assert page.locator("h1").text_content() == clean(HOSTILE[0])
    page.screenshot(path=ARTEFACTS / "map_hostile.png")
    opened.check_quiet((tmp_path / "map.html").as_uri())


def test_the_policy_stops_what_is_injected(context: "BrowserContext", tmp_path: Path) -> None:
    """Even a script or picture put into the page by force neither runs nor reaches the network."""
    opened = _map(context, make_facts(), tmp_path)
    page = opened.page
    page.evaluate(
        "() => { const s = document.createElement('script'); s.textContent = 'window.injected = 1';"
        " const i = document.createElement('img'); i.src = 'https://example.invalid/x.png';"
        " document.body.append(s, i); }"
    )
    page.wait_for_timeout(200)
    assert page.evaluate("window.injected") is None
    stopped = [text for text in opened.complaints if "Content Security Policy" in text]
    assert any("script" in text for text in stopped)
    assert any("https://example.invalid/x.png" in text for text in stopped)


def test_a_phone_shows_it_without_sideways_scroll(browser: "Browser", tmp_path: Path) -> None:
    """390 px wide: nothing sticks out, and whatever is tapped is at least 44 px high."""
    context = browser.new_context(viewport=PHONE, has_touch=True, is_mobile=True)
    try:
        opened = _map(context, make_facts(), tmp_path)
        page = opened.page
        page.evaluate("pick(3, true)")
        assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
        small = page.evaluate(
            "[...document.querySelectorAll('button, select, input, .leaflet-bar a')].filter(e => e.checkVisibility())"
            ".filter(e => e.getBoundingClientRect().height < 43.5 && e.type !== 'checkbox')"
            ".map(e => e.outerHTML.slice(0, 80))"
        )
        assert small == []
        page.screenshot(path=ARTEFACTS / "map_phone.png", full_page=True)
        opened.check_quiet((tmp_path / "map.html").as_uri())
    finally:
        context.close()


def test_without_scripts_table_and_picture_are_there(browser: "Browser", tmp_path: Path) -> None:
    """Some file viewers on phones run no scripts."""
    context = browser.new_context(viewport=DESKTOP, java_script_enabled=False)
    try:
        page = _map(context, make_facts(), tmp_path).page
        assert page.locator(".outline svg").is_visible()
        assert page.locator(".table:not(.proofs) tbody tr").count() == 5
        assert page.locator(".proofs tbody tr").count() == 2
        assert page.locator("#setup").is_hidden()
        page.screenshot(path=ARTEFACTS / "map_no_script.png", full_page=True)
    finally:
        context.close()


def test_a_site_without_loops_or_relief_opens(context: "BrowserContext", tmp_path: Path) -> None:
    """No loop to choose, and the page says so."""
    opened = _map(context, no_loops(make_facts()), tmp_path)
    assert opened.page.locator("#loop").inner_text().strip() == "none in this build"
    opened.check_quiet((tmp_path / "map.html").as_uri())


def test_a_large_network_is_drawn_on_a_canvas_and_still_answers(context: "BrowserContext", tmp_path: Path) -> None:
    """2,500 segments: drawn, listed by pages, and a click opens one."""
    opened = _map(context, many_segments(2500), tmp_path)
    page = opened.page
    assert page.locator("canvas").count() > 0
    assert page.locator("#list li").count() == 60
    page.locator("#more").click()
    assert page.locator("#list li").count() == 120
    place = page.evaluate("(() => { const p = MAP.latLngToContainerPoint(along(1275, 0.5)); return [p.x, p.y]; })()")
    page.locator("#map_site").click(position={"x": place[0], "y": place[1]})
    assert page.locator("#panel").is_visible()
    notes = " ".join(page.locator("#panel .note").all_inner_texts())
    assert "leaves out checks that are ample" in notes
    assert "leaves out how the set-ups stand" in notes
    page.screenshot(path=ARTEFACTS / "map_large.png")
    opened.check_quiet((tmp_path / "map.html").as_uri())


def test_the_drive_sheet_prints_on_a4_with_the_caution_on_each_sheet(context: "BrowserContext", tmp_path: Path) -> None:
    """Printed by Chromium: A4 pages, and a caution for each of the three sheets."""
    opened = _open(context, sheet_page(make_facts()), tmp_path / "drive_sheet.html")
    target = ARTEFACTS / "drive_sheet_print.pdf"
    opened.page.pdf(path=target, prefer_css_page_size=True)
    reader = pypdf.PdfReader(target)
    for page in reader.pages:
        assert float(page.mediabox.width) == pytest.approx(210 / 25.4 * 72, abs=1)
        assert float(page.mediabox.height) == pytest.approx(297 / 25.4 * 72, abs=1)
    text = " ".join(" ".join(page.extract_text().split()) for page in reader.pages)
    assert text.count("Caution. A planning aid") == 3
    opened.check_quiet((tmp_path / "drive_sheet.html").as_uri())


def test_the_drive_sheet_reads_on_a_phone(browser: "Browser", tmp_path: Path) -> None:
    """No sideways scroll of the page; wide tables scroll inside themselves."""
    context = browser.new_context(viewport=PHONE)
    try:
        opened = _open(context, sheet_page(hostile_facts()), tmp_path / "drive_sheet.html")
        assert opened.page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
        opened.page.screenshot(path=ARTEFACTS / "drive_sheet_phone.png", full_page=True)
        opened.check_quiet((tmp_path / "drive_sheet.html").as_uri())
    finally:
        context.close()
