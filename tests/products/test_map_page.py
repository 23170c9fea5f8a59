"""``map.html`` as a file: complete, closed, and the same every time."""

import base64
import hashlib
import json
import re

import pytest
from lxml import etree, html

from pipeline.products.facts import Facts
from pipeline.products.map_data import map_data
from pipeline.products.map_page import map_page
from pipeline.products.plain import CAUTION, clean
from tests.products.worlds import HOSTILE, hostile_facts, make_facts, many_segments, no_loops

FACTS = make_facts()
WORLDS = {"plain": FACTS, "hostile": hostile_facts(), "no loops": no_loops(FACTS)}


def _page(facts: Facts) -> etree._Element:
    return html.document_fromstring(map_page(facts))


@pytest.mark.parametrize("facts", WORLDS.values(), ids=WORLDS)
def test_the_data_block_holds_the_data(facts: Facts) -> None:
    """Parsed back, it is what was gathered; hostile names do not end it early."""
    (block,) = _page(facts).xpath("//script[@type='application/json']")
    assert json.loads(block.text) == json.loads(json.dumps(map_data(facts)))


@pytest.mark.parametrize("facts", WORLDS.values(), ids=WORLDS)
def test_scripts_are_ours_and_admitted_by_their_hashes(facts: Facts) -> None:
    """CSP level 2, "hash-source": the policy names the SHA-256 of each inline script and style, and no other."""
    page = _page(facts)
    policy = page.xpath("//meta[@http-equiv='Content-Security-Policy']/@content")[0]
    inline = [one.text for one in page.xpath("//script[not(@src) and not(@type)] | //style")]
    digests = {base64.b64encode(hashlib.sha256(text.encode()).digest()).decode() for text in inline}
    assert digests == set(re.findall(r"'sha256-([^']+)'", policy))
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert len(page.xpath("//script")) == 4


@pytest.mark.parametrize("facts", WORLDS.values(), ids=WORLDS)
def test_nothing_points_outside(facts: Facts) -> None:
    """Every source is data; the links are to the drive sheet and, where there are any, the comparisons beside it."""
    page = _page(facts)
    assert all(one.startswith("data:") for one in page.xpath("//@src | //link/@href"))
    assert [one for one in page.xpath("//a/@href") if not one.startswith("#")] == [
        *(["comparisons.html"] if facts.compared else []),
        "drive_sheet.html",
    ]
    assert page.xpath("//img | //iframe | //object | //embed") == []
    assert not [name for element in page.iter(etree.Element) for name in element.attrib if name.startswith("on")]


def test_no_name_was_read_as_a_template() -> None:
    """Branca renders strings twice; had a name passed through it, 7*7 would stand there as 49."""
    shown = " ".join(map_page(hostile_facts()).split())
    assert "\\u007b\\u007b7*7\\u007d\\u007d" in shown
    assert "{{7*7}}" in " ".join(_page(hostile_facts()).xpath("//section[@class='table']")[0].itertext())


def test_the_page_has_language_title_viewport_and_caution() -> None:
    """Lang and title for readers; a viewport that lets people zoom in; the caution in sight."""
    page = _page(FACTS)
    assert page.get("lang") == "en"
    assert page.findtext(".//title") == "Trail map – Fernhollow training ground"
    assert page.xpath("//meta[@name='viewport']/@content") == ["width=device-width, initial-scale=1"]
    assert CAUTION in " ".join(page.xpath("//p[@class='caution']")[0].text_content().split())


def test_without_scripts_there_is_a_table_and_a_picture() -> None:
    """All verdicts as a table, always there; the network as a still picture for browsers without scripts."""
    page = _page(FACTS)
    rows = page.xpath("//section[@class='table']//tbody/tr")
    assert [row.xpath("string(./th)") for row in rows] == list(FACTS.segments["segment_id"])
    words = [span.text for row in rows for span in row.xpath(".//span")]
    assert words == list(FACTS.verdicts["verdict"])
    assert "<svg" in html.tostring(page.xpath("//noscript")[0]).decode()


def test_hostile_names_stand_in_the_table_as_text() -> None:
    """Each in bdi, so that an override character ends with it."""
    table = _page(hostile_facts()).xpath("//section[@class='table']")[0]
    names = [one.text for one in table.xpath(".//tbody/tr/td[1]/bdi")]
    assert names == [clean(name) for name in HOSTILE]


def test_the_licence_of_leaflet_rides_along() -> None:
    """BSD 2-Clause asks for the notice in what is handed out."""
    assert "BSD 2-Clause License" in map_page(FACTS)


def test_the_same_facts_give_the_same_page() -> None:
    """No clock, no random id."""
    assert map_page(FACTS) == map_page(make_facts())


def test_seventy_five_segments_fit_in_two_megabytes() -> None:
    """The bulk of a page is the checks; the relief of a site of 90 ha adds some 0.3 MB."""
    assert len(map_page(many_segments(75)).encode()) < 1_200_000


def test_twenty_thousand_segments_still_make_a_page() -> None:
    """A scaled check: 2,500 segments stay under 1.5 kB each, table cut with a word about it."""
    page = map_page(many_segments(2500))
    assert len(page.encode()) < 1500 * 2500
    assert "2000 more segments are not in this table" in page


def test_no_word_promises_safety() -> None:
    """The page says it only as the name of the objective, which is data."""
    page = map_page(FACTS)
    text = " ".join(_page(FACTS).xpath("//body")[0].itertext())
    visible = text.split('{"format"')[0]
    assert page
    assert re.findall(r"(?i)\bsafe\w*", visible) == ["safest", "safest"]


def test_a_bar_below_the_limit_is_explained() -> None:
    """In the legend and above the table: utilisation is of the limit, a verdict of the driver's share of it."""
    assert map_page(make_facts()).count("A driver may use only a share of each limit") == 2
    assert map_page(make_facts()).startswith("<!DOCTYPE html>")
