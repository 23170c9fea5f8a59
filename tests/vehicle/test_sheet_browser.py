"""The measuring sheet in headless Chromium, the network cut: filled in, pressed, printed, and without script.

Screenshots are left in ``tests/artefacts`` to be looked at.
"""

import re
import shutil
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pypdf
import pytest

from pipeline.settings import read_settings
from pipeline.terms import CAUTION
from pipeline.vehicle.balance import ramp_travel_index
from pipeline.vehicle.model import Load, Vehicle
from pipeline.vehicle.sheet import PAGES, measuring_sheet
from pipeline.vehicle.sheet_rows import GROUPS
from tests.tools import need
from tests.vehicle.worlds import EXTRAS, PointMasses, box

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = pytest.mark.browser

ROOT = Path(__file__).parents[2]
ARTEFACTS = Path(__file__).parents[1] / "artefacts"
CHROMIUM = "/usr/bin/chromium"
HOSTILE = "</script><script>alert(1)</script>\"'\\ é <b>&amp;{{7*7}} \u2028"
HOSTILE_TABLES = """
[suspension."up \\"é\\" <i>"]
lift_m = 0.05
[loads."</script><script>alert(2)</script>"]
mass_kg = 75
at_m = [-1.4, 0.0, 1.95]
top_m = 2.15
people = true
[overhangs."bar\\u007f]"]
points = [[0.95, 0.44], [0.9, 0.4]]
"""


@dataclass(slots=True)
class Opened:
    """A page that was opened, and everything it did besides showing itself."""

    page: "Page"
    requests: list[str] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)

    def fill(self, figures: Mapping[str, object]) -> None:
        """Put *figures* into the boxes of their letters, all at once."""
        self.page.evaluate(
            "(figures) => Object.entries(figures).forEach(([id, text]) => {"
            "document.getElementById(id).value = text;"
            "document.getElementById(id).dispatchEvent(new Event('input', {bubbles: true})); })",
            {name: str(text) for name, text in figures.items()},
        )

    def press(self) -> str:
        """Press the button; give the file that is shown, empty when none is."""
        self.page.click("button")
        shown = self.page.is_visible("#result")
        text = self.page.text_content("#toml") or ""
        assert shown == bool(text), "a file is half shown"
        return text

    def told(self) -> dict[str, str]:
        """Give what is said beside each box."""
        found: dict[str, str] = self.page.evaluate(
            "Object.fromEntries([...document.querySelectorAll('.fault')].filter((told) => told.textContent)"
            ".map((told) => [told.id.slice(6), told.textContent]))"
        )
        return found


@pytest.fixture(scope="module")
def browser() -> Iterator["Browser"]:
    """Start one Chromium for all tests of this module."""
    need(find_spec("playwright") is not None, "playwright is not installed")
    need(Path(CHROMIUM).exists() or shutil.which("chromium") is not None, "Chromium is not installed")
    from playwright.sync_api import sync_playwright  # noqa: PLC0415 — only where it is there

    with sync_playwright() as driver:
        path = CHROMIUM if Path(CHROMIUM).exists() else shutil.which("chromium")
        running = driver.chromium.launch(executable_path=path, args=["--no-sandbox"])
        yield running
        running.close()


def opened(browser: "Browser", folder: Path, vehicle: Vehicle | None, **context: Any) -> Opened:  # noqa: ANN401 - Playwright's own options
    """Write the sheet of *vehicle* to a file and open it, offline."""
    path = folder / "sheet.html"
    path.write_text(measuring_sheet(vehicle), encoding="utf-8")
    page = browser.new_context(offline=True, **context).new_page()
    found = Opened(page)
    page.on("request", lambda request: found.requests.append(request.url))
    page.on("console", lambda message: found.complaints.append(message.text))
    page.on("pageerror", lambda error: found.complaints.append(str(error)))
    page.on("dialog", lambda dialog: (found.complaints.append(dialog.message), dialog.dismiss()))
    page.goto(path.as_uri())
    return found


