"""Layer styles: well formed, complete, and told apart without colour."""

import pytest
from lxml import etree

from pipeline.products.styles import STYLES, style
from pipeline.terms import ObstacleKind, Passing, Status, Verdict


def _tree(layer: str) -> etree._Element:
    return etree.fromstring(style(layer).encode())


@pytest.mark.parametrize("layer", STYLES)
def test_every_category_has_its_symbol(layer: str) -> None:
    """Categories point at symbols by number; a number without a symbol would draw nothing."""
    root = _tree(layer)
    wanted = {category.get("symbol") for category in root.iter("category")}
    symbols = root.find("renderer-v2/symbols")
    assert wanted == {symbol.get("name") for symbol in symbols}


@pytest.mark.parametrize(
    ("layer", "column", "values"),
    [
        ("verdicts", "verdict", {verdict.value for verdict in Verdict}),
        ("segments", "status", {status.value for status in Status}),
        ("obstacles", "kind", {kind.value for kind in ObstacleKind}),
        ("passings", "passing", {passing.value for passing in Passing}),
        ("lines", "missing_m", {"0", ""}),
        ("crossings", "kind", {"flow path", "hollow", "surveyed only"}),
    ],
)
def test_every_word_of_the_column_is_drawn(layer: str, column: str, values: set[str]) -> None:
    """A verdict, status or kind without a category would vanish from the map."""
    root = _tree(layer)
    assert root.find("renderer-v2").get("attr") == column
    assert {category.get("value") for category in root.iter("category")} == values


def _look(symbol: etree._Element) -> tuple[tuple[str | None, str | None], ...]:
    """Width and dash of every layer of a symbol: what is left of it without colour."""
    return tuple(
        (
            layer.find("prop[@k='line_width']").get("v"),
            layer.find("prop[@k='customdash']").get("v")
            if layer.find("prop[@k='use_custom_dash']").get("v") == "1"
            else None,
        )
        for layer in symbol.findall("layer")
    )


def test_verdicts_differ_by_pattern_and_width_alone() -> None:
    """On a black-and-white print, no two verdicts look the same."""
    looks = [_look(symbol) for symbol in _tree("verdicts").find("renderer-v2/symbols")]
    assert len(set(looks)) == len(Verdict)


def test_the_severer_verdict_is_drawn_on_top() -> None:
    """Where set-ups lie over each other, the severest is what is seen."""
    symbols = _tree("verdicts").find("renderer-v2/symbols")
    order = [{int(layer.get("pass")) for layer in symbol.findall("layer")} for symbol in symbols]
    assert order == [{verdict.rank} for verdict in Verdict]


def test_the_two_directions_lie_side_by_side() -> None:
    """Each verdict line is shifted to the side of its direction of travel."""
    for layer in _tree("verdicts").iter("layer"):
        expressions = [option.get("value") for option in layer.iter("Option") if option.get("name") == "expression"]
        assert expressions == ["CASE WHEN \"direction\" = 'with' THEN 1 ELSE -1 END"]


def test_older_and_newer_readers_find_the_same_values() -> None:
    """Values stand both as Option (from 3.22 on) and as prop (before)."""
    for layer in _tree("loops").iter("layer"):
        options = {one.get("name"): one.get("value") for one in layer.find("Option").findall("Option")}
        assert options == {one.get("k"): one.get("v") for one in layer.findall("prop")}


def test_a_loop_shows_its_direction() -> None:
    """Arrowheads stand along it, inside a marker line of their own."""
    root = _tree("loops")
    inner = [symbol.get("name") for symbol in root.iter("symbol") if symbol.get("name").startswith("@")]
    assert inner == ["@0@1", "@1@1"]
    assert "filled_arrowhead" in style("loops")
