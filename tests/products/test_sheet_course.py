"""What goes with a loop on its sheet."""

from dataclasses import replace

from pipeline.products.drive_sheet import sheet_page
from pipeline.products.sheet_facts import sheets
from pipeline.products.sheet_pdf import can_write_pdf
from tests.products.test_sheet_pdf import _pages
from tests.products.worlds import make_facts, mixed
from tests.tools import need

FACTS = mixed(make_facts())
RAINY = replace(FACTS, loops=FACTS.loops.assign(outlook="After rain"))


def test_who_goes_round_has_no_verdict_on_that_leg() -> None:
    """The word stands in its place; the others keep their verdict, and so does the alternative."""
    first, second = sheets(FACTS)
    plain, _ = sheets(make_facts())
    assert [leg.verdicts[1] for leg in first.legs] == [
        plain.legs[0].verdicts[1],
        "goes round",
        plain.legs[2].verdicts[1],
    ]
    assert [leg.verdicts[0] for leg in first.legs] == [leg.verdicts[0] for leg in plain.legs]
    assert "goes round" not in {word for leg in second.legs for word in leg.verdicts}


def test_a_loop_for_other_weather_has_its_verdicts_and_no_figures_of_the_day() -> None:
    """Rain bars s2 to the long wagon; stops and doubt are known of the day only."""
    _, rainy = sheets(replace(RAINY, legs=make_facts().legs))
    _, day = sheets(make_facts())
    then = RAINY.outlooks[RAINY.outlooks["outlook"] == "After rain"]
    words = then.set_index(["segment_id", "setup", "direction"])["verdict"]
    driven = [("s3", "against"), ("s2", "against"), ("s1", "against")]
    told = [tuple(words[segment, setup, way] for setup in ("Short wagon", "Long wagon")) for segment, way in driven]
    assert [leg.verdicts for leg in rainy.legs] == told
    assert told != [leg.verdicts for leg in day.legs]
    assert {leg.stops for leg in rainy.legs} == {"–"}
    assert (rainy.doubt, rainy.course.made_for) == ((), "After rain")
    assert day.course.made_for == "the day it was made for"


def test_map_names_where_they_split_and_meet() -> None:
    """Beside the last turn; the way round is dashed."""
    first, second = (sheet.map_svg for sheet in sheets(FACTS))
    for words in ("split 1", "meet 1", "last turn", "stroke-dasharray"):
        assert words in first
        assert words not in second


def test_page_and_pdf_say_the_same_of_the_course() -> None:
    """Ways round, descents, plan and practice stand on both."""
    page = sheet_page(FACTS)
    need(can_write_pdf(), "the extra [pdf] (typst) is not installed")
    paper = " ".join(_pages(FACTS))
    for words in ("Ways round", "Descents and spotters", "Session plan", "What it teaches", "goes round", "250.0"):
        assert words in page
        assert words in paper


def test_a_loop_for_other_weather_says_so_on_paper() -> None:
    """Above everything else."""
    need(can_write_pdf(), "the extra [pdf] (typst) is not installed")
    assert "For other weather: After rain: ground wet" in _pages(RAINY)[0]
    assert "For other weather" in sheet_page(RAINY)
