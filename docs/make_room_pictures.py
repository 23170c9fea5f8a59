"""Make the pictures and the figures of ``docs/room.md``: a bend between trees, driven by a short and a long vehicle.

Run from the root of the repository::

    python docs/make_room_pictures.py

Everything is worked out with the program's own code: the vehicle files, their boxes in plan, the way that the front
axle is led along, what the body sweeps. The same code gives the same bytes; the tests make the pictures again and hold
the figures against closed forms.
"""

# ruff: noqa: INP001 — a script, no package

import argparse
import math
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from xml.etree import ElementTree as ET

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.limits import Limits
from pipeline.checks.room.windows import finer
from pipeline.kernels.line_room import FINE, Asked, Middle, find_lines
from pipeline.kernels.plan_records import LEFT, RIGHT, Boxes, Solids, Tracks
from pipeline.kernels.plan_sweep import Poses, Swept, drive, sweep
from pipeline.settings import read_settings
from pipeline.terms import Driver, Part
from pipeline.units import KMH
from pipeline.vehicle.envelope import make_envelope
from pipeline.vehicle.envelope_model import Envelope
from pipeline.vehicle.model import SetUpChoice, Vehicle
from pipeline.vehicle.plan import boxes_of, least_radius
from pipeline.vehicle.turning import offtracking, swept_width

Floats = NDArray[np.float64]

ROOT = Path(__file__).resolve().parents[1]
LIMITS = read_settings(ROOT / "configs" / "limits.toml", Limits)
VEHICLES = {"short": "wick", "long": "holm"}
"""Which of the vehicle files is which."""
STEP_M = 0.1
RADIUS_M, TURN_DEG, LEAD_M = 7.0, 90.0, 10.0
"""A right-hand bend: radius of the middle line, angle, straight before and behind it."""
DRIVER = Driver.PRACTISED
LONG_M = 32.0
"""Length of the middle line."""
ROAM_M = 1.2
"""How far from it the rear axle may run."""
TREES = {"A": (12.0, -1.9, 0.18), "B": (15.5, 1.55, 0.20), "C": (18.0, 1.70, 0.25), "D": (20.5, -1.85, 0.15)}
"""Distance along the middle line, offset from it (+ right) of the middle of the trunk, its radius, m."""
BEGIN, END = "<!-- figures: begin -->", "<!-- figures: end -->"


@dataclass(frozen=True, slots=True)
class Driven:
    """One vehicle driven through the bend."""

    envelope: Envelope
    boxes: Boxes
    tracks: Tracks
    solids: Solids
    poses: Poses
    swept: Swept
    line: str
    """Which line it is driven along, in words."""

    def nearest(self, side: int) -> int:
        """Give the number of the pose with the smallest gap on a side."""
        return int(np.argmin(self.swept.near.gap[:, side]))

    def gap(self, side: int) -> float:
        """Smallest gap on a side, m; negative where it does not fit."""
        return float(self.swept.near.gap[:, side].min())

    def tree(self, side: int) -> str:
        """Letter of the tree that is nearest on a side."""
        return sorted(TREES)[int(self.swept.near.solid[self.nearest(side), side])]

    def part(self, side: int) -> str:
        """Part of the body that is nearest to it."""
        return Part(int(self.swept.near.part[self.nearest(side), side])).word


def middle_line() -> Tracks:
    """Lay out the middle line of the bend; no edge is known, so the trees alone bound the way."""
    arc = RADIUS_M * math.radians(TURN_DEG)
    at = np.arange(round(LONG_M / STEP_M) + 1) * STEP_M
    turned = np.clip(at - LEAD_M, 0.0, arc) / RADIUS_M
    rest = np.maximum(at - LEAD_M - arc, 0.0)
    return Tracks(
        offsets=np.array([0, at.size]),
        x=np.minimum(at, LEAD_M) + RADIUS_M * np.sin(turned) + rest * np.cos(turned),
        y=-RADIUS_M * (1.0 - np.cos(turned)) - rest * np.sin(turned),
        heading=-turned,
        roll=np.zeros(at.size),
        wheel=np.full((at.size, 2), np.inf),
        body=np.full((at.size, 2), np.inf),
        aside=np.full((at.size, 2), ROAM_M),
        hold=np.full(at.size, np.nan),
        step=STEP_M,
        own_from=np.array([0.0]),
        own_to=np.array([at[-1]]),
    )