def check_quiet(found: Opened) -> None:
    """Hold that the page asked for nothing but itself and complained of nothing."""
    assert [one for one in found.requests if not one.startswith(("blob:", "data:"))] == [found.page.url]
    assert found.complaints == []


def sheet_figures(vehicle: Vehicle, body: PointMasses, raise_m: float) -> dict[str, str]:
    """Give what a person writes into the boxes who measures *vehicle*, its masses being those of *body*."""
    rows = [row for group in GROUPS for row in group if row.key and row.letter not in {"S", "Y"}]
    told = {row.letter: row.said(vehicle) for row in rows}
    figures = {letter: f"{value:.3f}" for letter, value in told.items() if value is not None}
    (front, rear), raised = body.axles(0.0), body.axles(raise_m)[1]
    left, right = body.sides((vehicle.track_front_m + vehicle.track_rear_m) / 2)
    figures |= {"S": front, "T": rear, "U": left, "V": right, "W": raise_m * 1000, "X": raised}
    for k, (x, z) in enumerate(vehicle.underbody or (), start=1):
        figures |= {f"x{k}": round(x * 1000, 3), f"z{k}": round(z * 1000, 3)}
    return {letter: str(value) for letter, value in figures.items()}


def weighed(vehicle: Vehicle, seed: int = 3) -> tuple[Vehicle, PointMasses]:
    """Give *vehicle* with the masses of a body of point masses, and that body."""
    body = PointMasses.random(seed, vehicle.wheelbase_m, vehicle.tyre_radius_m)
    x, y, z = body.cg_m
    mass = float(body.kg.sum())
    front = mass * (1 + x / vehicle.wheelbase_m)
    found = {"kerb_mass_kg": mass, "front_axle_mass_kg": front, "cg_height_m": z, "cg_left_m": y}
    return vehicle.model_copy(update=found), body


def assert_same(found: Vehicle, expected: Vehicle, but: Mapping[str, object]) -> None:
    """Hold that two vehicles agree to 1e-3 in every key; *but* says what differs on purpose."""
    wanted = expected.model_dump(mode="json") | dict(but)
    for key, value in found.model_dump(mode="json").items():
        if isinstance(value, float):
            assert value == pytest.approx(wanted[key], abs=1e-3), key
        elif key == "underbody":
            assert np.array(value) == pytest.approx(np.array(wanted[key]), abs=1e-3)
        else:
            assert value == wanted[key], key


PUBLISHED_KEYS = dict.fromkeys(("approach_deg", "breakover_deg", "departure_deg", "clearance_m"))


@pytest.mark.parametrize("name", ["tarn", "holm"])
def test_filled_in_it_writes_the_vehicle(browser: "Browser", tmp_path: Path, name: str) -> None:
    """Known figures typed in, axles weighed level and raised by plain statics: the file read back is the vehicle."""
    old = read_settings(ROOT / "configs" / "vehicles" / f"{name}.toml", Vehicle)
    vehicle, body = weighed(old)
    sheet = opened(browser, tmp_path, old)
    sheet.fill(sheet_figures(vehicle, body, 0.5))
    text = sheet.press()
    assert sheet.told() == {}
    index = ramp_travel_index(vehicle.wheel_travel_m, vehicle.wheelbase_m)
    assert f"{index:.0f} at 20°" in (sheet.page.text_content("#worked") or "")
    with sheet.page.expect_download() as download:
        sheet.page.click("#save")
    assert download.value.suggested_filename == f"{re.sub('[^a-z0-9]+', '-', old.name.lower())}.toml"
    saved = tmp_path / "saved.toml"
    download.value.save_as(saved)
    assert saved.read_text(encoding="utf-8") == text
    assert_same(read_settings(saved, Vehicle), vehicle, {**PUBLISHED_KEYS, "source": "measured"})
    sheet.page.screenshot(path=ARTEFACTS / f"measure_{name}.png", full_page=True)
    check_quiet(sheet)


