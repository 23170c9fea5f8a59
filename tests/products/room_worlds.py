"""How the set-ups of the tiny world pass its tight places: straight on, so that every figure can be worked out by hand.

On each place the set-up drives straight ahead, its rear axle at a given offset from the recorded line. What stands
beside it is an upright capsule, touched by a mirror, a tyre, the side of the body or the roof; or it is the edge of the
trail.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import radians, sin
from typing import Any

import geopandas as gpd
import numpy as np
from numpy.typing import NDArray
from shapely import LineString, Point

from pipeline.checks.room.plans import Edges, Plans, Shapes, Ways
from pipeline.tables import CROSSINGS, LINES, validate
from pipeline.terms import Direction
from pipeline.vehicle.envelope_model import Envelope

Floats = NDArray[np.float64]

STEP = 0.25
RUN_M = 8.0
"""A way begins so far before the tightest point, and ends so far behind it."""
WITH, AGAINST = Direction.WITH, Direction.AGAINST
LEFT, RIGHT = 0, 1


@dataclass(frozen=True, slots=True)
class Beside:
    """What is nearest on a side: a capsule across or a disc, or the edge of the trail."""

    side: int
    part: str
    at_m: float
    """Chainage."""
    offset_m: float
    """Of its nearest point from the recorded line, + right in travel."""
    thing: str | None
    """``obstacle_id``; ``None`` for the edge."""
    radius_m: float = 0.2
    long_m: float = 0.0
    """Length of a capsule, away from the line."""
    low_m: float = 0.0


@dataclass(frozen=True, slots=True)
class Spot:
    """One tight place: who, where, and what stands there. The body leans by *roll_deg*, + right side down in travel."""

    segment: str
    setup: int
    direction: Direction
    at_m: float
    offset_m: float
    besides: tuple[Beside, ...]
    roll_deg: float = 0.0
    half_m: tuple[float, float] = (np.nan, np.nan)
    """How far the edges lie from the recorded line, left and right in travel."""
    whole: bool = False
    missing_m: float = 0.0
    shunt: bool | None = None
    advice: str = "hold the right edge past the rock: 0.3 m at the left of the mirror"
    place: int = 1


ROCK = Beside(LEFT, "mirror", 36.0, -1.5, "o4")
SPOTS = (
    Spot("s1", 0, WITH, 36.0, 0.1, (ROCK, Beside(RIGHT, "wheel", 35.0, 1.5, None)), half_m=(1.5, 1.5)),
    Spot("s1", 1, WITH, 36.0, 0.2, (ROCK, Beside(RIGHT, "wheel", 35.0, 1.5, None)), half_m=(1.5, 1.5)),
    Spot(
        "s1",
        1,
        AGAINST,
        36.0,
        -0.2,
        (
            Beside(RIGHT, "body", 36.0, 0.82, "o4", long_m=0.6),
            Beside(LEFT, "mirror", 38.0, -1.3, None),
        ),
        half_m=(1.3, 1.3),
        whole=True,
        missing_m=0.13,
        shunt=True,
        advice="none passes: 0.13 m too narrow between the rock and the left edge; with one reverse it passes",
    ),
    Spot("s2", 1, WITH, 30.0, -0.3, (Beside(RIGHT, "roof", 29.0, 0.9, "o5", 0.15, 1.5, 1.9),), roll_deg=6.0),
    Spot("s2", 1, WITH, 70.0, 0.0, (Beside(LEFT, "wheel", 70.0, -1.1, "o5"),), place=2, advice="straight through"),
    Spot(
        "s3",
        0,
        AGAINST,
        40.0,
        0.0,
        (Beside(LEFT, "body", 40.0, -0.8, None),),
        half_m=(0.8, np.nan),
        whole=True,
        missing_m=0.2,
        shunt=False,
        advice="none passes: 0.20 m is missing, and a reverse does not help",
    ),
)
"""Every tight place of the world; there is none of the fourth and fifth segment."""


@dataclass(frozen=True, slots=True)
class _Driven:
    """Poses along one place, its edges, and what comes nearest."""

    rear: Floats
    heading: Floats
    roll: Floats
    edges: Floats
    whole: bool
    tightest: int
    nearest: list[int] = field(default_factory=lambda: [-1, -1])
    body: Floats = field(default_factory=lambda: np.full((2, 2), np.nan))
    beside: Floats = field(default_factory=lambda: np.full((2, 2), np.nan))
    shapes: list[tuple[Any, ...]] = field(default_factory=list)


def room_of(envelopes: Sequence[Envelope], segments: gpd.GeoDataFrame, told: str = "") -> dict[str, Any]:
    """Give the fields of the facts that this module makes; *told* stands in the place of the advice."""
    lines, plans = lines_of(envelopes, segments, told)
    return {"lines": lines, "plans": plans, "crossings": crossings_of(segments, told)}


def half_width(part: str, envelope: Envelope) -> float:
    """Half of the width of a part that a thing beside the way meets first."""
    return {
        "wheel": (envelope.track_rear_m + envelope.tyre_width_m) / 2,
        "body": envelope.width_m / 2,
        "mirror": envelope.width_mirrors_m / 2,
        "roof": envelope.width_m / 2,
    }[part]


def face_of(spot: Spot, beside: Beside, envelope: Envelope) -> float:
    """Give how far out a part reaches on its side; the roof leans over by its height × sin of the lean."""
    lean = envelope.height_m * sin(radians(spot.roll_deg)) if beside.part == "roof" else 0.0
    return half_width(beside.part, envelope) + max(lean * _sign(beside.side), 0.0)


def gap_of(spot: Spot, beside: Beside, envelope: Envelope) -> float:
    """Gap between the face of the part and what is beside it."""
    return (beside.offset_m - spot.offset_m) * _sign(beside.side) - face_of(spot, beside, envelope)


def _sign(side: int) -> float:
    return 1.0 if side == RIGHT else -1.0


def frame_of(line: LineString, direction: Direction, at_m: float) -> tuple[Floats, Floats, Floats]:
    """Give the point of the recorded line at a chainage, the direction of travel there, and the way to the right."""
    ahead = np.array(line.interpolate(at_m + 0.01).coords[0][:2]) - np.array(
        line.interpolate(at_m - 0.01).coords[0][:2]
    )
    forward = direction.sign * ahead / np.hypot(*ahead)
    return np.array(line.interpolate(at_m).coords[0][:2]), forward, np.array([forward[1], -forward[0]])


def body_x(part: str, envelope: Envelope) -> float:
    """Where on the body the thing is met, m ahead of the rear axle."""
    ahead = {"wheel": 0.0, "body": 0.5, "mirror": envelope.wheelbase_m + envelope.mirror_m[0], "roof": 0.6}
    return ahead[part]


def lines_of(
    envelopes: Sequence[Envelope], segments: gpd.GeoDataFrame, told: str = ""
) -> tuple[gpd.GeoDataFrame, Plans]:
    """Drive every place."""
    drives = [_drive(spot, envelopes[spot.setup], segments, told) for spot in SPOTS if spot.setup < len(envelopes)]
    frame = gpd.GeoDataFrame([row for row, _ in drives], columns=[*LINES.names, "geometry"], crs=segments.crs)
    kinds = {column.name: column.kind.dtype for column in LINES.columns}
    frame = frame.astype({**kinds, "shunt": "boolean"})
    return validate(frame, LINES), _plans([one for _, one in drives])


def _drive(spot: Spot, envelope: Envelope, segments: gpd.GeoDataFrame, told: str) -> tuple[list[Any], _Driven]:
    """Give the row of LINES and the poses of one place, with what stands beside them."""
    line = segments.set_index("segment_id").geometry[spot.segment]
    point, forward, right = frame_of(line, spot.direction, spot.at_m)
    places = np.arange(-RUN_M, RUN_M + STEP / 2, STEP)
    rear = point + places[:, None] * forward + spot.offset_m * right
    front = rear + envelope.wheelbase_m * forward
    found = _Driven(
        rear=rear,
        heading=np.full(len(places), np.arctan2(forward[1], forward[0])),
        roll=np.full(len(places), radians(spot.roll_deg)),
        edges=np.stack([rear + (_sign(s) * spot.half_m[s] - spot.offset_m) * right for s in (LEFT, RIGHT)], axis=1),
        whole=spot.whole,
        tightest=int(np.argmin(np.abs(places))),
    )
    sides: dict[int, tuple[Any, ...]] = {}
    for beside in spot.besides:
        gap, x = gap_of(spot, beside, envelope), body_x(beside.part, envelope)
        along = spot.direction.sign * (beside.at_m - spot.at_m)
        found.nearest[beside.side] = pose = int(np.argmin(np.abs(places - (along - x))))
        face = face_of(spot, beside, envelope) * _sign(beside.side)
        touch = rear[pose] + x * forward + face * right
        found.body[beside.side] = touch
        found.beside[beside.side] = touch + _sign(beside.side) * gap * right
        sides[beside.side] = (gap, beside.part, x - envelope.wheelbase_m, beside.at_m, beside.thing)
        if beside.thing is not None:
            middle = point + along * forward + (beside.offset_m + _sign(beside.side) * beside.radius_m) * right
            far = middle + _sign(beside.side) * beside.long_m * right
            found.shapes.append((*middle, *far, beside.radius_m, beside.low_m, beside.thing))
    nothing = (np.nan, None, np.nan, np.nan, None)
    ends = sorted(spot.at_m + np.array([-RUN_M, RUN_M]))
    row = [
        *(spot.segment, envelope.setup, spot.direction.value, spot.place, *ends, spot.at_m, spot.offset_m),
        *sides.get(LEFT, nothing),
        *sides.get(RIGHT, nothing),
        *(envelope.width_mirrors_m, 0.0, 0.0, 0.0, spot.missing_m, spot.shunt, told or spot.advice),
        LineString(front),
    ]
    return row, found


def _plans(drives: Sequence[_Driven]) -> Plans:
    """Put the places together."""
    counts = np.concatenate([[0], np.cumsum([len(one.rear) for one in drives])]).astype(np.int64)
    rear, edges = (np.concatenate([getattr(one, name) for one in drives]) for name in ("rear", "edges"))
    heading, roll = (np.concatenate([getattr(one, name) for one in drives]) for name in ("heading", "roll"))
    whole = np.repeat([one.whole for one in drives], np.diff(counts))[:, None] & np.isfinite(edges[:, :, 0])
    nearest = np.array([one.nearest for one in drives])
    shapes = [shape for one in drives for shape in one.shapes]
    ax, ay, bx, by, radius, low = np.array([shape[:6] for shape in shapes]).T
    return Plans(
        ways=Ways(counts, rear[:, 0], rear[:, 1], heading, np.zeros(len(rear)), roll),
        shapes=Shapes(
            offsets=np.concatenate([[0], np.cumsum([len(one.shapes) for one in drives])]).astype(np.int64),
            ax=ax,
            ay=ay,
            bx=bx,
            by=by,
            radius=radius,
            low=low,
            thing=np.array([shape[6] for shape in shapes], dtype=object),
        ),
        edges=Edges(edges[:, :, 0], edges[:, :, 1], whole),
        tightest=counts[:-1] + np.array([one.tightest for one in drives]),
        nearest=np.where(nearest < 0, -1, nearest + counts[:-1, None]),
        body=np.stack([one.body for one in drives]),
        beside=np.stack([one.beside for one in drives]),
    )


def crossings_of(segments: gpd.GeoDataFrame, told: str = "") -> gpd.GeoDataFrame:
    """Cross the ford of the third segment, a flow path of the second, and a hollow of the fifth."""
    nan = np.nan
    words = (
        "the flow path of 3.1 ha meets the surveyed water Ford",
        "water may cross here: nothing was surveyed",
        "ponds",
    )
    rows = [
        ("s3", 208.0, "flow path", 31000.0, nan, "o6", 2.0, 0.35, 0.42, 0.5, 4.0, 6.5, told or words[0]),
        ("s2", 90.0, "flow path", 9000.0, nan, None, nan, nan, nan, nan, nan, nan, told or words[1]),
        ("s5", 40.0, "hollow", nan, 0.12, None, nan, nan, nan, nan, nan, nan, told or words[2]),
    ]
    lines = segments.set_index("segment_id").geometry
    places = [Point(lines[row[0]].interpolate(row[1]).coords[0][:2]) for row in rows]
    frame = gpd.GeoDataFrame(rows, columns=list(CROSSINGS.names), geometry=places, crs=segments.crs)
    return validate(frame.astype({column.name: column.kind.dtype for column in CROSSINGS.columns}), CROSSINGS)
