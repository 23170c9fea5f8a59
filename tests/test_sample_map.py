"""The products of the sample site as a person meets them: the real build, opened, clicked and read back.

Whatever a product shows is held against the Parquet tables of the same build, so the sample site may change under
these tests. Screenshots are left in ``tests/artefacts`` to be looked at.
"""

import json
import re
import shutil
from collections.abc import Iterator
from dataclasses import dataclass, field
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING

import geopandas as gpd
import gpxpy
import numpy as np
import pandas as pd
import pyogrio
import pytest
import shapely
from lxml import html

from pipeline.build import BuildOptions, build
from pipeline.project import read_project
from pipeline.vehicle.envelope import make_envelope
from pipeline.vehicle.envelope_model import Envelope
from tests.products.pose_reader import check_rear, check_side, read_view
from tests.tools import need

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

TESTS = Path(__file__).parent
SITE = TESTS.parent / "configs" / "site.toml"
ARTEFACTS = TESTS / "artefacts"
CHROMIUM = "/usr/bin/chromium"
LAYERS = {"segments", "obstacles", "verdicts", "loops", "calls", "passings", "repairs"}
RANK = {verdict: rank for rank, verdict in enumerate(("ample", "watch", "spot", "unsurveyed", "barred"))}


@dataclass(frozen=True, slots=True)
class Built:
    """The folder of one build of the sample site, and its tables."""

    folder: Path
    tables: dict[str, pd.DataFrame]
    setups: tuple[str, ...]
    first_setups: tuple[str, ...]
    """Set-ups of the first loop that the settings ask for."""
    envelopes: dict[str, Envelope]

    def __getitem__(self, name: str) -> pd.DataFrame:
        return self.tables[name]


@pytest.fixture(scope="session")
def built(tmp_path_factory: pytest.TempPathFactory) -> Built:
    """Build the sample site once, away from the repository."""
    project = read_project(SITE)
    folder = tmp_path_factory.mktemp("sample") / "out"
    build(project, BuildOptions(out=folder), lambda _stage: None)
    names = ("segments", "stations", "checks", "verdicts", "loops", "legs")
    names += ("poses", "passings", "stopping", "comparisons", "outlooks", "bypasses")
    return Built(
        folder,
        {name: pd.read_parquet(folder / f"{name}.parquet") for name in names},
        tuple(setup.choice.name for setup in project.setups),
        project.requests[0].setups,
        {one.choice.name: make_envelope(one.vehicle, one.choice) for one in project.setups},
    )


# --- the map ---


@dataclass(slots=True)
class Opened:
    """A page that was opened, what it asked for and what it complained of."""

    page: "Page"
    requests: list[str] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)


@pytest.fixture(scope="module")
def browser() -> Iterator["Browser"]:
    """Start one Chromium for all tests of this module."""
    need(find_spec("playwright") is not None, "playwright is not installed")
    path = CHROMIUM if Path(CHROMIUM).exists() else shutil.which("chromium")
    need(path is not None, "Chromium is not installed")
    from playwright.sync_api import sync_playwright  # noqa: PLC0415 — only where it is there

    ARTEFACTS.mkdir(exist_ok=True)
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=path, args=["--no-sandbox", "--disable-gpu"])
        yield started
        started.close()


@pytest.fixture
def opened(browser: "Browser", built: Built) -> Iterator[Opened]:
    """Open the map with the network cut; at the end nothing was asked for and nothing complained of."""
    context = browser.new_context(viewport={"width": 1400, "height": 900}, offline=True)
    context.set_default_timeout(8000)
    context.route(re.compile(r"^(?!file:|data:)"), lambda route: route.abort())
    page = context.new_page()
    found = Opened(page)
    page.on("request", lambda request: found.requests.append(request.url))
    page.on("console", lambda message: found.complaints.append(message.text))
    page.on("pageerror", lambda error: found.complaints.append(str(error)))
    url = (built.folder / "map.html").as_uri()
    page.goto(url)
    yield found
    context.close()
    assert [one for one in found.requests if one != url and not one.startswith("data:")] == []
    assert found.complaints == []


def _click(page: "Page", segment: int) -> None:
    """Click the middle of a segment on the map, close enough in that no mark lies over it."""
    page.evaluate("i => MAP.setView(along(i, 0.37), 20, { animate: false })", segment)
    place = page.evaluate(
        "i => { const p = MAP.latLngToContainerPoint(along(i, 0.37)); return [p.x, p.y]; }",
        segment,
    )
    page.locator("#map_site").click(position={"x": place[0], "y": place[1]})


