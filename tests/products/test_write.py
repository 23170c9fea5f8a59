"""All products together: the folder of the contract, twice the same."""

import os
from pathlib import Path

import pytest

from pipeline.errors import OutputError
from pipeline.products import write
from pipeline.products.facts import Facts
from pipeline.products.sheet_pdf import can_write_pdf
from pipeline.products.write import write_products
from tests.products.ground_worlds import without_ground
from tests.products.worlds import hostile_facts, make_facts, mixed, no_loops, with_heights
from tests.tools import need

FACTS = make_facts()
NAMES = [
    "map.html",
    "drive_sheet.html",
    "drive_sheet.pdf",
    "comparisons.html",
    "loops.gpx",
    "site.gpkg",
    *(f"{name}.parquet" for name in ("segments", "stations", "checks", "verdicts", "techniques", "loops", "legs")),
    *(f"{name}.parquet" for name in ("poses", "passings", "stopping", "fitness", "comparisons")),
    *(f"{name}.parquet" for name in ("lines", "crossings", "outlooks")),
    *(f"{name}.parquet" for name in ("practice", "session", "bypasses", "convoy")),
    "report.json",
]


@pytest.mark.parametrize(
    "facts",
    [FACTS, mixed(hostile_facts()), no_loops(FACTS), with_heights(FACTS)],
    ids=["plain", "hostile", "no loops", "heights"],
)
def test_the_folder_of_the_contract(facts: Facts, tmp_path: Path) -> None:
    """Every file of the contract but those of the rebuild, and no other."""
    need(can_write_pdf(), "the extra [pdf] (typst) is not installed")
    written = write_products(facts, tmp_path)
    assert [path.name for path in written] == NAMES
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted(NAMES)
    assert all(path.stat().st_size > 0 for path in written)


def test_twice_the_same_bytes(tmp_path: Path) -> None:
    """The same facts give the same folder, byte for byte, over an older one as well as into an empty one."""
    first, second = tmp_path / "first", tmp_path / "second"
    first.mkdir()
    second.mkdir()
    write_products(hostile_facts(), second)
    for one, other in zip(write_products(FACTS, first), write_products(make_facts(), second), strict=True):
        assert one.read_bytes() == other.read_bytes(), one.name


def test_without_the_extra_there_is_no_pdf(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The build does not fail for it, and does not list what it did not write."""
    monkeypatch.setattr(write, "can_write_pdf", lambda: False)
    written = write_products(FACTS, tmp_path)
    assert "drive_sheet.pdf" not in [path.name for path in written]
    assert not (tmp_path / "drive_sheet.pdf").exists()


def test_a_pdf_of_an_older_build_does_not_stay_behind(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A sheet of yesterday beside the map of today would mislead."""
    (tmp_path / "drive_sheet.pdf").write_bytes(b"yesterday")
    monkeypatch.setattr(write, "can_write_pdf", lambda: False)
    write_products(FACTS, tmp_path)
    assert not (tmp_path / "drive_sheet.pdf").exists()


def test_comparisons_nobody_asked_for_leave_no_page(tmp_path: Path) -> None:
    """Nor does the page of an older build stay behind: the map would not link to it, and its figures would be old."""
    (tmp_path / "comparisons.html").write_bytes(b"yesterday")
    written = write_products(without_ground(FACTS), tmp_path)
    assert "comparisons.html" not in [path.name for path in written]
    assert not (tmp_path / "comparisons.html").exists()


def test_a_folder_that_cannot_be_written_is_one_clear_error(tmp_path: Path) -> None:
    """Exit status 74, with the file that could not be written."""
    gone = tmp_path / "gone"
    with pytest.raises(OutputError, match=r"map\.html") as caught:
        write_products(FACTS, gone)
    assert caught.value.exit_status == 74


def test_a_package_that_cannot_be_written_is_the_same_error(tmp_path: Path) -> None:
    """The driver's own errors are no OSError; they too become one."""
    (tmp_path / "site.gpkg").mkdir()
    (tmp_path / "site.gpkg" / "in the way").write_text("x", encoding="utf-8")
    with pytest.raises(OutputError, match=r"site\.gpkg"):
        write_products(FACTS, tmp_path)


def test_the_facts_are_left_as_they_were(tmp_path: Path) -> None:
    """No product changes a frame it reads."""
    facts, twin = make_facts(), make_facts()
    write_products(facts, tmp_path)
    for name in ("segments", "obstacles", "repairs", "stations", "checks", "verdicts", "loops", "legs", "calls"):
        assert getattr(facts, name).equals(getattr(twin, name)), name
    for name in ("passings", "stopping", "fitness", "comparisons", "practice", "session", "convoy"):
        assert getattr(facts, name).equals(getattr(twin, name)), name
    assert facts.poses is not None
    assert twin.poses is not None
    assert facts.poses.table.equals(twin.poses.table)
    assert os.environ.get("OGR_CURRENT_DATE") is None
