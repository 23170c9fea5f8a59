"""Rooms and tight places made by hand, for what is told of them."""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from pipeline.checks.room.found import Room, TightPlaces
from pipeline.kernels.plan_records import EDGE, NOTHING
from pipeline.terms import Basis, Part

PLACE: Mapping[str, Any] = {
    "row": 0,
    "direction": 0,
    "from_m": 14.0,
    "to_m": 26.0,
    "at_m": 20.0,
    "offset_m": 0.0,
    "gap_m": (0.4, 0.4),
    "part": (Part.MIRROR, Part.MIRROR),
    "body_x_m": (-0.6, -0.6),
    "gap_at_m": (20.0, 20.0),
    "thing": (EDGE, EDGE),
    "middle_m": 0.3,
    "swept_m": 2.1,
    "offtracking_m": 0.0,
    "tail_swing_m": 0.0,
    "lock_share": 0.0,
    "missing_m": 0.0,
    "shunt": -1,
}
"""A tight place on a straight, between two edges."""
LINE = ("x", "y", "rear_offset_m", "steer", "chainage_m")


def straight_line(
    steer: Sequence[float] = (0.0,) * 13, first_m: float = 14.0, way: int = 0, offset_m: float = 0.0
) -> dict[str, np.ndarray]:
    """Drive a metre a point along the trail, front axle 2.8 m ahead of the rear one, with steering angles by point."""
    along = np.arange(len(steer), dtype=np.float64)
    sign = 1.0 if way == 0 else -1.0
    return {
        "x": 500_000.0 + first_m + sign * (along + 2.8),
        "y": np.full(along.size, 5_400_000.0 - sign * offset_m),
        "rear_offset_m": np.zeros(along.size),
        "steer": np.asarray(steer, dtype=np.float64),
        "chainage_m": first_m + sign * along,
    }


def places_of(*changes: Mapping[str, Any]) -> TightPlaces:
    """Make tight places; each mapping changes :data:`PLACE`, ``line`` its way."""
    rows = [{**PLACE, **one} for one in changes]
    lines = [row.pop("line", None) or straight_line(offset_m=row["offset_m"]) for row in rows]
    whole = {"row", "direction", "part", "thing", "shunt"}
    columns = {
        name: np.array([row[name] for row in rows], dtype=np.int64 if name in whole else np.float64).reshape(
            (len(rows), 2) if isinstance(value, tuple) else len(rows)
        )
        for name, value in PLACE.items()
    }
    ways = {name: np.concatenate([line[name] for line in lines] or [np.empty(0)]) for name in LINE}
    points = np.cumsum([0, *(line["x"].size for line in lines)])
    return TightPlaces(**columns, points=points, **ways)


def room_of(segments: int = 1, places: TightPlaces | None = None, **changes: object) -> Room:
    """Make the room of a trail 3.5 m wide that a body of 2.1 m drives down the middle of; *changes* go everywhere."""
    values: dict[str, object] = {
        "gap_m": 0.7,
        "width_m": 2.1,
        "at_m": 20.0,
        "part": Part.MIRROR,
        "thing": EDGE,
        "side": 0,
        "basis": Basis.TAG,
        "needed": 0.0,
        "needed_at_m": np.nan,
        "turns": True,
        "under": -1,
        "clear_m": np.nan,
        "under_at_m": np.nan,
        "beside": 0,
        **changes,
    }
    kinds = {"part": np.int64, "thing": np.int64, "side": np.int64, "under": np.int64, "beside": np.int64}
    kinds |= {"basis": np.uint8, "turns": np.bool_}
    filled = {
        name: np.broadcast_to(np.asarray(value, dtype=kinds.get(name, np.float64)), (segments, 2)).copy()
        for name, value in values.items()
    }
    return Room(**filled, places=places if places is not None else places_of())


def unbounded(segments: int = 1, **changes: object) -> Room:
    """Make the room of a trail beside which nothing is known."""
    bare = {"gap_m": np.nan, "width_m": np.nan, "at_m": np.nan, "part": -1, "thing": NOTHING, "basis": Basis.NONE}
    return room_of(segments, **{**bare, **changes})
