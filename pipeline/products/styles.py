"""Layer styles that a desktop GIS applies by itself: QML for the ``layer_styles`` table of a GeoPackage.

Verdicts are told apart by line pattern and width first, by colour second;
the two directions are drawn side by side, and the severer verdict on top
where set-ups lie over each other.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from xml.etree import ElementTree as ET

from pipeline.products.palette import INK, LOOP, UNKNOWN
from pipeline.terms import ObstacleKind, Passing, Status, Verdict

__all__ = ["STYLES", "style"]

Options = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class _Layer:
    """One layer of a symbol: a symbol-layer class with its options, perhaps with a symbol of its own."""

    kind: str
    options: Options
    inner: "_Layer | None" = None
    along: bool = False
    """Shift the line to the side of its direction of travel."""


@dataclass(frozen=True, slots=True)
class _Symbol:
    """A symbol: its geometry and its layers, lowest first."""

    shape: str
    layers: tuple[_Layer, ...]
    order: int = 0
    """Symbols of a higher order are drawn later."""


@dataclass(frozen=True, slots=True)
class _Classes:
    """Symbols by the value of a column."""

    column: str
    symbols: Mapping[str, _Symbol] = field(default_factory=dict)


def _rgba(hex_colour: str, alpha: int = 255) -> str:
    red, green, blue = (int(hex_colour[at : at + 2], 16) for at in (1, 3, 5))
    return f"{red},{green},{blue},{alpha}"


def _line(colour: str, width_mm: float, dash_mm: Sequence[float] = (), *, along: bool = False) -> _Layer:
    options = {
        "line_color": _rgba(colour),
        "line_width": str(width_mm),
        "line_width_unit": "MM",
        "line_style": "solid",
        "capstyle": "flat",
        "joinstyle": "round",
        "use_custom_dash": "1" if dash_mm else "0",
        "customdash": ";".join(str(length) for length in dash_mm) or "5;2",
        "customdash_unit": "MM",
    }
    return _Layer("SimpleLine", options, along=along)


def _marker(shape: str, fill: str, size_mm: float, outline: str = INK) -> _Layer:
    options = {
        "name": shape,
        "color": _rgba(fill),
        "outline_color": _rgba(outline),
        "outline_width": "0.3",
        "size": str(size_mm),
        "size_unit": "MM",
    }
    return _Layer("SimpleMarker", options)


def _spaced(inner: _Layer, interval_mm: float) -> _Layer:
    options = {"placement": "interval", "interval": str(interval_mm), "interval_unit": "MM", "rotate": "1"}
    return _Layer("MarkerLine", options, inner=inner)


_CASING = _line("#ffffff", 1.8, along=True)

_VERDICTS = _Classes(
    "verdict",
    {
        Verdict.AMPLE.value: _Symbol("line", (_CASING, _line("#8a8779", 0.5, along=True)), 0),
        Verdict.WATCH.value: _Symbol("line", (_CASING, _line("#575d6d", 0.8, (3.2, 1.2), along=True)), 1),
        Verdict.SPOT.value: _Symbol("line", (_CASING, _line("#123570", 1.3, (1.0, 1.2), along=True)), 2),
        Verdict.UNSURVEYED.value: _Symbol(
            "line", (_line(UNKNOWN, 1.5, along=True), _line("#ffffff", 0.9, along=True)), 3
        ),
        Verdict.BARRED.value: _Symbol(
            "line",
            (_CASING, _line(INK, 0.5, along=True), _line(INK, 2.0, (0.4, 1.6), along=True)),
            4,
        ),
    },
)

_SEGMENTS = _Classes(
    "status",
    {
        Status.OPEN.value: _Symbol("line", (_line("#ffffff", 1.4), _line(INK, 0.5)), 2),
        Status.CLOSED.value: _Symbol("line", (_line("#ffffff", 1.4), _line(UNKNOWN, 0.5, (0.6, 1.4))), 1),
        Status.PROPOSED.value: _Symbol("line", (_line("#ffffff", 1.4), _line(UNKNOWN, 0.5, (3.0, 1.6))), 0),
    },
)

_LOOPS = _Classes(
    "rank",
    {
        "1": _Symbol("line", (_line(LOOP, 1.6), _spaced(_marker("filled_arrowhead", LOOP, 3.4), 18.0)), 1),
        "": _Symbol(
            "line", (_line(LOOP, 0.8, (2.4, 1.4)), _spaced(_marker("filled_arrowhead", "#ffffff", 2.8), 18.0)), 0
        ),
    },
)

_BYPASSES = _Classes(
    "bypass",
    {
        "": _Symbol(
            "line",
            (
                _line("#ffffff", 1.8),
                _line(LOOP, 1.0, (1.2, 1.2)),
                _spaced(_marker("filled_arrowhead", "#ffffff", 2.8, LOOP), 12.0),
            ),
        )
    },
)
"""Ways round in short dashes of the loop's colour."""

_CALLS = _Classes(
    "spotter",
    {
        "1": _Symbol("marker", (_marker("diamond", INK, 3.6),), 1),
        "0": _Symbol("marker", (_marker("circle", "#ffffff", 3.0),), 0),
    },
)

_SHAPES: Mapping[str, tuple[str, str]] = {
    **dict.fromkeys((ObstacleKind.ROCK, ObstacleKind.LOG, ObstacleKind.STEP), ("triangle", INK)),
    **dict.fromkeys((ObstacleKind.HOLE, ObstacleKind.DITCH, ObstacleKind.RUT), ("triangle", "#ffffff")),
    **dict.fromkeys((ObstacleKind.TREE, ObstacleKind.POST, ObstacleKind.BRANCH), ("cross_fill", INK)),
    ObstacleKind.GAP: ("cross_fill", "#ffffff"),
    **dict.fromkeys((ObstacleKind.WATER, ObstacleKind.SOFT), ("circle", "#3b496c")),
    **dict.fromkeys((ObstacleKind.TURNROUND, ObstacleKind.TRAILHEAD), ("square", "#ffffff")),
    **dict.fromkeys((ObstacleKind.MUSTER, ObstacleKind.EXIT), ("square", INK)),
    ObstacleKind.NOTE: ("circle", "#ffffff"),
}
"""Kind of obstacle → marker and fill: up is a full triangle, down a hollow one, beside a cross, places squares."""