def trees(tracks: Tracks) -> Solids:
    """Stand the trees beside the middle line, in the order of their letters, which is that of their places."""
    at, offset, radius = np.array([TREES[letter] for letter in sorted(TREES)]).T
    point = np.round(at / STEP_M).astype(np.int64)
    x = tracks.x[point] + offset * np.sin(tracks.heading[point])
    y = tracks.y[point] - offset * np.cos(tracks.heading[point])
    ends = (x, y, x.copy(), y.copy())
    heights = (np.zeros(at.size), np.full(at.size, np.inf))
    return Solids(np.array([0, at.size]), *ends, radius, *heights, at, radius, np.arange(at.size))


def driven(name: str) -> Iterator[Driven]:
    """Drive a vehicle (*name* is that of its file) along the middle line, then along the line with the most room."""
    vehicle = read_settings(ROOT / "configs" / "vehicles" / f"{name}.toml", Vehicle)
    envelope = make_envelope(vehicle, SetUpChoice(name, "normal", (), DRIVER))
    boxes, tracks, rate = boxes_of(envelope), middle_line(), steering_rate()
    solids = trees(tracks)
    what = (envelope, boxes, tracks, solids)
    middle = drive(boxes, tracks, solids, rate)
    yield Driven(*what, middle.poses[:4], middle.swept, "front axle on the middle line")
    margin = LIMITS.side_margin_m / 2.0
    asked = Asked(rate, LIMITS.comfort_gap_m + margin, margin, margin, LIMITS.shunt_reverse_m)
    least = np.array([middle.swept.near.gap.min()])
    known = Middle(middle.swept.rear_offset, least, np.array([True]), np.ones((1, 2), dtype=np.bool_))
    x, y, heading, steer = np.ascontiguousarray(find_lines(boxes, tracks, solids, known, asked).poses.T)
    poses = (x, y, heading, steer)
    fine = finer(tracks, FINE)
    found = sweep(boxes, fine, solids, poses)
    yield Driven(envelope, boxes, fine, solids, poses, found, "line with the most room")


def steering_rate() -> float:
    """Most that the driver turns the front wheels, rad per metre driven."""
    motion = LIMITS.motion[DRIVER]
    return math.radians(motion.steering_deg_s) / (motion.obstacle_kmh * KMH)


# --- the picture ---

SCALE = 42.0
"""Pixels a metre."""
LEFT_M, TOP_M, WIDE_M, HIGH_M = 4.0, 3.6, 19.4, 15.5
"""What is shown: from here, so much, m."""
BODY = 4
"""Number of the box of the body at its full width, behind those of the wheels."""
EVERY_M = 0.5
"""Distance of the outlines."""
INK, PALE, SOFT = "#1a1a1a", "#d8d3c6", "#6b6558"


def picture(one: Driven) -> str:
    """Draw the sweep of a vehicle through the bend."""
    root = ET.Element("svg", _root_of(one))
    ET.SubElement(root, "title").text = f"{one.envelope.vehicle} through the bend, seen from above"
    ET.SubElement(root, "desc").text = "; ".join(told(one, side) for side in (LEFT, RIGHT)) + "."
    ET.SubElement(root, "rect", {"width": "100%", "height": "100%", "fill": "#ffffff"})
    poses = range(0, one.poses[0].size, round(EVERY_M / one.tracks.step))
    for style in ({"fill": PALE}, {"fill": "none", "stroke": SOFT, "stroke-width": "0.7"}):
        for pose in poses:
            _polygon(root, corners(one, pose, BODY), style)
    _line(root, np.column_stack([one.tracks.x, one.tracks.y]), {"stroke": INK, "stroke-width": "1.4"})
    _line(
        root,
        np.column_stack(one.poses[:2]),
        {"stroke": INK, "stroke-width": "2", "stroke-dasharray": "0.1 5", "stroke-linecap": "round"},
    )
    for side in (LEFT, RIGHT):
        _body(root, one, one.nearest(side))
    _trees(root, one)
    for side in (LEFT, RIGHT):
        _gap(root, one, side)
    _furniture(root, one)
    ET.indent(root, " ")
    return ET.tostring(root, encoding="unicode") + "\n"


