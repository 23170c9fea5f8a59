"""How a vehicle stands on four wheel centres, or on three of them, and how far it is from tipping over each edge.

Between two samples the path of a wheel centre is taken straight; at the samples it is that of a rolling circle. The
middles of both axles are one wheelbase apart. The slope across under an axle is what the two lines of tyres show of
it, half a track either side of the way (the mean of both tracks); an axle of its own track lies at that slope, square
to the vehicle's length, so that any plane is met exactly. The tyres touch the ground one radius from their centres,
square to the body: exact on a plane, and off by the radius times half the twist angle on twisted ground.

Up to the wheel travel both axles share the twist and the body leans as the mean of both axles. Beyond it one of the two
wheels over the low diagonal lifts: the one that carries less, because the resultant force passes on the other side of
the high diagonal. The vehicle rocks that way until the axles differ by the travel only, and stands on a triangle. The
side is told midway between both ways to rock: where a vehicle could rest either way, it settles where its centre of
gravity is lower, for that swings over the diagonal on an arc whose ends lie evenly about the middle.
"""

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.compiled import bare
from pipeline.kernels.force_angle import Point, edge_sides
from pipeline.kernels.four_records import FL, FR, NO_WHEEL, RL, RR, Chassis, Track

__all__ = [
    "Axle",
    "Feet",
    "Heights",
    "Lean",
    "Sides",
    "axle_at",
    "feet_of",
    "four_sides",
    "front_axle",
    "lean_of",
    "lifting",
    "raised",
    "three_sides",
]

Float64 = NDArray[np.float64]
Sides = tuple[float, float]
Heights = tuple[float, float, float, float]

NEAR = 1e-9
"""A place this share of a step from a sample is at it."""


class Axle(NamedTuple):
    """Where an axle stands."""

    place: float
    left: float
    """Height of the left wheel's centre."""
    right: float


class Lean(NamedTuple):
    """How a vehicle leans."""

    cosine: float
    """Of the pitch."""
    sine: float
    front: float
    """Tangent of the front axle's roll, + left side higher."""
    rear: float


class Feet(NamedTuple):
    """Where a vehicle stands, in axes that pitch with it but do not roll: x forward, y left and level, z upward."""

    front_left: Point
    front_right: Point
    rear_left: Point
    rear_right: Point
    cg: Point
    force: Point


@bare
def axle_at(left: Float64, right: Float64, step: float, place: float) -> Axle:
    """Stand an axle on two lines, straight between samples; NaN heights off the lines.

    At a sample its own height counts, whatever lies beyond.
    """
    at = place / step
    k = math.floor(at + 0.5)
    if abs(at - k) < NEAR and 0 <= k < left.size:
        return Axle(place, left[k], right[k])
    k = math.floor(at)
    if not 0 <= k < left.size - 1:
        return Axle(place, math.nan, math.nan)
    share = at - k
    return Axle(place, left[k] + share * (left[k + 1] - left[k]), right[k] + share * (right[k + 1] - right[k]))


@bare
def front_axle(track: Track, wheelbase: float, rear: Axle) -> Axle:
    """Find the front axle one wheelbase from the rear one, along the path of the middles of the axles.

    Where a steep step lets it stand in several places, the farthest is taken.

    Parameters
    ----------
    track
        The run.
    wheelbase
        m.
    rear
        The rear axle.

    Returns
    -------
    Axle
        Place inf when the run ends before, NaN when ground is missing under an axle.
    """
    middle, step = track.middle, track.step
    at, z = rear.place, 0.5 * (rear.left + rear.right)
    last, square = middle.size - 1, wheelbase * wheelbase
    high = math.ceil((at + wheelbase) / step - NEAR)
    if high > last:
        high = last
        if _apart(track, high, at, z) < square:
            return Axle(math.inf, math.nan, math.nan)
    while high > 0 and not math.isnan(z):
        near = _apart(track, high - 1, at, z)
        if near < square:
            k = high - 1
            across, rise = k * step - at, middle[high] - middle[k]
            piece, dot = step * step + rise * rise, across * step + (middle[k] - z) * rise
            share = (math.sqrt(dot * dot + piece * (square - near)) - dot) / piece
            left, right = track.left, track.right
            return Axle(
                (k + share) * step,
                left[k] + share * (left[high] - left[k]),
                right[k] + share * (right[high] - right[k]),
            )
        high -= 1
    return Axle(math.nan, math.nan, math.nan)


