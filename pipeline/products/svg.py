"""Line pictures for paper: the outline map and the height profile of a loop, as inline SVG in black and white.

Everything stands in presentation attributes, so that the same picture shows
in a browser, in a print and in the PDF. Sizes are millimetres.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from xml.etree import ElementTree as ET

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.products.plain import clean, number

__all__ = ["CallMark", "MapPicture", "PlaceMark", "ProfilePicture", "nice_step", "outline_map", "profile"]

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
class PlaceMark:
    """A named place on the map."""

    word: str
    xy: tuple[float, float]


@dataclass(frozen=True, slots=True)
class MapPicture:
    """What the outline map shows; coordinates in the working CRS, metres."""

    network: Sequence[shapely.LineString]
    legs: Sequence[Floats]
    """One array (n, 2) a leg, in driving order."""
    calls: Sequence[CallMark]
    places: Sequence[PlaceMark]
    width_mm: float = 88.0
    height_mm: float = 78.0


@dataclass(frozen=True, slots=True)
class ProfilePicture:
    """What the profile shows."""

    at_m: Floats
    """Distance along the loop, ascending."""
    z_m: Floats
    """Height there; NaN where it is not known."""
    legs: Sequence[tuple[float, str]]
    """Where each leg starts along the loop, and its short name."""
    calls: Sequence[CallMark]
    title: str
    width_mm: float = 182.0
    height_mm: float = 46.0


def nice_step(span: float, wanted: int) -> float:
    """Give the step of 1, 2 or 5 × a power of ten that cuts *span* into at most about *wanted* parts."""
    if not np.isfinite(span) or span <= 0:
        return 1.0
    rough = span / max(wanted, 1)
    power = 10.0 ** np.floor(np.log10(rough))
    return float(next((m * power for m in (1.0, 2.0, 5.0) if m * power >= rough * 0.999), 10.0 * power))


def outline_map(picture: MapPicture) -> str:
    """Draw the loop over the thin lines of the network, with calls, places, north and scale."""
    root = _picture(picture.width_mm, picture.height_mm, "Outline map of the loop, north up")
    place = _Frame.around(picture)
    for line in picture.network:
        _path(root, place.to_mm(shapely.get_coordinates(line)), stroke="#777777", width=0.22)
    for leg in picture.legs:
        _path(root, place.to_mm(leg), stroke="#ffffff", width=1.9)
    for leg in picture.legs:
        _path(root, place.to_mm(leg), stroke="#000000", width=0.85)
    for leg in picture.legs:
        _arrow(root, place.to_mm(leg))
    for mark in picture.places:
        _place(root, place.to_mm(np.array([mark.xy]))[0], mark.word)
    for call in picture.calls:
        _call(root, place.to_mm(np.array([call.xy]))[0], call)
    _north(root, picture.width_mm - 5.0, 4.0)
    _scale(root, place.mm_per_m, picture.height_mm - 2.5)
    return ET.tostring(root, encoding="unicode")


def profile(picture: ProfilePicture) -> str:
    """Draw height over distance, with calls above and the legs below; gaps where no height is known."""
    root = _picture(picture.width_mm, picture.height_mm, picture.title)
    known = picture.z_m[np.isfinite(picture.z_m)]
    if not len(known):
        _text(root, (picture.width_mm / 2, picture.height_mm / 2), "no heights known", anchor="middle")
        return ET.tostring(root, encoding="unicode")
    axes = _Axes.of(picture, float(known.min()), float(known.max()))
    axes.grid(root)
    for run in _runs(picture.z_m):
        points = axes.to_mm(picture.at_m[run], picture.z_m[run])
        base = np.array([[points[-1, 0], axes.bottom], [points[0, 0], axes.bottom]])
        _path(root, np.vstack([points, base]), stroke="none", width=0, fill="#e4e4e4")
        _path(root, points, stroke="#000000", width=0.5)
    for start, name in picture.legs:
        axes.leg(root, start, name)
    for call in picture.calls:
        axes.call(root, call, picture)
    return ET.tostring(root, encoding="unicode")


@dataclass(frozen=True, slots=True)
class _Frame:
    """Fits working coordinates into the picture, same scale both ways, north up."""

    west: float
    north: float
    mm_per_m: float
    left: float
    top: float

    @classmethod
    def around(cls, picture: MapPicture) -> "_Frame":
        points = np.vstack([*picture.legs, *(np.array([mark.xy]) for mark in picture.places)])
        low, high = points.min(axis=0), points.max(axis=0)
        size = np.maximum(high - low, 1.0)
        room = np.array([picture.width_mm - 12.0, picture.height_mm - 16.0])
        scale = float((room / size).min())
        rest = (room - size * scale) / 2
        return cls(float(low[0]), float(high[1]), scale, 6.0 + float(rest[0]), 6.0 + float(rest[1]))

    def to_mm(self, points: Floats) -> Floats:
        x = self.left + (points[:, 0] - self.west) * self.mm_per_m
        y = self.top + (self.north - points[:, 1]) * self.mm_per_m
        return np.column_stack([x, y])


@dataclass(frozen=True, slots=True)
class _Axes:
    """Axes of the profile."""

    left: float
    right: float
    top: float
    bottom: float
    length_m: float
    low_m: float
    high_m: float

    @classmethod
    def of(cls, picture: ProfilePicture, low: float, high: float) -> "_Axes":
        step = nice_step(max(high - low, 5.0), 4)
        bottom, top = np.floor(low / step) * step, np.ceil(high / step) * step
        length = max(float(picture.at_m[-1]), 1.0)
        return cls(10.0, picture.width_mm - 3.0, 8.0, picture.height_mm - 9.0, length, bottom, max(top, bottom + step))

    def to_mm(self, at_m: Floats, z_m: Floats) -> Floats:
        x = self.left + (self.right - self.left) * at_m / self.length_m
        y = self.bottom - (self.bottom - self.top) * (z_m - self.low_m) / (self.high_m - self.low_m)
        return np.column_stack([x, y])

    def grid(self, root: ET.Element) -> None:
        """Rules and figures of height and distance."""
        for height in np.arange(self.low_m, self.high_m + 1e-6, nice_step(self.high_m - self.low_m, 4)):
            y = float(self.to_mm(np.array([0.0]), np.array([height]))[0, 1])
            _path(root, np.array([[self.left, y], [self.right, y]]), stroke="#aaaaaa", width=0.15)
            _text(root, (self.left - 1.0, y + 0.9), number(float(height), 0), anchor="end")
        _text(root, (self.left - 1.0, self.top - 3.4), "m", anchor="end")
        for distance in np.arange(0.0, self.length_m, nice_step(self.length_m, 9)):
            x = float(self.to_mm(np.array([distance]), np.array([self.low_m]))[0, 0])
            _path(root, np.array([[x, self.bottom], [x, self.bottom + 1.0]]), stroke="#000000", width=0.2)
            _text(root, (x, self.bottom + 3.6), number(float(distance), 0), anchor="middle")
        _text(root, (self.right, self.bottom + 3.6), "m", anchor="end")

    def leg(self, root: ET.Element, start: float, name: str) -> None:
        """A fine rule where a leg starts, with its short name at the foot."""
        x = float(self.to_mm(np.array([start]), np.array([self.low_m]))[0, 0])
        _path(root, np.array([[x, self.top], [x, self.bottom]]), stroke="#000000", width=0.12, dash="0.4 0.8")
        if x < self.right - 6:
            _text(root, (x + 0.5, self.bottom + 7.0), name, size=2.0)

    def call(self, root: ET.Element, call: CallMark, picture: ProfilePicture) -> None:
        """The call's number above, and a leader down to the ground."""
        z = float(np.interp(call.at_m, picture.at_m, np.nan_to_num(picture.z_m, nan=self.low_m)))
        x, y = self.to_mm(np.array([call.at_m]), np.array([z]))[0]
        _path(root, np.array([[x, self.top - 2.0], [x, y]]), stroke="#000000", width=0.2)
        _call(root, np.array([x, self.top - 4.0]), call)


