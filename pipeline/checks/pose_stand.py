"""A set-up stood at wanted places of the runs, with the ground round it."""

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.check import Case
from pipeline.checks.four_wheels import chassis_of, speed_of
from pipeline.checks.laid import bumps_on
from pipeline.checks.run_blocks import cut_bumps, run_spans
from pipeline.checks.swept import cut_profiles
from pipeline.checks.wheel_lines import WheelLines, lines_of, paths_of
from pipeline.kernels.four_records import Pose
from pipeline.kernels.four_stand import stand
from pipeline.kernels.obstacle_bumps import Bumps, lay_bumps
from pipeline.terrain.model import Profiles
from pipeline.vehicle.envelope_model import Envelope

__all__ = ["BEYOND_M", "Stood", "Wanted", "stand_on"]

Float32 = NDArray[np.float32]
Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]
Flags = NDArray[np.bool_]

BEYOND_M = 0.6
"""How far the ground is handed out before and behind the set-up."""
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

    def take(self, which: Flags) -> "Wanted":
        """Take some of them."""
        return Wanted._make(column[which] for column in self)


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
class _Stretch:
    """A stretch of runs under one set-up."""

    lines: WheelLines
    middle: Float64
    """Ground that the body passes over, one height a sample."""
    envelope: Envelope

    def height(self, run: Int64, place: Float64) -> Float64:
        """Height of the ground in the middle, straight between the samples; beyond the ends that of the end."""
        offsets = self.lines.offsets
        last = offsets[run + 1] - offsets[run] - 1
        spot = np.clip(place / self.lines.step, 0.0, last)
        low = np.minimum(spot.astype(np.int64), np.maximum(last - 1, 0))
        first, second = (self.middle[offsets[run] + np.minimum(low + k, last)] for k in (0, 1))
        share = spot - low
        return np.asarray(np.where(share == 0.0, first, first + share * (second - first)))


def stand_on(wanted: Wanted, case: Case, bend: Float32) -> Stood:
    """Stand a set-up where it is wanted.

    Parameters
    ----------
    wanted
        The poses.
    case
        The set-up and its site.
    bend
        Of the ways, as of ``wheel_lines.bends_of``.

    Returns
    -------
    Stood
        The poses that could be made. Where the ground is known in the middle only, a pose rolled in side view is told
        without what takes four wheels, over the mean of the middle below both axles.
    """
    profiles, things = case.scene.site.terrain.profiles, case.scene.things
    paths = paths_of(profiles, bend, things, case.envelope, case.limits)
    under = bumps_on(things, profiles, case.envelope, case.limits).under
    parts = []
    for low, high in run_spans(profiles.offsets):
        here = wanted.take((wanted.run >= low) & (wanted.run < high))
        stretch = _Stretch(lines_of(paths.cut(low, high)), _laid(profiles, under, low, high), case.envelope)
        parts.append(_stand(here._replace(run=here.run - low), stretch, case))
    return Stood._make(np.concatenate(column) for column in zip(*parts, strict=True))


def _laid(profiles: Profiles, under: Bumps, low: int, high: int) -> Float64:
    """Lay things into the ground that the body passes over, on the runs from *low* up to *high*."""
    offsets, start, heights, basis = cut_profiles(profiles, low, high)
    ground = (heights.astype(np.float64), np.ascontiguousarray(basis))
    things = cut_bumps(under, low, high)
    return lay_bumps(ground, offsets, np.ascontiguousarray(start), float(profiles.step_m), things)[0]


def _stand(wanted: Wanted, stretch: _Stretch, case: Case) -> Stood:
    """Stand a set-up on one stretch of runs."""
    poses = _poses(wanted, stretch, case)
    rear, front, pitch, roll, twist = (
        np.array([getattr(pose, name) for pose in poses], dtype=np.float64)
        for name in ("rear", "front", "pitch", "roll", "twist")
    )
    wheels = np.array([pose.ground for pose in poses], dtype=np.float64).reshape(-1, 4)
    edges = np.array([pose.edges for pose in poses], dtype=np.float64).reshape(wheels.shape[0], -1)
    least = np.min(np.where(np.isnan(edges), np.inf, edges), axis=1, initial=np.inf)
    side = np.isnan(pitch)
    rear, front = np.where(side, wanted.rear, rear), np.where(side, wanted.front, front)
    behind, ahead = stretch.height(wanted.run, rear), stretch.height(wanted.run, front)
    datum = np.where(side, 0.5 * (behind + ahead), wheels.mean(axis=1))
    steep = np.arccos(np.minimum(np.abs(front - rear) / stretch.envelope.wheelbase_m, 1.0))
    first_m, ground = _ground(stretch, wanted, rear, front)
    start = stretch.lines.start_m[wanted.run]
    stood = Stood(
        row=wanted.row,
        rear_m=rear + start,
        front_m=front + start,
        pitch=np.where(side, np.sign(ahead - behind) * steep, pitch),
        roll=roll,
        twist=twist,
        lifted=np.array([pose.lifted for pose in poses], dtype=np.int64),
        stability=np.where(np.isinf(least), np.nan, least),
        wheels=wheels - datum[:, None],
        first_m=first_m,
        ground=(ground - datum[:, None, None]).astype(np.float32),
    )
    made = ~np.isnan(stood.pitch)
    return Stood._make(column[made] for column in stood)


