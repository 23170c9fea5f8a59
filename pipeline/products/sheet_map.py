"""The outline map of a drive sheet: the loop over the thin lines of the network, in black and white."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple
from xml.etree import ElementTree as ET

import numpy as np
import shapely

from pipeline.products.plain import number
from pipeline.products.svg import (
    CallMark,
    Floats,
    Type,
    call_mark,
    nice_step,
    path,
    picture,
    polygon,
    rectangle,
    text,
    written,
)

__all__ = ["MapPicture", "PlaceMark", "outline_map"]


CROWD = 24
"""Above this many calls their marks are drawn smaller."""


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
    aside: Sequence[Floats] = ()
    """Ways round, one array a leg."""
    width_mm: float = 88.0
    height_mm: float = 78.0


def outline_map(view: MapPicture) -> str:
    """Draw the loop over the network, with the way it is driven, calls, places, north and scale."""
    root = picture(view.width_mm, view.height_mm, "Outline map of the loop, north up")
    place = _Frame.around(view)
    _lines(root, view, place)
    spots = [place.to_mm(np.array([mark.xy]))[0] for mark in view.places]
    for x, y in spots:
        rectangle(root, (x - 0.9, y - 0.9), (1.8, 1.8), "#000000", "#ffffff")
    reach = 1.9 if len(view.calls) <= CROWD else 1.4
    calls = [place.to_mm(np.array([call.xy]))[0] for call in view.calls]
    for at, call in zip(calls, view.calls, strict=True):
        call_mark(root, at, call, reach)
    taken = [_Box(x - reach, y - reach, x + reach, y + reach) for x, y in map(tuple, calls)]
    for (x, y), mark in zip(spots, view.places, strict=True):
        _name(root, (x, y), mark.word, view, taken)
    _north(root, view.width_mm - 5.0, 4.0)
    _scale(root, place.mm_per_m, view.height_mm - 2.5)
    return written(root)


def _lines(root: ET.Element, view: MapPicture, place: "_Frame") -> None:
    """Draw the network, the loop over it, and ways round dashed; arrows the way they are driven."""
    for line in view.network:
        path(root, place.to_mm(shapely.get_coordinates(line)), stroke="#777777", width=0.22)
    for leg in view.legs:
        path(root, place.to_mm(leg), stroke="#ffffff", width=1.9)
    for leg in view.aside:
        path(root, place.to_mm(leg), stroke="#ffffff", width=1.7)
        path(root, place.to_mm(leg), width=0.85, dash="1.2 1.0")
    for leg in view.legs:
        path(root, place.to_mm(leg), width=0.85)
    for leg in (*view.legs, *view.aside):
        _arrow(root, place.to_mm(leg))


@dataclass(frozen=True, slots=True)
class _Frame:
    """Fits working coordinates into the view, same scale both ways, north up."""

    west: float
    north: float
    mm_per_m: float
    left: float
    top: float

    @classmethod
    def around(cls, view: MapPicture) -> "_Frame":
        points = np.vstack([*view.legs, *view.aside, *(np.array([mark.xy]) for mark in view.places)])
        low, high = points.min(axis=0), points.max(axis=0)
        size = np.maximum(high - low, 1.0)
        room = np.array([view.width_mm - 12.0, view.height_mm - 16.0])
        scale = float((room / size).min())
        rest = (room - size * scale) / 2
        return cls(float(low[0]), float(high[1]), scale, 6.0 + float(rest[0]), 6.0 + float(rest[1]))

    def to_mm(self, points: Floats) -> Floats:
        x = self.left + (points[:, 0] - self.west) * self.mm_per_m
        y = self.top + (self.north - points[:, 1]) * self.mm_per_m
        return np.column_stack([x, y])


class _Box(NamedTuple):
    """Room that a mark or a name takes, mm."""

    left: float
    top: float
    right: float
    bottom: float

    def lies_in(self, other: "_Box") -> bool:
        """Tell whether it lies inside another."""
        inside = other.left <= self.left and self.right <= other.right
        return inside and other.top <= self.top and self.bottom <= other.bottom

    def shared(self, other: "_Box") -> float:
        """Give the area that it shares with another, mm²."""
        wide = min(self.right, other.right) - max(self.left, other.left)
        high = min(self.bottom, other.bottom) - max(self.top, other.top)
        return max(wide, 0.0) * max(high, 0.0)


def _name(root: ET.Element, at: tuple[float, float], word: str, view: MapPicture, taken: list[_Box]) -> None:
    """Name a place on the paper, to either side of it, where that covers the least of calls and other names."""
    size, (x, y) = 2.6, at
    wide = 0.62 * size * len(word)
    ends = [1.8, -1.8] if x + 1.8 + wide < view.width_mm else [-1.8, 1.8]
    places = [(x + aside, y + down) for down in (4.0, -2.2, 0.9, 7.2, -5.4, 10.4) for aside in ends]
    boxes = [_Box(left - wide * (left < x), base - 2.0, left + wide * (left > x), base + 0.6) for left, base in places]
    room = _Box(0.0, 0.0, view.width_mm, view.height_mm)
    costs = [(not box.lies_in(room), sum(box.shared(other) for other in taken)) for box in boxes]
    best = costs.index(min(costs))
    taken.append(boxes[best])
    anchor = "end" if places[best][0] < x else "start"
    text(root, places[best], word, Type(size=size, anchor=anchor, bold=True, halo=True))


def _arrow(root: ET.Element, points: Floats) -> None:
    """Put a filled arrowhead half way along a leg, pointing the way it is driven."""
    steps = np.hypot(*np.diff(points, axis=0).T)
    total = float(steps.sum())
    if total < 4.0:
        return
    run = np.concatenate([[0.0], np.cumsum(steps)])
    ends = [np.array([np.interp(at, run, points[:, axis]) for axis in (0, 1)]) for at in (total / 2, total / 2 + 1.0)]
    way = (ends[1] - ends[0]) / max(float(np.hypot(*(ends[1] - ends[0]))), 1e-9)
    side = np.array([-way[1], way[0]])
    corners = [ends[0] + 1.7 * way, ends[0] - 1.1 * way + 1.2 * side, ends[0] - 1.1 * way - 1.2 * side]
    polygon(root, np.array(corners))


def _north(root: ET.Element, x: float, y: float) -> None:
    """Draw the north arrow with its tip at x, y."""
    polygon(root, np.array([[x, y], [x + 1.6, y + 5.2], [x, y + 3.9], [x - 1.6, y + 5.2]]))
    text(root, (x, y - 0.8), "N", Type(anchor="middle", bold=True))


def _scale(root: ET.Element, mm_per_m: float, y: float) -> None:
    """Draw a bar of a round number of metres, about a quarter of the picture."""
    long_m = nice_step(100.0 / mm_per_m, 4)
    half = long_m * mm_per_m / 2
    rectangle(root, (3.0, y - 1.0), (half, 1.0), "#000000", "#000000")
    rectangle(root, (3.0 + half, y - 1.0), (half, 1.0), "#ffffff", "#000000")
    text(root, (4.0 + 2 * half, y), f"{number(long_m, 0)} m", Type(size=2.3))
