"""Lines past tight places as the map page carries them: plans of the poses in whole centimetres round each place."""

from collections.abc import Iterator
from typing import Any

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from pipeline.checks.room.plans import Plans
from pipeline.products.facts import Facts
from pipeline.products.lines import lon_lat
from pipeline.products.map_codes import LARGE, Sayings, Words, codes, keys, tenths
from pipeline.products.palette import SIGNS
from pipeline.products.plain import clean, text
from pipeline.products.plan_view import Cut, cut
from pipeline.terms import ObstacleKind, Part
from pipeline.vehicle.envelope_model import Envelope
from pipeline.vehicle.plan import boxes_of

__all__ = ["EDGE", "NOT_ASKED", "TOLERANCE_M", "outline", "plans"]

TOLERANCE_M = 0.03
"""Corners that move a way or an edge by less than this are left out."""
NOT_ASKED = -1
"""Stands where no reverse was asked for: it passes."""
EDGE = -1
"""Stands for the edge of the trail where a thing is told."""

Floats = NDArray[np.float64]


def outline(envelope: Envelope) -> list[list[int]]:
    """Give the parts of a set-up in plan, mm: part, rear, front, right, left, low, high; x from the rear axle."""
    boxes = boxes_of(envelope)
    sizes = np.column_stack([boxes.rear, boxes.front, boxes.right, boxes.left, boxes.low, boxes.high])
    rows: list[list[int]] = np.column_stack([boxes.part, np.round(1000 * sizes).astype(np.int64)]).tolist()
    return rows


def plans(facts: Facts, index: dict[str, int]) -> dict[str, Any]:
    """Rows of the tight places, by segment, in the order of the table; none in large networks, as ``note`` then says.

    A row is: set-up and direction; number of the place; chainage of the tightest point in 0.1 m; longitude and latitude
    of the plan's origin in 1e-7 degree; way of the front axle, steps in cm; poses (x, y in cm; heading, steering angle,
    lean in 0.1°), steps; which of them is the tightest; for each side nothing, or: pose (−1: not drawn), point of the
    body, point beside it in cm, gap in mm, part, thing, its chainage in 0.1 m; shapes: ends and radius in cm, lowest
    point in cm, thing; edges: side, whether the whole body must stay inside, steps in cm; missing width in mm; whether
    one reverse would do; saying of the advice, its figures.
    """
    found: list[list[list[Any]]] = [[] for _ in index]
    things, sayings, note = Words(), Sayings(), ""
    if len(facts.segments) > LARGE:
        note = "A network of this size leaves out plans of tight places; lines.parquet has the figures."
    elif facts.plans is not None:
        rows = _rows(facts, facts.plans, things, sayings)
        for segment, row in zip(codes(facts.lines["segment_id"], list(index)), rows, strict=True):
            found[segment].append(row)
    return {
        "rows": found,
        "parts": [part.word for part in Part],
        "frame": _frame(facts),
        "things": things.words,
        "sayings": sayings.words,
        "note": note,
    }


def _frame(facts: Facts) -> list[int]:
    """Longitude and latitude of a metre east, then of a metre north, 1e-12 degree, in the middle of the site."""
    if facts.segments.empty:
        return [0, 0, 0, 0]
    west, south, east, north = facts.segments.total_bounds
    middle = np.array([(west + east) / 2, (south + north) / 2])
    here, right, up = lon_lat(middle + np.array([[0.0, 0.0], [100.0, 0.0], [0.0, 100.0]]), facts.crs)
    degrees: list[int] = np.round(np.concatenate([right - here, up - here]) * 1e10).astype(np.int64).tolist()
    return degrees


