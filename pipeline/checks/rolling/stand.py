"""A set-up stood at wanted places of the runs, with the ground round it."""

import math
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.check import Case
from pipeline.checks.passing.laid import bumps_on
from pipeline.checks.rolling.four_wheels import chassis_of, speed_of
from pipeline.checks.rolling.wheel_lines import WheelLines, wheel_lines
from pipeline.kernels.four_records import Pose
from pipeline.kernels.four_stand import stand
from pipeline.kernels.obstacle_bumps import lay_bumps
from pipeline.terrain.model import Profiles
from pipeline.vehicle.envelope_model import Envelope

__all__ = ["BEYOND_M", "Stood", "Wanted", "stand_on"]

Float32 = NDArray[np.float32]
Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]

BEYOND_M = 0.6
"""How far the ground is handed out before and behind the set-up."""
SPARE_M = 1.5
"""Ground is worked out this much farther: a patch of a tyre, and what the pose is off its place."""
MIDDLE_M = 0.005
"""The middle of a set-up is put where it is wanted to this."""
TRIES = 3
"""So often it is put there again."""


class Wanted(NamedTuple):
    """Poses that are wanted; arrays of shape (poses,). Places are m from the first sample of the run."""

    row: Int64
    """Row of the table that asks."""
    run: Int64
    direction: Int64
    """0 along the run, 1 against it."""
    at: Float64
    """Where the middle between the axles shall stand."""
    rear: Float64
    """Rear axle of a pose that was rolled, which is taken instead; NaN where none was."""
    front: Float64
    """Front axle of it."""


class Stood(NamedTuple):
    """Poses that could be made; arrays of shape (poses,) unless said otherwise. NaN for what is not known."""

    row: Int64
    rear_m: Float64
    """Chainage below the axle."""
    front_m: Float64
    pitch: Float64
    """rad, + nose up."""
    roll: Float64
    """rad, + right side down."""
    twist: Float64
    """m."""
    lifted: Int64
    """The wheel in the air; −1 for none."""
    stability: Float64
    """Least force angle left, rad."""
    wheels: Float64
    """Ground under the wheels over its mean, m, shape (poses, 4)."""
    first_m: Float64
    """Where the first height of the ground lies, m in travel from below the front axle."""
    ground: Float32
    """Heights over that mean, shape (poses, places, 3): under the left wheels, the middle and the right wheels."""


@dataclass(frozen=True, slots=True)
class _Ground:
    """Stretches of ground under one set-up, one a pose."""

    lines: WheelLines
    middle: Float64
    """Ground that the body passes over, one height a sample."""

    def height(self, place: Float64) -> Float64:
        """Height of the middle at one place a stretch, straight between samples; beyond the ends that of the end."""
        begin, last = self.lines.offsets[:-1], np.diff(self.lines.offsets) - 1
        spot = np.nan_to_num(np.clip(place / self.lines.step, 0.0, last))
        low = np.minimum(spot.astype(np.int64), np.maximum(last - 1, 0))
        first, second = (self.middle[begin + np.minimum(low + k, last)] for k in (0, 1))
        share = spot - low
        return np.asarray(np.where(share == 0.0, first, first + share * (second - first)))


def stand_on(wanted: Wanted, case: Case) -> Stood:
    """Stand a set-up where it is wanted.

    Parameters
    ----------
    wanted
        The poses, at least one.
    case
        The set-up and its site.

    Returns
    -------
    Stood
        The poses that could be made. Where the ground is known in the middle only, a pose rolled in side view is told
        without what takes four wheels, over the mean of the middle below both axles.
    """
    terrain = case.scene.site.terrain
    middle = np.where(np.isnan(wanted.rear), wanted.at, 0.5 * (wanted.rear + wanted.front))
    short, moved = _stretches(terrain.profiles, wanted.run, middle, case.envelope)
    here = wanted._replace(at=wanted.at - moved, rear=wanted.rear - moved, front=wanted.front - moved)
    lines = wheel_lines(short, terrain.stations, case.choice, case.envelope, case.limits)
    heights = (short.z.astype(np.float64), short.basis)
    under = bumps_on(case.choice, short, case.envelope, case.limits).under
    laid, _ = lay_bumps(heights, short.offsets, short.start_m, float(short.step_m), under)
    return _stand(here, _Ground(lines, laid), case)


