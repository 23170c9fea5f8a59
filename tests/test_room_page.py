"""``docs/room.md`` and its pictures: made again byte for byte, and held against closed forms and the drawing itself."""

import importlib.util
import math
import re
import sys
from functools import cache
from pathlib import Path
from types import ModuleType
from typing import Any
from xml.etree import ElementTree as ET

import numpy as np
import pytest

from pipeline.kernels.plan_records import LEFT, RIGHT
from pipeline.terms import CAUTION

ROOT = Path(__file__).resolve().parents[1]
DOCS = ROOT / "docs"
SVG = "{http://www.w3.org/2000/svg}"
NAMES = ("short", "long", "long_room")


@cache
def script() -> ModuleType:
    """Load the script that makes the pictures."""
    spec = importlib.util.spec_from_file_location("make_room_pictures", DOCS / "make_room_pictures.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


@cache
def drives() -> dict[str, Any]:
    """Drive all that the page shows."""
    found: dict[str, Any] = script().drives()
    return found


def test_page_and_pictures_are_what_the_program_makes() -> None:
    """Byte for byte; run ``python docs/make_room_pictures.py`` after a change of what is worked out."""
    made = script().made()
    assert sorted(made) == ["room.md", *sorted(f"room_{name}.svg" for name in NAMES)]
    for name, text in made.items():
        assert (DOCS / name).read_text(encoding="utf-8") == text, name


def test_off_tracking_in_the_bend_stays_below_that_of_an_endless_circle() -> None:
    """R − √(R² − L²), the AASHTO relation, R 7 m: L 2.25 → 0.3715 m, L 2.96 → 0.6566 m; the tractrix comes near it."""
    for name, wheelbase, most in (("short", 2.25, 0.37146), ("long", 2.96, 0.65663)):
        assert 7.0 - math.sqrt(49.0 - wheelbase**2) == pytest.approx(most, abs=1e-4)
        found = drives()[name].swept.offtracking.max()
        assert 0.9 * most < found < most


def test_the_body_sweeps_no_more_than_on_an_endless_circle() -> None:
    """√((ρ + w/2)² + (L + o)²) − (ρ − w/2) with ρ the rear axle's radius: exact for a rectangle."""
    for name in ("short", "long"):
        own = drives()[name].envelope
        rear = math.sqrt(49.0 - own.wheelbase_m**2)
        ahead = own.length_front_m if own.body_front_m is None else own.body_front_m
        outer = math.hypot(rear + own.width_m / 2, own.wheelbase_m + ahead)
        steady = outer - (rear - own.width_m / 2)
        assert script().steady_width(own) == pytest.approx(steady, abs=1e-9)
        assert 0.95 * steady < script().body_width(drives()[name]) < steady


def test_only_the_long_vehicle_needs_another_line() -> None:
    """The short one passes on the middle line, the long one does not, and passes on the line that was found."""
    margin = script().LIMITS.side_margin_m / 2
    short, long, room = (drives()[name] for name in NAMES)
    assert min(short.gap(LEFT), short.gap(RIGHT)) > margin
    assert long.gap(RIGHT) < -0.1
    assert min(room.gap(LEFT), room.gap(RIGHT)) > margin


@pytest.mark.parametrize("name", NAMES)
def test_no_wheel_is_turned_beyond_lock_or_faster_than_the_driver_turns_it(name: str) -> None:
    """Both axles roll along their own planes: the rear one moves along the body from pose to pose."""
    one = drives()[name]
    x, y, heading, steer = one.poses
    assert np.abs(steer).max() <= one.boxes.lock + 1e-9
    moved = np.hypot(np.diff(x), np.diff(y))
    assert (np.abs(np.diff(steer)) / moved).max() <= script().steering_rate() * 1.2
    slip = -np.sin((heading[1:] + heading[:-1]) / 2) * np.diff(x) + np.cos((heading[1:] + heading[:-1]) / 2) * np.diff(
        y
    )
    assert np.abs(slip / moved).max() < 0.02


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("side", [LEFT, RIGHT])
def test_a_gap_is_the_distance_of_the_drawn_outline_from_the_drawn_trunk(name: str, side: int) -> None:
    """Corners of the drawing against the trunk, by hand: the smallest distance of any pose, less the radius."""
    one = drives()[name]
    solid = sorted(script().TREES).index(one.tree(side))
    trunk = np.array([one.solids.ax[solid], one.solids.ay[solid]])
    nearest = math.inf
    for pose in range(one.poses[0].size):
        outline = script().corners(one, pose, script().BODY)
        edges = zip(outline, np.roll(outline, -1, axis=0), strict=True)
        nearest = min(nearest, *(_apart(trunk, begin, end) for begin, end in edges))
    if one.gap(side) >= 0:
        assert nearest - one.solids.radius[solid] == pytest.approx(one.gap(side), abs=0.02)
        body, bark = script().contact(one, side)
        assert math.dist(body, bark) == pytest.approx(one.gap(side), abs=1e-6)
    else:
        assert nearest < one.solids.radius[solid]


def _apart(point: Any, begin: Any, end: Any) -> float:  # noqa: ANN401 — arrays of two
    """Distance of a point from a stretch."""
    along = end - begin
    share = float(np.clip((point - begin) @ along / (along @ along), 0.0, 1.0))
    return math.dist(point, begin + share * along)


@pytest.mark.parametrize("name", NAMES)
def test_a_picture_reads_aloud_and_holds_its_words(name: str) -> None:
    """A title, a description with both gaps; labels, trees and scale lie inside the picture."""
    root = ET.parse(DOCS / f"room_{name}.svg").getroot()  # noqa: S314 — our own file
    assert root.get("role") == "img"
    title, words = root.findtext(f"{SVG}title"), root.findtext(f"{SVG}desc") or ""
    assert drives()[name].envelope.vehicle in (title or "")
    assert re.fullmatch(
        r"left [\d.]+ m( short)?: \w+ to tree [A-D]; right [\d.]+ m( short)?: \w+ to tree [A-D]\.", words
    )
    wide, high = (float(value) for value in (root.get("viewBox") or "").split()[2:])
    for text in root.iter(f"{SVG}text"):
        x, y, long = float(text.get("x", "")), float(text.get("y", "")), 8.5 * len(text.text or "")
        left = {"end": x - long, "middle": x - long / 2}.get(text.get("text-anchor", ""), x)
        assert left >= 0
        assert left + long <= wide
        assert 10 <= y <= high
    bar = next(path.get("d", "") for path in root.iter(f"{SVG}path") if "v8" in path.get("d", ""))
    assert float(re.findall(r"h([\d.]+)", bar)[0]) == pytest.approx(2 * script().SCALE)


def test_the_page_shows_its_pictures_and_the_caution() -> None:
    """Every picture is linked with words for those who do not see it."""
    page = (DOCS / "room.md").read_text(encoding="utf-8")
    for name in NAMES:
        assert re.search(rf"!\[[^\]]{{20,}}\]\(room_{name}\.svg\)", page)
    assert CAUTION in " ".join(page.split())
