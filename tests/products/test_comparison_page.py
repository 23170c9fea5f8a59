"""``comparisons.html``: what changes, counted, listed and explained; for paper as for the screen."""

from dataclasses import replace

import pandas as pd
import pytest
from lxml import etree, html

from pipeline.checks.comparison.words import Side, change_sentence
from pipeline.products.cautioned import setup_warnings
from pipeline.products.comparison_page import comparison_page, comparisons
from pipeline.products.facts import Facts
from pipeline.products.outlook_facts import setups_under
from pipeline.products.plain import CAUTION, clean
from pipeline.terms import CheckName
from tests.products.worlds import HOSTILE, hostile_facts, make_facts, no_loops

FACTS = make_facts()


def _page(facts: Facts) -> etree._Element:
    return html.fromstring(comparison_page(facts))


def _side(limit: float) -> Side:
    return Side(20.0, limit, 0.5, 40.0 / limit, 0.0, "°", known=True, reason="")


def _text(element: etree._Element) -> str:
    return " ".join(" ".join(element.itertext()).split())


def test_every_comparison_has_its_counts_and_its_effect() -> None:
    """In the table on top, and in its own section."""
    page = _page(FACTS)
    rows = [[_text(cell) for cell in row] for row in page.xpath("//table[@class='sum']/tbody/tr")]
    assert rows == [
        ["Roof load", "Long wagon", "loads roof rack, luggage", "2", "1", "7"],
        ["Rain", "Short wagon", "ground wet", "0", "0", "10"],
    ]
    first, second = (_text(section) for section in page.xpath("//section[not(@class)]"))
    assert "centre of gravity 0.062 m higher" in first
    assert "No verdict changes." in second
    assert page.xpath("//table[@class='sum']//a/@href") == [
        f"#{one}" for one in page.xpath("//section[not(@class)]/@id")
    ]


def test_every_changed_verdict_is_a_row_worse_first() -> None:
    """Segment, direction, before → after, check, used before → after, reason; the severest on top."""
    (table,) = _page(FACTS).xpath("//table[@class='changed']")
    rows = [[_text(cell) for cell in row] for row in table.xpath("./tbody/tr")]
    assert rows == [
        ["Quarry climb s1", "← against", "▲ spot → barred", "roll", "0.91 → 1.12", "limit 27.1° → 22.0°"],
        [
            *("Meadow link s4", "→ with", "▲ watch → unsurveyed", "height", "0.75 → not known"),
            "no obstacle survey of it",
        ],
        [
            *("Stream descent s3", "→ with", "▽ watch → ample", "climb", "0.71 → 0.58"),
            "the ground asks 14.0° → 11.5°",
        ],
    ]


def test_check_and_use_are_not_told_twice() -> None:
    """They have columns of their own: the reason begins with what moved."""
    told = change_sentence(CheckName.ROLL, _side(40.0), _side(36.0))
    table = FACTS.comparisons.assign(reason=told)
    assert "of what the driver may use" in told
    found = [one.reason for compared in comparisons(replace(FACTS, comparisons=table)) for one in compared.changed]
    assert found == ["limit 40.0° → 36.0°"] * len(table)


def test_with_the_line_stands_before_against_it() -> None:
    """Of one segment that gets as much worse both ways."""
    first = FACTS.comparisons.iloc[:1]
    table = pd.concat([first, first.assign(direction="with")])
    (one, *_) = comparisons(replace(FACTS, comparisons=table))
    assert [row.direction for row in one.changed] == ["with", "against"]


def test_an_overrun_never_reads_as_the_limit() -> None:
    """Used is rounded up."""
    table = FACTS.comparisons.assign(used_after=1.0004)
    (first, *_), _ = (one.changed for one in comparisons(replace(FACTS, comparisons=table)))
    assert first.used.endswith("→ 1.01")


