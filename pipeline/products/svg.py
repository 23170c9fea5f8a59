"""The pencil: elements of inline SVG for paper, in black and white.

Everything stands in presentation attributes, so that the same picture shows
in a browser, in a print and in the PDF. Sizes are millimetres. Every text is
escaped by the writer.
"""

from dataclasses import dataclass
from xml.etree import ElementTree as ET

import numpy as np
from numpy.typing import NDArray

from pipeline.products.plain import clean

__all__ = [
    "CallMark",
    "Floats",
    "Type",
    "call_mark",
    "nice_step",
    "path",
    "picture",
    "polygon",
    "rectangle",
    "text",
    "written",
]

Floats = NDArray[np.float64]
FONT = "Liberation Sans, Arial, Helvetica, DejaVu Sans, sans-serif"


@dataclass(frozen=True, slots=True)
class CallMark:
    """A numbered call on a picture."""

    number: int
    spotter: bool
    at_m: float
    """Distance along the loop."""
    xy: tuple[float, float]
    """Place in the working CRS."""


@dataclass(frozen=True, slots=True)
class Type:
    """How a text is set."""

    size: float = 2.5
    anchor: str = "start"
    """``start``, ``middle`` or ``end``, of SVG's ``text-anchor``."""
    fill: str = "#000000"
    bold: bool = False
    halo: bool = False
    """A white edge, so that it reads over lines."""


PLAIN = Type()


def nice_step(span: float, wanted: int) -> float:
    """Give the step of 1, 2 or 5 × a power of ten that cuts *span* into at most about *wanted* parts."""
    if not np.isfinite(span) or span <= 0:
        return 1.0
    rough = span / max(wanted, 1)
    power = 10.0 ** np.floor(np.log10(rough))
    return float(next((m * power for m in (1.0, 2.0, 5.0) if m * power >= rough * 0.999), 10.0 * power))


def picture(width: float, height: float, title: str) -> ET.Element:
    """Begin a picture; *title* is what a screen reader says of it."""
    root = ET.Element(
        "svg",
        {
            "xmlns": "http://www.w3.org/2000/svg",
            "viewBox": f"0 0 {width:g} {height:g}",
            "width": f"{width:g}mm",
            "height": f"{height:g}mm",
            "role": "img",
            "font-family": FONT,
        },
    )
    ET.SubElement(root, "title").text = clean(title)
    return root


def written(root: ET.Element) -> str:
    """Write the picture out."""
    return ET.tostring(root, encoding="unicode")


def path(
    root: ET.Element, points: Floats, *, stroke: str = "#000000", width: float, fill: str = "none", dash: str = ""
) -> None:
    """Draw a line through *points*, shape (n, 2)."""
    options = {"points": _points(points), "fill": fill, "stroke": stroke, "stroke-width": f"{width:g}"}
    options |= {"stroke-linejoin": "round"} | ({"stroke-dasharray": dash} if dash else {})
    ET.SubElement(root, "polyline", options)


def polygon(root: ET.Element, corners: Floats) -> None:
    """Fill a shape in black, with a white edge."""
    options = {"points": _points(corners), "fill": "#000000", "stroke": "#ffffff", "stroke-width": "0.3"}
    ET.SubElement(root, "polygon", options)


def rectangle(root: ET.Element, corner: tuple[float, float], size: tuple[float, float], fill: str, edge: str) -> None:
    """Draw a filled box with a fine edge from its upper left *corner*."""
    box = {"x": f"{corner[0]:.2f}", "y": f"{corner[1]:.2f}", "width": f"{size[0]:.2f}", "height": f"{size[1]:.2f}"}
    ET.SubElement(root, "rect", box | {"fill": fill, "stroke": edge, "stroke-width": "0.25"})


def text(root: ET.Element, at: tuple[float, float], content: str, setting: Type = PLAIN) -> None:
    """Set a text with its base line at *at*."""
    options = {"x": f"{at[0]:.2f}", "y": f"{at[1]:.2f}", "font-size": f"{setting.size:g}"}
    options |= {"text-anchor": setting.anchor, "fill": setting.fill}
    if setting.bold:
        options["font-weight"] = "bold"
    if setting.halo:
        options |= {"stroke": "#ffffff", "stroke-width": "0.7", "stroke-linejoin": "round", "paint-order": "stroke"}
    ET.SubElement(root, "text", options).text = clean(content)


def call_mark(root: ET.Element, at: Floats, call: CallMark, reach: float = 1.9) -> None:
    """Put a call's number in a circle of *reach* mm; in a black square where a spotter stands outside."""
    x, y = float(at[0]), float(at[1])
    if call.spotter:
        rectangle(root, (x - reach, y - reach), (2 * reach, 2 * reach), "#000000", "#ffffff")
    else:
        circle = {"cx": f"{x:.2f}", "cy": f"{y:.2f}", "r": f"{reach:g}", "fill": "#ffffff"}
        ET.SubElement(root, "circle", circle | {"stroke": "#000000", "stroke-width": "0.35"})
    ink = "#ffffff" if call.spotter else "#000000"
    text(root, (x, y + 0.45 * reach), str(call.number), Type(round(1.26 * reach, 2), "middle", ink, bold=True))


def _points(points: Floats) -> str:
    return " ".join(f"{x:.2f},{y:.2f}" for x, y in points)