def _rows(facts: Facts, drawn: Plans, things: Words, sayings: Sayings) -> Iterator[list[Any]]:
    """Write every place as a row."""
    table, own = facts.lines, {envelope.setup: envelope for envelope in facts.envelopes}
    cuts = [cut(drawn, place, own[setup]) for place, setup in enumerate(table["setup"])]
    degrees = lon_lat(np.array([one.origin for one in cuts]).reshape(-1, 2), facts.crs)
    ways = shapely.get_coordinates
    columns = zip(
        keys(table, list(own)).tolist(),
        table["place"].tolist(),
        tenths(table["at_m"]),
        np.round(degrees * 1e7).astype(np.int64).tolist(),
        np.round(1000 * table["missing_m"]).astype(np.int64).tolist(),
        [NOT_ASKED if pd.isna(flag) else int(flag) for flag in table["shunt"]],
        table["advice"],
        strict=True,
    )
    names = _names(facts)
    for place, (key, number, at, origin, missing, shunt, advice) in enumerate(columns):
        one = cuts[place]
        sides = [_side(one, side, table.iloc[place], (names, things)) for side in (0, 1)]
        shapes = [_shape(drawn, shape, one.origin, (names, things)) for shape in one.shapes.tolist()]
        way = _steps(ways(table.geometry.iloc[place]) - one.origin)
        drawing = [way, _poses(one), one.tightest, sides, shapes, list(_edges(one))]
        yield [key, number, at, *origin, *drawing, missing, shunt, *sayings.code(advice)]


def _names(facts: Facts) -> dict[str, tuple[str, str]]:
    """Sign and name of every surveyed thing."""
    columns = (facts.obstacles[name] for name in ("obstacle_id", "kind", "name"))
    return {
        one: (SIGNS[ObstacleKind(kind)], clean(f"{kind} {text(name)}"))
        for one, kind, name in zip(*columns, strict=True)
    }


def _thing(one: object, known: tuple[dict[str, tuple[str, str]], Words]) -> int:
    """Give the number of a surveyed thing; the edge of the trail has none."""
    names, things = known
    return things.number(names[one]) if isinstance(one, str) else EDGE


def _steps(points: Floats) -> list[int]:
    """Whole centimetres of the corners that count: the first, then the steps."""
    line = shapely.simplify(shapely.LineString(points), TOLERANCE_M)
    corners = np.round(100 * shapely.get_coordinates(line)).astype(np.int64)
    steps: list[int] = np.diff(corners, axis=0, prepend=np.zeros((1, 2), np.int64)).ravel().tolist()
    return steps


def _poses(one: Cut) -> list[int]:
    """Poses: the first, then the steps; angles without a jump at the full turn."""
    angles = np.degrees(np.column_stack([np.unwrap(one.poses[:, 2]), one.poses[:, 3:]]))
    values = np.round(np.column_stack([100 * one.poses[:, :2], 10 * angles])).astype(np.int64)
    steps: list[int] = np.diff(values, axis=0, prepend=np.zeros((1, 5), np.int64)).ravel().tolist()
    return steps


def _side(one: Cut, side: int, row: pd.Series, known: tuple[dict[str, tuple[str, str]], Words]) -> list[Any] | None:
    """Write what is nearest on a side."""
    near, word = one.sides[side], ("left", "right")[side]
    if near is None:
        return None
    points = np.round(100 * np.concatenate([near.body, near.beside])).astype(np.int64).tolist()
    part = [part.word for part in Part].index(row[f"{word}_part"])
    gap = round(1000 * row[f"{word}_m"])
    return [near.pose, *points, gap, part, _thing(row[f"{word}_thing"], known), round(10 * row[f"{word}_at_m"])]


def _shape(drawn: Plans, shape: int, origin: Floats, known: tuple[dict[str, tuple[str, str]], Words]) -> list[int]:
    """Write what stands beside the way."""
    own = drawn.shapes
    ends = np.array([own.ax[shape], own.ay[shape], own.bx[shape], own.by[shape]]) - np.tile(origin, 2)
    sizes = np.append(ends, [own.radius[shape], own.low[shape]])
    return [*np.round(100 * sizes).astype(np.int64).tolist(), _thing(own.thing[shape], known)]


def _edges(one: Cut) -> Iterator[list[Any]]:
    """Write the stretches of both edges that are known."""
    for side, points in enumerate(one.edges):
        bounds = np.flatnonzero(np.diff(np.isfinite(points[:, 0]).astype(np.int8), prepend=0, append=0))
        for begin, end in bounds.reshape(-1, 2).tolist():
            if end - begin > 1:
                yield [side, int(one.whole[side]), _steps(points[begin:end])]
