"""The pencil of the measuring sheet: lines, letters and dimensions of a vehicle to scale, as inline SVG for paper.

Points are metres on the vehicle's axes; a view puts them on paper in millimetres.
"""

from dataclasses import dataclass
from typing import Any
from xml.etree import ElementTree as ET

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["HAIR", "HEAVY", "LINE", "View", "picture", "written"]

Floats = NDArray[np.float64]

HAIR, LINE, HEAVY = 0.15, 0.3, 0.6
"""Widths of lines, mm."""
_LETTER_MM = 2.1
"""Half the size of a letter's ring."""
_ARROW_MM = 1.6


def picture(width_mm: float, height_mm: float, title: str) -> ET.Element:
    """Begin a picture; *title* is what a screen reader says of it."""
    size = {"width": f"{width_mm:g}mm", "height": f"{height_mm:g}mm", "viewBox": f"0 0 {width_mm:g} {height_mm:g}"}
    root = ET.Element("svg", {"xmlns": "http://www.w3.org/2000/svg", "role": "img", **size})
    ET.SubElement(root, "title").text = title
    return root


def written(root: ET.Element) -> str:
    """Write the picture out."""
    return ET.tostring(root, encoding="unicode")


@dataclass(frozen=True, slots=True)
class View:
    """A place on the paper for a drawing to scale."""

    root: ET.Element
    scale: float
    """Millimetres of paper in a metre."""
    origin: tuple[float, float]
    """Place of the drawing's origin on paper, mm from the upper left."""
    pivot: tuple[float, float] = (0.0, 0.0)
    """Point, m, about which the drawing is turned."""
    turn: float = 0.0
    """Turn, rad, counterclockwise."""

    def paper(self, points: ArrayLike) -> Floats:
        """Put points, m, shape (n, 2), on paper, mm."""
        arms = np.atleast_2d(np.asarray(points, dtype=np.float64)) - self.pivot
        cosine, sine = np.cos(self.turn), np.sin(self.turn)
        turned = arms @ np.array([[cosine, sine], [-sine, cosine]]) + self.pivot
        return np.asarray(turned * (self.scale, -self.scale) + self.origin, dtype=np.float64)

    def line(self, points: ArrayLike, width: float = LINE, *, dash: str = "", fill: str = "none") -> None:
        """Draw a line through *points*, a shape where it has a *fill*."""
        kind = "polyline" if fill == "none" else "polygon"
        options = {"stroke": "#000", "stroke-width": f"{width:g}", "fill": fill, "stroke-linejoin": "round"}
        if dash:
            options["stroke-dasharray"] = dash
        ET.SubElement(self.root, kind, {"points": _listed(self.paper(points)), **options})

    def circle(self, centre: ArrayLike, radius: float, width: float = LINE, fill: str = "#fff") -> None:
        """Draw a circle of *radius* m."""
        x, y = self.paper(centre)[0]
        options = {"cx": f"{x:.2f}", "cy": f"{y:.2f}", "r": f"{radius * self.scale:.2f}"}
        ET.SubElement(self.root, "circle", {**options, "fill": fill, "stroke": "#000", "stroke-width": f"{width:g}"})

    def cross(self, at: ArrayLike, reach: float = 0.9) -> None:
        """Mark a point by a cross of *reach* mm to each side."""
        x, y = self.paper(at)[0]
        path = f"M{x - reach:.2f} {y:.2f}H{x + reach:.2f}M{x:.2f} {y - reach:.2f}V{y + reach:.2f}"
        ET.SubElement(self.root, "path", {"d": path, "stroke": "#000", "stroke-width": f"{LINE:g}", "fill": "none"})

    def text(self, at: ArrayLike, words: str, *, size: float = 2.6, off: tuple[float, float] = (0.0, 0.0)) -> None:
        """Set *words* centred on a point moved by *off* mm, with a white edge."""
        x, y = self.paper(at)[0] + off
        _text(self.root, (x, y), words, size)

    def letter(self, at: ArrayLike, letter: str, *, off: tuple[float, float] = (0.0, 0.0)) -> None:
        """Put a letter in a ring on a point moved by *off* mm."""
        x, y = self.paper(at)[0] + off
        ring = {"cx": f"{x:.2f}", "cy": f"{y:.2f}", "r": f"{_LETTER_MM:g}", "fill": "#fff", "stroke": "#000"}
        ET.SubElement(self.root, "circle", {**ring, "stroke-width": f"{LINE:g}"})
        _text(self.root, (x, y), letter, 2.9, bold=True)

    def dimension(self, start: ArrayLike, end: ArrayLike, letter: str, *, move: float = 0.0) -> None:
        """Draw a dimension between two points: extension lines, arrows both ways, its letter in the middle.

        Parameters
        ----------
        start, end
            What is measured, m.
        letter
            Its letter; several small letters are set without a ring.
        move
            How far, mm, the line stands off: for a level one downwards, for an upright one to the right.
        """
        ends = self.paper([*np.atleast_2d(start), *np.atleast_2d(end)])
        level = abs(ends[1, 1] - ends[0, 1]) <= abs(ends[1, 0] - ends[0, 0])
        placed = ends + (np.array([0.0, move]) if level else np.array([move, 0.0]))
        for here, there in zip(ends, placed, strict=True):
            self._stroke(here, there + 0.6 * np.sign(there - here))
        self._stroke(*placed)
        for tip, other in (placed, placed[::-1]):
            self._arrow(tip, other)
        x, y = placed.mean(axis=0)
        paper = View(self.root, 1.0, (0.0, 0.0))
        if letter.isupper():
            paper.letter((x, -y), letter)
        else:
            paper.text((x, -y), letter, size=3.0)

    def span(self, start: ArrayLike, end: ArrayLike) -> None:
        """Draw a line with arrows both ways between two points, m."""
        ends = self.paper(np.array([start, end], dtype=np.float64))
        self._stroke(*ends)
        self._arrow(ends[0], ends[1])
        self._arrow(ends[1], ends[0])

    def _stroke(self, start: Floats, end: Floats) -> None:
        """Draw a hair line on paper."""
        options = {"points": _listed(np.array([start, end])), "stroke": "#000", "stroke-width": f"{HAIR:g}"}
        ET.SubElement(self.root, "polyline", options)

    def _arrow(self, tip: Floats, other: Floats) -> None:
        """Draw the head of an arrow that comes from *other*."""
        along = (tip - other) / max(float(np.hypot(*(tip - other))), 1e-9)
        back, aside = tip - _ARROW_MM * along, 0.28 * _ARROW_MM * along[::-1] * (1.0, -1.0)
        ET.SubElement(self.root, "polygon", {"points": _listed(np.array([tip, back + aside, back - aside]))})


def _text(root: ET.Element, at: tuple[float, float], words: str, size: float, *, bold: bool = False) -> None:
    """Set *words* centred on a place on paper."""
    options: dict[str, Any] = {"x": f"{at[0]:.2f}", "y": f"{at[1] + 0.36 * size:.2f}", "font-size": f"{size:g}"}
    options |= {"text-anchor": "middle", "stroke": "#fff", "stroke-width": "0.8", "paint-order": "stroke"}
    ET.SubElement(root, "text", options | ({"font-weight": "bold"} if bold else {})).text = words


def _listed(points: Floats) -> str:
    return " ".join(f"{x:.2f},{y:.2f}" for x, y in points)
