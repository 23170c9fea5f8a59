"""Poses as the map page carries them: set-ups in millimetres, slopes in tenths of a degree, ground in centimetres.

The lines of the ground keep the corners that they need to stay within a centimetre of what they were.
"""

import math
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.checks.rolling.poses import Poses
from pipeline.products.facts import Facts
from pipeline.products.map_codes import CHECKS, LARGE, codes, differences, keys, tenths, whole
from pipeline.products.stance import stances
from pipeline.terms import Wheel
from pipeline.vehicle.envelope_model import Envelope

__all__ = ["body", "poses"]

AROUND_M = 0.7
"""Ground this far before and behind a set-up is drawn."""
TOLERANCE_CM = 1.0
"""Corners that move a line of the ground by less than this are left out."""

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]


def body(envelope: Envelope) -> dict[str, Any]:
    """Give the outlines of a set-up in mm: what the drawing of its pose is made from."""
    lengths = {
        "wheelbase": envelope.wheelbase_m,
        "front": envelope.length_front_m,
        "rear": envelope.length_rear_m,
        "radius": envelope.tyre_radius_m,
        "tyre": envelope.tyre_width_m,
        "width": envelope.width_m,
        "height": envelope.height_m,
    }
    return {
        **{name: round(1000 * value) for name, value in lengths.items()},
        "tracks": [round(1000 * envelope.track_front_m), round(1000 * envelope.track_rear_m)],
        "cg": [round(1000 * value) for value in envelope.cg_m],
        "under": np.round(1000 * envelope.underbody).astype(int).ravel().tolist(),
    }


def poses(facts: Facts, index: dict[str, int]) -> dict[str, Any]:
    """Rows of the poses, by segment; none in large networks, which ``note`` then says.

    A row is: set-up and direction; check; chainage of the worst point in 0.1 m; its place from the front axle in cm;
    distance between the axles in cm; pitch and roll in 0.1°; wheel in the air, and how far, in mm; least angle left in
    0.1°; heights of the wheel centres and of the ground under them in mm; the ground under the left wheels, the middle
    and the right wheels, each as stretches of corners in cm: the first place and height, then the steps.
    """
    found: list[list[list[Any]]] = [[] for _ in index]
    known = {"rows": found, "wheels": [wheel.word for wheel in Wheel], "note": ""}
    if facts.poses is None:
        return known
    if len(facts.segments) > LARGE:
        return known | {
            "note": "A network of this size leaves out how the set-ups stand; poses.parquet has the figures."
        }
    envelopes = {envelope.setup: envelope for envelope in facts.envelopes}
    segments = codes(facts.poses.table["segment_id"], list(index))
    for segment, row in zip(segments, _rows(facts.poses, envelopes), strict=True):
        found[segment].append(row)
    return known


def _rows(poses: Poses, envelopes: dict[str, Envelope]) -> list[list[Any]]:
    """Write every pose as a row."""
    table, stance = poses.table, stances(poses, envelopes)
    heads = zip(
        keys(table, list(envelopes)).tolist(),
        codes(table["check"], CHECKS).tolist(),
        tenths(table["at_m"]),
        *(_whole(100 * column) for column in (stance.worst_m, stance.apart_m)),
        *(whole(10 * table[name]) for name in ("pitch_deg", "roll_deg")),
        stance.lifted.tolist(),
        _whole(1000 * stance.lift_m),
        whole(10 * table["stability_deg"]),
        strict=True,
    )
    wheels, under = ([_whole(row) for row in 1000 * heights] for heights in (stance.wheels_m, stance.ground_m))
    own = [envelopes[setup] for setup in table["setup"]]
    behind = -stance.apart_m - np.array([envelope.length_rear_m for envelope in own]) - AROUND_M
    ahead = np.array([envelope.length_front_m for envelope in own]) + AROUND_M
    ground = _ground(poses, behind, ahead)
    return [[*head, wheels[row], under[row], ground[row]] for row, head in enumerate(heads)]


def _ground(poses: Poses, behind: Floats, ahead: Floats) -> list[list[list[list[int]]]]:
    """Give the ground from *behind* to *ahead* of the front axle: pose by pose, line by line, stretch by stretch."""
    places = poses.first_m[:, None] + poses.step_m * np.arange(poses.ground_m.shape[1])
    near = (places >= behind[:, None]) & (places <= ahead[:, None])
    heights = poses.ground_m.transpose(0, 2, 1)
    known = np.isfinite(heights) & near[:, None]
    found: list[list[list[list[int]]]] = [[[] for _ in range(known.shape[1])] for _ in range(known.shape[0])]
    stretch, line = _stretches(known)
    if not line.size:
        return found
    points = 100 * np.column_stack([np.broadcast_to(places[:, None], known.shape)[stretch >= 0], heights[stretch >= 0]])
    simpler = shapely.simplify(shapely.linestrings(points, indices=stretch[stretch >= 0]), TOLERANCE_CM)
    corners, owner = shapely.get_coordinates(simpler, return_index=True)
    steps = differences(np.round(corners).astype(np.int64), owner)
    for own, written in zip(line.tolist(), steps, strict=True):
        found[own // known.shape[1]][own % known.shape[1]].append(written)
    return found


def _stretches(known: Flags) -> tuple[Ints, Ints]:
    """Cut lines, the last axis, where they are not known: number of the stretch of every point, line of every stretch.

    A point alone makes no stretch: like one that is not known it has the number −1.
    """
    lines, points = known.shape[0] * known.shape[1], known.shape[2]
    apart = np.zeros((lines, points + 2), dtype=np.int8)
    apart[:, 1:-1] = known.reshape(lines, points)
    edges = np.diff(apart, axis=1)
    line, begin = np.nonzero(edges == 1)
    _, end = np.nonzero(edges == -1)
    drawn = end - begin > 1
    begins, counts = (line * points + begin)[drawn], (end - begin)[drawn]
    number = np.repeat(np.arange(begins.size), counts)
    within = np.arange(number.size) - np.repeat(np.cumsum(counts) - counts, counts)
    stretch = np.full(known.size, -1)
    stretch[begins[number] + within] = number
    return stretch.reshape(known.shape), line[drawn]


def _whole(values: Floats) -> list[int | None]:
    return [round(value) if math.isfinite(value) else None for value in values.tolist()]
