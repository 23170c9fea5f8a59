"""A vehicle on four wheels rolled along two lines of tyres: lean, twist, the wheel that lifts, and the worst kept.

A pose stands with its rear axle at every *stride*-th sample (kernels.four_pose). It counts when the middle between the
axles lies in the run's own part. Round the worst pose of each measure the poses are repeated at a third of the spacing,
four times over: on rough ground that finds up to a few hundredths more of the limit.
"""

import math

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.compiled import bare, inner, kernel
from pipeline.kernels.four_pose import Axle, axle_at, front_axle
from pipeline.kernels.four_records import MEASURES, NO_WHEEL, Chassis, FourSwept, Track, TyreLines
from pipeline.kernels.four_track import sideways_at, track_of, turned
from pipeline.kernels.four_worst import DEMAND, FRONT, LIFTED, LIMIT, PLACE, REAR, UTILISATION, WHEEL, bars_of, hold

__all__ = ["sweep_four"]

Float64 = NDArray[np.float64]

REFINE_ABOVE = 0.2
"""Utilisation below which the worst pose is not looked at more closely: nothing hangs on it."""
REFINEMENTS = 4
FINER = 3
"""Each refinement divides the spacing of the poses by this."""


def sweep_four(lines: TyreLines, chassis: Chassis, speed: float, stride: int) -> FourSwept:
    """Roll a vehicle over every run in both directions.

    Parameters
    ----------
    lines
        The ground under the tyres.
    chassis
        The vehicle.
    speed
        m/s; in a bend never more than 0.25 g of sideways acceleration allows.
    stride
        A pose stands at every *stride*-th sample.

    Returns
    -------
    FourSwept
        The worst of each measure.
    """
    count = lines.offsets.size - 1
    shape = (count, 2, MEASURES)
    out = FourSwept(
        np.zeros(shape),
        np.zeros(shape),
        np.full(shape, math.nan),
        np.full(shape, math.nan),
        np.full(shape, math.nan),
        np.full(shape, math.nan),
        np.full(shape, 255, dtype=np.uint8),
        np.full(shape, NO_WHEEL, dtype=np.int8),
        np.zeros(shape, dtype=np.bool_),
        np.zeros((count, 2), dtype=np.int64),
        np.zeros((count, 2), dtype=np.int64),
        np.full((count, 2), math.nan),
    )
    _sweep(out, lines, chassis, speed, stride)
    return out


@kernel
def _sweep(out: FourSwept, lines: TyreLines, chassis: Chassis, speed: float, stride: int) -> None:
    """Roll over every run in both directions and write down what was found."""
    for run in range(lines.offsets.size - 1):
        track = track_of(lines, chassis, run)
        for direction in range(2):
            _one_way(out, track, lines, chassis, (run, direction, stride, speed))
            track = turned(track)


@inner
def _one_way(
    out: FourSwept, track: Track, lines: TyreLines, chassis: Chassis, key: tuple[int, int, int, float]
) -> None:
    """Roll along one run in one direction and write down what was found."""
    run, direction, stride, speed = key
    best = np.zeros((MEASURES, 8))
    made, failed, failed_at = _travel(best, track, chassis, stride, speed)
    if made + failed == 0:
        made, failed, failed_at = _travel(best, track, chassis, min(stride, 1), speed)
    end = (track.middle.size - 1) * track.step
    out.poses[run, direction] = made
    out.failed[run, direction] = failed
    out.failed_at[run, direction] = failed_at if direction == 0 else end - failed_at
    first = lines.offsets[run]
    for measure in range(MEASURES):
        if best[measure, UTILISATION] <= 0.0:
            continue
        where = (run, direction, measure)
        out.utilisation[where] = best[measure, UTILISATION]
        out.demand[where] = best[measure, DEMAND]
        out.limit[where] = best[measure, LIMIT]
        out.wheel[where] = int(best[measure, WHEEL])
        out.lifted[where] = best[measure, LIFTED] > 0.0
        place, rear, front = best[measure, PLACE], best[measure, REAR], best[measure, FRONT]
        if direction == 1:
            place, rear, front = end - place, end - rear, end - front
        out.place[where], out.rear[where], out.front[where] = place, rear, front
        worst = 255
        for at in (rear, front):
            k = at / track.step
            for j in (math.floor(k + 1e-6), math.ceil(k - 1e-6)):
                worst = min(worst, lines.basis[first + j])
        out.basis[where] = worst


@inner
def _travel(best: Float64, track: Track, chassis: Chassis, stride: int, speed: float) -> tuple[int, int, float]:
    """Roll along one run; poses made, poses that failed, and where the first of these is."""
    made, failed, failed_at = 0, 0, math.nan
    bars = bars_of(chassis)
    half = 0.5 * chassis.wheelbase
    first = max(math.ceil((track.low - half) / track.step), 0)
    last = min(math.floor(track.high / track.step), track.middle.size - 1)
    for k in range(first, last + 1, stride):
        state = _pose(best, bars, track, chassis, Axle(k * track.step, track.left[k], track.right[k]), speed)
        if state > 0:
            made += 1
        elif state < 0:
            failed += 1
            failed_at = k * track.step + half if math.isnan(failed_at) else failed_at
    _refine(best, bars, track, chassis, stride * track.step, speed)
    return made, failed, failed_at


@bare
def _refine(best: Float64, bars: Float64, track: Track, chassis: Chassis, spacing: float, speed: float) -> None:
    """Repeat the worst pose of each measure at closer and closer spacing."""
    for measure in range(MEASURES):
        fine = spacing
        for _ in range(REFINEMENTS):
            if best[measure, UTILISATION] <= REFINE_ABOVE:
                break
            fine /= FINER
            middle = best[measure, REAR]
            for k in range(1 - FINER, FINER):
                rear = axle_at(track.left, track.right, track.step, middle + k * fine)
                if k != 0:
                    _pose(best, bars, track, chassis, rear, speed)


@bare
def _pose(best: Float64, bars: Float64, track: Track, chassis: Chassis, rear: Axle, speed: float) -> int:
    """Make one pose and keep what is worse than before.

    1 made, 0 outside the own part or beyond the run, −1 ground under a wheel missing.
    """
    front = front_axle(track, chassis.wheelbase, rear)
    failed = math.isnan(front.place)
    place = 0.5 * (rear.place + (rear.place + chassis.wheelbase if failed else front.place))
    if not track.low <= place <= track.high:
        return 0
    if failed:
        return -1
    hold(best, bars, chassis, (rear, front), (place, sideways_at(track, place, speed)))
    return 1
