"""How a vehicle follows a way: bicycle model, front axle on the way as well as lock and steering rate allow.

Wheels roll without slip at walking pace. The middle of the rear axle moves along the body, the middle of the front
axle along the steered wheels; at steering angle δ both run on circles about one centre, the rear one of curvature
tan δ ÷ wheelbase. Each step holds one δ, so it is exact; δ is the one whose circle leads the middle of the front axle
through a point of the way ahead, within the lock and within what the driver can turn over the distance driven.
The point lies as far ahead as the driver needs for half of the lock: nearer, slow hands weave; farther, they cut
corners. Without a limit of the rate it is the next one: the front axle meets every point of the way, and the rear axle
follows its tractrix to the second order of the step.
"""

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.compiled import bare, kernel
from pipeline.kernels.plan_records import Boxes, Tracks
from pipeline.kernels.plan_way import COS, HEADING, SIN, X, Y, locate, place_on, way_rows

__all__ = ["HELD_M", "Driven", "aim", "follow", "roll_on"]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]
Flags = NDArray[np.bool_]
State = tuple[float, float, float, float]

HELD_M = 0.1
"""A line is held while the middle of the front axle keeps within this of it."""
TINY = 1e-12
LEAST_COS = 0.3
"""A vehicle that stands across the way is taken to move on as if at this cosine of the angle between them."""
LEAST_STEP, MOST_STEP = 0.2, 3.0
"""A pose is at least and at most so many steps of the way after the one before it, far from the way too."""


class Driven(NamedTuple):
    """How a way was driven; one entry a point of the tracks: the pose whose rear axle is abreast of it."""

    x: Float64
    """Middle of the rear axle."""
    y: Float64
    heading: Float64
    steer: Float64
    """Steering angle, rad, + left, from here on to the next pose."""
    held: Flags
    """The middle of the front axle is within ``HELD_M`` of the way."""


@bare
def roll_on(state: State, wheelbase: float, distance: float) -> State:
    """Roll the middle of the rear axle on by *distance*, m, negative for back, at the steering angle of *state*; exact.

    *state*: x and y of the middle of the rear axle, heading, steering angle.
    """
    x, y, heading, steer = state
    half = 0.5 * distance * math.tan(steer) / wheelbase
    chord = distance * math.sin(half) / half if half != 0.0 else distance
    return x + chord * math.cos(heading + half), y + chord * math.sin(heading + half), heading + 2.0 * half, steer


@bare
def aim(forward: float, left: float, wheelbase: float) -> float:
    """Curvature of the rear axle's circle on which the front axle comes through a point.

    Parameters
    ----------
    forward, left
        The point, m from the middle of the rear axle, in the frame of the body; beyond the front axle.
    wheelbase
        m.

    Notes
    -----
    The middle of the front axle, at (L, 0), and the point, at (x, y), are as far from the centre at (0, r):
    L² + r² = x² + (y − r)², so 1/r = 2y ÷ (x² + y² − L²).
    """
    return 2.0 * left / max(forward * forward + left * left - wheelbase * wheelbase, TINY)


def follow(boxes: Boxes, tracks: Tracks, rate: float, rows: Float64 | None = None) -> Driven:
    """Drive along tracks with the middle of the front axle on their middle line.

    Each is entered as if what bends under the vehicle there had begun long before.

    Parameters
    ----------
    boxes
        The vehicle.
    tracks
        The ways.
    rate
        Most that the steering angle can change, rad per metre that the rear axle is driven; > 0, inf for no limit.
    rows
        Of :func:`pipeline.kernels.plan_way.way_rows`, where they are at hand.

    Returns
    -------
    Driven
        One pose a point, as the rear axle comes abreast of it.
    """
    poses = np.empty((5, tracks.x.size))
    lengths = (tracks.step, boxes.wheelbase, boxes.lock, rate)
    rows = way_rows(tracks) if rows is None else rows
    follow_ways(tracks.offsets, rows, _entries(boxes, tracks), lengths, poses)
    x, y, heading, steer, right = poses
    return Driven(x, y, heading, steer, np.abs(right) <= HELD_M)


