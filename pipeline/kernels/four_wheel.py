"""A vehicle on four wheels rolled along two lines of tyres: lean, twist, the wheel that lifts, and the worst kept.

A pose stands with its rear axle at every *stride*-th sample (kernels.four_pose). It counts when the middle between the
axles lies in the run's own part. Each of its edges asks for the angle lost since standing level, and the twist of the
ground is held against the wheel travel. On three wheels the diagonal takes the place of the side that it falls towards.

Whether an edge is worse than what was found is seen from the sine of the difference of angles, without an arc tangent.
Round the worst pose of each measure the poses are repeated at a third of the spacing, four times over: on rough ground
that finds up to a few hundredths more of the limit.
"""

import math

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.compiled import bare, inner, kernel
from pipeline.kernels.four_pose import (
    Axle,
    Lean,
    Sides,
    axle_at,
    feet_of,
    four_sides,
    front_axle,
    lean_of,
    lifting,
    raised,
    three_sides,
)
from pipeline.kernels.four_records import (
    DIAGONAL,
    FL,
    FR,
    FRONT_EDGE,
    LEFT_EDGE,
    MEASURES,
    NO_WHEEL,
    PITCH,
    RIGHT_EDGE,
    RL,
    ROLL,
    TWIST,
    Chassis,
    FourSwept,
    Track,
    TyreLines,
)
from pipeline.kernels.four_track import sideways_at, track_of, turned

__all__ = ["sweep_four"]

Float64 = NDArray[np.float64]

REFINE_ABOVE = 0.2
"""Utilisation below which the worst pose is not looked at more closely: nothing hangs on it."""
REFINEMENTS = 4
FINER = 3
"""Each refinement divides the spacing of the poses by this."""
UTILISATION, DEMAND, LIMIT, PLACE, REAR, FRONT, WHEEL, LIFTED = range(8)
COSINE, SINE, LEVEL, MOST = range(4)
"""Columns of the bars: cosine and sine of the angle below which an edge is worse than found, its angle standing level,
and what may be used up of it."""


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
    bars = _bars(chassis)
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
    _hold(best, bars, chassis, (rear, front), (place, sideways_at(track, place, speed)))
    return 1


@inner
def _bars(chassis: Chassis) -> Float64:
    """Angles of the edges standing level, and that none of them is to be fallen short of."""
    bars = np.empty((4, 4))
    sides = four_sides(feet_of(chassis, Lean(1.0, 0.0, 0.0, 0.0), 0.0))
    for edge in range(4):
        angle = math.atan2(sides[edge][0], sides[edge][1])
        bars[edge, COSINE], bars[edge, SINE] = math.cos(angle), math.sin(angle)
        bars[edge, LEVEL], bars[edge, MOST] = angle, chassis.limits[edge]
    return bars


@bare
def _hold(best: Float64, bars: Float64, chassis: Chassis, axles: tuple[Axle, Axle], where: tuple[float, float]) -> None:
    """Hold one pose against the worst so far."""
    back, ahead = axles
    heights, rear, front = (ahead.left, ahead.right, back.left, back.right), back.place, ahead.place
    place, sideways = where
    twist = heights[0] - heights[1] - heights[2] + heights[3]
    lean = lean_of(chassis, heights, front - rear)
    feet = feet_of(chassis, lean, sideways)
    lifted = NO_WHEEL
    ratio = abs(twist) / chassis.travel
    if ratio > best[TWIST, UTILISATION]:
        wheel = lifting(feet, twist)
        spot = front if wheel in (FL, FR) else rear
        _keep(best, TWIST, (abs(twist), chassis.travel), (spot, rear, front), (wheel, ratio > 1.0))
    if ratio > 1.0:
        lifted = lifting(feet, twist)
        held = raised(heights, lifted, abs(twist) - chassis.travel)
        feet = feet_of(chassis, lean_of(chassis, held, front - rear), sideways)
    sides, spots = three_sides(feet, lifted), (place, rear, front)
    for edge in range(4):
        _tip(best, bars, (edge, lifted), sides[edge], spots)
    if lifted != NO_WHEEL:
        _tip(best, bars, (LEFT_EDGE if lifted in (FL, RL) else RIGHT_EDGE, lifted), sides[DIAGONAL], spots)


@bare
def _tip(best: Float64, bars: Float64, key: tuple[int, int], sides: Sides, spots: tuple[float, float, float]) -> None:
    """Keep the demand over an edge if it is the worst of its measure, and lower the bars of that measure."""
    edge, lifted = key
    sine, cosine = sides
    if not sine * bars[edge, COSINE] < cosine * bars[edge, SINE]:
        return
    measure = ROLL if edge < FRONT_EDGE else PITCH
    demand = bars[edge, LEVEL] - math.atan2(sine, cosine)
    if demand <= best[measure, UTILISATION] * bars[edge, MOST]:
        return
    _keep(best, measure, (demand, bars[edge, MOST]), spots, (lifted, lifted != NO_WHEEL))
    first = LEFT_EDGE if measure == ROLL else FRONT_EDGE
    for k in range(first, first + 2):
        angle = bars[k, LEVEL] - best[measure, UTILISATION] * bars[k, MOST]
        bars[k, COSINE], bars[k, SINE] = math.cos(angle), math.sin(angle)


@bare
def _keep(
    best: Float64,
    measure: int,
    ask: tuple[float, float],
    spots: tuple[float, float, float],
    stance: tuple[int, bool],
) -> None:
    """Write down the worst of a measure."""
    best[measure, UTILISATION] = ask[0] / ask[1]
    best[measure, DEMAND], best[measure, LIMIT] = ask
    best[measure, PLACE], best[measure, REAR], best[measure, FRONT] = spots
    best[measure, WHEEL], best[measure, LIFTED] = stance
