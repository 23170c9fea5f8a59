"""``drive_sheet.html``: a page that stands by itself and prints without colour."""

import re

import pytest
from lxml import etree, html

from pipeline.products.drive_sheet import sheet_page
from pipeline.products.facts import Facts
from pipeline.products.plain import CAUTION, clean
from pipeline.products.templating import source
from pipeline.terms import Verdict
from tests.products.worlds import HOSTILE, hostile_facts, make_facts, no_loops

FACTS = make_facts()
WORLDS = {"plain": FACTS, "hostile": hostile_facts(), "no loops": no_loops(FACTS)}


def _page(facts: Facts) -> etree._Element:
    return html.document_fromstring(sheet_page(facts))


@pytest.mark.parametrize("facts", WORLDS.values(), ids=WORLDS)
def test_the_caution_stands_on_every_sheet(facts: Facts) -> None:
    """Each sheet may be handed out alone."""
    sheets = _page(facts).xpath("//article")
    assert sheets
    for sheet in sheets:
        assert CAUTION in " ".join(sheet.text_content().split())


@pytest.mark.parametrize("facts", WORLDS.values(), ids=WORLDS)
def test_nothing_is_loaded_and_nothing_runs(facts: Facts) -> None:
    """No script, no link to anything, no handler, no style but the page's own; the policy says so too."""
    page = _page(facts)
    assert page.xpath("//script | //link | //img | //iframe | //object | //a[@href]") == []
    assert not [name for element in page.iter() for name in element.attrib if name.startswith("on")]
    policy = page.xpath("//meta[@http-equiv='Content-Security-Policy']/@content")[0]
    assert policy.startswith("default-src 'none'")
    assert "url(" not in source("sheet.css")


def test_hostile_names_are_shown_as_they_are() -> None:
    """Markup, templates and control characters come out as text."""
    shown = " ".join(_page(hostile_facts()).text_content().split())
    for hostile in HOSTILE[:4]:
        assert clean(hostile) in shown
    assert "49" not in re.findall(r"\b49\b", shown)


def test_names_cannot_turn_the_text_round_them() -> None:
    """Every name stands in bdi: an override character ends with it."""
    page = _page(hostile_facts())
    turned = [element for element in page.iter() if element.text and "\u202e" in element.text]
    assert turned
    assert {element.tag for element in turned} == {"bdi"}


def test_the_page_has_language_title_and_viewport() -> None:
    """What a screen reader and a phone ask first."""
    page = _page(FACTS)
    assert page.get("lang") == "en"
    assert page.findtext(".//title") == "Drive sheet – Fernhollow training ground"
    assert page.xpath("//meta[@name='viewport']/@content") == ["width=device-width, initial-scale=1"]


def test_calls_table_has_a_head_that_repeats_and_a_row_a_call() -> None:
    """The head row is a table header group, which print repeats on each page."""
    table = _page(FACTS).xpath("//table[@class='calls']")[0]
    assert len(table.xpath("./thead/tr/th[@scope='col']")) == 5
    assert [row.xpath("string(./td[1])") for row in table.xpath("./tbody/tr")] == ["1", "2", "3", "4"]
    assert [row.xpath("string(./td[5])") for row in table.xpath("./tbody/tr")] == ["", "", "outside", "outside"]
    assert "display: table-header-group" in source("sheet.css")


def test_style_is_black_and_white_a4() -> None:
    """Every colour of the sheet is a grey; the page is A4; text is 9.5 pt."""
    css = source("sheet.css")
    assert "size: A4" in css
    assert "9.5pt" in css
    on_paper = css.split("@media screen")[0].replace("html { background: #dcdad4; }", "")
    for colour in re.findall(r"#([0-9a-fA-F]{3,6})\b", on_paper):
        step = len(colour) // 3
        assert len({colour[i : i + step] for i in range(0, len(colour), step)}) == 1, colour


def test_every_verdict_has_a_look_of_its_own() -> None:
    """White, boxed, thickly boxed, dashed, inverted: no two the same."""
    css = source("sheet.css")
    looks = {verdict: tuple(re.findall(rf"\.v\.{verdict.value} \{{(.*?)\}}", css)) for verdict in Verdict}
    assert len(set(looks.values())) == len(Verdict)


def test_a_site_without_loops_gets_a_page_that_says_so() -> None:
    """No empty sheet, no error."""
    page = _page(no_loops(FACTS))
    assert "No loop was asked for" in page.text_content()
    assert not page.xpath("//table")


def test_a_loop_that_was_not_found_has_its_reason() -> None:
    """On a sheet of its own."""
    last = _page(FACTS).xpath("//article")[-1]
    assert last.findtext(".//h1") == "Loops that were not found"
    assert "no loop of 9 km exists here" in last.text_content()


def test_alternatives_are_shorter() -> None:
    """The checks before the start stand once, on the loop itself."""
    first, second = _page(FACTS).xpath("//article")[:2]
    assert "Before the start" in first.text_content()
    assert "Before the start" not in second.text_content()


def test_no_sheet_says_safe() -> None:
    """The word stands only as the name of the objective."""
    text = " ".join(_page(FACTS).itertext())
    assert re.findall(r"(?i)\bsafe\w*", text) == ["safest", "safest"]


def test_the_same_facts_give_the_same_page() -> None:
    """No clock, no random number."""
    assert sheet_page(FACTS) == sheet_page(make_facts())