def told(one: Driven, side: int) -> str:
    """Say the smallest gap on a side."""
    gap, word = one.gap(side), ("left", "right")[side]
    amount = f"{math.floor(100 * gap) / 100:.2f} m" if gap >= 0 else f"{math.ceil(-100 * gap) / 100:.2f} m short"
    return f"{word} {amount}: {one.part(side)} to tree {one.tree(side)}"


def corners(one: Driven, pose: int, box: int) -> Floats:
    """Corners of a box of the body in a pose, world, shape (4, 2); the front wheels as they are steered."""
    boxes, (x, y, heading, steer) = one.boxes, one.poses
    middle = np.array([boxes.rear[box] + boxes.front[box], boxes.right[box] + boxes.left[box]]) / 2.0
    half = np.array([boxes.front[box] - boxes.rear[box], boxes.left[box] - boxes.right[box]]) / 2.0
    own = np.array([[1, 1], [1, -1], [-1, -1], [-1, 1]]) * half @ _turn(steer[pose] if box < 2 else 0.0)
    return (middle + own) @ _turn(heading[pose]) + [x[pose], y[pose]]


def _turn(angle: float) -> Floats:
    """Matrix that turns rows of points anticlockwise."""
    cos, sin = math.cos(angle), math.sin(angle)
    return np.array([[cos, sin], [-sin, cos]])


def contact(one: Driven, side: int) -> tuple[Floats, Floats]:
    """Give the point of the body that comes nearest on a side, and the point of the trunk, world."""
    pose = one.nearest(side)
    near = one.swept.near
    solid, part = int(near.solid[pose, side]), int(near.part[pose, side])
    trunk = np.array([one.solids.ax[solid], one.solids.ay[solid]])
    found = [_closest(one, pose, int(box), trunk) for box in np.flatnonzero(one.boxes.part == part)]
    body = min(found, key=lambda point: float(np.hypot(*(point - trunk))))
    apart = trunk - body
    return body, trunk - apart / max(float(np.hypot(*apart)), 1e-9) * one.solids.radius[solid]


def _closest(one: Driven, pose: int, box: int, place: Floats) -> Floats:
    """Point of a box nearest to a place; on its longer sides where the place lies inside."""
    boxes, turn = one.boxes, _turn(one.poses[2][pose])
    rear = np.array([one.poses[0][pose], one.poses[1][pose]])
    x, y = (place - rear) @ turn.T
    own = np.array([np.clip(x, boxes.rear[box], boxes.front[box]), np.clip(y, boxes.right[box], boxes.left[box])])
    if own[0] == x and own[1] == y:
        own[1] = boxes.left[box] if y > 0 else boxes.right[box]
    return own @ turn + rear


def _root_of(one: Driven) -> dict[str, str]:
    wide, high = WIDE_M * SCALE, HIGH_M * SCALE
    return {
        "xmlns": "http://www.w3.org/2000/svg",
        "viewBox": f"0 0 {wide:g} {high:g}",
        "width": f"{wide:g}",
        "height": f"{high:g}",
        "role": "img",
        "aria-label": f"{one.envelope.vehicle} through the bend",
        "font-family": "Liberation Sans, Arial, Helvetica, sans-serif",
        "font-size": "15",
    }


