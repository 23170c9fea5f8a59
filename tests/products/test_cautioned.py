"""The warning of a modified vehicle with its maker's figures stands in every product that shows its set-up."""

import json
import sqlite3
from contextlib import closing
from pathlib import Path

import gpxpy
import pyarrow.parquet as pq
import pytest
from lxml import html

from pipeline.products.cautioned import setup_warnings
from pipeline.products.comparison_page import comparison_page
from pipeline.products.drive_sheet import sheet_page
from pipeline.products.geopackage import write_geopackage
from pipeline.products.gpx import gpx_text
from pipeline.products.map_data import map_data
from pipeline.products.map_page import map_page
from pipeline.products.parquet import KEY, PLANS, write_parquet
from pipeline.products.plain import clean
from pipeline.products.report import report
from pipeline.products.sheet_pdf import can_write_pdf
from tests.products.test_sheet_pdf import _pages
from tests.products.worlds import HOSTILE, hostile_facts, make_facts
from tests.tools import need

FACTS = make_facts()
WORDS = "maker's figures on a modified vehicle: measure it"
TOLD = f"Long wagon: {WORDS}"


def test_each_warning_stands_behind_its_set_up() -> None:
    """Of all set-ups, or of those that are shown."""
    assert setup_warnings(FACTS) == (TOLD,)
    assert setup_warnings(FACTS, ["Short wagon"]) == ()
    assert setup_warnings(FACTS, ["Long wagon", "Short wagon"]) == (TOLD,)
    assert setup_warnings(hostile_facts()) == (f"{clean(HOSTILE[1])}: {WORDS}",)


def test_map() -> None:
    """In the panel of whoever picks the set-up, and without scripts above the table of the verdicts."""
    assert [one["warnings"] for one in map_data(FACTS)["setups"]] == [[], [WORDS]]
    table = html.fromstring(map_page(FACTS)).xpath("//section[@class='table']")[0]
    assert TOLD in " ".join(" ".join(table.itertext()).split())


def test_sheet_and_pdf() -> None:
    """Beside the set-up, on every sheet that it drives."""
    need(can_write_pdf(), "the extra [pdf] (typst) is not installed")
    assert html.fromstring(sheet_page(FACTS)).xpath("//span[@class='warn']/text()") == [WORDS, WORDS]
    assert " ".join(_pages(FACTS)).count(WORDS) == 2


def test_gpx() -> None:
    """In the description of every track that the set-up drives."""
    tracks = gpxpy.parse(gpx_text(FACTS)).tracks
    assert [TOLD in (track.description or "") for track in tracks] == [True, True]
    alone = make_facts()
    object.__setattr__(alone, "loop_setups", {"Hill round": ("Short wagon",)})
    assert WORDS not in gpx_text(alone)


def test_geopackage(tmp_path: Path) -> None:
    """In the description of every layer that holds for set-ups."""
    with closing(sqlite3.connect(write_geopackage(FACTS, tmp_path / "site.gpkg"))) as database:
        told = dict(database.execute("SELECT table_name, description FROM gpkg_contents"))
    for layer in ("verdicts", "loops", "calls", "passings"):
        assert f"{TOLD}." in told[layer], layer
    assert TOLD not in told["segments"]


@pytest.mark.parametrize("name", PLANS)
def test_parquet(name: str, tmp_path: Path) -> None:
    """In the metadata of every table."""
    write_parquet(FACTS, tmp_path)
    about = json.loads(pq.read_schema(tmp_path / f"{name}.parquet").metadata[KEY])
    assert about["warnings"] == [TOLD]


def test_report() -> None:
    """With its set-up, among all warnings, and with every comparison that begins from it."""
    found = report(FACTS)
    assert [one["warnings"] for one in found["setups"]] == [[], [WORDS]]
    assert TOLD in found["warnings"]
    assert [one["warnings"] for one in found["comparisons"]] == [[TOLD], []]


def test_comparisons() -> None:
    """In the section of every comparison that begins from it, and in no other."""
    first, second = html.fromstring(comparison_page(FACTS)).xpath("//section[not(@class)]")
    assert [one.text_content() for one in first.xpath("./p[@class='warn']")] == [TOLD]
    assert second.xpath("./p[@class='warn']") == []
