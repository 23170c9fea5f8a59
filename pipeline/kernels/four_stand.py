"""One pose of a vehicle on four wheels in full, for drawings."""

import math

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.compiled import inner, kernel
from pipeline.kernels.four_pose import axle_at, feet_of, front_axle, lean_of, lifting, raised, three_sides
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
    back = axle_at(track.left, track.right, track.step, rear)
    ahead = front_axle(track, chassis.wheelbase, back)
    front = ahead.place
    if not math.isfinite(front):
        return _nowhere()
    centres = (ahead.left, ahead.right, back.left, back.right)
    twist = centres[0] - centres[1] - centres[2] + centres[3]
    sideways = sideways_at(track, 0.5 * (rear + front), speed)
    lean = lean_of(chassis, centres, front - rear)
    feet = feet_of(chassis, lean, sideways)
    lifted = NO_WHEEL
    if abs(twist) > chassis.travel:
        lifted = lifting(feet, twist)
        centres = raised(centres, lifted, abs(twist) - chassis.travel)
        lean = lean_of(chassis, centres, front - rear)
        feet = feet_of(chassis, lean, sideways)
    under = axle_at(sides[0], sides[1], track.step, front), axle_at(sides[0], sides[1], track.step, rear)
    edges = np.empty(EDGES)
    for edge, (sine, cosine) in enumerate(three_sides(feet, lifted)):
        edges[edge] = math.atan2(sine, cosine)
    return Pose(
        rear,
        front,
        math.atan2(lean.sine, lean.cosine),
        math.atan(0.5 * (lean.front + lean.rear)),
        twist,
        np.array([math.atan(lean.front), math.atan(lean.rear)]),
        np.array(centres),
        np.array([under[0].left, under[0].right, under[1].left, under[1].right]),
        lifted,
        sideways,
        edges,
    )


@inner
def _nowhere() -> Pose:
    """Give the pose of a vehicle that cannot stand."""
    none = math.nan
    four = np.full(4, none)
    return Pose(none, none, none, none, none, np.full(2, none), four, four, NO_WHEEL, none, np.full(EDGES, none))