def test_blank_sheet_makes_a_vehicle_from_nothing(browser: "Browser", tmp_path: Path) -> None:
    """Without an old file everything is asked, commas and blanks in numbers are taken, a report's height too."""
    sheet = opened(browser, tmp_path, None)
    vehicle, body = weighed(box(gvm_kg=3000.0))
    typed = 'Box\x7f "1" \\n'
    figures = {key: text.replace(".", ",") for key, text in sheet_figures(vehicle, body, 0.5).items()}
    for letter in "UVWX":
        del figures[letter]
    figures |= {"A": "2 800", "Y": "712", "x4": "−3300", "name": typed, "on": "Monday\t1", "by": "Ann"}
    sheet.fill(figures)
    sheet.page.check("input[name=drive][value='4wd']")
    sheet.page.check("input[name=low][value=true]")
    sheet.page.check("input[name=modified][value=true]")
    saved = tmp_path / "saved.toml"
    saved.write_text(sheet.press(), encoding="utf-8")
    assert sheet.told() == {}
    assert "# Measured on Monday 1, by Ann." in saved.read_text(encoding="utf-8")
    changed = {"name": typed, "modified": True, "cg_height_m": 0.712, "cg_left_m": 0.0}
    assert_same(read_settings(saved, Vehicle), vehicle, {**PUBLISHED_KEYS, **changed})


def test_hostile_names_come_through(browser: "Browser", tmp_path: Path) -> None:
    """Names that look like markup, templates and TOML are shown as they are, run nothing, and are read back."""
    old = box(HOSTILE_TABLES, name=HOSTILE)
    vehicle, body = weighed(old)
    sheet = opened(browser, tmp_path, old)
    assert sheet.page.input_value("#name") == " ".join(HOSTILE.split())
    sheet.fill(sheet_figures(vehicle, body, 0.4))
    saved = tmp_path / "saved.toml"
    saved.write_text(sheet.press(), encoding="utf-8")
    assert sheet.told() == {}
    found = read_settings(saved, Vehicle)
    assert_same(found, vehicle, {**PUBLISHED_KEYS, "name": " ".join(HOSTILE.split())})
    assert found.loads == old.loads
    check_quiet(sheet)


def test_what_is_unticked_stays_behind(browser: "Browser", tmp_path: Path) -> None:
    """Tables of the old file are carried over one by one; a change after writing takes the file away again."""
    old = box(EXTRAS)
    sheet = opened(browser, tmp_path, old)
    sheet.fill(sheet_figures(*weighed(old), 0.5))
    assert "[loads.roof]" in sheet.press()
    sheet.page.uncheck("#carry2")
    assert not sheet.page.is_visible("#result")
    text = sheet.press()
    assert "[loads.roof]" not in text
    assert "[suspension.raised]" in text
    assert "[loads.passenger]" in text


def test_new_loads_go_into_the_file(browser: "Browser", tmp_path: Path) -> None:
    """A row with name, mass and place is a load, with its top and people where given; an empty row is none."""
    old = box(EXTRAS)
    sheet = opened(browser, tmp_path, old)
    sheet.fill(sheet_figures(*weighed(old), 0.5))
    sheet.fill({"l1name": "guide", "l1kg": "85", "l1x": "-1350", "l1y": "400", "l1z": "950"})
    sheet.page.check("#l1people")
    sheet.fill({"l3name": 'box "2"', "l3kg": "40,5", "l3x": "−1500", "l3y": "-200", "l3z": "2100", "l3top": "2300"})
    saved = tmp_path / "saved.toml"
    saved.write_text(sheet.press(), encoding="utf-8")
    assert sheet.told() == {}
    found = read_settings(saved, Vehicle).loads
    guide = Load(mass_kg=85.0, at_m=(-1.35, 0.4, 0.95), people=True)
    assert found == {
        "guide": guide,
        'box "2"': Load(mass_kg=40.5, at_m=(-1.5, -0.2, 2.1), top_m=2.3),
        **old.loads,
    }


