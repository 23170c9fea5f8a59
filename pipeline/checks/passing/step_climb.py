"""Whether a vehicle gets its wheels on to an edge: statics of the whole vehicle, momentum not counted.

A tyre of radius r that stands against an edge of height h touches it at an angle θ from the vertical,
cos θ = 1 − h ÷ r. With V the vertical load that the springs put on that wheel and T its pull along the tyre's tangent,
the edge pushes it back with H = (V·sin θ − T) ÷ cos θ (from N·cos θ + T·sin θ = V and H = N·sin θ − T·cos θ). All the
other wheels must push as much, along with the weight's part down the slope.

* Where both wheels of an axle climb at once, T = μ·N gives H = V·tan(θ − φ) with φ = atan μ: rear wheels alone get an
  undriven front axle up tan θ = μ·V_r ÷ V_f.
* Where one wheel climbs, the other of its axle stands on the ground. The wheels of an axle share their torque (an open
  differential; locks are not recorded, and help), so that T is also at most what that other wheel holds.
* As the one wheel rises the springs load it, and the wheel diagonally across, and unload the other two, until at a
  twist of the set-up's wheel travel the first wheel lifts: the load moves in proportion. An open axle pulls twice what
  its lighter wheel holds. The angle falls meanwhile; the worst moment counts.
* Front and rear axle of a four-wheel drive count as locked together: each pulls what its wheels hold.

* Adhesion counts up to what the lowest gear can ask of the driven wheels (:func:`pull_limit`).

Loads come from moments about the ground contact of the axle that does not climb; when the rear wheels meet a step the
front ones are already up on it. Limits: h → 0 leaves the gradeability of the ground; an edge of h = r (θ = 90°) pushes
back with V ÷ μ, which four driven wheels overcome from about μ = 1 on. Nothing higher than r is climbed.
Derived. Adhesion is the low value of the ground round the thing, whatever the thing itself is made of.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pipeline.terms import Drive
from pipeline.vehicle.envelope_model import Envelope

__all__ = ["Footing", "climbable", "edge_of_mound", "edge_of_pit", "pull_limit", "surplus"]

Float64 = NDArray[np.float64]

_HALVINGS = 24
"""Of a tyre's radius, or of a right angle: far below a tenth of a millimetre."""
_MOMENTS = np.linspace(0.0, 1.0, 9)
"""How far up the edge the one wheel is, as a share of it."""
_STEEPEST = np.radians(89.9)
"""Where an edge is as high as the axle, θ = 90° leaves no vertical part: as good as that."""


@dataclass(frozen=True, slots=True)
class Footing:
    """The ground round a thing; arrays of one shape."""

    mu: Float64
    """Adhesion coefficient."""
    rolling: Float64
    """Rolling resistance coefficient."""
    grade: Float64
    """Rise over run in the direction of travel."""


@dataclass(frozen=True, slots=True)
class _Moment:
    """An axle against an edge, at every moment of the climb; arrays that broadcast, moments along the last axis."""

    edge: Float64
    """Height of the edge, m."""
    raised: Float64
    """How much higher the front wheels stand when the rear ones climb, m."""
    one: NDArray[np.bool_]
    """One wheel climbs, not both of the axle."""
    theta: Float64
    """Angle of the contact from the vertical, rad."""
    warp: Float64
    """Share of the wheel travel that the twist takes."""
    ground: Footing


@dataclass(frozen=True, slots=True)
class _Axle:
    """Forces of the climbing axle as shares of its vertical load."""

    carried: Float64
    """Load on what climbs."""
    back: Float64
    """Force with which the edge holds it back, rolling resistance included."""
    pushed: Float64
    """Push, less rolling resistance, of the wheel beside it that stands on the ground."""


def surplus(
    envelope: Envelope, edge_m: ArrayLike, footing: Footing, wheels: ArrayLike, raised_m: ArrayLike = 0.0
) -> Float64:
    """Push that is left over when an axle stands against an edge, as a share of the weight; below 0 it does not climb.

    Parameters
    ----------
    envelope
        Driven axles, wheelbase, tyre, loaded centre of gravity, wheel travel.
    edge_m
        Height of the edge, m.
    footing
        The ground round it.
    wheels
        1 where one wheel climbs, 2 where both of an axle do.
    raised_m
        How much higher than the rear wheels the front ones stand once they have passed, m: the height of a step up.

    Returns
    -------
    Float64
        The smaller of front and rear axle, at the worst moment.
    """
    edge = np.asarray(edge_m, dtype=np.float64)[..., None]
    one = (np.asarray(wheels) == 1)[..., None]
    up = np.where(one, _MOMENTS, 0.0) * edge
    moment = _Moment(
        edge=edge,
        raised=np.asarray(raised_m, dtype=np.float64)[..., None],
        one=one,
        theta=np.minimum(np.arccos(np.clip(1.0 - (edge - up) / envelope.tyre_radius_m, -1.0, 1.0)), _STEEPEST),
        warp=np.where(one, np.clip(up / envelope.wheel_travel_m, 0.0, 1.0), 0.0),
        ground=Footing(
            np.minimum(footing.mu, pull_limit(envelope))[..., None],
            footing.rolling[..., None],
            footing.grade[..., None],
        ),
    )
    least = np.minimum(_front(envelope, moment), _rear(envelope, moment))
    return np.asarray(least.min(axis=-1), dtype=np.float64)


