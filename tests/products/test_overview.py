"""The still picture and the table of the map page."""

from dataclasses import replace

import numpy as np
from lxml import etree

from pipeline.products.overview import ROWS, loop_table, overview, verdict_table
from tests.products.worlds import make_facts, many_segments

SVG = "{http://www.w3.org/2000/svg}"
FACTS = make_facts()


def test_each_cell_is_the_verdict_of_its_setup_and_direction() -> None:
    """Set-up by set-up, with before against; the word, the utilisation and the check that decides."""
    table = verdict_table(FACTS)
    key = FACTS.verdicts.set_index(["segment_id", "setup", "direction"])
    assert table.setups == ("Short wagon", "Long wagon")
    for row in table.rows:
        ways = [(setup, way) for setup in table.setups for way in ("with", "against")]
        for cell, way in zip(row.cells, ways, strict=True):
            expected = key.loc[(row.segment_id, *way)]
            assert cell.word == expected["verdict"]
            assert cell.check == expected["check"].replace("_", " ")


def test_a_missing_verdict_reads_unsurveyed() -> None:
    """Never as a pass."""
    short = replace(FACTS, verdicts=FACTS.verdicts.iloc[1:])
    assert verdict_table(short).rows[0].cells[0].word == "unsurveyed"


def test_a_long_table_says_what_it_leaves_out() -> None:
    """The count of segments beyond the last row."""
    table = verdict_table(many_segments(ROWS + 7))
    assert (len(table.rows), table.left_out) == (ROWS, 7)
    assert verdict_table(FACTS).left_out == 0


def _lines(facts: object) -> list[etree._Element]:
    return etree.fromstring(overview(facts)).findall(f"{SVG}polyline")  # type: ignore[arg-type]


def test_the_picture_shows_the_worst_verdict_by_pattern() -> None:
    """Barred lines get cross bars, unsurveyed ones a hollow; the spot line its broad dashes."""
    dashes = [line.get("stroke-dasharray") for line in _lines(FACTS)]
    assert dashes.count("2 6") == 1  # s4: barred for the long wagon
    assert "4 5" in dashes  # s3: spot
    hollow = [line for line in _lines(FACTS) if line.get("stroke") == "#ffffff" and line.get("stroke-width") == "4"]
    assert len(hollow) == 1  # s5


def test_the_picture_keeps_shape_and_north() -> None:
    """Same scale both ways, north up, all of it inside."""
    tree = etree.fromstring(overview(FACTS))
    width, height = (float(value) for value in tree.get("viewBox").split()[2:])
    first = next(line for line in tree.findall(f"{SVG}polyline"))
    points = np.array([[float(v) for v in pair.split(",")] for pair in first.get("points").split()])
    ground = np.array(FACTS.segments.geometry[0].coords)
    scale = (points[-1, 0] - points[0, 0]) / (ground[-1, 0] - ground[0, 0])
    assert abs((points[0, 1] - points[-1, 1]) - scale * (ground[-1, 1] - ground[0, 1])) < 0.2
    assert (points >= 0).all()
    assert (points <= [width, height]).all()


def test_large_and_empty_networks_have_no_picture() -> None:
    """The table is there all the same."""
    assert overview(many_segments(2001)) == ""
    empty = replace(FACTS, segments=FACTS.segments.iloc[:0], verdicts=FACTS.verdicts.iloc[:0])
    assert overview(empty) == ""


def test_every_loop_stands_with_its_bound() -> None:
    """Value, bound with its name, gap and proof; laps and weather where there are any."""
    loops = FACTS.loops.assign(laps=[1, 2], outlook=["After rain", "After rain"])
    first, second = loop_table(replace(FACTS, loops=loops))
    assert (first.title, first.value, first.gap) == ("Hill round", "41.5 m of exposure", "0.0 %")
    assert second.bound == "57.5 m of exposure (balance)"
    assert "2 laps; under After rain: ground wet" in second.asked
    assert "laps" not in first.asked
    assert second.proof.startswith("not proven")
