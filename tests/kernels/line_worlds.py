"""Ways, vehicles and things for the search of the line."""

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.plan_records import Boxes, Solids, Tracks

Float64 = NDArray[np.float64]

STEP = 0.5


def vehicle(length: float = 4.6, width: float = 1.9, wheelbase: float = 2.8, radius: float = 5.2) -> Boxes:
    """Make a body with four wheels just inside it; *radius* of the middle of the rear axle at full lock."""
    half, rear = width / 2.0, -(length - wheelbase) / 2.0
    rows = [
        (x - 0.35, x + 0.35, y - 0.12, y + 0.12, 0.0, 0.7, 0)
        for x in (wheelbase, 0.0)
        for y in (half - 0.17, 0.17 - half)
    ]
    rows.append((rear, rear + length, -half, half, 0.25, 1.9, 1))
    columns = np.array(rows, dtype=np.float64).T
    return Boxes(*columns[:6].copy(), columns[6].astype(np.int64), wheelbase, float(np.arctan(wheelbase / radius)))


def track_of(curvature: Float64, aside: float = 1.5, wheel: float = np.inf, body: float = np.inf) -> Tracks:
    """One way of given curvature, 1/m + left, one value a step of 0.5 m; from the origin eastwards."""
    turn = curvature * STEP
    heading = np.concatenate(([0.0], np.cumsum(turn)))
    middle = heading[:-1] + turn / 2.0
    x, y = (np.concatenate(([0.0], np.cumsum(STEP * part(middle)))) for part in (np.cos, np.sin))
    count = x.size
    pair = np.ones((count, 2))
    return Tracks(
        np.array([0, count]), x, y, heading, np.zeros(count), wheel * pair, body * pair, aside * pair,
        np.full(count, np.nan), STEP, np.zeros(1), np.full(1, (count - 1) * STEP),
    )  # fmt: skip


def straight(length: float, **sizes: float) -> Tracks:
    """Make a straight way."""
    return track_of(np.zeros(round(length / STEP)), **sizes)


def trees(tracks: Tracks, *places: tuple[float, float, float]) -> Solids:
    """Trunks beside the first way: place along it, offset + right, radius."""
    at, offset, radius = np.array(places, dtype=np.float64).reshape(-1, 3).T
    nth = at / tracks.step
    heading = np.interp(nth, np.arange(tracks.x.size), tracks.heading)
    x = np.interp(nth, np.arange(tracks.x.size), tracks.x) + offset * np.sin(heading)
    y = np.interp(nth, np.arange(tracks.x.size), tracks.y) - offset * np.cos(heading)
    none = np.zeros(at.size)
    return Solids(
        np.array([0, at.size]), x, y, x.copy(), y.copy(), radius.copy(), none, none + np.inf, at.copy(),
        radius.copy(), np.arange(at.size),
    )  # fmt: skip