def _pick_of(built: Built) -> tuple[int, str]:
    """Choose the segment whose practised verdict is the most telling: a spotter's, and the longest of them."""
    spots = built["verdicts"][built["verdicts"]["verdict"] == "spot"]["segment_id"].unique()
    segments = built["segments"].reset_index(drop=True)
    row = segments[segments["segment_id"].isin(spots)]["length_m"].idxmax()
    return int(row), str(segments["segment_id"].iloc[row])


def _shown(page: "Page") -> dict[str, list[str]]:
    """Give the check table of the panel: check → demand, limit, utilisation, verdict as written."""
    rows = page.locator("#panel .checks tbody tr:not(.why)").all()
    return {row.locator("th").inner_text(): row.locator("td").all_inner_texts() for row in rows}


def _figure(text: str) -> float:
    """Read a figure as the page writes it; NaN for the dash."""
    found = re.match(r"−?[\d.]+", text)
    return float(found[0].replace("−", "-")) if found else np.nan


def _checks_agree(page: "Page", checks: pd.DataFrame) -> None:
    """Hold every row of the panel's table against the checks of one segment, set-up and direction."""
    shown = _shown(page)
    assert set(shown) == set(checks["check"].str.replace("_", " "))
    for row in checks.itertuples():
        demand, limit, share, verdict = shown[row.check.replace("_", " ")]
        assert verdict == row.verdict
        step = {"°": 0.1, "1/m": 0.001}.get(row.unit, 0.01)
        up, down = np.ceil(row.demand / step - 1e-3) * step, np.floor(row.limit / step + 1e-3) * step
        if step == 0.01 and up >= down and row.demand < row.limit:
            step = 0.001
            up, down = np.ceil(row.demand / step - 1e-3) * step, np.floor(row.limit / step + 1e-3) * step
        assert _figure(demand) == pytest.approx(up, abs=step / 50, nan_ok=True), row
        assert _figure(limit) == pytest.approx(down, abs=step / 50, nan_ok=True), row
        wanted = min(np.ceil(row.utilisation * 100 - 1e-6) / 100, 99.99)
        assert _figure(share) == pytest.approx(wanted, abs=1e-9, nan_ok=True), row


def _own(table: pd.DataFrame, segment_id: str, setup: str, direction: str) -> pd.DataFrame:
    """Give the rows of one segment, set-up and direction."""
    return table[(table["segment_id"] == segment_id) & (table["setup"] == setup) & (table["direction"] == direction)]


@pytest.mark.browser
def test_first_look_is_the_first_loop(opened: Opened, built: Built) -> None:
    """The map opens on the first set-up of the first loop, as the loop runs, and shows every segment of the site."""
    page = opened.page
    assert page.locator("#setup option:checked").inner_text().startswith(built.first_setups[0])
    assert page.locator("#way option:checked").inner_text() == "as the loop runs"
    assert page.locator("#course-head").inner_text() == built["loops"]["loop"].iloc[0]
    assert page.locator("#count").inner_text().startswith(f"{len(built['segments'])} of {len(built['segments'])} ")
    assert page.evaluate("lines.every(line => MAP.getBounds().contains(line.getBounds()))")
    assert page.locator(".mark:not(.crowded) .thing").count() == 0
    assert page.locator(".mark:not(.crowded) .place:not(.turnround)").count() >= 2
    page.screenshot(path=ARTEFACTS / "sample_map.png")


@pytest.mark.browser
def test_a_click_opens_the_profile_of_the_tables(opened: Opened, built: Built) -> None:
    """Heights, steepest grade and side slope at the pointer, worst point and every check are those of the tables."""
    page = opened.page
    row, segment_id = _pick_of(built)
    setup = built.setups[1]
    page.select_option("#setup", "1")
    page.select_option("#way", "0")
    _click(page, row)
    assert segment_id in page.locator("#panel .facts").inner_text()
    stations = built["stations"][built["stations"]["segment_id"] == segment_id]
    span = re.search(
        r"heights from (−?[\d.]+) to (−?[\d.]+) m", page.locator("#panel svg.profile title").text_content() or ""
    )
    assert span is not None
    assert _figure(span[1]) == pytest.approx(stations["z_m"].min(), abs=0.15)
    assert _figure(span[2]) == pytest.approx(stations["z_m"].max(), abs=0.15)
    _checks_agree(page, _own(built["checks"], segment_id, setup, "with"))
    (verdict,) = _own(built["verdicts"], segment_id, setup, "with").itertuples()
    worst = page.locator("#panel .worst-words").text_content() or ""
    assert worst == f"worst: {verdict.check.replace('_', ' ')} at {verdict.at_m:.0f} m"
    assert page.locator("#panel tr.deciding th").inner_text() == verdict.check.replace("_", " ")
    page.screenshot(path=ARTEFACTS / "sample_map_panel.png")