def _runs(z: Floats) -> list[slice]:
    """Stretches of known heights."""
    known = np.concatenate([[False], np.isfinite(z), [False]]).astype(np.int8)
    change = np.diff(known)
    return [
        slice(int(a), int(b)) for a, b in zip(np.flatnonzero(change == 1), np.flatnonzero(change == -1), strict=True)
    ]


def _picture(width: float, height: float, title: str) -> ET.Element:
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


def _path(
    root: ET.Element, points: Floats, *, stroke: str, width: float, fill: str = "none", dash: str | None = None
) -> None:
    steps = " ".join(f"{x:.2f},{y:.2f}" for x, y in points)
    options = {"points": steps, "fill": fill, "stroke": stroke, "stroke-width": f"{width:g}"}
    options |= {"stroke-linejoin": "round"} | ({"stroke-dasharray": dash} if dash else {})
    ET.SubElement(root, "polyline", options)


def _text(
    root: ET.Element,
    at: tuple[float, float],
    content: str,
    *,
    anchor: str = "start",
    size: float = 2.5,
    fill: str = "#000000",
    bold: bool = False,
    halo: bool = False,
) -> None:
    options = {"x": f"{at[0]:.2f}", "y": f"{at[1]:.2f}", "font-size": f"{size:g}", "text-anchor": anchor, "fill": fill}
    if bold:
        options["font-weight"] = "bold"
    if halo:
        options |= {"stroke": "#ffffff", "stroke-width": "0.7", "stroke-linejoin": "round", "paint-order": "stroke"}
    ET.SubElement(root, "text", options).text = clean(content)


