"""Where the wheels of a set-up stand at its worst place: the figures that a drawing to scale is made from.

A tyre is a circle of its static loaded radius that rests on the line of ground it rolls along. On three wheels the
one in the air hangs where the wheel travel leaves it.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.rolling.poses import Poses
from pipeline.terms import Direction, Wheel
from pipeline.vehicle.envelope_model import Envelope

__all__ = ["Stances", "resting_height", "stances"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_LINES = (0, 2, 0, 2)
"""Line of the ground under each wheel, in the order of ``terms.Wheel``: 0 left, 1 middle, 2 right."""
_MIDDLE = 1
_CONTACTS = ["front_left_m", "front_right_m", "rear_left_m", "rear_right_m"]


@dataclass(frozen=True, slots=True)
class Stances:
    """How the set-ups stand; arrays are parallel to the poses. Places run in travel from below the front axle."""

    apart_m: Floats
    """Horizontal distance between the axles."""
    worst_m: Floats
    """Place of the worst point, + in front of the front axle."""
    wheels_m: Floats
    """Heights of the wheel centres over the mean of the ground under the wheels, shape (poses, 4); NaN where there is
    no ground."""
    ground_m: Floats
    """Heights of the ground under the wheels, the same shape and datum; NaN where they are not known."""
    lifted: Ints
    """Number of the wheel in the air; −1 where all stand."""
    lift_m: Floats
    """How far that wheel is off the ground: twist less wheel travel; 0 where all stand."""


def stances(poses: Poses, envelopes: Mapping[str, Envelope]) -> Stances:
    """Work out where the wheels of every pose stand.

    Parameters
    ----------
    poses
        Poses with the ground round them.
    envelopes
        Set-up → what it can do.
    """
    table = poses.table
    own = [envelopes[setup] for setup in table["setup"]]
    radius = np.array([envelope.tyre_radius_m for envelope in own], dtype=np.float64)
    travel = np.array([envelope.wheel_travel_m for envelope in own], dtype=np.float64)
    sign = np.array([Direction(word).sign for word in table["direction"]], dtype=np.int64)
    front = table["front_m"].to_numpy(dtype=np.float64)
    apart = np.abs(front - table["rear_m"].to_numpy(dtype=np.float64))
    words = [wheel.word for wheel in Wheel]
    lifted = np.array([words.index(word) if isinstance(word, str) else -1 for word in table["lifted"]], dtype=np.int64)
    ground = table[_CONTACTS].to_numpy(dtype=np.float64)
    wheels = _hang(_resting(poses, apart, radius), lifted, travel)
    twist = table["twist_m"].to_numpy(dtype=np.float64)
    lift = np.where(lifted < 0, 0.0, np.maximum(np.abs(twist) - travel, 0.0))
    return Stances(apart, sign * (table["at_m"].to_numpy(dtype=np.float64) - front), wheels, ground, lifted, lift)


def _resting(poses: Poses, apart: Floats, radius: Floats) -> Floats:
    """Rest all four tyres on the ground; on the middle line where the ground beside it is not known."""
    heights = np.asarray(poses.ground_m, dtype=np.float64)
    places = poses.first_m[:, None] + poses.step_m * np.arange(heights.shape[1])
    zero = np.zeros_like(apart)
    columns = []
    for wheel, line in enumerate(_LINES):
        axle = zero if wheel < Wheel.REAR_LEFT else -apart
        on_line, on_middle = (resting_height(places, heights[..., one], axle, radius) for one in (line, _MIDDLE))
        columns.append(np.where(np.isnan(on_line), on_middle, on_line))
    return np.column_stack(columns)


def resting_height(places: Floats, heights: Floats, axle: Floats, radius: Floats) -> Floats:
    """Height of the centre of a circle that rests on a line of straight pieces.

    Parameters
    ----------
    places, heights
        Corners of the lines, m, shape (lines, corners), places ascending; NaN heights are gaps.
    axle
        Place of the centre, shape (lines,).
    radius
        Radius of the circle, shape (lines,).

    Returns
    -------
    Shape (lines,); NaN where there is no ground straight below the centre. On each piece the circle's highest rest is
    where it is tangent to it, at its nearer end, or straight above the end of the circle's own reach.
    """
    left, right = places[:, :-1], places[:, 1:]
    slope = np.diff(heights, axis=1) / (right - left)
    r, x = radius[:, None], axle[:, None]
    low, high = np.maximum(left, x - r), np.minimum(right, x + r)
    touch = np.clip(x + r * slope / np.hypot(1.0, slope), low, np.maximum(low, high))
    rest = heights[:, :-1] + slope * (touch - left) + np.sqrt(np.maximum(r**2 - (touch - x) ** 2, 0.0))
    counts = (low <= high) & np.isfinite(rest)
    below = counts & (left <= x) & (x <= right)
    highest = np.max(np.where(counts, rest, -np.inf), axis=1, initial=-np.inf)
    return np.where(below.any(axis=1), highest, np.nan)


def _hang(resting: Floats, lifted: Ints, travel: Floats) -> Floats:
    """Hang the wheel in the air where the wheel travel leaves it: the twist of the wheels is the travel, no more."""
    signs = np.array([1.0, -1.0, -1.0, 1.0])
    rows = np.flatnonzero(lifted >= 0)
    wheel = lifted[rows]
    twist = resting[rows] @ signs
    wheels = resting.copy()
    wheels[rows, wheel] -= signs[wheel] * np.sign(twist) * np.maximum(np.abs(twist) - travel[rows], 0.0)
    return wheels