@bare
def _apart(track: Track, k: int, at: float, z: float) -> float:
    """Squared distance of the path at sample *k* from a place and height."""
    across, up = k * track.step - at, track.middle[k] - z
    return float(across * across + up * up)


@bare
def lean_of(chassis: Chassis, heights: Heights, across: float) -> Lean:
    """Lean of a vehicle whose wheel centres stand at *heights*, the axles *across* m apart in plan."""
    rise = 0.5 * (heights[FL] + heights[FR] - heights[RL] - heights[RR])
    apart = math.sqrt(across * across + rise * rise)
    cosine = across / apart
    scale = 2.0 * cosine / (chassis.track_front + chassis.track_rear)
    return Lean(cosine, rise / apart, (heights[FL] - heights[FR]) * scale, (heights[RL] - heights[RR]) * scale)


@bare
def feet_of(chassis: Chassis, lean: Lean, sideways: float) -> Feet:
    """Points of contact, centre of gravity and force; *sideways* in g, + to the right."""
    front = 0.5 * chassis.track_front / math.sqrt(1.0 + lean.front * lean.front)
    rear = 0.5 * chassis.track_rear / math.sqrt(1.0 + lean.rear * lean.rear)
    slope = 0.5 * (lean.front + lean.rear)
    level = 1.0 / math.sqrt(1.0 + slope * slope)
    return Feet(
        (0.0, front, front * lean.front),
        (0.0, -front, -front * lean.front),
        (-chassis.wheelbase, rear, rear * lean.rear),
        (-chassis.wheelbase, -rear, -rear * lean.rear),
        (
            chassis.cg_x,
            (chassis.cg_y - chassis.cg_z * slope) * level,
            (chassis.cg_y * slope + chassis.cg_z) * level,
        ),
        (-lean.sine, -sideways, -lean.cosine),
    )


@bare
def four_sides(feet: Feet) -> tuple[Sides, Sides, Sides, Sides]:
    """Sines and cosines of the left, right, front and rear edge of a vehicle on four wheels (kernels.force_angle)."""
    fl, fr, rl, rr, cg, force = feet
    return (
        edge_sides(rl, fl, cg, force),
        edge_sides(fr, rr, cg, force),
        edge_sides(fl, fr, cg, force),
        edge_sides(rr, rl, cg, force),
    )


@bare
def lifting(feet: Feet, twist: float) -> int:
    """Wheel that lifts first: over the low diagonal, on the side that the force does not press."""
    fl, fr, rl, rr, cg, force = feet
    if twist > 0.0:
        return FR if edge_sides(fl, rr, cg, force)[0] >= 0.0 else RL
    return FL if edge_sides(rl, fr, cg, force)[0] >= 0.0 else RR


@bare
def raised(heights: Heights, wheel: int, excess: float) -> Heights:
    """Heights of the wheel centres with one wheel held up by *excess*."""
    fl, fr, rl, rr = heights
    return (
        fl + excess if wheel == FL else fl,
        fr + excess if wheel == FR else fr,
        rl + excess if wheel == RL else rl,
        rr + excess if wheel == RR else rr,
    )


@bare
def three_sides(feet: Feet, wheel: int) -> tuple[Sides, Sides, Sides, Sides, Sides]:
    """Sines and cosines of the left, right, front, rear and diagonal edge with *wheel* in the air; NaN for no edge."""
    none = (math.nan, math.nan)
    left, right, front, rear = four_sides(feet)
    fl, fr, rl, rr, cg, force = feet
    if wheel == NO_WHEEL:
        return left, right, front, rear, none
    if wheel == FL:
        return none, right, none, rear, edge_sides(rl, fr, cg, force)
    if wheel == FR:
        return left, none, none, rear, edge_sides(fl, rr, cg, force)
    if wheel == RL:
        return none, right, front, none, edge_sides(rr, fl, cg, force)
    return left, none, front, none, edge_sides(fr, rl, cg, force)