_OBSTACLES = _Classes(
    "kind", {kind: _Symbol("marker", (_marker(shape, fill, 2.6),)) for kind, (shape, fill) in _SHAPES.items()}
)

_PASSINGS = _Classes(
    "passing",
    {
        Passing.STRADDLE.value: _Symbol("marker", (_marker("square", "#ffffff", 2.8),), 0),
        Passing.TREAD.value: _Symbol("marker", (_marker("triangle", INK, 2.8),), 1),
        Passing.ROUND.value: _Symbol("marker", (_marker("circle", "#ffffff", 2.8),), 2),
        Passing.UNSURVEYED.value: _Symbol("marker", (_marker("diamond", "#ffffff", 3.2, UNKNOWN),), 3),
        Passing.BARRED.value: _Symbol("marker", (_marker("cross_fill", INK, 3.4),), 4),
    },
)

_ROOM_LINES = _Classes(
    "missing_m",
    {
        "0": _Symbol(
            "line", (_line("#ffffff", 1.2), _line(INK, 0.5), _spaced(_marker("filled_arrowhead", INK, 2.2), 5.0))
        ),
        "": _Symbol("line", (_line("#ffffff", 1.6), _line(INK, 0.9, (1.2, 0.8))), 1),
    },
)
"""Lines that pass unbroken with arrowheads, those that do not in broad short dashes."""

_CROSSINGS = _Classes(
    "kind",
    {
        "flow path": _Symbol("marker", (_marker("triangle", "#3b496c", 3.0),)),
        "hollow": _Symbol("marker", (_marker("circle", "#ffffff", 3.0, "#3b496c"),)),
        "surveyed only": _Symbol("marker", (_marker("circle", "#3b496c", 2.6),)),
    },
)

STYLES: Mapping[str, _Classes] = {
    "segments": _SEGMENTS,
    "verdicts": _VERDICTS,
    "loops": _LOOPS,
    "bypasses": _BYPASSES,
    "calls": _CALLS,
    "obstacles": _OBSTACLES,
    "passings": _PASSINGS,
    "lines": _ROOM_LINES,
    "crossings": _CROSSINGS,
}
"""Layer of the GeoPackage → how its features are told apart."""


def style(layer: str) -> str:
    """Write the QML document of a layer in :data:`STYLES`."""
    classes = STYLES[layer]
    root = ET.Element("qgis", {"version": "3.22.0", "styleCategories": "Symbology"})
    renderer = ET.SubElement(
        root,
        "renderer-v2",
        {"type": "categorizedSymbol", "attr": classes.column, "symbollevels": "1", "enableorderby": "0"},
    )
    categories = ET.SubElement(renderer, "categories")
    symbols = ET.SubElement(renderer, "symbols")
    for index, (value, symbol) in enumerate(classes.symbols.items()):
        label = value or "others"
        ET.SubElement(categories, "category", {"value": value, "label": label, "symbol": str(index), "render": "true"})
        _symbol(symbols, symbol, str(index))
    ET.indent(root, " ")
    return "<!DOCTYPE qgis PUBLIC 'http://mrcc.com/qgis.dtd' 'SYSTEM'>\n" + ET.tostring(root, encoding="unicode")


def _symbol(parent: ET.Element, symbol: _Symbol, name: str) -> None:
    """Add a symbol under *parent*; inner symbols are named ``@outer@layer``."""
    element = ET.SubElement(parent, "symbol", {"type": symbol.shape, "name": name, "alpha": "1", "clip_to_extent": "1"})
    for index, layer in enumerate(symbol.layers):
        order = {"class": layer.kind, "pass": str(symbol.order), "enabled": "1", "locked": "0"}
        own = ET.SubElement(element, "layer", order)
        options = ET.SubElement(own, "Option", {"type": "Map"})
        for key, value in layer.options.items():
            ET.SubElement(options, "Option", {"type": "QString", "name": key, "value": value})
        for key, value in layer.options.items():  # readers before 3.26 take these
            ET.SubElement(own, "prop", {"k": key, "v": value})
        if layer.along:
            _beside(own)
        if layer.inner is not None:
            _symbol(own, _Symbol("marker", (layer.inner,), symbol.order), f"@{name}@{index}")


def _beside(parent: ET.Element) -> None:
    """Shift a line 1 mm to the right of the direction of travel by a data-defined offset."""
    outer = ET.SubElement(parent, "data_defined_properties")
    top = ET.SubElement(outer, "Option", {"type": "Map"})
    ET.SubElement(top, "Option", {"type": "QString", "name": "name", "value": ""})
    properties = ET.SubElement(top, "Option", {"type": "Map", "name": "properties"})
    offset = ET.SubElement(properties, "Option", {"type": "Map", "name": "offset"})
    ET.SubElement(offset, "Option", {"type": "bool", "name": "active", "value": "true"})
    expression = "CASE WHEN \"direction\" = 'with' THEN 1 ELSE -1 END"
    ET.SubElement(offset, "Option", {"type": "QString", "name": "expression", "value": expression})
    ET.SubElement(offset, "Option", {"type": "int", "name": "type", "value": "3"})
    ET.SubElement(top, "Option", {"type": "QString", "name": "type", "value": "collection"})
