"""A vehicle on four wheels, the two lines it rolls on, and what is found: the records that its kernels share.

Axes of the vehicle as in ISO 8855: x forward, y left, z up, origin on the ground below the middle of the front axle.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "DIAGONAL",
    "EDGES",
    "FL",
    "FR",
    "FRONT_EDGE",
    "GRAVITY",
    "LEFT_EDGE",
    "MEASURES",
    "NO_WHEEL",
    "PITCH",
    "REAR_EDGE",
    "RIGHT_EDGE",
    "RL",
    "ROLL",
    "RR",
    "TWIST",
    "Chassis",
    "FourSwept",
    "Pose",
    "Track",
    "TyreLines",
]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]
Int8 = NDArray[np.int8]
UInt8 = NDArray[np.uint8]
Flags = NDArray[np.bool_]

GRAVITY = 9.80665
"""Standard acceleration of free fall, m/s² (third General Conference on Weights and Measures, 1901)."""

ROLL = 0
"""Tipping over the left or right edge, or over the diagonal when on three wheels."""
PITCH = 1
"""Tipping over the front or rear edge."""
TWIST = 2
MEASURES = 3

FL = 0
FR = 1
RL = 2
RR = 3
NO_WHEEL = -1

LEFT_EDGE = 0
RIGHT_EDGE = 1
FRONT_EDGE = 2
REAR_EDGE = 3
DIAGONAL = 4
EDGES = 5


class Chassis(NamedTuple):
    """A vehicle as it stands on four wheels, loaded; m and rad."""

    wheelbase: float
    track_front: float
    track_rear: float
    radius: float
    """Static loaded radius."""
    travel: float
    """Twist of the ground at which the first wheel lifts; > 0."""
    cg_x: float
    """Centre of gravity; negative behind the front axle."""
    cg_y: float
    """+ left of the middle."""
    cg_z: float
    """Above the ground."""
    limits: Float64
    """Angle that may be used up over the left, right, front and rear edge."""


class TyreLines(NamedTuple):
    """Ground under the tyres of both sides, one run after another; run ``r`` owns ``offsets[r]:offsets[r + 1]``."""

    offsets: Int64
    left: Float64
    """Height under the left tyres when driving along the run, m; NaN where there is none."""
    right: Float64
    basis: UInt8
    """What the heights rest on; smaller is worse."""
    bend: Float64
    """Curvature of the way, 1/m, + to the left when driving along the run."""
    own_from: Float64
    """First place of the run's own part, m from its first sample."""
    own_to: Float64
    step: float


class Track(NamedTuple):
    """One run in the direction of travel."""

    left: Float64
    """Paths of the wheel centres, m."""
    right: Float64
    middle: Float64
    """Mean of the two: the path of the middles of the axles."""
    bend: Float64
    """+ to the left of travel."""
    step: float
    low: float
    """First place of the own part, m from the first sample in the direction of travel."""
    high: float


class FourSwept(NamedTuple):
    """What a sweep found; arrays of shape (runs, 2 directions, 3 measures) unless said otherwise.

    Direction 0 travels along the run, 1 against it; places always count along the run, m from its first sample.
    """

    utilisation: Float64
    """Demand ÷ limit; 0 where the ground asks nothing."""
    demand: Float64
    """Angle lost since standing level, rad; twist of the ground, m."""
    limit: Float64
    """NaN where the ground asks nothing."""
    place: Float64
    """Middle of the vehicle; of the twist, where the wheel that lifts first stands. NaN where nothing is asked."""
    rear: Float64
    """Rear axle."""
    front: Float64
    basis: UInt8
    """Worst basis of the ground under the four wheels; 255 where nothing is asked."""
    wheel: Int8
    """The wheel in the air in the worst pose, −1 when there is none; of the twist, the one that lifts or would lift."""
    lifted: Flags
    """Whether the worst pose stands on three wheels."""
    poses: Int64
    """Poses made, shape (runs, 2)."""
    failed: Int64
    """Poses that could not be made because ground under a wheel is missing, shape (runs, 2)."""
    failed_at: Float64
    """Middle of the vehicle in the first of them, shape (runs, 2); NaN when there is none."""


class Pose(NamedTuple):
    """One pose in full. Wheels in the order front left, front right, rear left, rear right in the direction of travel.

    All NaN, and no wheel lifted, where the vehicle cannot stand: ground under a wheel is missing or the run ends.
    """

    rear: float
    """Place of the rear axle, m from the first sample of the run."""
    front: float
    pitch: float
    """rad, + nose up."""
    roll: float
    """rad, + right side down, about the vehicle's length axis."""
    twist: float
    """(front left − front right) − (rear left − rear right) of the ground, m."""
    axle_rolls: Float64
    """Of the front and the rear axle, rad, + right side down, shape (2,)."""
    centres: Float64
    """Heights of the wheel centres, m, shape (4,); a wheel in the air hangs as low as the travel lets it."""
    ground: Float64
    """Heights of the ground below them, m, shape (4,)."""
    lifted: int
    """The wheel in the air; −1 when there is none."""
    sideways: float
    """Sideways acceleration felt, in g, + to the right: in a bend to the left."""
    edges: Float64
    """Angles by which the left, right, front, rear and diagonal edge is not tipped over, rad; NaN for no such edge."""
