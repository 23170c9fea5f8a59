"""What is handed out, letter for letter.

The expected files lie in ``tests/golden``. After a change that is meant,
``LOOPWRIGHT_GOLDEN=update pytest tests/products/test_golden.py`` writes them
anew; the difference is then read in the commit. What came out instead of
what was expected is left in ``tests/artefacts``.
"""

import os
from collections.abc import Callable
from pathlib import Path

import pytest

from pipeline.products.drive_sheet import sheet_page
from pipeline.products.facts import Facts
from pipeline.products.gpx import gpx_text
from pipeline.products.report import report_text
from pipeline.products.styles import style
from tests.products.worlds import hostile_facts, make_facts, mixed

TESTS = Path(__file__).parents[1]
GOLDEN = TESTS / "golden"
ACTUAL = TESTS / "artefacts" / "golden"

MAKERS: dict[str, Callable[[Facts], str]] = {
    "drive_sheet.html": sheet_page,
    "loops.gpx": gpx_text,
    "report.json": report_text,
}


def _compare(name: str, actual: str) -> None:
    """Hold *actual* against the golden file, or write it where that was asked for."""
    expected = GOLDEN / name
    if os.environ.get("LOOPWRIGHT_GOLDEN") == "update":
        expected.write_text(actual, encoding="utf-8", newline="\n")
    if expected.read_text(encoding="utf-8") != actual:
        ACTUAL.mkdir(parents=True, exist_ok=True)
        (ACTUAL / name).write_text(actual, encoding="utf-8", newline="\n")
        pytest.fail(f"{name} differs from {expected}; what came out is in {ACTUAL / name}")


@pytest.mark.parametrize("name", MAKERS)
def test_products_are_what_they_were(name: str) -> None:
    """The plain world."""
    _compare(name, MAKERS[name](make_facts()))


@pytest.mark.parametrize("name", MAKERS)
def test_products_of_hostile_names_are_what_they_were(name: str) -> None:
    """The hostile world, where one goes round a leg: a change in the escaping shows here as text."""
    _compare(f"hostile_{name}", MAKERS[name](mixed(hostile_facts())))


@pytest.mark.parametrize("layer", ["verdicts", "loops", "bypasses"])
def test_styles_are_what_they_were(layer: str) -> None:
    """A layer style, as a desktop GIS reads it."""
    _compare(f"style_{layer}.qml", style(layer) + "\n")