LOAD = {"l1name": "new", "l1kg": "80", "l1x": "-1400", "l1y": "0", "l1z": "950"}
FAULTS: tuple[tuple[dict[str, str], str, str], ...] = (
    ({"A": ""}, "A", "missing"),
    ({"A": "2.8"}, "A", "outside 1200 to 6000 mm"),
    ({"B": "about 90"}, "B", "not a number"),
    ({"C": "1.1.0"}, "C", "not a number"),
    ({"name": " "}, "name", "missing"),
    ({"name": "x" * 81}, "name", "longer than 80"),
    ({"K": "1800"}, "K", "less than the body, J"),
    ({"F": "1950"}, "F", "more than the width J"),
    ({"S": "1900", "T": "350"}, "S", "84 % of S + T"),
    ({"gvm": "1500"}, "gvm", "less than the mass on the scales"),
    ({"N": "5.0"}, "N", "half of it is not above the wheelbase"),
    ({"W": "", "X": "", "Y": ""}, "W", "missing, or give Y"),
    ({"X": ""}, "X", "missing: W and X go together"),
    ({"Y": "720"}, "Y", "leave this one empty"),
    ({"X": "900"}, "X", "not above T"),
    ({"A": "1300", "W": "1400"}, "W", "not below the wheelbase A"),
    ({"X": "1800"}, "X", "the centre of gravity comes out at"),
    ({"W": "", "X": "", "Y": "1300"}, "Y", "above 65 % of D"),
    ({"U": ""}, "U", "missing: needed with V"),
    ({"U": "500"}, "V", "differs from S + T"),
    ({"x1": "950"}, "x1", ""),
    ({"x1": "1200"}, "x1", "outside the vehicle"),
    ({"z2": ""}, "z2", "missing"),
    ({"x2": "200"}, "z2", "inside a tyre"),
    ({"x1": "", "z1": "", "x2": "", "z2": ""}, "x1", "no point ahead of the front axle"),
    ({"l1name": "a"}, "l1kg", "missing"),
    ({"l2kg": "80"}, "l2name", "missing"),
    (LOAD | {"l1name": "side"}, "l1name", "of this name already"),
    (LOAD | {"l1y": "1200"}, "l1x", "outside the vehicle"),
    (LOAD | {"l1top": "900"}, "l1top", "below its centre"),
    (LOAD | {"l1kg": "heavy"}, "l1kg", "not a number"),
    (LOAD, "l1name", ""),
    ({"b": "1100", "c": "1000"}, "c", "not above the lower edge b"),
    ({"d": "2000"}, "d", "more than the width J"),
    ({"e": "1900"}, "e", "not below the height D"),
    ({"f": "-1000", "g": "-900"}, "g", "not behind the windscreen f"),
    ({"a": "1200"}, "a", "outside the vehicle, -3900 to 900"),
    ({"b": "1000", "c": "1300", "d": "1500", "e": "1100", "f": "-900", "g": "−3700", "a": "-600"}, "a", ""),
    ({"E": "100"}, "E", "outside 200 to 800 mm"),
    ({"J": "900", "F": "850", "G": "850"}, "carry1", "outside the vehicle now"),
    ({"E": "480"}, "carry2", "inside a tyre now"),
)
CARRIED = """
[suspension.raised]
lift_m = 0.05
[loads.side]
mass_kg = 30
at_m = [-1.4, 0.9, 1.0]
[overhangs.bar]
points = [[0.42, 0.25]]
"""


def test_faults_are_told_beside_the_box(browser: "Browser", tmp_path: Path) -> None:
    """Each fault is said at its box, nothing is written, and the cursor stands in the first one; mended it writes."""
    old = box(CARRIED)
    sheet = opened(browser, tmp_path, old)
    right = sheet_figures(*weighed(old), 0.5) | {"name": "Box", "gvm": "", "Y": ""}
    sheet.fill(right)
    assert sheet.press()
    for wrong, at, said in FAULTS:
        sheet.fill(wrong)
        text = sheet.press()
        if not said:
            assert text, wrong
        else:
            assert text == "", wrong
            assert said in sheet.told().get(at, ""), (wrong, sheet.told())
            assert "Nothing written" in (sheet.page.text_content("#tally") or "")
            assert sheet.page.evaluate("document.activeElement.id") in sheet.told()
        sheet.fill({key: right.get(key, "") for key in wrong})
    assert sheet.press()
    assert sheet.told() == {}
    sheet.page.fill("#A", "")
    sheet.page.fill("#B", "letters")
    sheet.page.press("#B", "Enter")
    assert sheet.told() == {}
    assert sheet.press() == ""
    assert set(sheet.told()) == {"A", "B"}
    assert sheet.page.evaluate("document.activeElement.id") == "A"
    sheet.page.screenshot(path=ARTEFACTS / "measure_faults.png")