def _call(root: ET.Element, at: Floats, call: CallMark) -> None:
    """A number in a circle; in a black square where a spotter stands outside."""
    x, y = float(at[0]), float(at[1])
    if call.spotter:
        box = {"x": f"{x - 1.9:.2f}", "y": f"{y - 1.9:.2f}", "width": "3.8", "height": "3.8", "fill": "#000000"}
        ET.SubElement(root, "rect", box | {"stroke": "#ffffff", "stroke-width": "0.3"})
    else:
        circle = {"cx": f"{x:.2f}", "cy": f"{y:.2f}", "r": "1.9", "fill": "#ffffff"}
        ET.SubElement(root, "circle", circle | {"stroke": "#000000", "stroke-width": "0.35"})
    ink = "#ffffff" if call.spotter else "#000000"
    _text(root, (x, y + 0.85), str(call.number), anchor="middle", size=2.4, fill=ink, bold=True)


def _place(root: ET.Element, at: Floats, word: str) -> None:
    """A small black square, and the word of the place on a white ground beside it."""
    x, y = float(at[0]), float(at[1])
    box = {"x": f"{x - 0.9:.2f}", "y": f"{y - 0.9:.2f}", "width": "1.8", "height": "1.8", "fill": "#000000"}
    ET.SubElement(root, "rect", box | {"stroke": "#ffffff", "stroke-width": "0.3"})
    _text(root, (x + 1.5, y + 3.0), word, size=2.5, bold=True, halo=True)


def _arrow(root: ET.Element, points: Floats) -> None:
    """A filled arrowhead half way along a leg, pointing the way it is driven."""
    steps = np.hypot(*np.diff(points, axis=0).T)
    total = float(steps.sum())
    if total < 4.0:
        return
    run = np.concatenate([[0.0], np.cumsum(steps)])
    ends = [np.array([np.interp(at, run, points[:, axis]) for axis in (0, 1)]) for at in (total / 2, total / 2 + 1.0)]
    way = (ends[1] - ends[0]) / max(float(np.hypot(*(ends[1] - ends[0]))), 1e-9)
    side = np.array([-way[1], way[0]])
    corners = [ends[0] + 1.7 * way, ends[0] - 1.1 * way + 1.2 * side, ends[0] - 1.1 * way - 1.2 * side]
    shape = " ".join(f"{x:.2f},{y:.2f}" for x, y in corners)
    ET.SubElement(root, "polygon", {"points": shape, "fill": "#000000", "stroke": "#ffffff", "stroke-width": "0.3"})


def _north(root: ET.Element, x: float, y: float) -> None:
    shape = f"{x:.2f},{y:.2f} {x + 1.6:.2f},{y + 5.2:.2f} {x:.2f},{y + 3.9:.2f} {x - 1.6:.2f},{y + 5.2:.2f}"
    ET.SubElement(root, "polygon", {"points": shape, "fill": "#000000"})
    _text(root, (x, y - 0.8), "N", anchor="middle", bold=True)


def _scale(root: ET.Element, mm_per_m: float, y: float) -> None:
    """A bar of a round number of metres, about a quarter of the picture."""
    metres = nice_step(100.0 / mm_per_m, 4)
    long = metres * mm_per_m
    for part, fill in ((0, "#000000"), (1, "#ffffff")):
        box = {"x": f"{3 + part * long / 2:.2f}", "y": f"{y - 1:.2f}", "width": f"{long / 2:.2f}", "height": "1"}
        ET.SubElement(root, "rect", box | {"fill": fill, "stroke": "#000000", "stroke-width": "0.2"})
    _text(root, (4.0 + long, y), f"{number(metres, 0)} m", size=2.3)
