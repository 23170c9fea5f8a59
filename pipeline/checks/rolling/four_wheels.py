"""Roll every set-up on its four wheels over the runs, in blocks that can run anywhere, and reduce runs to segments."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache, partial

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.limits import Limits
from pipeline.checks.passing.choice import Choice
from pipeline.checks.passing.laid import tyre_bumps
from pipeline.checks.rolling.reuse import Job, Rolled, laid_on, roll
from pipeline.checks.rolling.run_blocks import counted, stride_of, worst_run
from pipeline.checks.rolling.wheel_lines import Paths, bends_of, lines_of, paths_of
from pipeline.checks.scene import Scene
from pipeline.kernels.four_records import MEASURES, NO_WHEEL, PITCH, ROLL, TWIST, Chassis, FourSwept
from pipeline.kernels.four_wheel import sweep_four
from pipeline.spread import Mapper, serial
from pipeline.terrain.model import Profiles
from pipeline.units import KMH
from pipeline.vehicle.envelope_model import Envelope

__all__ = ["PITCH", "ROLL", "TWIST", "FourSweep", "chassis_of", "four_sweep_all", "speed_of"]

Float64 = NDArray[np.float64]
Float32 = NDArray[np.float32]
Int64 = NDArray[np.int64]
Int8 = NDArray[np.int8]
UInt8 = NDArray[np.uint8]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class FourSweep:
    """What a sweep on four wheels found on each segment.

    Arrays of shape (segments, 2 directions, 3 measures) unless said otherwise; the measures are :data:`ROLL`,
    :data:`PITCH` and :data:`TWIST`. Chainages are those of the segment; axles may stand outside it.
    """

    utilisation: Float64
    """0 where the ground asks nothing."""
    demand: Float64
    """Angle lost since standing level, rad; of the twist m."""
    limit: Float64
    """NaN where the ground asks nothing."""
    at_m: Float64
    """Chainage of the middle of the vehicle in the worst pose; of the twist, of the wheel that lifts first."""
    rear_m: Float64
    """Chainage below the rear axle there."""
    front_m: Float64
    """The same of the front axle."""
    run: Int64
    """The run that it was found on; −1 where the segment has none."""
    basis: UInt8
    """255 where the ground asks nothing."""
    wheel: Int8
    """Wheel in the air, −1 for none; of the twist, the one that lifts or would lift first (``terms.Wheel``)."""
    lifted: Flags
    """Whether it stands on three wheels there."""
    poses: Int64
    """Poses made, shape (segments, 2)."""
    failed: Int64
    """Poses that could not be made, shape (segments, 2)."""
    failed_at_m: Float64
    """Chainage of the first of them, shape (segments, 2)."""
    rolled: Rolled[FourSwept]
    """The same run by run."""


@dataclass(frozen=True, slots=True)
class _Block:
    """Some runs and one vehicle: all that one piece of work needs."""

    paths: Paths
    chassis: Chassis
    speed: float


def chassis_of(envelope: Envelope, limits: Limits) -> Chassis:
    """Take what standing on four wheels needs out of an envelope.

    Standing level, tan θ of an edge is the distance in plan from the centre of gravity to it ÷ its height. Springs and
    tyres take ``compliance_share`` of that distance; what is left is the working static limit.
    """
    x, y, z = envelope.cg_m
    back = -envelope.wheelbase_m
    front, rear = envelope.track_front_m / 2.0, envelope.track_rear_m / 2.0
    edges = (((back, rear), (0.0, front)), ((0.0, -front), (back, -rear)), ((0.0, front), (0.0, -front)))
    arms = [_arm(edge, (x, y)) for edge in (*edges, ((back, -rear), (back, rear)))]
    return Chassis(
        wheelbase=float(envelope.wheelbase_m),
        track_front=float(envelope.track_front_m),
        track_rear=float(envelope.track_rear_m),
        radius=float(envelope.tyre_radius_m),
        travel=float(envelope.wheel_travel_m),
        cg_x=float(x),
        cg_y=float(y),
        cg_z=float(z),
        limits=np.arctan((1.0 - limits.compliance_share) * np.array(arms) / z),
    )


def _arm(edge: tuple[tuple[float, float], tuple[float, float]], cg: tuple[float, float]) -> float:
    """Distance in plan from the centre of gravity to an edge that runs clockwise round the support, m."""
    (x, y), (to_x, to_y) = edge
    along_x, along_y = to_x - x, to_y - y
    return ((cg[1] - y) * along_x - (cg[0] - x) * along_y) / -math.hypot(along_x, along_y)


def speed_of(envelope: Envelope, limits: Limits) -> float:
    """Speed at which the driver of a set-up takes the trail, m/s."""
    return limits.motion[envelope.driver].speed_kmh * KMH


def four_sweep_all(
    scene: Scene,
    choices: Sequence[Choice],
    envelopes: Sequence[Envelope],
    limits: Limits,
    mapper: Mapper = serial,
    known: Sequence[FourSweep] = (),
) -> list[FourSweep]:
    """Roll all set-ups on their four wheels over all runs.

    Parameters
    ----------
    scene
        The site: its runs and the ground beside them.
    choices
        The way of each set-up past the things that lie in its way.
    envelopes
        The set-ups.
    limits
        Speeds, footprint, what springs and tyres take.
    mapper
        Spreads the blocks. Every block is a stretch of runs and one set-up, and gives the same numbers anywhere.
    known
        What was found before on the same runs under the same limits: what is in there is not rolled again.

    Returns
    -------
    list of FourSweep
        One for each set-up; the very one of *known* where nothing had to be rolled.
    """
    terrain = scene.site.terrain
    profiles = terrain.profiles
    bend = cache(partial(bends_of, profiles, terrain.stations))
    jobs = [_job(profiles, bend, choice, one, limits) for choice, one in zip(choices, envelopes, strict=True)]
    found = roll(jobs, profiles.offsets, _sweep_block, [sweep.rolled for sweep in known], mapper)
    made = {id(sweep.rolled): sweep for sweep in known}
    for rolled in found:
        if id(rolled) not in made:
            made[id(rolled)] = _by_segment(profiles, scene.length_m, rolled)
    return [made[id(rolled)] for rolled in found]


def _job(
    profiles: Profiles, bend: Callable[[], Float32], choice: Choice, envelope: Envelope, limits: Limits
) -> Job[_Block]:
    """Say what is to be rolled over what; the paths of the tyres are worked out where they are needed."""
    things = tyre_bumps(choice, profiles, limits)
    chassis, speed = chassis_of(envelope, limits), speed_of(envelope, limits)
    paths = cache(lambda: paths_of(profiles, bend(), things, envelope, limits))

    def cut(low: int, high: int) -> _Block:
        return _Block(paths().cut(low, high), chassis, speed)

    vehicle = (*chassis[:-1], chassis.limits.tobytes(), speed, envelope.tyre_width_m)
    return Job(vehicle, laid_on(*things), cut)


def _sweep_block(block: _Block) -> FourSwept:
    """Do one block."""
    return sweep_four(lines_of(block.paths).tyres(), block.chassis, block.speed, stride_of(block.paths.step))


def _by_segment(profiles: Profiles, length_m: Float64, rolled: Rolled[FourSwept]) -> FourSweep:
    """Reduce runs to segments: the worst run of each measure, the sums of the poses."""
    found, start, segments = rolled.found, profiles.start_m, length_m.size
    run = worst_run(found.utilisation, profiles.segment, segments)
    pick = (np.maximum(run, 0), *np.ogrid[:0, :2, :MEASURES][1:])
    none, zero = run < 0, start[pick[0]]
    return FourSweep(
        utilisation=np.where(none, np.nan, found.utilisation[pick]),
        demand=np.where(none, np.nan, found.demand[pick]),
        limit=np.where(none, np.nan, found.limit[pick]),
        at_m=np.clip(np.where(none, np.nan, found.place[pick] + zero), 0.0, length_m[:, None, None]),
        rear_m=np.where(none, np.nan, found.rear[pick] + zero),
        front_m=np.where(none, np.nan, found.front[pick] + zero),
        run=run,
        basis=np.where(none, np.uint8(0), found.basis[pick]),
        wheel=np.where(none, np.int8(NO_WHEEL), found.wheel[pick]),
        lifted=~none & found.lifted[pick],
        rolled=rolled,
        **counted(found, profiles, segments)._asdict(),
    )
