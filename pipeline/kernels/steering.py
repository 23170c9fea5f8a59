"""How a vehicle follows a way: bicycle model, front axle on the way as well as lock and steering rate allow.

Wheels roll without slip at walking pace. The middle of the rear axle moves along the body, the middle of the front
axle along the steered wheels; at steering angle δ both run on circles about one centre, the rear one of curvature
tan δ ÷ wheelbase. Each step holds one δ, so it is exact; δ is the one whose circle leads the middle of the front axle
through a point of the way ahead, within the lock and within what the driver can turn over the distance driven.
Without a limit the front axle meets every point of the way, and the rear axle follows its tractrix to the third order
of the step.
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
"""x and y of the middle of the rear axle, heading, steering angle."""

HELD_M = 0.1
"""A line is held while the middle of the front axle keeps within this of it."""
SETTLED = 1e-12
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
    """Roll the middle of the rear axle on by *distance*, m, at the steering angle of *state*; exact."""
    x, y, heading, steer = state
    turn = distance * math.tan(steer) / wheelbase
    chord = distance * (math.sin(0.5 * turn) / (0.5 * turn) if turn != 0.0 else 1.0)
    middle = heading + 0.5 * turn
    return x + chord * math.cos(middle), y + chord * math.sin(middle), heading + turn, steer


@bare
def aim(bearing: float, distance: float, wheelbase: float, lock: float) -> float:
    """Steering angle whose circle leads the middle of the front axle through a point.

    Parameters
    ----------
    bearing, distance
        Of the point, from the middle of the front axle; rad + left of the heading, m.
    wheelbase, lock
        m; largest steering angle, rad.

    Notes
    -----
    The front axle runs on a circle of curvature sin δ ÷ wheelbase that leaves at δ to the heading, and the chord to a
    point of a circle lies half of the angle turned off its tangent: δ + asin(distance · sin δ ÷ (2 · wheelbase)) =
    bearing, solved by Newton's method.
    """
    share = min(0.5 * distance / wheelbase, 1.0)
    steer = min(max(bearing / (1.0 + share), -lock), lock)
    for _ in range(4):
        bent = share * math.sin(steer)
        miss = steer + math.asin(bent) - bearing
        steer -= miss / (1.0 + share * math.cos(steer) / math.sqrt(1.0 - bent * bent))
        steer = min(max(steer, -lock), lock)
        if abs(miss) < SETTLED:
            break
    return steer


def follow(boxes: Boxes, tracks: Tracks, rate: float) -> Driven:
    """Drive along tracks with the middle of the front axle on their middle line.

    Each is entered as if what bends under the vehicle there had begun long before.

    Parameters
    ----------
    boxes
        The vehicle.
    tracks
        The ways.
    rate
        Most that the steering angle can change, rad per metre that the rear axle is driven; inf for no limit.

    Returns
    -------
    Driven
        One pose a point, as the rear axle comes abreast of it.
    """
    poses = np.empty((tracks.x.size, 5))
    follow_ways(tracks.offsets, way_rows(tracks), tracks.step, (boxes.wheelbase, boxes.lock, rate), poses)
    return Driven(*poses.T[:4], np.abs(poses[:, 4]) <= HELD_M)


@kernel
def follow_ways(
    offsets: Int64, ways: Float64, step: float, steering: tuple[float, float, float], poses: Float64
) -> None:
    """Drive along ways.

    Parameters
    ----------
    offsets, ways, step
        Ways, and their rows, *step* apart.
    steering
        Wheelbase, lock, rate.
    poses
        Filled, shape (points, 5): x, y, heading, steering angle, m that the front axle is to the right of the way.
    """
    wheelbase, lock, rate = steering
    for track in range(offsets.size - 1):
        way = ways[offsets[track] : offsets[track + 1]]
        state = _entry(way, step, wheelbase, lock)
        front, free = math.floor(wheelbase / step), np.inf
        for i in range(way.shape[0]):
            x, y, heading, steer = state
            cos, sin = math.cos(heading), math.sin(heading)
            ahead_x, ahead_y = x + wheelbase * cos, y + wheelbase * sin
            front, on, right = locate(ahead_x, ahead_y, way, step, front)
            rear = _to_next(way, min(i + 1, way.shape[0] - 1), step, state, wheelbase)
            preview = max(rear / math.cos(steer), 0.5 * lock / rate)
            to_x, to_y = place_on(way, step, front * step + on + preview)
            dx, dy = to_x - ahead_x, to_y - ahead_y
            asked = aim(math.atan2(cos * dy - sin * dx, cos * dx + sin * dy), math.hypot(dx, dy), wheelbase, lock)
            state = (x, y, heading, min(max(asked, steer - free), steer + free))
            row = poses[offsets[track] + i]
            row[0], row[1], row[2], row[3], row[4] = x, y, heading, state[3], right
            state = roll_on(state, wheelbase, rear)
            free = rate * rear


@bare
def _entry(way: Float64, step: float, wheelbase: float, lock: float) -> State:
    """Stand abreast of the first point in a steady turn."""
    ahead = min(max(math.floor(wheelbase / step + 0.5), 1), way.shape[0] - 1)
    bend = (way[ahead, HEADING] - way[0, HEADING]) / (ahead * step)
    steer = math.asin(min(max(bend * wheelbase, -math.sin(lock)), math.sin(lock)))
    inwards = wheelbase * math.tan(0.5 * steer)
    return way[0, X] - inwards * way[0, SIN], way[0, Y] + inwards * way[0, COS], way[0, HEADING], steer


@bare
def _to_next(way: Float64, i: int, step: float, state: State, wheelbase: float) -> float:
    """How far the rear axle rolls until it is abreast of point *i*."""
    x, y, heading, steer = state
    short = way[i, COS] * (way[i, X] - x) + way[i, SIN] * (way[i, Y] - y)
    turned = heading + 0.5 * step * math.tan(steer) / wheelbase - way[i, HEADING]
    return min(max(short / max(math.cos(turned), LEAST_COS), LEAST_STEP * step), MOST_STEP * step)