def test_empty_sheet_names_every_box(browser: "Browser", tmp_path: Path) -> None:
    """Pressed at once, every needed box and every choice is named; nothing is written."""
    sheet = opened(browser, tmp_path, None)
    assert sheet.press() == ""
    needed = {row.letter for group in GROUPS for row in group if row.needed}
    assert set(sheet.told()) == needed | {"name", "drive", "low", "modified", "W", "X"}


@pytest.mark.parametrize("name", ["tarn", "holm", None])
def test_print_is_an_empty_form_of_three_pages(browser: "Browser", tmp_path: Path, name: str | None) -> None:
    """A4, three pages, caution and every letter on it, the old figures beside empty boxes, no button."""
    old = read_settings(ROOT / "configs" / "vehicles" / f"{name}.toml", Vehicle) if name else None
    sheet = opened(browser, tmp_path, old)
    path = ARTEFACTS / f"measure_{name or 'blank'}.pdf"
    sheet.page.pdf(path=path, prefer_css_page_size=True)
    pages = pypdf.PdfReader(path).pages
    assert len(pages) == PAGES == 3
    assert [round(float(side) / 72 * 25.4) for side in pages[0].mediabox[2:]] == [210, 297]
    text = " ".join(" ".join(page.extract_text() for page in pages).split())
    assert CAUTION in text
    for group in GROUPS[:5]:
        assert all(f" {row.letter} " in text for row in group)
    assert "Write the vehicle file" not in text
    letters = [row.letter for group in GROUPS[:5] for row in group]
    assert [sheet.page.input_value(f"#{letter}") for letter in letters] == [""] * len(letters)
    assert (f" {old.wheelbase_m * 1000:.0f} " in text) if old else ("old file" not in text)


def test_many_hard_points_have_rows(browser: "Browser", tmp_path: Path) -> None:
    """More points than the sheet has rows: more rows, four of them spare."""
    points = [[round(0.9 - 0.12 * k, 3), 0.8] for k in range(40)]
    sheet = opened(browser, tmp_path, box(underbody=points))
    assert sheet.page.locator(".points tbody tr").count() == 44


def test_without_script_it_is_a_form(browser: "Browser", tmp_path: Path) -> None:
    """No dead button; boxes to type in or print; a line says what to do; the same three pages."""
    sheet = opened(browser, tmp_path, box(EXTRAS), java_script_enabled=False)
    page = sheet.page
    assert not page.is_visible("button")
    assert page.is_visible("noscript .plainly")
    assert "it is a form" in page.inner_text("noscript")
    assert page.locator("table.rows input").count() >= 22
    page.fill("#A", "2800")
    page.pdf(path=tmp_path / "plain.pdf", prefer_css_page_size=True)
    assert len(pypdf.PdfReader(tmp_path / "plain.pdf").pages) == PAGES


def test_fits_a_phone(browser: "Browser", tmp_path: Path) -> None:
    """At 390 px nothing is cut off sideways and every box is wide enough for a finger."""
    sheet = opened(browser, tmp_path, box(EXTRAS), viewport={"width": 390, "height": 844})
    assert sheet.page.evaluate("document.documentElement.scrollWidth") == 390
    heights = sheet.page.eval_on_selector_all(
        "table.rows input[type=text]", "boxes => boxes.map((one) => one.getBoundingClientRect().height)"
    )
    assert min(heights) >= 36
    sheet.page.screenshot(path=ARTEFACTS / "measure_phone.png", full_page=True)