def climbable(envelope: Envelope, footing: Footing, wheels: ArrayLike, *, step: ArrayLike = False) -> Float64:
    """Give the highest edge that a set-up climbs, m; 0 where not even the ground round it can be climbed.

    Parameters
    ----------
    envelope, footing, wheels
        As of :func:`surplus`.
    step
        Where the ground stays as high behind the edge.
    """
    shape = np.broadcast_shapes(footing.mu.shape, np.shape(wheels), np.shape(step))
    low, high = np.zeros(shape), np.full(shape, envelope.tyre_radius_m)
    for _ in range(_HALVINGS):
        middle = (low + high) / 2.0
        passes = surplus(envelope, middle, footing, wheels, np.where(step, middle, 0.0)) >= 0.0
        low, high = np.where(passes, middle, low), np.where(passes, high, middle)
    return low


def pull_limit(envelope: Envelope) -> float:
    """Give the pull of the lowest gear as a share of the load on the driven wheels: sin atan of the crawl grade.

    The load is that on level ground; with one axle driven, that axle's.
    """
    rear = -envelope.cg_m[0] / envelope.wheelbase_m
    share = {Drive.FOUR_WHEEL: 1.0, Drive.REAR: rear, Drive.FRONT: 1.0 - rear}[envelope.drive]
    return float(np.sin(np.arctan(envelope.crawl_grade)) / share)


def _front(envelope: Envelope, moment: _Moment) -> Float64:
    """Surplus push when the front axle climbs; the rear one stands on the ground behind it."""
    axle = _axle(moment, driven=envelope.drive is not Drive.REAR)
    to_rear, height = envelope.wheelbase_m + envelope.cg_m[0], envelope.cg_m[2]
    cosine, sine = _slope(moment.ground)
    arm = envelope.wheelbase_m + axle.carried * envelope.tyre_radius_m * np.sin(moment.theta) + axle.back * moment.edge
    bears = to_rear * cosine - height * sine, arm
    return _left_over(moment, bears, axle, driven=envelope.drive is not Drive.FRONT)


def _rear(envelope: Envelope, moment: _Moment) -> Float64:
    """Surplus push when the rear axle climbs; the front one stands *raised* higher ahead of it."""
    axle = _axle(moment, driven=envelope.drive is not Drive.FRONT)
    length, radius, raised = envelope.wheelbase_m, envelope.tyre_radius_m, moment.raised
    up = np.clip(raised / length, 0.0, 0.99)
    flat = np.sqrt(1.0 - up**2)
    ahead, over = length + envelope.cg_m[0], envelope.cg_m[2] - radius
    x, z = ahead * flat - over * up, radius + ahead * up + over * flat
    front = length * flat
    cosine, sine = _slope(moment.ground)
    arm = (
        front - axle.carried * radius * np.sin(moment.theta) - axle.back * (moment.edge - raised) - axle.pushed * raised
    )
    bears = (front - x) * cosine + (z - raised) * sine, arm
    return _left_over(moment, bears, axle, driven=envelope.drive is not Drive.REAR)


def _slope(ground: Footing) -> tuple[Float64, Float64]:
    """Cosine and sine of the slope."""
    cosine = 1.0 / np.sqrt(1.0 + ground.grade**2)
    return cosine, ground.grade * cosine


def _axle(moment: _Moment, *, driven: bool) -> _Axle:
    """Give the forces of the axle whose wheel, or wheels, climb."""
    theta, one = moment.theta, moment.one
    beside = np.where(one, (1.0 - moment.warp) / 2.0, 0.0)
    carried = 1.0 - beside
    mu = moment.ground.mu if driven else np.zeros_like(moment.ground.mu)
    phi = np.arctan(mu)
    at_edge = carried * np.sin(phi) / np.cos(theta - phi)
    pull = np.where(one, np.minimum(at_edge, mu * beside), at_edge)
    return _Axle(
        carried=carried,
        back=(carried * np.sin(theta) - pull) / np.cos(theta) + moment.ground.rolling * carried,
        pushed=np.where(one, pull, 0.0) - moment.ground.rolling * beside,
    )