def test_better_and_worse_are_told_without_colour() -> None:
    """A filled and a hollow sign, with a word for readers; verdicts are words in boxes."""
    page = _page(FACTS)
    assert [(one.text, one.get("aria-label")) for one in page.xpath("//span[@class='sign']")] == [
        ("▲", "worse"),
        ("▲", "worse"),
        ("▽", "better"),
    ]
    assert {one.get("class").split()[1] == one.text for one in page.xpath("//span[starts-with(@class, 'v ')]")} == {
        True
    }


def test_it_stands_alone() -> None:
    """No script, no picture, no source; the policy forbids all but its own style; one link, to the map beside it."""
    page = _page(FACTS)
    assert page.xpath("//script | //img | //link | //iframe | //@src") == []
    (policy,) = page.xpath("//meta[@http-equiv='Content-Security-Policy']/@content")
    assert policy == "default-src 'none'; style-src 'unsafe-inline'"
    assert [one for one in page.xpath("//a/@href") if not one.startswith("#")] == ["map.html"]
    assert page.get("lang") == "en"


def test_the_caution_is_on_it() -> None:
    """On top and at the end."""
    assert _text(_page(FACTS)).count(CAUTION) == 2


@pytest.mark.parametrize("facts", [FACTS, hostile_facts()], ids=["plain", "hostile"])
def test_no_word_promises_safety(facts: Facts) -> None:
    """Less of a limit used is less of a limit used."""
    assert "safe" not in _text(_page(facts).xpath("//main")[0]).lower()


def test_hostile_names_are_text() -> None:
    """Comparisons, set-ups and segments with markup in their names, each in bdi."""
    page = _page(hostile_facts())
    assert [one.findtext("bdi") for one in page.xpath("//section[not(@class)]/h2")] == [
        clean(HOSTILE[2]),
        clean(HOSTILE[3]),
    ]
    assert clean(HOSTILE[0]) in {one.text for one in page.xpath("//th/bdi")}
    assert page.xpath("//script | //img") == []


def test_other_weather_stands_side_by_side() -> None:
    """For every set-up the verdicts of the day and of each outlook, as the report counts them."""
    (section,) = _page(FACTS).xpath("//section[@class='weather']")
    bodies = section.xpath(".//table[@class='counted']/tbody")
    told = [[[_text(cell) for cell in row] for row in body] for body in bodies]
    for number, rows in enumerate(told):
        unders = [list(setups_under(FACTS, one.name))[number] for one in FACTS.outlooked]
        assert rows[0] == [unders[0].setup, "the day", *map(str, unders[0].before.values()), "", ""]
        for row, under in zip(rows[1:], unders, strict=True):
            assert row[1:] == [*map(str, under.counts.values()), str(under.worse), str(under.better)]
        assert [row[0] for row in rows[1:]] == [f"{one.name} {one.words}" for one in FACTS.outlooked]


def test_loops_under_other_weather() -> None:
    """Every loop and set-up with its worst verdict and what that means, outlook by outlook."""
    (section,) = _page(FACTS).xpath("//section[@class='weather']")
    rows = [[_text(cell) for cell in row] for row in section.xpath(".//table[@class='driven']/tbody/tr")]
    assert rows[2] == [
        "Hill round",
        "Long wagon",
        "After rain",
        "barred",
        "cannot drive it: barred on s2 Top traverse (with): climb asks 31.4° of 24.0°",
    ]
    assert rows[3] == ["Like the day", "spot", "still drives it (spot at worst)"]
    assert len(rows) == 8


def test_the_page_is_made_of_what_was_asked_for() -> None:
    """Outlooks alone, comparisons alone; no loops, no table of loops; warnings of set-ups stand with the outlooks."""
    alone = _page(replace(FACTS, compared=()))
    assert alone.xpath("//table[@class='sum']") == []
    assert len(alone.xpath("//section[@class='weather']")) == 1
    bare = _page(replace(FACTS, outlooked=(), outlooks=FACTS.outlooks.iloc[:0]))
    assert bare.xpath("//section[@class='weather']") == []
    assert _page(no_loops(FACTS)).xpath("//table[@class='driven']") == []
    (warning,) = alone.xpath("//section[@class='weather']/p[@class='warn']")
    assert _text(warning) == setup_warnings(FACTS)[0]
