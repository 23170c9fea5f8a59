"""Vehicles in plan, ways and things beside them, for tests of the plan kernels."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pipeline.kernels.plan_records import Boxes, Solids, Tracks

Floats = NDArray[np.float64]
Row = tuple[float, float, float, float, float, float, int]

FREE = np.inf


def boxes_of(rows: Sequence[Row], wheelbase: float, lock: float = 0.6) -> Boxes:
    """Make boxes from rows of rear, front, right, left, low, high, part."""
    faces = np.array([row[:6] for row in rows], dtype=np.float64).T
    return Boxes(*(face.copy() for face in faces), np.array([row[6] for row in rows]), wheelbase, lock)


def wheels(wheelbase: float, track: float, radius: float, width: float) -> list[Row]:
    """Make the four wheels."""
    return [
        (x - radius, x + radius, y - width / 2.0, y + width / 2.0, 0.0, 2.0 * radius, 0)
        for x in (wheelbase, 0.0)
        for y in (track / 2.0, -track / 2.0)
    ]


WAGON = boxes_of(
    [
        *wheels(2.8, 1.6, 0.4, 0.26),
        (-1.1, 3.7, -0.95, 0.95, 0.25, 1.5, 1),
        (2.1, 2.3, 0.9, 1.15, 1.0, 1.35, 2),
        (2.1, 2.3, -1.15, -0.9, 1.0, 1.35, 2),
        (-0.9, 2.0, -0.7, 0.7, 1.5, 2.1, 3),
    ],
    2.8,
)
"""A wagon of everyday size."""


def plank(wheelbase: float, width: float, rear: float = 0.0, front: float = 0.0, lock: float = 1.4) -> Boxes:
    """Make a body without thickness of wheels: tyres in its sides, overhangs *rear* and *front*."""
    rows = wheels(wheelbase, width, 1e-9, 1e-9)
    return boxes_of([*rows, (-rear, wheelbase + front, -width / 2.0, width / 2.0, 0.2, 1.5, 1)], wheelbase, lock)


def way(bends: ArrayLike, step: float = 0.5, half: float = 2.0, heading: float = 0.0, roll: float = 0.0) -> Tracks:
    """Make one track whose curvature between its points is *bends*, 1/m; *half*: from the middle to either edge."""
    turn = np.asarray(bends, dtype=np.float64) * step
    along = heading + np.concatenate(([0.0], np.cumsum(turn)))
    middle, chord = (along[1:] + along[:-1]) / 2.0, step * np.sinc(turn / (2.0 * np.pi))
    x, y = (np.concatenate(([0.0], np.cumsum(chord * part))) for part in (np.cos(middle), np.sin(middle)))
    return track_of(x, y, along, step, half=half, roll=roll)


def track_of(x: Floats, y: Floats, heading: Floats, step: float, half: float = 2.0, roll: float = 0.0) -> Tracks:
    """Make one track of points."""
    count = x.size
    wide = np.full((count, 2), half)
    end = np.array([(count - 1) * step])
    none = np.full(count, np.nan)
    rolls, known = np.full(count, roll), np.full((count, 2), FREE)
    return Tracks(np.array([0, count]), x, y, heading, rolls, wide, known, wide, none, step, np.zeros(1), end)


def circle(radius: float, turns: float = 1.0, step: float = 0.5, half: float = FREE) -> Tracks:
    """Make a way round to the left, entered from a straight of 10 m."""
    bends = np.zeros(round((10.0 + turns * 2.0 * np.pi * radius) / step))
    bends[round(10.0 / step) :] = 1.0 / radius
    return way(bends, step, half)


def joined(tracks: Sequence[Tracks]) -> Tracks:
    """Put tracks of one step one after another."""
    sizes = [0, *(track.x.size for track in tracks)]
    columns = (np.concatenate([track[k] for track in tracks]) for k in range(1, 9))
    ends = (np.concatenate([track[k] for track in tracks]) for k in (10, 11))
    return Tracks(np.cumsum(sizes), *columns, tracks[0].step, *ends)


def mirrored(tracks: Tracks) -> Tracks:
    """Turn a world over: left becomes right."""
    sides = {name: getattr(tracks, name)[:, ::-1].copy() for name in ("wheel", "body", "aside")}
    return tracks._replace(y=-tracks.y, heading=-tracks.heading, roll=-tracks.roll, hold=-tracks.hold, **sides)


def solids_of(rows: Sequence[Sequence[float]], offsets: Sequence[int] | None = None) -> Solids:
    """Make solids from rows of ax, ay, bx, by, radius, low, high."""
    columns = np.array(rows, dtype=np.float64).reshape(-1, 7).T.copy()
    count = columns.shape[1]
    return Solids(np.array(offsets or [0, count]), *columns, columns[0], columns[4], np.arange(count))


def trunk(x: float, y: float, radius: float = 0.15) -> tuple[float, ...]:
    """Make the row of a tree."""
    return (x, y, x, y, radius, 0.0, np.inf)


NOTHING_THERE = solids_of([])


def trees_along(tracks: Tracks, every: float, aside: float, radius: float = 0.15) -> Solids:
    """Plant trees on both sides of each track."""
    rows, offsets = [], [0]
    for first, end in zip(tracks.offsets[:-1], tracks.offsets[1:], strict=True):
        for i in range(first, end, round(every / tracks.step)):
            for side in (1.0, -1.0):
                sine, cosine = np.sin(tracks.heading[i]), np.cos(tracks.heading[i])
                rows.append(trunk(tracks.x[i] + side * aside * sine, tracks.y[i] - side * aside * cosine, radius))
        offsets.append(len(rows))
    return solids_of(rows, offsets)
