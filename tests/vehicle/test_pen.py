"""The pencil of the measuring sheet: places on paper, dimensions, letters."""

from xml.etree import ElementTree as ET

import numpy as np
import pytest

from pipeline.vehicle.pen import View, picture, written


def view(**options: object) -> View:
    """Make a view of 20 mm to the metre with its origin at (100, 80) on the paper."""
    return View(picture(200, 100, "a & b"), 20.0, (100.0, 80.0), **options)  # type: ignore[arg-type]


def points(element: ET.Element) -> np.ndarray:
    """Read the points of a line."""
    return np.array([[float(part) for part in pair.split(",")] for pair in element.attrib["points"].split()])


def test_metres_become_millimetres() -> None:
    """Forward is right, up is up."""
    assert view().paper([(1.0, 0.5), (-2.0, 0.0)]) == pytest.approx(np.array([[120.0, 70.0], [60.0, 80.0]]))


def test_turn_is_nose_up_about_the_pivot() -> None:
    """A quarter turn puts what lies ahead of the pivot above it; the pivot stays."""
    turned = view(pivot=(-2.0, 0.5), turn=np.pi / 2)
    assert turned.paper([(-2.0, 0.5), (0.0, 0.5)]) == pytest.approx(np.array([[60.0, 70.0], [60.0, 30.0]]))


def test_picture_says_its_size_and_title() -> None:
    """Millimetres for paper, a title for a screen reader, markup escaped."""
    text = written(picture(186, 40.5, "a < b"))
    assert 'width="186mm" height="40.5mm" viewBox="0 0 186 40.5"' in text
    assert "<title>a &lt; b</title>" in text


def test_level_dimension_stands_below_what_it_measures() -> None:
    """Extension lines from both ends, a line 6 mm below them, two arrows, the letter in the middle."""
    drawn = view()
    drawn.dimension((-1.0, 0.0), (1.0, 0.0), "A", move=6.0)
    lines = [points(one) for one in drawn.root.iter("polyline")]
    assert lines[0] == pytest.approx(np.array([[80.0, 80.0], [80.0, 86.6]]))
    assert lines[2] == pytest.approx(np.array([[80.0, 86.0], [120.0, 86.0]]))
    tips = [points(one)[0] for one in drawn.root.iter("polygon")]
    assert sorted(tip[0] for tip in tips) == [80.0, 120.0]
    letter = drawn.root.find("text")
    assert letter is not None
    assert (letter.text, letter.attrib["x"]) == ("A", "100.00")


def test_upright_dimension_stands_beside() -> None:
    """The line of a height stands to the left with a negative move; a small letter has no ring."""
    drawn = view()
    drawn.dimension((0.0, 0.0), (0.0, 1.5), "z", move=-8.0)
    line = points(list(drawn.root.iter("polyline"))[2])
    assert line == pytest.approx(np.array([[92.0, 80.0], [92.0, 50.0]]))
    assert drawn.root.find("circle") is None


def test_span_has_arrows_both_ways() -> None:
    """A slanting measure: one line, an arrow head at each end that points outwards."""
    drawn = view()
    drawn.span((0.0, 0.0), (1.0, 1.0))
    heads = [points(one) for one in drawn.root.iter("polygon")]
    assert [head[0].tolist() for head in heads] == [[100.0, 80.0], [120.0, 60.0]]
    assert all(100.0 < x < 120.0 for head in heads for x in head[1:, 0])