@pytest.mark.browser
def test_the_pointer_reads_the_stations(opened: Opened, built: Built) -> None:
    """At five places along the profile, height, grade and side slope are those of the station nearest to it."""
    page = opened.page
    row, segment_id = _pick_of(built)
    page.select_option("#way", "0")
    page.evaluate("i => pick(i, true)", row)
    stations = built["stations"][built["stations"]["segment_id"] == segment_id]
    page.locator("#panel svg.profile").scroll_into_view_if_needed()
    box = page.locator("#panel svg.profile").bounding_box()
    assert box is not None
    for share in (0.1, 0.3, 0.5, 0.7, 0.9):
        page.mouse.move(box["x"] + box["width"] * (44 + 346 * share) / 400, box["y"] + box["height"] * 0.3)
        words = page.locator("#panel .reading").text_content() or ""
        at, height, grade, side = re.findall(r"−?[\d.]+", words)
        near = stations[(stations["chainage_m"] - _figure(at)).abs() <= 1.0]
        for text, column, step in ((height, "z_m", 0.06), (grade, "grade_deg", 0.06), (side, "side_slope_deg", 0.06)):
            assert near[column].min() - step <= _figure(text) <= near[column].max() + step, (words, column)


@pytest.mark.browser
def test_choices_change_what_is_shown(opened: Opened, built: Built) -> None:
    """Another set-up, direction and check show that row of the tables; "all set-ups" is the severest of them."""
    page = opened.page
    row, segment_id = _pick_of(built)
    page.evaluate("i => pick(i, true)", row)
    for number, setup in enumerate(built.setups):
        for way, direction in enumerate(("with", "against")):
            page.select_option("#setup", str(number))
            page.select_option("#way", str(way))
            _checks_agree(page, _own(built["checks"], segment_id, setup, direction))
    page.select_option("#check", label="climb")
    last = built.setups[-1]
    for one in built["checks"][(built["checks"]["check"] == "climb") & (built["checks"]["setup"] == last)].itertuples():
        if one.direction == "against":
            index = built["segments"]["segment_id"].tolist().index(one.segment_id)
            assert page.evaluate("i => SITE.verdicts[worst(i).verdict].word", index) == one.verdict
    for select in ("#setup", "#way", "#check"):
        page.select_option(select, "")
    severest = built["verdicts"].assign(rank=built["verdicts"]["verdict"].map(RANK)).groupby("segment_id")["rank"].max()
    shown = page.evaluate("SEG.id.map((id, i) => [id, worst(i).verdict])")
    assert dict(map(tuple, shown)) == severest.to_dict()


def _telling(poses: pd.DataFrame) -> pd.DataFrame:
    """Choose poses worth a look: of every set-up and direction the steepest, the most leaning, the most twisted."""
    rows = [
        own[column].abs().idxmax()
        for _, own in poses.groupby(["setup", "direction"])
        for column in ("pitch_deg", "roll_deg", "twist_m")
    ]
    lifted = poses.index[poses["lifted"].notna()].tolist()
    decided = poses.groupby("check").head(1).index.tolist()
    return poses.loc[list(dict.fromkeys([*rows, *lifted, *decided]))]


@pytest.mark.browser
def test_the_panel_draws_the_poses_of_the_table(opened: Opened, built: Built) -> None:
    """Wheels, body, worst point and words of all five set-ups, with the line and against it, as in poses.parquet."""
    page = opened.page
    index = {segment_id: row for row, segment_id in enumerate(built["segments"]["segment_id"])}
    chosen = _telling(built["poses"])
    assert set(zip(chosen["setup"], chosen["direction"], strict=True)) == {
        (setup, way) for setup in built.setups for way in ("with", "against")
    }
    assert chosen["lifted"].notna().any()
    for row in chosen.itertuples():
        page.select_option("#setup", str(built.setups.index(row.setup)))
        page.select_option("#way", str(("with", "against").index(row.direction)))
        page.evaluate("i => pick(i, true)", index[row.segment_id])
        side, rear = read_view(page, "side-view"), read_view(page, "rear-view")
        assert side is not None, row
        check_side(side, row, built.envelopes[row.setup])
        if np.isfinite([row.roll_deg, row.twist_m]).all():
            assert rear is not None, row
            check_rear(rear, row, built.envelopes[row.setup])
    page.set_viewport_size({"width": 1400, "height": 3600})
    page.locator("#panel").screenshot(path=ARTEFACTS / "sample_pose.png")


