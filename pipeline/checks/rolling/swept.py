"""Roll every set-up over the profiles, in blocks that can run anywhere, and reduce runs to segments."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.limits import Limits
from pipeline.checks.passing.choice import Choice
from pipeline.checks.passing.laid import Ground, bumps_on
from pipeline.checks.rolling.reuse import Job, Rolled, laid_on, roll
from pipeline.checks.rolling.run_blocks import counted, cut_bumps, own_samples, stride_of, worst_run
from pipeline.checks.side_body import body_of
from pipeline.kernels.obstacle_bumps import Bumps, lay_bumps
from pipeline.kernels.pose import sweep
from pipeline.kernels.pose_records import CHECKS, Body, Runs, Swept
from pipeline.spread import Mapper
from pipeline.terrain.model import Profiles
from pipeline.vehicle.envelope_model import Envelope

__all__ = ["SegmentSweep", "body_of", "sweep_all"]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]
UInt8 = NDArray[np.uint8]


@dataclass(frozen=True, slots=True)
class SegmentSweep:
    """What a sweep found on each segment; arrays of shape (segments, 2 directions, 4 checks) unless said otherwise.

    The checks are approach, breakover, departure and belly, as in ``kernels.pose``.
    """

    utilisation: Float64
    demand: Float64
    """Radians; m for the belly."""
    limit: Float64
    """NaN where the ground asks nothing."""
    at_m: Float64
    """Chainage of the worst point; NaN where the ground asks nothing."""
    rear_m: Float64
    """Chainage below the middle of the rear axle then, in the run that the point was found on: off the segment where
    the axle stands on a neighbour; likewise NaN."""
    front_m: Float64
    """The same of the front axle."""
    run: Int64
    """The run that the point was found on; −1 where the segment has none."""
    basis: UInt8
    """255 where the ground asks nothing."""
    poses: Int64
    """Poses made, shape (segments, 2)."""
    failed: Int64
    """Poses that could not be made, shape (segments, 2)."""
    failed_at_m: Float64
    """Chainage of the first of them, shape (segments, 2)."""
    blind_m: Float64
    """Length of the segment's own profile without heights, shape (segments,)."""
    blind_at_m: Float64
    """Chainage where that begins, shape (segments,)."""
    rolled: Rolled[Swept]
    """The same run by run."""


@dataclass(frozen=True, slots=True)
class _Block:
    """Some runs and one vehicle: all that one piece of work needs."""

    profiles: tuple[Int64, Float64, NDArray[np.float32], UInt8]
    """Offsets, start, heights and basis of the runs."""
    own: tuple[Float64, Float64]
    """Where ground counts, m from the first height."""
    step: float
    ground: tuple[Bumps, Bumps]
    """Things under the wheels, and under the body."""
    body: Body


def sweep_all(
    profiles: Profiles,
    choices: Sequence[Choice],
    envelopes: Sequence[Envelope],
    limits: Limits,
    mapper: Mapper,
    known: Sequence[SegmentSweep] = (),
) -> list[SegmentSweep]:
    """Roll all set-ups over all runs.

    Parameters
    ----------
    profiles
        The runs; the first ones are the segments in order.
    choices
        The way of each set-up past the things that lie in its way.
    envelopes
        The set-ups.
    limits
        Required gap, reach of a step.
    mapper
        Spreads the blocks. Every block is a stretch of runs and one set-up, and gives the same numbers anywhere.
    known
        What was found before on the same profiles under the same limits: what is in there is not rolled again.

    Returns
    -------
    list of SegmentSweep
        One for each set-up; the very one of *known* where nothing had to be rolled.
    """
    each = zip(choices, envelopes, strict=True)
    jobs = [_job(profiles, bumps_on(choice, profiles, one, limits), body_of(one, limits)) for choice, one in each]
    found = roll(jobs, profiles.offsets, _sweep_block, [sweep.rolled for sweep in known], mapper)
    segments = int(profiles.segment.max(initial=-1)) + 1
    made = {id(sweep.rolled): sweep for sweep in known}
    for rolled in found:
        if id(rolled) not in made:
            made[id(rolled)] = _by_segment(profiles, segments, rolled)
    return [made[id(rolled)] for rolled in found]


