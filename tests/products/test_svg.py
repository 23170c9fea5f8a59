"""The pencil of the paper pictures."""

import numpy as np
import pytest
from lxml import etree

from pipeline.products.svg import CallMark, Type, call_mark, nice_step, path, picture, polygon, rectangle, text, written
from tests.products.worlds import HOSTILE

SVG = "{http://www.w3.org/2000/svg}"


@pytest.mark.parametrize(
    ("span", "wanted", "step"),
    [(100, 4, 50), (100, 5, 20), (7, 4, 2), (0.9, 3, 0.5), (1000, 1, 1000), (0, 4, 1), (np.inf, 4, 1)],
)
def test_steps_are_1_2_or_5(span: float, wanted: int, step: float) -> None:
    """Round numbers, at most about as many as wanted."""
    assert nice_step(span, wanted) == pytest.approx(step)


@pytest.mark.parametrize("hostile", HOSTILE)
def test_texts_stay_texts(hostile: str) -> None:
    """Markup in a title or a text is escaped; the picture stays well formed."""
    root = picture(10, 10, hostile)
    text(root, (1, 1), hostile)
    tree = etree.fromstring(written(root))
    assert [etree.QName(child).localname for child in tree] == ["title", "text"]
    assert tree[0].text == tree[1].text


def test_a_picture_has_its_size_in_millimetres_and_a_title() -> None:
    """It prints at true size, and a screen reader has something to say."""
    tree = etree.fromstring(written(picture(88, 78.5, "Map")))
    assert (tree.get("width"), tree.get("height"), tree.get("viewBox")) == ("88mm", "78.5mm", "0 0 88 78.5")
    assert tree.get("role") == "img"
    assert tree.find(f"{SVG}title").text == "Map"


def test_a_spotter_is_a_black_square_and_a_plain_call_a_circle() -> None:
    """Told apart by shape and by inversion, not by colour."""
    root = picture(10, 10, "")
    call_mark(root, np.array([3.0, 3.0]), CallMark(1, spotter=False, at_m=0, xy=(0, 0)))
    call_mark(root, np.array([6.0, 3.0]), CallMark(2, spotter=True, at_m=0, xy=(0, 0)))
    tree = etree.fromstring(written(root))
    assert tree.find(f"{SVG}circle").get("fill") == "#ffffff"
    assert tree.find(f"{SVG}rect").get("fill") == "#000000"
    assert [one.get("fill") for one in tree.findall(f"{SVG}text")] == ["#000000", "#ffffff"]


def test_strokes_and_settings_arrive_as_attributes() -> None:
    """No style sheet is needed, so the PDF shows the same."""
    root = picture(10, 10, "")
    path(root, np.array([[0.0, 0.0], [1.234, 5.678]]), width=0.5, dash="1 2")
    polygon(root, np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]]))
    rectangle(root, (1, 2), (3, 4), "#ffffff", "#000000")
    text(root, (0, 0), "x", Type(size=3, anchor="end", bold=True, halo=True))
    tree = etree.fromstring(written(root))
    line = tree.find(f"{SVG}polyline")
    assert (line.get("points"), line.get("stroke-dasharray"), line.get("stroke-width")) == (
        "0.00,0.00 1.23,5.68",
        "1 2",
        "0.5",
    )
    assert len(tree.find(f"{SVG}polygon").get("points").split()) == 3
    assert tree.find(f"{SVG}rect").get("height") == "4.00"
    words = tree.find(f"{SVG}text")
    assert (words.get("font-weight"), words.get("paint-order"), words.get("text-anchor")) == ("bold", "stroke", "end")
    assert all(element.get("style") is None and element.get("class") is None for element in tree.iter())
