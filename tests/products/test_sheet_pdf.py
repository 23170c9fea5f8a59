"""``drive_sheet.pdf``: the same sheet from Typst."""

import io
import sys

import pypdf
import pytest

from pipeline.products.facts import Facts
from pipeline.products.plain import CAUTION
from pipeline.products.sheet_pdf import can_write_pdf, sheet_pdf
from tests.products.worlds import hostile_facts, make_facts, no_loops
from tests.tools import need

FACTS = make_facts()


@pytest.fixture(autouse=True)
def typst_is_here() -> None:
    """Ask for the extra before each test."""
    need(can_write_pdf(), "the extra [pdf] (typst) is not installed")


def _pages(facts: Facts) -> list[str]:
    """Text of every page, white space as single spaces."""
    reader = pypdf.PdfReader(io.BytesIO(sheet_pdf(facts)))
    return [" ".join(page.extract_text().split()) for page in reader.pages]


def test_every_page_carries_the_caution() -> None:
    """In the foot of each page, whatever it is torn from."""
    pages = _pages(FACTS)
    assert len(pages) >= 3
    assert all(CAUTION in page for page in pages)


def test_it_says_what_the_page_says() -> None:
    """Loops, calls, set-ups, reasons of what was not found."""
    text = " ".join(_pages(FACTS))
    for words in (
        "Hill round",
        "descent of 17° for 38 m",
        "Long wagon",
        "no loop of 9 km exists here",
        "Hill top",
        "1980 kg",
    ):
        assert words in text


def test_hostile_names_stay_text() -> None:
    """Names reach the template as data: markup of HTML, Jinja or Typst is shown, not obeyed."""
    facts = make_facts(names=("#panic()", "*bold* _x_ $y$", "@ref <label>", "= head", "\\ #{1+1}"))
    text = " ".join(_pages(facts))
    for name in ("#panic() (s1)", "*bold* _x_ $y$ (s2)", "@ref <label> (s3)"):
        assert name in text
    assert "{{7*7}}" in " ".join(_pages(hostile_facts()))


def test_a_site_without_loops_gets_one_page() -> None:
    """That says that none was asked for."""
    (page,) = _pages(no_loops(FACTS))
    assert "No loop was asked for" in page


def test_pages_are_a4() -> None:
    """210 × 297 mm, in points of 1/72 inch."""
    for page in pypdf.PdfReader(io.BytesIO(sheet_pdf(FACTS))).pages:
        assert float(page.mediabox.width) == pytest.approx(210 / 25.4 * 72, abs=0.5)
        assert float(page.mediabox.height) == pytest.approx(297 / 25.4 * 72, abs=0.5)


def test_the_same_facts_give_the_same_bytes() -> None:
    """The time in it is the time of the build."""
    assert sheet_pdf(FACTS) == sheet_pdf(make_facts())


def test_without_the_extra_it_says_no(monkeypatch: pytest.MonkeyPatch) -> None:
    """Asked beforehand, so that the build leaves the file out instead of failing."""
    monkeypatch.setitem(sys.modules, "typst", None)
    with pytest.raises(ModuleNotFoundError):
        sheet_pdf(FACTS)
