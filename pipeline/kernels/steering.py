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
from pipeline.kernels.plan_way import Way, locate, place_on, way_of

__all__ = ["HELD_M", "Driven", "aim", "follow", "roll_on"]

Float64 = NDArray[np.float64]
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


@kernel
def follow(boxes: Boxes, tracks: Tracks, rate: float) -> Driven:
    """Drive along tracks with the middle of the front axle on their middle line.

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
    count = tracks.x.size
    out = Driven(np.empty(count), np.empty(count), np.empty(count), np.empty(count), np.empty(count, dtype=np.bool_))
    for track in range(tracks.offsets.size - 1):
        _follow_one(boxes, way_of(tracks, track), rate, out, tracks.offsets[track])
    return out


@bare
def _follow_one(boxes: Boxes, way: Way, rate: float, out: Driven, first: int) -> None:
    """Drive one way."""
    wheelbase, last = boxes.wheelbase, way.x.size - 1
    state = _entry(boxes, way)
    front, free = math.floor(wheelbase / way.step), np.inf
    for i in range(last + 1):
        x, y, heading, steer = state
        cos, sin = math.cos(heading), math.sin(heading)
        ahead = (x + wheelbase * cos, y + wheelbase * sin)
        front, on, right = locate(ahead[0], ahead[1], way, front)
        rear = _to_next(way, min(i, last - 1), state, wheelbase)
        to_x, to_y = place_on(way, front * way.step + on + max(rear / math.cos(steer), 0.5 * boxes.lock / rate))
        dx, dy = to_x - ahead[0], to_y - ahead[1]
        asked = aim(math.atan2(cos * dy - sin * dx, cos * dx + sin * dy), math.hypot(dx, dy), wheelbase, boxes.lock)
        steer = min(max(asked, steer - free), steer + free)
        k = first + i
        out.x[k], out.y[k], out.heading[k], out.steer[k] = x, y, heading, steer
        out.held[k] = abs(right) <= HELD_M
        state = roll_on((x, y, heading, steer), wheelbase, rear)
        free = rate * rear


@bare
def _entry(boxes: Boxes, way: Way) -> State:
    """Stand abreast of the first point as if what bends under the vehicle had begun long before."""
    ahead = min(max(round(boxes.wheelbase / way.step), 1), way.x.size - 1)
    bend = (way.heading[ahead] - way.heading[0]) / (ahead * way.step)
    most = math.sin(boxes.lock)
    sine = min(max(bend * boxes.wheelbase, -most), most)
    inwards = boxes.wheelbase * math.tan(0.5 * math.asin(sine))
    return way.x[0] - inwards * way.sin[0], way.y[0] + inwards * way.cos[0], way.heading[0], math.asin(sine)


@bare
def _to_next(way: Way, i: int, state: State, wheelbase: float) -> float:
    """How far the rear axle rolls until it is abreast of the point after *i*."""
    x, y, heading, steer = state
    short = way.cos[i + 1] * (way.x[i + 1] - x) + way.sin[i + 1] * (way.y[i + 1] - y)
    turn = 0.5 * way.step * math.tan(steer) / wheelbase
    distance = short / max(math.cos(heading + turn - way.heading[i + 1]), LEAST_COS)
    return min(max(distance, LEAST_STEP * way.step), MOST_STEP * way.step)