@pytest.mark.browser
def test_the_panel_tells_passings_and_stopping_of_the_tables(opened: Opened, built: Built) -> None:
    """Every thing in the way with its advice, in the order it is met; the stopping distance at low grip, or none."""
    page = opened.page
    index = {segment_id: row for row, segment_id in enumerate(built["segments"]["segment_id"])}
    held = built["passings"].groupby(["segment_id", "setup", "direction"], sort=False)
    stopping = built["stopping"].set_index(["segment_id", "setup", "direction"])
    for (segment_id, setup, way), own in list(held)[::7]:
        page.select_option("#setup", str(built.setups.index(setup)))
        page.select_option("#way", str(("with", "against").index(way)))
        page.evaluate("i => pick(i, true)", index[segment_id])
        told = [" ".join(text.split()) for text in page.locator("#panel .passings:not(.water) li").all_inner_texts()]
        assert len(told) == len(own)
        ordered = own.sort_values("at_m", ascending=way == "with", kind="stable")
        for text, row in zip(told, ordered.itertuples(), strict=True):
            assert row.passing in text
            assert row.reason.removeprefix(f"{row.passing}: ") in text
        row = stopping.loc[(segment_id, setup, way)]
        words = page.locator("#panel-body").inner_text()
        if np.isinf(row.brake_low_m):
            assert "it cannot stop at low grip" in words
        else:
            assert f"{np.ceil(10 * (row.reaction_m + row.brake_low_m) - 1e-6) / 10:.1f} m at low grip" in words


@pytest.mark.browser
def test_comparisons_say_what_the_table_says(browser: "Browser", built: Built) -> None:
    """One row a verdict that changes, under its comparison; counts, and one line of reason each."""
    page = browser.new_page()
    page.goto((built.folder / "comparisons.html").as_uri())
    report = json.loads((built.folder / "report.json").read_text(encoding="utf-8"))["comparisons"]
    assert page.locator("section[id^=c] h2").all_inner_texts() == [one["comparison"] for one in report]
    table = built["comparisons"]
    for number, one in enumerate(report, start=1):
        own = table[table["comparison"] == one["comparison"]]
        rows = page.locator(f"#c{number} tbody tr")
        assert rows.count() == len(own) == one["better"] + one["worse"] == len(one["changed"])
        reasons = page.locator(f"#c{number} tbody td:last-child").all_inner_texts()
        moved = own["reason"].str.replace(r"^.* of what the driver may use: ", "", regex=True)
        assert sorted(reasons) == sorted(moved)
        assert all(reasons)
    page.screenshot(path=ARTEFACTS / "sample_comparisons.png")
    page.close()


@pytest.mark.browser
def test_choosing_a_loop_shows_its_own_set_up(opened: Opened, built: Built) -> None:
    """Every loop brings its set-up, its sense and its calls; none of its legs is drawn barred or unsurveyed."""
    page = opened.page
    index = {segment_id: row for row, segment_id in enumerate(built["segments"]["segment_id"])}
    calls = gpd.read_file(built.folder / "site.gpkg", layer="calls")
    for number, loop in enumerate(built["loops"].itertuples()):
        page.select_option("#loop", str(number))
        own = calls[(calls["loop"] == loop.loop) & (calls["rank"] == loop.rank)]
        assert page.locator("#course-body ol.calls li").count() == len(own)
        legs = built["legs"][(built["legs"]["loop"] == loop.loop) & (built["legs"]["rank"] == loop.rank)]
        for segment_id in legs["segment_id"].unique():
            assert page.evaluate("i => worst(i).verdict", index[segment_id]) < RANK["unsurveyed"]