def _at(points: Floats) -> Floats:
    """Place points of the world on the picture."""
    return (points - [LEFT_M, TOP_M]) * [SCALE, -SCALE]


def _points(points: Floats) -> str:
    return " ".join(f"{x:.2f},{y:.2f}" for x, y in _at(points))


def _polygon(parent: ET.Element, points: Floats, style: dict[str, str]) -> None:
    ET.SubElement(parent, "polygon", {"points": _points(points), **style})


def _line(parent: ET.Element, points: Floats, style: dict[str, str]) -> None:
    ET.SubElement(parent, "polyline", {"points": _points(points), "fill": "none", **style})


def _text(parent: ET.Element, place: Floats, words: str, style: dict[str, str]) -> None:
    x, y = place
    halo = {"paint-order": "stroke", "stroke": "#ffffff", "stroke-width": "3", "stroke-linejoin": "round"}
    ET.SubElement(parent, "text", {"x": f"{x:.2f}", "y": f"{y:.2f}", "fill": INK, **halo, **style}).text = words


def _body(parent: ET.Element, one: Driven, pose: int) -> None:
    """Draw a pose with its body, mirrors and wheels."""
    thick = {"fill": "none", "stroke": INK, "stroke-width": "2"}
    styles = {Part.WHEEL: {"fill": "#3d3b36"}, Part.SILL: thick, Part.MIRROR: {**thick, "fill": "#ffffff"}}
    for box, part in enumerate(one.boxes.part.tolist()):
        if part in styles:
            _polygon(parent, corners(one, pose, box), styles[Part(part)])


def _trees(parent: ET.Element, one: Driven) -> None:
    """Draw the trunks with their letters."""
    places = _at(np.column_stack([one.solids.ax, one.solids.ay]))
    for letter, place, radius in zip(sorted(TREES), places, one.solids.radius, strict=True):
        disc = {"cx": f"{place[0]:.2f}", "cy": f"{place[1]:.2f}", "r": f"{radius * SCALE:.2f}", "fill": INK}
        ET.SubElement(parent, "circle", disc)
        _text(parent, place - np.array([0.0, 12.0]), letter, {"font-weight": "700", "text-anchor": "middle"})


def _gap(parent: ET.Element, one: Driven, side: int) -> None:
    """Draw a gap to scale, with its figure beyond the tree."""
    body, trunk = contact(one, side)
    _line(parent, np.array([body, trunk]), {"stroke": INK, "stroke-width": "5"})
    solid = int(one.swept.near.solid[one.nearest(side), side])
    middle = np.array([one.solids.ax[solid], one.solids.ay[solid]])
    heading = one.poses[2][one.nearest(side)]
    away = np.array([-math.sin(heading), math.cos(heading)]) * (1.0 if side == LEFT else -1.0)
    ends = np.array([middle + 0.5 * away, middle + 1.3 * away])
    _line(parent, ends, {"stroke": INK, "stroke-width": "0.9"})
    place = _at(ends[1:])[0]
    right = away[0] > 0
    for row, words in enumerate(told(one, side).split(": ")):
        anchor = {"text-anchor": "start" if right else "end", "font-weight": ("700", "400")[row]}
        _text(parent, place + np.array([5.0 if right else -5.0, 5.0 + 18.0 * row]), words, anchor)


def _furniture(parent: ET.Element, one: Driven) -> None:
    """Name vehicle and line, draw the scale and an arrow the way it is driven."""
    foot = HIGH_M * SCALE
    _text(parent, np.array([18.0, foot - 66]), one.envelope.vehicle, {"font-weight": "700", "font-size": "18"})
    _text(parent, np.array([18.0, foot - 46]), one.line, {})
    bar = f"M18 {foot - 28:g} v8 h{2 * SCALE:g} v-8"
    ET.SubElement(parent, "path", {"d": bar, "fill": "none", "stroke": INK, "stroke-width": "1.6"})
    _text(parent, np.array([26 + 2 * SCALE, foot - 18]), "2 m", {})
    x, y = _at(np.array([[LEFT_M + 0.4, 2.0]]))[0]
    arrow = f"M{x:.2f} {y:.2f} h46 v-6 l14 6 l-14 6 v-6"
    ET.SubElement(parent, "path", {"d": arrow, "fill": INK, "stroke": INK, "stroke-width": "2"})


