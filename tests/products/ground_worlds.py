"""How the set-ups of the tiny world stand, pass and stop: closed forms, so that every figure can be worked out by hand.

The ground of each pose is a plane (a grade along, a slope across) with what lies on it: a mound under one wheel, a
brow between the axles. Nothing is known beside the middle line of the fourth segment.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pipeline.checks.comparison.changes import Compared
from pipeline.checks.rolling.poses import Poses
from pipeline.products.facts import Facts
from pipeline.tables import (
    COMPARISONS,
    CROSSINGS,
    FITNESS,
    LINES,
    OUTLOOKS,
    PASSINGS,
    POSES,
    STOPPING,
    Table,
    empty,
    validate,
)
from pipeline.terms import Direction
from pipeline.vehicle.envelope_model import Envelope

Floats = NDArray[np.float64]

STEP = 0.1
FIRST, LAST = -6.0, 3.0
"""Reach of the ground of a pose, m from below the front axle."""


@dataclass(frozen=True, slots=True)
class Plot:
    """The ground of one pose: grade and cross as rise over run, + up ahead and + up to the right; a mound; a brow."""

    segment: str
    setup: int
    direction: Direction
    check: str
    front_m: float
    worst_m: float
    """Worst point, m in travel from below the front axle."""
    grade: float
    cross: float
    mound_m: float = 0.0
    """Height of a mound under the front left wheel."""
    brow_m: float = 0.0
    """Height of a brow between the axles."""
    beside: bool = True
    """Whether the ground beside the middle line is known."""

    def height(self, x: Floats, y: float) -> Floats:
        """Height over the place below the front axle; y + to the left."""
        rise = self.grade * x - self.cross * y
        if y > 0:
            rise = rise + self.mound_m * np.exp(-(((x - 0.02) / 0.4) ** 2))
        return rise + self.brow_m * np.exp(-(((x + 1.2) / 0.5) ** 2))


WITH, AGAINST = Direction.WITH, Direction.AGAINST
PLOTS = (
    Plot("s1", 0, WITH, "climb", 70.0, -1.0, 0.25, -0.09),
    Plot("s1", 0, AGAINST, "descent", 70.0, 0.4, -0.25, 0.09),
    Plot("s1", 1, WITH, "articulation", 90.0, 0.0, 0.12, 0.05, mound_m=0.62),
    Plot("s1", 1, AGAINST, "roll", 90.0, 0.0, -0.12, -0.31),
    Plot("s2", 0, WITH, "breakover", 40.0, -1.2, -0.05, 0.02, brow_m=0.35),
    Plot("s2", 0, AGAINST, "breakover", 42.0, -1.2, 0.05, -0.02, brow_m=0.35),
    Plot("s4", 1, WITH, "belly", 66.0, -1.4, 0.08, 0.0, brow_m=0.15, beside=False),
)
"""Every pose of the world; there is none of the third and fifth segment."""


def ground_of(envelopes: Sequence[Envelope], segments: gpd.GeoDataFrame, names: Sequence[str]) -> dict[str, Any]:
    """Give the fields of the facts that this module makes; *names* are those of the comparisons."""
    setups = [envelope.setup for envelope in envelopes]
    comparisons, compared = comparisons_of(setups, names)
    return {
        "poses": poses_of(envelopes),
        "passings": passings_of(setups),
        "stopping": stopping_of(segments, setups),
        "fitness": fitness_of(setups),
        "comparisons": comparisons,
        "compared": compared,
    }


def poses_of(envelopes: Sequence[Envelope]) -> Poses:
    """Stand the set-ups on their plots."""
    places = np.arange(FIRST, LAST + STEP / 2, STEP)
    rows, grounds = [], []
    for plot in PLOTS:
        if plot.setup >= len(envelopes):
            continue
        row, zero = _stand(plot, envelopes[plot.setup])
        half = envelopes[plot.setup].track_front_m / 2
        sides = [plot.height(places, y) - zero for y in (half, 0.0, -half)]
        if not plot.beside:
            sides[0] = sides[2] = np.full_like(places, np.nan)
        rows.append(row)
        grounds.append(np.column_stack(sides))
    table = pd.DataFrame(rows, columns=list(POSES.names))
    return Poses(_typed(table, POSES), STEP, np.full(len(rows), FIRST), np.array(grounds, dtype=np.float32))


def _stand(plot: Plot, envelope: Envelope) -> tuple[dict[str, object], float]:
    """Give the row of a pose, and the mean height of the ground under its wheels; the front right one may hang."""
    half, base = envelope.track_front_m / 2, envelope.wheelbase_m
    pitch = np.arctan(plot.grade)
    apart = float(base * np.cos(pitch))
    at = np.array([0.0, -apart])
    left, right = plot.height(at, half), plot.height(at, -half)
    zero = float((left + right).mean()) / 2 if plot.beside else float(plot.height(at, 0.0).mean())
    twist = float(left[0] - right[0] - left[1] + right[1])
    hung = max(abs(twist) - envelope.wheel_travel_m, 0.0)
    axles = np.arcsin((left - right - [hung, 0.0]) / (2 * half))
    known = np.nan if not plot.beside else 1.0
    sign = plot.direction.sign
    return {
        "segment_id": plot.segment,
        "setup": envelope.setup,
        "direction": plot.direction.value,
        "check": plot.check,
        "at_m": plot.front_m + sign * plot.worst_m,
        "rear_m": plot.front_m - sign * apart,
        "front_m": plot.front_m,
        "pitch_deg": float(np.degrees(pitch)),
        "roll_deg": known * float(np.degrees(axles.mean())),
        "twist_m": known * twist,
        "front_left_m": known * (left[0] - zero),
        "front_right_m": known * (right[0] - zero),
        "rear_left_m": known * (left[1] - zero),
        "rear_right_m": known * (right[1] - zero),
        "lifted": "front right" if plot.beside and hung else None,
        "stability_deg": known * max(envelope.roll_limit_deg - float(np.degrees(np.abs(axles).max())), 2.0),
    }, zero


def repeated(poses: Poses | None, ids: Sequence[str]) -> Poses | None:
    """Let every segment of *ids* have the first two poses, one a direction."""
    if poses is None:
        return None
    pick = np.tile([0, 1], len(ids))
    table = poses.table.iloc[pick].reset_index(drop=True).assign(segment_id=np.repeat(np.array(ids, dtype=object), 2))
    return Poses(table, poses.step_m, poses.first_m[pick], poses.ground_m[pick])


def passings_of(setups: Sequence[str]) -> pd.DataFrame:
    """Pass the rock, the log and the ford."""
    told = (
        (
            "o4",
            "s1",
            75.0,
            ("straddle", 0.4, None, 0.06, 4.0),
            "take it between the wheels: 0.35 m high, 0.06 m to spare",
        ),
        ("o5", "s2", 102.0, ("tread", 0.0, "both", 0.03, 2.0), "0.22 m high and across the trail: both wheels over it"),
        ("o6", "s3", 210.0, ("unsurveyed", np.nan, None, np.nan, np.nan), "the bottom was not sounded"),
    )
    rows = [
        (thing, segment, setup, way.value, at, *_turned(passing, way), reason)
        for thing, segment, at, passing, reason in told
        for setup in setups
        for way in Direction
    ]
    return _typed(pd.DataFrame(rows, columns=list(PASSINGS.names)), PASSINGS)


def _turned(passing: tuple[object, ...], way: Direction) -> tuple[object, ...]:
    """Turn the shift with the direction of travel."""
    word, shift, *rest = passing
    return (word, way.sign * float(shift), *rest)  # type: ignore[arg-type]


def stopping_of(segments: gpd.GeoDataFrame, setups: Sequence[str]) -> pd.DataFrame:
    """Stop everywhere but on the descent of the third segment, where the low grip does not hold the long wagon."""
    rows = []
    for segment in segments.itertuples():
        for index, setup in enumerate(setups):
            for way in Direction:
                grade = float(max(0.0, -segment.grade_min_deg if way is WITH else segment.grade_max_deg))
                low = np.inf if (segment.segment_id, index, way) == ("s3", 1, WITH) else 0.6 + 0.1 * grade
                at = segment.length_m / 2 if grade > 0 else np.nan
                speed = 8.0 - 2.0 * index
                rows.append(
                    (segment.segment_id, setup, way.value, grade, at, speed, speed / 3.6, low, 0.5 + 0.05 * grade)
                )
    return _typed(pd.DataFrame(rows, columns=list(STOPPING.names)), STOPPING)


def fitness_of(setups: Sequence[str]) -> pd.DataFrame:
    """Give cells of 1 m that cannot show a breakover and blur a roll; lines of survey grade carry what they must."""
    told = (
        ("breakover", 1.0, 0.6, 4.0, "°", "cannot", "cells of 1 m are coarser than a quarter of the wheelbase"),
        ("roll", 1.0, 1.5, 2.1, "°", "doubtful", "2.1° of doubt beside 26° of limit"),
        ("climb", 1.0, 2.4, 0.8, "°", "supports", "0.8° of doubt beside 28° of limit"),
        ("breakover", 0.0, 0.6, 0.5, "°", "supports", "measured on the ground"),
    )
    rows = [
        (setup, check, cell, 700.0, needed, sd, 24.0, unit, support, reason)
        for setup in setups
        for check, cell, needed, sd, unit, support, reason in told
        if (setup, check, cell) != (setups[0], "roll", 1.0)
    ]
    return _typed(pd.DataFrame(rows, columns=list(FITNESS.names)), FITNESS)


def comparisons_of(setups: Sequence[str], names: Sequence[str]) -> tuple[pd.DataFrame, tuple[Compared, ...]]:
    """Compare a roof load, which makes one verdict worse and one better, and rain, which changes nothing."""
    nan = np.nan
    rows = [
        (names[0], setups[-1], "s1", "against", "spot", "barred", "roll", 0.91, 1.12, "limit 27.1° → 22.0°"),
        (names[0], setups[-1], "s3", "with", "watch", "ample", "climb", 0.71, 0.58, "the ground asks 14.0° → 11.5°"),
        (names[0], setups[-1], "s4", "with", "watch", "unsurveyed", "height", 0.75, nan, "no obstacle survey of it"),
    ]
    table = _typed(pd.DataFrame(rows, columns=list(COMPARISONS.names)), COMPARISONS)
    effect = "mass 2380 → 2450 kg; centre of gravity 0.062 m higher"
    sums = (
        Compared(names[0], setups[-1], "loads roof_rack, luggage", effect, better=1, worse=2, same=7),
        Compared(names[1], setups[0], "ground wet", "none of the figures changes", better=0, worse=0, same=10),
    )
    return table, sums


def without_ground(facts: Facts) -> Facts:
    """Strip what an older build does not have: poses, passings, stopping, fitness, comparisons, lines and so on."""
    bare = {
        "passings": PASSINGS,
        "stopping": STOPPING,
        "fitness": FITNESS,
        "comparisons": COMPARISONS,
        "lines": LINES,
        "crossings": CROSSINGS,
        "outlooks": OUTLOOKS,
    }
    frames = {name: empty(table) for name, table in bare.items()}
    return replace(facts, poses=None, plans=None, compared=(), outlooked=(), **frames)  # type: ignore[arg-type]


def _typed(frame: pd.DataFrame, table: Table) -> pd.DataFrame:
    """Give the columns the kinds of the contract."""
    kinds = {column.name: column.kind.dtype for column in table.columns}
    return validate(frame.astype(kinds), table)
