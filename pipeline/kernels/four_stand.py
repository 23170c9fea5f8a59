"""One pose of a vehicle on four wheels in full, for drawings."""

import math

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.compiled import bare, inner, kernel
from pipeline.kernels.four_pose import Heights, feet_of, front_axle, lean_of, lifting, raised, three_sides
from pipeline.kernels.four_records import EDGES, NO_WHEEL, Chassis, Pose, Track, TyreLines
from pipeline.kernels.four_track import sideways_at, track_of, turned

__all__ = ["stand"]

Float64 = NDArray[np.float64]


@kernel
def stand(lines: TyreLines, chassis: Chassis, key: tuple[int, int], rear: float, speed: float) -> Pose:
    """Stand a vehicle on one run, in full.

    Parameters
    ----------
    lines
        The ground under the tyres.
    chassis
        The vehicle.
    key
        Run, and direction: 0 along the run, 1 against it.
    rear
        Place of the rear axle, m from the first sample of the run in either direction, as ``FourSwept.rear``.
    speed
        m/s.

    Returns
    -------
    Pose
        NaN throughout where the vehicle cannot stand.
    """
    run, direction = key
    track = track_of(lines, chassis, run)
    a, b = lines.offsets[run], lines.offsets[run + 1]
    sides = (lines.left[a:b].copy(), lines.right[a:b].copy())
    if direction == 0:
        return _stand(track, sides, chassis, rear, speed)
    end = (track.middle.size - 1) * track.step
    sides = (sides[1][::-1].copy(), sides[0][::-1].copy())
    pose = _stand(turned(track), sides, chassis, end - rear, speed)
    return Pose(end - pose[0], end - pose[1], *pose[2:])


@inner
def _stand(track: Track, sides: tuple[Float64, Float64], chassis: Chassis, rear: float, speed: float) -> Pose:
    """Stand a vehicle with its rear axle at a place in the direction of travel."""
    axles = _axles(track, chassis, rear)
    front = (axles[0] - 1 + axles[1]) * track.step
    centres = _under(track.left, track.right, axles)
    twist = centres[0] - centres[1] - centres[2] + centres[3]
    sideways = math.nan if math.isnan(front) else sideways_at(track, 0.5 * (rear + front), speed)
    lean = lean_of(chassis, centres, front - rear)
    feet = feet_of(chassis, lean, sideways)
    lifted = NO_WHEEL
    if abs(twist) > chassis.travel:
        lifted = lifting(feet, twist)
        centres = raised(centres, lifted, abs(twist) - chassis.travel)
        lean = lean_of(chassis, centres, front - rear)
        feet = feet_of(chassis, lean, sideways)
    edges = np.empty(EDGES)
    for edge, (sine, cosine) in enumerate(three_sides(feet, lifted)):
        edges[edge] = math.atan2(sine, cosine)
    return Pose(
        math.nan if math.isnan(front) else rear,
        front,
        math.atan2(lean.sine, lean.cosine),
        math.atan(0.5 * (lean.front + lean.rear)),
        twist,
        np.array([math.atan(lean.front), math.atan(lean.rear)]),
        np.array(centres),
        np.array(_under(sides[0], sides[1], axles)),
        lifted,
        sideways,
        edges,
    )


@bare
def _axles(track: Track, chassis: Chassis, rear: float) -> tuple[int, float, int, float]:
    """Sample at or ahead of the front axle and the share of the step before it, then those of the rear axle.

    NaN shares where the vehicle cannot stand.
    """
    at = rear / track.step
    k = max(math.ceil(at - 1e-9), 1)
    if at >= -1e-9 and k < track.middle.size:
        share = min(at - (k - 1), 1.0)
        ahead, on = front_axle(track.middle, track.step, chassis.wheelbase, rear, _height(track.middle, k, share))
        if ahead > 0:
            return ahead, on, k, share
    return 1, math.nan, 1, math.nan


@bare
def _under(left: Float64, right: Float64, axles: tuple[int, float, int, float]) -> Heights:
    """Heights of two lines at both axles: front left, front right, rear left, rear right."""
    ahead, on, k, share = axles
    return _height(left, ahead, on), _height(right, ahead, on), _height(left, k, share), _height(right, k, share)


@bare
def _height(z: Float64, k: int, share: float) -> float:
    """Height at a share of the step before sample *k*; the sample's own at its ends, whatever lies beyond."""
    if abs(share - 1.0) < 1e-9:
        return float(z[k])
    if abs(share) < 1e-9:
        return float(z[k - 1])
    return float(z[k - 1] + share * (z[k] - z[k - 1]))