def _stretches(profiles: Profiles, run: Int64, middle: Float64, vehicle: Envelope) -> tuple[Profiles, Float64]:
    """Cut a stretch out of a run round every pose, a run of its own, and tell how far along the run it begins.

    A stretch is longer than what is asked of it by more than a patch of a tyre, and its ends have rows of the strip.
    """
    strip, step = profiles.strip, profiles.step_m
    last = np.diff(profiles.offsets)[run] - 1
    half = 0.5 * vehicle.wheelbase_m
    reach = half + max(vehicle.length_front_m, vehicle.length_rear_m) + BEYOND_M + SPARE_M
    middle = np.clip(middle, np.minimum(half, 0.5 * last * step), np.maximum(last * step - half, 0.5 * last * step))
    rows = (np.floor((middle - reach) / step / strip.every), np.ceil((middle + reach) / step / strip.every))
    first_row = np.maximum(rows[0].astype(np.int64), 0)
    last_row = np.minimum(rows[1].astype(np.int64), -(-last // strip.every))
    first = first_row * strip.every
    samples, offsets = _ranges(profiles.offsets[run] + first, np.minimum(last_row * strip.every, last) - first + 1)
    across, row_offsets = _ranges(strip.offsets[run] + first_row, last_row - first_row + 1)
    pieces, piece_offsets = _ranges(profiles.piece_offsets[run], np.diff(profiles.piece_offsets)[run])
    short = replace(
        profiles,
        offsets=offsets,
        start_m=profiles.start_m[run] + first * step,
        segment=profiles.segment[run],
        own_from_m=profiles.own_from_m[run],
        own_to_m=profiles.own_to_m[run],
        z=profiles.z[samples],
        basis=profiles.basis[samples],
        piece_offsets=piece_offsets,
        piece_segment=profiles.piece_segment[pieces],
        piece_zero_m=profiles.piece_zero_m[pieces],
        piece_sign=profiles.piece_sign[pieces],
        piece_from_m=profiles.piece_from_m[pieces],
        piece_to_m=profiles.piece_to_m[pieces],
        strip=replace(strip, offsets=row_offsets, rise_m=strip.rise_m[across]),
    )
    return short, first * step


def _ranges(begin: Int64, count: Int64) -> tuple[Int64, Int64]:
    """Lay ranges one after another: their indices, and the offsets of each among them."""
    offsets = np.concatenate(([0], np.cumsum(count)))
    return np.arange(offsets[-1]) + np.repeat(begin - offsets[:-1], count), offsets


def _stand(wanted: Wanted, ground: _Ground, case: Case) -> Stood:
    """Stand a set-up on its stretches of ground."""
    poses = _poses(wanted, ground, case)
    rear, front, pitch, roll, twist = (
        np.array([getattr(pose, name) for pose in poses], dtype=np.float64)
        for name in ("rear", "front", "pitch", "roll", "twist")
    )
    wheels, edges = np.array([pose.ground for pose in poses]), np.array([pose.edges for pose in poses])
    least = np.min(np.where(np.isnan(edges), np.inf, edges), axis=1)
    side = np.isnan(pitch)
    rear, front = np.where(side, wanted.rear, rear), np.where(side, wanted.front, front)
    behind, ahead = ground.height(rear), ground.height(front)
    datum = np.where(side, 0.5 * (behind + ahead), wheels.mean(axis=1))
    steep = np.arccos(np.minimum(np.abs(front - rear) / case.envelope.wheelbase_m, 1.0))
    first_m, heights = _round(wanted.direction, (rear, front), ground, case.envelope)
    stood = Stood(
        row=wanted.row,
        rear_m=rear + ground.lines.start_m,
        front_m=front + ground.lines.start_m,
        pitch=np.where(side, np.sign(ahead - behind) * steep, pitch),
        roll=roll,
        twist=twist,
        lifted=np.array([pose.lifted for pose in poses], dtype=np.int64),
        stability=np.where(np.isinf(least), np.nan, least),
        wheels=wheels - datum[:, None],
        first_m=first_m,
        ground=(heights - datum[:, None, None]).astype(np.float32),
    )
    made = ~np.isnan(stood.pitch)
    return Stood._make(column[made] for column in stood)


def _poses(wanted: Wanted, ground: _Ground, case: Case) -> list[Pose]:
    """Make every pose, one after another; NaN where it cannot be made."""
    lines, chassis = ground.lines.tyres(), chassis_of(case.envelope, case.limits)
    speed = speed_of(case.envelope, case.limits)
    found = []
    columns = (wanted.direction, wanted.at, *_rear_axles(wanted, ground, chassis.wheelbase))
    for k, (direction, at, rear, low, high) in enumerate(zip(*(column.tolist() for column in columns), strict=True)):
        pose = stand(lines, chassis, (k, direction), rear, speed)
        for _ in range(TRIES):
            off = at - 0.5 * (pose.rear + pose.front)
            better = min(max(pose.rear + off, low), high)
            if not abs(off) > MIDDLE_M or better == pose.rear:
                break
            pose = stand(lines, chassis, (k, direction), better, speed)
        found.append(pose)
    return found


def _rear_axles(wanted: Wanted, ground: _Ground, wheelbase: float) -> tuple[Float64, Float64, Float64]:
    """Places for the rear axles, and the lowest and highest that may be tried.

    That of a rolled pose is fixed. Others stand half the wheelbase behind the wanted middle, as the ground in the
    middle slopes there, with both axles on the stretch; NaN where that is shorter.
    """
    back = wanted.direction == 1
    end = (np.diff(ground.lines.offsets) - 1) * ground.lines.step
    low, high = np.where(back, wheelbase, 0.0), np.where(back, end, end - wheelbase)
    rise = ground.height(wanted.at + 0.5 * wheelbase) - ground.height(wanted.at - 0.5 * wheelbase)
    half = 0.5 * wheelbase / np.sqrt(1.0 + (np.nan_to_num(rise) / wheelbase) ** 2)
    rear = np.where(low <= high, np.clip(wanted.at + np.where(back, half, -half), low, high), np.nan)
    rolled = ~np.isnan(wanted.rear)
    rear, low, high = (np.where(rolled, wanted.rear, value) for value in (rear, low, high))
    return rear, low, high


def _round(
    direction: Int64, axles: tuple[Float64, Float64], ground: _Ground, vehicle: Envelope
) -> tuple[Float64, Float64]:
    """Ground under the left wheels, the middle and the right wheels in travel, and where its first height lies."""
    rear, front = axles
    lines, back = ground.lines, direction == 1
    sign = np.where(back, -1, 1)
    behind = np.abs(front - rear) + vehicle.length_rear_m + BEYOND_M
    reach = vehicle.wheelbase_m + vehicle.length_rear_m + vehicle.length_front_m + 2.0 * BEYOND_M
    first = sign * np.ceil(np.nan_to_num(sign * front - behind) / lines.step - 1e-9)
    first_m = sign * (first * lines.step - front)
    steps = np.arange(math.ceil(reach / lines.step) + 1)
    k = first.astype(np.int64)[:, None] + sign[:, None] * steps
    ahead = first_m[:, None] + steps * lines.step
    known = (k >= 0) & (k < np.diff(lines.offsets)[:, None]) & (ahead <= vehicle.length_front_m + BEYOND_M + 1e-9)
    spot = np.where(known, lines.offsets[:-1, None] + k, 0)
    left, right = lines.left[spot], lines.right[spot]
    sides = (np.where(back[:, None], right, left), ground.middle[spot], np.where(back[:, None], left, right))
    return first_m, np.where(known[:, :, None], np.stack(sides, axis=2), np.nan)