def _entries(boxes: Boxes, tracks: Tracks) -> Float64:
    """Stand abreast of the first point of each track in a steady turn: x, y, curvature of the rear axle's way."""
    first, wheelbase = tracks.offsets[:-1], boxes.wheelbase
    ahead = np.clip(round(wheelbase / tracks.step), 1, np.diff(tracks.offsets) - 1)
    bend = (tracks.heading[first + ahead] - tracks.heading[first]) / (ahead * tracks.step)
    most = math.sin(boxes.lock)
    steer = np.arcsin(np.clip(wheelbase * bend, -most, most))
    inwards, heading = wheelbase * np.tan(steer / 2.0), tracks.heading[first]
    x, y = tracks.x[first] - inwards * np.sin(heading), tracks.y[first] + inwards * np.cos(heading)
    return np.column_stack((x, y, np.tan(steer) / wheelbase))


@kernel
def follow_ways(
    offsets: Int64, ways: Float64, entries: Float64, lengths: tuple[float, float, float, float], poses: Float64
) -> None:
    """Drive along ways.

    Parameters
    ----------
    offsets, ways
        Ways, and their rows.
    entries
        Where each begins, shape (ways, 3): x and y of the rear axle, curvature of its way.
    lengths
        Step of the ways, m; wheelbase, lock, rate.
    poses
        Filled, shape (5, points): x, y, heading, steering angle, m that the front axle is to the right of the way.
    """
    step, wheelbase, lock, rate = lengths
    most = math.tan(lock) / wheelbase
    for track in range(offsets.size - 1):
        way = ways[offsets[track] : offsets[track + 1]]
        x, y, bend = entries[track, 0], entries[track, 1], entries[track, 2]
        heading, cos, sin = way[0, HEADING], way[0, COS], way[0, SIN]
        steer, front, rear = math.atan(wheelbase * bend), math.floor(wheelbase / step), np.inf
        for i in range(way.shape[0]):
            front, on, right = locate(x + wheelbase * cos, y + wheelbase * sin, way, step, front)
            free, turn = rate * rear, 0.5 * bend * step
            rear = _to_next(way, min(i + 1, way.shape[0] - 1), step, (x, y), (cos - turn * sin, sin + turn * cos))
            preview = max(rear * math.sqrt(1.0 + (wheelbase * bend) ** 2), 0.5 * lock / rate)
            to_x, to_y = place_on(way, step, front * step + on + preview)
            dx, dy = to_x - x, to_y - y
            asked = aim(max(cos * dx + sin * dy, wheelbase), cos * dy - sin * dx, wheelbase)
            bend = min(max(asked, -most), most)
            turned = math.atan(wheelbase * bend)
            if abs(turned - steer) > free:
                turned = steer + math.copysign(free, turned - steer)
                bend = math.tan(turned) / wheelbase
            steer, k = turned, offsets[track] + i
            poses[0, k], poses[1, k], poses[2, k], poses[3, k], poses[4, k] = x, y, heading, steer, right
            half = 0.5 * bend * rear
            c, s = math.cos(half), math.sin(half)
            chord = s / (0.5 * bend) if bend != 0.0 else rear
            x, y = x + chord * (cos * c - sin * s), y + chord * (sin * c + cos * s)
            heading += 2.0 * half
            c, s = c * c - s * s, 2.0 * c * s
            cos, sin = cos * c - sin * s, sin * c + cos * s


@bare
def _to_next(way: Float64, i: int, step: float, at: tuple[float, float], ahead: tuple[float, float]) -> float:
    """How far the rear axle rolls in the direction *ahead* until it is abreast of point *i*."""
    short = way[i, COS] * (way[i, X] - at[0]) + way[i, SIN] * (way[i, Y] - at[1])
    cos = max(way[i, COS] * ahead[0] + way[i, SIN] * ahead[1], LEAST_COS)
    return float(min(max(short / cos, LEAST_STEP * step), MOST_STEP * step))