@pytest.mark.browser
def test_the_keyboard_is_enough(opened: Opened, built: Built) -> None:
    """From the list, by Enter, to the panel and back; along the trails by arrow keys."""
    page = opened.page
    page.select_option("#order", "name")
    page.locator("#list button").first.focus()
    page.keyboard.press("Enter")
    assert page.locator("#panel").is_visible()
    picked = page.evaluate("choice.picked")
    page.locator("#panel-close").press("Enter")
    assert page.locator("#panel").is_hidden()
    assert page.evaluate("document.activeElement.dataset.segment") == str(picked)
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Enter")
    following = (picked + 1) % len(built["segments"])
    assert built["segments"]["segment_id"].iloc[following] in page.locator("#panel .facts").inner_text()


# --- the sheet on paper ---


@pytest.mark.browser
def test_sheets_fit_their_pages(browser: "Browser", built: Built, tmp_path: Path) -> None:
    """A round with up to ten calls takes at most four A4 pages, a longer one six; no page is nearly empty.

    One of them is for the lines past tight places, the water and the other weather, one for session plan and practice.
    """
    pypdf = pytest.importorskip("pypdf")
    page = browser.new_page()
    page.goto((built.folder / "drive_sheet.html").as_uri())
    page.pdf(path=tmp_path / "sheet.pdf", prefer_css_page_size=True)
    page.close()
    texts = [one.extract_text() for one in pypdf.PdfReader(tmp_path / "sheet.pdf").pages]
    starts = [number for number, text in enumerate(texts) if "Who drives it" in text]
    taken = np.diff([*starts, len(texts)])
    calls = gpd.read_file(built.folder / "site.gpkg", layer="calls").groupby(["loop", "rank"]).size()
    for loop, pages in zip(built["loops"].itertuples(), taken, strict=True):
        assert pages <= (4 if calls.get((loop.loop, loop.rank), 0) <= 10 else 6), loop.loop
    assert min(map(len, texts)) > 600


@pytest.mark.browser
def test_the_verdicts_of_every_set_up_fit_on_paper(browser: "Browser", built: Built) -> None:
    """Printed across A4, 273 mm between its margins, the table of the map loses no column."""
    page = browser.new_page(viewport={"width": 1031, "height": 700})
    page.goto((built.folder / "map.html").as_uri())
    page.emulate_media(media="print")
    heads = page.locator(".table thead th[colspan]")
    assert tuple(heads.all_inner_texts()) == built.setups
    rights = page.evaluate(
        "[...document.querySelectorAll('.table th, .table td')].map(c => c.getBoundingClientRect().right)"
    )
    page.close()
    assert max(rights) <= 1031


def test_verdicts_on_a_sheet_stand_below_their_own_set_up(built: Built) -> None:
    """Whatever the order in which a loop names its set-ups: every word is that of the verdicts table.

    A loop that is driven under other weather has the words of that; who goes round a leg has these.
    """
    keys = ["segment_id", "setup", "direction"]
    of_day = built["verdicts"].set_index(keys)["verdict"].to_dict()
    weather = {name: own.set_index(keys)["verdict"].to_dict() for name, own in built["outlooks"].groupby("outlook")}
    outlooks = built["loops"]["outlook"].tolist()
    rounds = set(built["legs"]["verdicts"].str.extractall(r"([^;]+): goes round")[0].str.strip())
    ways = {"→": "with", "←": "against"}
    sheets = html.fromstring((built.folder / "drive_sheet.html").read_text(encoding="utf-8")).xpath("//article")
    read = 0
    rows = [
        (weather.get(outlook, of_day), row)
        for sheet, outlook in zip(sheets, outlooks, strict=True)
        for row in sheet.xpath(".//table[contains(@class, 'legs')]/tbody/tr")
    ]
    for verdicts, row in rows:
        setups = [one.text for one in row.getparent().getparent().xpath("./thead//bdi")]
        (trail, way), words = row.xpath("./td[bdi]/bdi | ./td[bdi]/following-sibling::td[1]")[:2], row.xpath(".//span")
        segment_id = re.sub(r"^.*\(|\)$", "", trail.text)
        for setup, word in zip(setups, words, strict=True):
            meant = verdicts[segment_id, setup, ways.get(way.text, way.text)]
            assert word.text == meant or (word.text == "goes round" and setup in rounds and meant == "barred")
            read += 1
    assert read >= len(built["legs"])