def _job(profiles: Profiles, ground: Ground, body: Body) -> Job[_Block]:
    """Say what is to be rolled over what."""

    def cut(low: int, high: int) -> _Block:
        start = profiles.start_m[low:high]
        return _Block(
            profiles=_cut_profiles(profiles, low, high),
            own=(profiles.own_from_m[low:high] - start, profiles.own_to_m[low:high] - start),
            step=float(profiles.step_m),
            ground=(cut_bumps(ground.wheel, low, high), cut_bumps(ground.under, low, high)),
            body=body,
        )

    vehicle = (body.x.tobytes(), body.z.tobytes(), *body[2:])
    return Job(vehicle, laid_on(ground.wheel, ground.under), cut)


def _cut_profiles(profiles: Profiles, low: int, high: int) -> tuple[Int64, Float64, NDArray[np.float32], UInt8]:
    """Take the runs from *low* up to *high*: offsets, run coordinates of the first heights, heights, basis."""
    first, last = profiles.offsets[low], profiles.offsets[high]
    offsets = np.asarray(profiles.offsets[low : high + 1] - first, dtype=np.int64)
    return offsets, profiles.start_m[low:high], profiles.z[first:last], profiles.basis[first:last]


def _sweep_block(block: _Block) -> Swept:
    """Do one block."""
    offsets, start, heights, basis = block.profiles
    ground = (heights.astype(np.float64), np.ascontiguousarray(basis))
    start = np.ascontiguousarray(start)
    wheel, wheel_basis = lay_bumps(ground, offsets, start, block.step, block.ground[0])
    under, under_basis = lay_bumps(ground, offsets, start, block.step, block.ground[1])
    own_from, own_to = block.own
    runs = Runs(offsets, wheel, under, np.minimum(wheel_basis, under_basis), own_from, own_to, block.step)
    return sweep(runs, block.body, stride_of(block.step))


def _by_segment(profiles: Profiles, segments: int, rolled: Rolled[Swept]) -> SegmentSweep:
    """Reduce runs to segments: the worst run of each check, the sums of the poses."""
    found, start = rolled.found, profiles.start_m
    run = worst_run(found.utilisation, profiles.segment, segments)
    pick = (np.maximum(run, 0), *np.ogrid[:0, :2, :CHECKS][1:])
    none = run < 0
    blind_m, blind_at = _blind(profiles, segments)
    place, rear, front = (
        np.where(none, np.nan, column[pick] + start[pick[0]]) for column in (found.place, found.rear, found.front)
    )
    return SegmentSweep(
        utilisation=np.where(none, np.nan, found.utilisation[pick]),
        demand=np.where(none, np.nan, found.demand[pick]),
        limit=np.where(none, np.nan, found.limit[pick]),
        at_m=place,
        rear_m=rear,
        front_m=front,
        run=run,
        basis=np.where(none, np.uint8(0), found.basis[pick]),
        blind_m=blind_m,
        blind_at_m=blind_at,
        rolled=rolled,
        **counted(found, profiles, segments)._asdict(),
    )


def _blind(profiles: Profiles, segments: int) -> tuple[Float64, Float64]:
    """Length of each segment's own profile without heights, and the chainage where that begins."""
    run, at, own = own_samples(profiles, segments)
    blind = np.isnan(profiles.z[: run.size]) & own
    length = np.bincount(run[blind], minlength=segments).astype(np.float64) * profiles.step_m
    first = np.full(segments, np.inf)
    np.minimum.at(first, run[blind], at[blind])
    return length, np.where(np.isinf(first), np.nan, first)
