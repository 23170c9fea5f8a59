"""What a vehicle is in plan, what stands beside its way, and the way itself: records that the plan kernels share.

Three frames. *World*: x east, y north, m. *Body*: x forward from the middle of the **rear** axle, y to the left
(ISO 8855), z up from the ground. *Trail*: distance along the track in travel and offset across it, + to the **right**
in travel, as everywhere outside the kernels.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

__all__ = ["EDGE", "LEFT", "NOTHING", "RIGHT", "WHEELS", "Boxes", "Solids", "Tracks"]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]

LEFT = 0
RIGHT = 1
"""Sides in travel: the last axis of every pair."""
EDGE = -1
"""Stands for the edge of the trail where the number of a solid is asked for."""
NOTHING = -2
"""Stands for no neighbour at all."""
WHEELS = 4
"""The first boxes of a body are its wheels: front left, front right, rear left, rear right."""


class Boxes(NamedTuple):
    """A vehicle in plan, as boxes with upright sides; arrays of shape (boxes,)."""

    rear: Float64
    """x of the rear face, m from the rear axle."""
    front: Float64
    """x of the front face."""
    right: Float64
    """y of the right face (negative on a middle box)."""
    left: Float64
    """y of the left face."""
    low: Float64
    """z of the lower face, m over level ground."""
    high: Float64
    """z of the upper face."""
    part: Int64
    """``terms.Part`` of each box."""
    wheelbase: float
    lock: float
    """Largest steering angle of the single-track model, rad: tan = wheelbase ÷ least radius of the rear axle."""


class Solids(NamedTuple):
    """Upright capsules beside the tracks: all that lies within a radius of the line from a to b; ragged by track."""

    offsets: Int64
    """Track ``t`` owns solids ``offsets[t]:offsets[t + 1]``."""
    ax: Float64
    ay: Float64
    bx: Float64
    by: Float64
    radius: Float64
    low: Float64
    """Lowest point over the ground, m: 0 for trunks, the clear height for branches."""
    high: Float64
    """Highest point; inf for trees."""
    at: Float64
    """Place along the track of its middle, m from the track's first point."""
    half: Float64
    """Half of its extent along the track, m."""
    thing: Int64
    """Number of the thing outside; never negative."""


class Tracks(NamedTuple):
    """Ways to drive, in travel order, each with equally spaced points; ragged by track."""

    offsets: Int64
    """Track ``t`` owns points ``offsets[t]:offsets[t + 1]``."""
    x: Float64
    y: Float64
    heading: Float64
    """Of the tangent, rad, anticlockwise from east, without jumps of 2π within a track."""
    roll: Float64
    """Lean of the ground, rad, + right side down in travel."""
    wheel: Float64
    """How far from the middle line a tyre may stand, m, shape (points, 2), [left, right]; inf where nobody knows."""
    body: Float64
    """The same for the whole body; inf where only the tyres must stay on the trail."""
    aside: Float64
    """How far from the middle line the rear axle may run, m, shape (points, 2), [left, right]."""
    hold: Float64
    """Offset that a thing between or under the wheels asks for, m, + right; NaN where none does."""
    step: float
    """Distance of the points, m."""
    own_from: Float64
    """First place of each track's own part, m from its first point."""
    own_to: Float64