def test_a_sheet_warns_of_its_own_vehicles_only(built: Built) -> None:
    """A warning of a set-up stands in the sheet of a loop that it drives, and in no other."""
    report = json.loads((built.folder / "report.json").read_text(encoding="utf-8"))
    sheets = re.split(r"<article", (built.folder / "drive_sheet.html").read_text(encoding="utf-8"))[1:]
    page = (built.folder / "map.html").read_text(encoding="utf-8")
    warned = {warning.split("'")[0] for setup in report["setups"] for warning in setup["warnings"]}
    assert warned
    for words in warned:
        assert words in page
        names = [one["setup"] for one in report["setups"] if any(words in text for text in one["warnings"])]
        for sheet in sheets:
            assert (words in sheet) == any(f"<bdi>{name}</bdi></b>:" in sheet for name in names)


# --- files for other programs ---


def test_gpx_says_what_the_tables_say(built: Built) -> None:
    """One track a loop with its length and climb, one point a call, each where the GeoPackage has it."""
    gpx = gpxpy.parse((built.folder / "loops.gpx").read_text(encoding="utf-8"))
    calls = gpd.read_file(built.folder / "site.gpkg", layer="calls").to_crs(4326)
    assert len(gpx.waypoints) == len(calls)
    for point, call in zip(gpx.waypoints, calls.itertuples(), strict=True):
        assert (point.longitude, point.latitude) == pytest.approx((call.geometry.x, call.geometry.y), abs=2e-7)
        assert call.coming in point.description
        assert call.before[1:] in point.description
        assert point.description.endswith("Spotter outside.") == call.spotter
    rounds = [track for track in gpx.tracks if ", bypass " in track.name]
    assert [track.length_2d() for track in rounds] == pytest.approx(built["bypasses"]["length_m"].tolist(), rel=0.01)
    tracks = [track for track in gpx.tracks if track not in rounds]
    assert len(tracks) == len(built["loops"])
    for track, loop in zip(tracks, built["loops"].itertuples(), strict=True):
        legs = built["legs"][(built["legs"]["loop"] == loop.loop) & (built["legs"]["rank"] == loop.rank)]
        assert len(track.segments) == len(legs)
        assert track.length_2d() == pytest.approx(loop.length_m, rel=0.01)
        heights = [point.elevation for segment in track.segments for point in segment.points]
        own = built["stations"][built["stations"]["segment_id"].isin(legs["segment_id"])]
        assert min(heights) == pytest.approx(own["z_m"].min(), abs=1.0)
        assert max(heights) == pytest.approx(own["z_m"].max(), abs=1.0)


def test_geopackage_says_what_the_tables_say(built: Built) -> None:
    """All six layers open in pyogrio in the working CRS, with the rows and figures of the tables."""
    path = built.folder / "site.gpkg"
    assert set(pyogrio.list_layers(path)[:, 0]) >= LAYERS
    layers = {name: pyogrio.read_dataframe(path, layer=name) for name in LAYERS}
    assert {layer.crs.to_epsg() for layer in layers.values()} == {25832}
    for name in ("segments", "verdicts", "loops"):
        columns = [column for column in built[name].columns if column in layers[name] and column != "geometry"]
        assert len(columns) > 5
        shown = pd.DataFrame(layers[name][columns]).reset_index(drop=True)
        pd.testing.assert_frame_equal(shown, built[name][columns].reset_index(drop=True), check_dtype=False)
    lengths = shapely.length(layers["segments"].geometry.to_numpy())
    assert lengths == pytest.approx(built["segments"]["length_m"].to_numpy(), abs=0.02)
    assert len(layers["obstacles"]) > 60
    assert len(layers["calls"]) > 0
    assert len(layers["repairs"]) > 0


def test_nothing_is_called_safe(built: Built) -> None:
    """The word stands in no product but as the name of the objective."""
    for path in sorted(built.folder.iterdir()):
        if path.suffix in {".html", ".gpx", ".json", ".md"}:
            text = re.sub(r"data:[\w/+-]+;base64,[\w+/=]+", "", path.read_text(encoding="utf-8"))
            text = text.replace("'unsafe-inline'", "")  # a keyword of the page's own policy
            assert set(re.findall(r"(?i)\b\w*safe\w*", text)) <= {"safest"}, path.name
    frames = [*built.tables.values(), gpd.read_file(built.folder / "site.gpkg", layer="calls")]
    for frame in frames:
        for column in frame.select_dtypes(include=["object", "string"]).columns:
            if column != "geometry":
                words = frame[column].dropna().astype(str)
                assert not words[words.str.contains("safe", case=False) & (words != "safest")].any(), column
