"""Lines past tight places as the map page carries them: plans of the poses in whole centimetres round each place."""

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from pipeline.checks.room.plans import Plans
from pipeline.products.facts import Facts
from pipeline.products.lines import lon_lat
from pipeline.products.map_codes import LARGE, Sayings, Words, codes, differences, keys, tenths
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
Ints = NDArray[np.int64]
_Known = tuple[dict[str, tuple[str, str]], Words]
"""Sign and name of every surveyed thing by its id, and the numbers that they have on the page."""

PARTS = [part.word for part in Part]
LEFT, RIGHT = 0, 1


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
    elif facts.plans is not None and len(facts.lines):
        rows = _rows(facts, facts.plans, things, sayings)
        for segment, row in zip(codes(facts.lines["segment_id"], list(index)), rows, strict=True):
            found[segment].append(row)
    return {
        "rows": found,
        "parts": PARTS,
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
    cuts = [cut(drawn, place, own[setup]) for place, setup in enumerate(table["setup"].tolist())]
    origins = np.array([one.origin for one in cuts]).reshape(-1, 2)
    names = (_names(facts), things)
    columns = zip(
        keys(table, list(own)).tolist(),
        table["place"].tolist(),
        tenths(table["at_m"]),
        np.round(lon_lat(origins, facts.crs) * 1e7).astype(np.int64).tolist(),
        _ways(table, origins),
        _poses(cuts),
        [one.tightest for one in cuts],
        zip(*(_sides(cuts, side, table, names) for side in (LEFT, RIGHT)), strict=True),
        _shapes(drawn, cuts, names),
        _edges(cuts),
        np.round(1000 * table["missing_m"]).astype(np.int64).tolist(),
        [NOT_ASKED if pd.isna(flag) else int(flag) for flag in table["shunt"].tolist()],
        map(sayings.code, table["advice"].tolist()),
        strict=True,
    )
    for key, place, at, origin, way, poses, tightest, sides, *rest, advice in columns:
        yield [key, place, at, *origin, way, poses, tightest, list(sides), *rest, *advice]


def _names(facts: Facts) -> dict[str, tuple[str, str]]:
    """Sign and name of every surveyed thing."""
    columns = (facts.obstacles[name].tolist() for name in ("obstacle_id", "kind", "name"))
    return {
        one: (SIGNS[ObstacleKind(kind)], clean(f"{kind} {text(name)}"))
        for one, kind, name in zip(*columns, strict=True)
    }


def _thing(one: object, known: _Known) -> int:
    """Give the number of a surveyed thing; the edge of the trail has none."""
    names, things = known
    return things.number(names[one]) if isinstance(one, str) else EDGE


def _ways(table: pd.DataFrame, origins: Floats) -> list[list[int]]:
    """Write the ways of the front axle."""
    points, place = shapely.get_coordinates(table["geometry"].to_numpy(), return_index=True)
    return _steps(points - origins[place], place)


def _steps(points: Floats, line: Ints) -> list[list[int]]:
    """Write lines in whole centimetres, by the corners that count: the first, then the steps."""
    lines = shapely.simplify(shapely.linestrings(points, indices=line), TOLERANCE_M)
    corners, owner = shapely.get_coordinates(lines, return_index=True)
    return differences(np.round(100 * corners).astype(np.int64), owner)


def _poses(cuts: Sequence[Cut]) -> list[list[int]]:
    """Write poses: the first, then the steps; headings without a jump at the full turn."""
    poses = np.concatenate([one.poses for one in cuts])
    owner = np.repeat(np.arange(len(cuts)), [len(one.poses) for one in cuts])
    angles = np.degrees(np.column_stack([np.unwrap(poses[:, 2]), poses[:, 3:]]))
    return differences(np.round(np.column_stack([100 * poses[:, :2], 10 * angles])).astype(np.int64), owner)


def _sides(cuts: Sequence[Cut], side: int, table: pd.DataFrame, known: _Known) -> list[list[Any] | None]:
    """Write what is nearest on a side of every place."""
    word = ("left", "right")[side]
    told = (table[f"{word}_{name}"].tolist() for name in ("part", "m", "thing", "at_m"))
    found: list[list[Any] | None] = []
    for one, part, gap, thing, at in zip(cuts, *told, strict=True):
        near = one.sides[side]
        if near is None:
            found.append(None)
            continue
        points = [round(100 * value) for value in (*near.body.tolist(), *near.beside.tolist())]
        found.append([near.pose, *points, round(1000 * gap), PARTS.index(part), _thing(thing, known), round(10 * at)])
    return found


def _shapes(drawn: Plans, cuts: Sequence[Cut], known: _Known) -> Iterator[list[list[int]]]:
    """Write what stands beside every way."""
    own = drawn.shapes
    places = np.column_stack([own.ax, own.ay, own.bx, own.by, own.radius, own.low])
    for one in cuts:
        away = np.concatenate([one.origin, one.origin, [0.0, 0.0]])
        sizes = np.round(100 * (places[one.shapes] - away)).astype(np.int64).tolist()
        yield [[*size, _thing(thing, known)] for size, thing in zip(sizes, own.thing[one.shapes], strict=True)]


def _edges(cuts: Sequence[Cut]) -> list[list[list[Any]]]:
    """Write the stretches of both edges that are known, of every place."""
    found: list[list[list[Any]]] = [[] for _ in cuts]
    heads, stretches = [], []
    for place, one in enumerate(cuts):
        for side, points in enumerate(one.edges):
            bounds = np.flatnonzero(np.diff(np.isfinite(points[:, 0]).astype(np.int8), prepend=0, append=0))
            for begin, end in bounds.reshape(-1, 2).tolist():
                if end - begin > 1:
                    heads.append((place, side, int(one.whole[side])))
                    stretches.append(points[begin:end])
    if stretches:
        owner = np.repeat(np.arange(len(stretches)), [len(points) for points in stretches])
        for (place, *head), steps in zip(heads, _steps(np.concatenate(stretches), owner), strict=True):
            found[place].append([*head, steps])
    return found