# --- the figures ---


def figures(drives: dict[str, Driven]) -> str:
    """Write the table of the page."""
    each = list(drives.values())
    head = "| | " + " | ".join(f"{one.envelope.vehicle}, {one.line}" for one in each) + " |"
    return "\n".join([head, "|---" * (len(each) + 1) + "|", *("| " + " | ".join(row) + " |" for row in _rows(each))])


def _rows(each: list[Driven]) -> Iterator[list[str]]:
    """Give the rows of the table."""
    own = [one.envelope for one in each]
    circle = [float(offtracking(RADIUS_M, one.wheelbase_m)) for one in own]
    yield ["wheelbase", *(f"{one.wheelbase_m:.2f} m" for one in own)]
    yield ["width of the body, over the mirrors", *(f"{one.width_m:.2f}, {one.width_mirrors_m:.2f} m" for one in own)]
    yield ["least radius of the rear axle, full lock", *(f"{least_radius(one):.2f} m" for one in own)]
    rate = math.degrees(steering_rate())
    yield [f"fastest steering, {DRIVER.value} driver", *(f"{rate:.0f}° a metre" for _ in each)]
    yield ["most steering, of full lock", *(f"{100 * lock_share(one):.0f} %" for one in each)]
    yield ["off-tracking, most", *(f"{one.swept.offtracking.max():.3f} m" for one in each)]
    yield [f"off-tracking on an endless circle of {RADIUS_M:g} m", *(f"{value:.3f} m" for value in circle)]
    yield ["swept by the body, most", *(f"{body_width(one):.2f} m" for one in each)]
    yield [f"swept on an endless circle of {RADIUS_M:g} m", *(f"{steady_width(one):.2f} m" for one in own)]
    yield ["tail swing, most", *(f"{one.swept.tail_swing.max():.3f} m" for one in each)]
    for side, word in ((LEFT, "left"), (RIGHT, "right")):
        yield [f"smallest gap on the {word}", *(told(one, side).removeprefix(f"{word} ") for one in each)]


def lock_share(one: Driven) -> float:
    """Largest steering angle ÷ full lock."""
    return float(np.abs(one.poses[3]).max()) / one.boxes.lock


def body_width(one: Driven) -> float:
    """Most that the body sweeps across the middle line, mirrors left out, m."""
    return float(one.swept.reach[:, Part.SILL].sum(axis=1).max())


def steady_width(envelope: Envelope) -> float:
    """Width that the body sweeps on an endless circle of the bend's radius, m."""
    ahead = envelope.length_front_m if envelope.body_front_m is None else envelope.body_front_m
    return float(swept_width(RADIUS_M, envelope.wheelbase_m, envelope.width_m, ahead))


def drives() -> dict[str, Driven]:
    """Drive all that the page shows: end of the picture's name → how it was driven."""
    (short, _), (long, room) = (driven(VEHICLES[size]) for size in ("short", "long"))
    return {"short": short, "long": long, "long_room": room}


def made() -> dict[str, str]:
    """Make everything: name of the file in ``docs`` → what it holds."""
    shown = drives()
    page = (ROOT / "docs" / "room.md").read_text(encoding="utf-8")
    before, rest = page.split(BEGIN)
    table = f"{BEGIN}\n\n{figures(shown)}\n\n{END}"
    pictures = {f"room_{name}.svg": picture(one) for name, one in shown.items()}
    return {**pictures, "room.md": before + table + rest.split(END)[1]}


def main() -> None:
    """Write the pictures and the figures of the page."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--out", type=Path, default=ROOT / "docs", help="folder that they go to")
    folder = parser.parse_args().out
    for name, text in made().items():
        (folder / name).write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