def _poses(wanted: Wanted, stretch: _Stretch, case: Case) -> list[Pose]:
    """Make every pose, one after another; NaN where it cannot be made."""
    lines, chassis, speed = (
        stretch.lines.tyres(),
        chassis_of(case.envelope, case.limits),
        speed_of(case.envelope, case.limits),
    )
    rears, low, high = _rear_axles(wanted, stretch, chassis.wheelbase)
    found = []
    for k, key in enumerate(zip(wanted.run.tolist(), wanted.direction.tolist(), strict=True)):
        rear = float(rears[k])
        pose = stand(lines, chassis, key, rear, speed)
        for _ in range(TRIES):
            off = float(wanted.at[k]) - 0.5 * (pose.rear + pose.front)
            better = min(max(rear + off, float(low[k])), float(high[k]))
            if not abs(off) > MIDDLE_M or better == rear:
                break
            rear = better
            pose = stand(lines, chassis, key, rear, speed)
        found.append(pose)
    return found


def _rear_axles(wanted: Wanted, stretch: _Stretch, wheelbase: float) -> tuple[Float64, Float64, Float64]:
    """Places for the rear axles, and the lowest and highest that may be tried.

    That of a rolled pose is fixed. Others stand half the wheelbase behind the wanted middle, as the ground in the
    middle slopes there, with the whole set-up's axles on the run; NaN where the run is shorter.
    """
    lines, run, back = stretch.lines, wanted.run, wanted.direction == 1
    end = (np.diff(lines.offsets)[run] - 1) * lines.step
    low, high = np.where(back, wheelbase, 0.0), np.where(back, end, end - wheelbase)
    rise = stretch.height(run, wanted.at + 0.5 * wheelbase) - stretch.height(run, wanted.at - 0.5 * wheelbase)
    half = 0.5 * wheelbase / np.sqrt(1.0 + (np.nan_to_num(rise) / wheelbase) ** 2)
    rear = np.where(low <= high, np.clip(wanted.at + np.where(back, half, -half), low, high), np.nan)
    rolled = ~np.isnan(wanted.rear)
    rear, low, high = (np.where(rolled, wanted.rear, value) for value in (rear, low, high))
    return rear, low, high


def _ground(stretch: _Stretch, wanted: Wanted, rear: Float64, front: Float64) -> tuple[Float64, Float64]:
    """Ground under the left wheels, the middle and the right wheels in travel, and where its first height lies."""
    lines, vehicle = stretch.lines, stretch.envelope
    back = wanted.direction == 1
    sign = np.where(back, -1, 1)
    behind = np.abs(front - rear) + vehicle.length_rear_m + BEYOND_M
    reach = vehicle.wheelbase_m + vehicle.length_rear_m + vehicle.length_front_m + 2.0 * BEYOND_M
    # The first height within reach behind the front axle, in travel.
    first = sign * np.ceil(np.nan_to_num(sign * front - behind) / lines.step - 1e-9)
    first_m = sign * (first * lines.step - front)
    steps = np.arange(math.ceil(reach / lines.step) + 1)
    k = first.astype(np.int64)[:, None] + sign[:, None] * steps
    ahead = first_m[:, None] + steps * lines.step
    begin, count = lines.offsets[wanted.run], np.diff(lines.offsets)[wanted.run]
    known = (k >= 0) & (k < count[:, None]) & (ahead <= vehicle.length_front_m + BEYOND_M + 1e-9)
    spot = np.where(known, begin[:, None] + k, 0)
    left, middle, right = lines.left[spot], stretch.middle[spot], lines.right[spot]
    sides = (np.where(back[:, None], right, left), middle, np.where(back[:, None], left, right))
    return first_m, np.where(known[:, :, None], np.stack(sides, axis=2), np.nan)