def _left_over(moment: _Moment, bears: tuple[Float64, Float64], axle: _Axle, *, driven: bool) -> Float64:
    """Push that is left over, as a share of the weight.

    Parameters
    ----------
    moment
        What stands where.
    bears
        Moment of the weight about the contact of the axle that stands, as a share, and the arm of the climbing axle's
        load about it. Without an arm no load balances: the edge holds it back without end, or, where it pulls itself
        forward, half of its pull is more than enough.
    axle
        Forces of the climbing axle.
    driven
        Whether the axle that stands is.
    """
    cosine, sine = _slope(moment.ground)
    turning, arm = bears
    balanced = arm > 0.0
    load = np.divide(turning, arm, out=np.zeros(np.broadcast_shapes(turning.shape, arm.shape)), where=balanced)
    held = moment.ground.mu * (1.0 - moment.warp) if driven else 0.0
    left = (cosine - load) * (held - moment.ground.rolling) + load * (axle.pushed - axle.back) - sine
    return np.where(balanced, left, np.where(axle.back < 0.0, np.inf, -np.inf))


def edge_of_mound(height_m: ArrayLike, length_m: ArrayLike, radius_m: float) -> Float64:
    """Give the height of the edge that a tyre meets as steeply as a half ellipse that stands on the ground, m.

    The tyre's centre is at r when it touches the ellipse at (−a·cos t, h·sin t), whose normal leans by
    tan θ = (h ÷ a)·cot t: h·sin t = r·(1 − cos θ), which is the edge itself (derived). Half length a → 0 gives h.

    Parameters
    ----------
    height_m, length_m
        Of the thing, m; > 0.
    radius_m
        Static loaded radius, m.
    """
    height, half = np.asarray(height_m, dtype=np.float64), np.asarray(length_m, dtype=np.float64) / 2.0
    low = np.zeros(np.broadcast_shapes(height.shape, half.shape))
    high = np.full(low.shape, np.pi / 2.0)
    for _ in range(_HALVINGS):
        t = (low + high) / 2.0
        theta = np.arctan2(height * np.cos(t), half * np.sin(t))
        below = height * np.sin(t) < radius_m * (1.0 - np.cos(theta))
        low, high = np.where(below, t, low), np.where(below, high, t)
    return np.asarray(height * np.sin((low + high) / 2.0), dtype=np.float64)


def edge_of_pit(depth_m: ArrayLike, length_m: ArrayLike, radius_m: float) -> tuple[Float64, Float64]:
    """Give how deep a tyre sinks into a half ellipse, and the edge it meets as steeply when it climbs out, m.

    A pit too short for the tyre holds it by both lips: it sinks by r − √(r² − a²), and the lip is the edge. Else it
    stands on the bottom, climbs the wall, and meets the lip when its centre comes within r of that: the last and
    steepest contact (derived).

    Parameters
    ----------
    depth_m, length_m
        Of the pit, m; > 0.
    radius_m
        Static loaded radius, m.
    """
    depth, half = np.asarray(depth_m, dtype=np.float64), np.asarray(length_m, dtype=np.float64) / 2.0
    held = half**2 <= depth * (2.0 * radius_m - depth)
    hung = radius_m - np.sqrt(np.maximum(radius_m**2 - half**2, 0.0))
    low = np.zeros(np.broadcast_shapes(depth.shape, half.shape))
    high = np.full(low.shape, np.pi / 2.0)
    for _ in range(_HALVINGS):
        t = (low + high) / 2.0
        x, z = _in_pit(depth, half, t, radius_m)
        free = np.hypot(half - x, z) >= radius_m
        low, high = np.where(free, low, t), np.where(free, t, high)
    z = _in_pit(depth, half, high, radius_m)[1]
    return np.where(held, hung, depth), np.where(held, hung, np.clip(radius_m - z, 0.0, radius_m))


def _in_pit(depth: Float64, half: Float64, t: Float64, radius: float) -> tuple[Float64, Float64]:
    """Centre of a tyre that touches the wall of a half ellipse at (a·cos t, −d·sin t), from the middle of its top."""
    theta = np.arctan2(depth * np.cos(t), half * np.sin(t))
    return half * np.cos(t) - radius * np.sin(theta), radius * np.cos(theta) - depth * np.sin(t)
