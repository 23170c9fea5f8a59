"""A vehicle in side view rolled along profiles: what the ground asks of its angles and clearances.

Both tyres are circles rolling on the ground. At each pose the rear wheel stands at a place of the profile and the front
wheel one wheelbase further along the path of the wheel centres; the set-up's own ground line is the line one tyre
radius below both centres. Every height of the ground under the body is held against the underbody above it, and every
hard point against the ground below it, so that two polylines are compared exactly.

Ahead of the front axle the ground point is seen from the front tyre under the angle of the line that is tangent to the
loaded tyre arc (49 CFR 523.2), the hard point above it under its own angle: their ratio is the utilisation of
``approach``; behind the rear axle that of ``departure``; between the axles the sums of the two angles from both tyres
give ``breakover``. ``belly`` is the height of the ground over the ground line against the height of the body less the
required gap, between the axles, at both axle housings, and wherever the tyre hides ground or hard point from the side.

Poses stand every *stride* heights; round the worst pose of each check they are repeated at a third of the spacing, six
times over, so that the moment at which a tyre meets the foot of a ramp is not missed.
"""

import math

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.compiled import inner, kernel
from pipeline.kernels.pose_contact import pass_over
from pipeline.kernels.pose_records import (
    CHECKS,
    DEMAND,
    FIELDS,
    FRONT,
    LIMIT,
    PLACE,
    REAR,
    UTILISATION,
    Body,
    Line,
    Runs,
    Swept,
)
from pipeline.kernels.tyre import tyre_centre, tyre_envelope

__all__ = ["front_wheel", "make_pose", "sweep"]

Float64 = NDArray[np.float64]
UInt8 = NDArray[np.uint8]

CONVERGED_M = 1e-8
"""The wheelbase is met to this."""
CLOSEST_M = 1e-13
"""On ground so steep that it is not met, the search ends when its bounds are this close."""
NEWTON_STEPS = 12
"""After this many steps only halving is left, which always ends."""
REFINE_ABOVE = 0.2
"""Utilisation below which the worst pose is not looked at more closely: nothing hangs on it."""
REFINEMENTS = 6
FINER = 3
"""Each refinement divides the spacing of the poses by this."""
AT_END_M = 1e-6
"""Ground this close beyond the end of a run's own part still counts: binary chainages leave no crack at a node."""


@kernel
def front_wheel(line: Line, body: Body, rear: float, rear_z: float) -> tuple[float, float]:
    """Find the front wheel one wheelbase from the rear one, along the path of the wheel centres.

    Where a steep step lets the front wheel stand in several places, the farthest is taken.

    Parameters
    ----------
    line
        The run.
    body
        The vehicle.
    rear, rear_z
        Place and height of the rear wheel's centre, m.

    Returns
    -------
    tuple of float
        Place and height of the front wheel's centre; NaN when ground under the wheel is missing or a cliff higher
        than the wheelbase leaves it no place, inf when the run ends before.
    """
    step, length = line.step, body.wheelbase
    last = line.centre.size - 1
    high = math.ceil((rear + length) / step - 1e-9)
    if high > last:
        high = last
        if _apart(line, high, rear, rear_z) < length:
            return math.inf, math.inf
    while high > 0:
        near = _apart(line, high - 1, rear, rear_z)
        if math.isnan(near) or math.isnan(line.centre[high]):
            return math.nan, math.nan
        if near < length:
            return _between(line, body, (rear, rear_z), ((high - 1) * step, high * step))
        high -= 1
    return math.nan, math.nan


@inner
def _apart(line: Line, k: int, rear: float, rear_z: float) -> float:
    """Distance of the wheel centre over height *k* from the rear wheel's."""
    across, up = k * line.step - rear, line.centre[k] - rear_z
    return math.sqrt(across * across + up * up)


@inner
def _between(line: Line, body: Body, rear: tuple[float, float], ends: tuple[float, float]) -> tuple[float, float]:
    """Solve for the wheelbase between two places that enclose it: Newton's method, halving where it leaves them."""
    low, high = ends
    k = math.floor(low / line.step + 0.5)
    below, above = _apart(line, k, *rear) - body.wheelbase, _apart(line, k + 1, *rear) - body.wheelbase
    x = low - below * (high - low) / (above - below)
    turn = 0
    while True:
        z, rise = tyre_centre(line.wheel, line.step, body.radius, x)
        across, up = x - rear[0], z - rear[1]
        apart = math.sqrt(across * across + up * up)
        off = apart - body.wheelbase
        if abs(off) < CONVERGED_M or math.isnan(off) or high - low < CLOSEST_M:
            return x, z
        if off < 0.0:
            low = x
        else:
            high = x
        growth = (across + up * rise) / apart
        x = x - off / growth if growth > 0.0 and turn < NEWTON_STEPS else math.inf
        if not low < x < high:
            x = 0.5 * (low + high)
        turn += 1


@kernel
def make_pose(best: Float64, line: Line, body: Body, rear: float, rear_z: float) -> int:
    """Make one pose and keep what is worse than before; 1 made, 0 beyond the run, −1 ground under a wheel missing."""
    if math.isnan(rear_z):
        return -1
    front, front_z = front_wheel(line, body, rear, rear_z)
    if math.isinf(front):
        return 0
    if math.isnan(front_z):
        return -1
    turn = ((front - rear) / body.wheelbase, (front_z - rear_z) / body.wheelbase)
    room = 0.5 + abs(turn[1]) * body.radius
    reach = (rear + body.wheelbase + min(body.x[0], -body.wheelbase) - room, front + max(body.x[-1], 0.0) + room)
    low = math.floor(max(reach[0], line.low) / line.step)
    high = min(math.ceil(min(reach[1], line.high) / line.step), line.under.size - 1)
    pass_over(best, line, body, (max(low, 0), high), (rear, front, front_z, turn[0], turn[1]))
    return 1


@inner
def _refine(best: Float64, line: Line, body: Body, spacing: float) -> None:
    """Repeat the worst pose of each check at closer and closer spacing."""
    end = (line.centre.size - 1) * line.step
    for check in range(CHECKS):
        fine = spacing
        for _ in range(REFINEMENTS):
            if best[check, UTILISATION] <= REFINE_ABOVE:
                break
            fine /= FINER
            middle = best[check, REAR]
            for k in range(1 - FINER, FINER):
                rear = middle + k * fine
                if k != 0 and 0.0 <= rear <= end:
                    make_pose(best, line, body, rear, tyre_centre(line.wheel, line.step, body.radius, rear)[0])


@inner
def _travel(best: Float64, line: Line, body: Body, stride: int) -> tuple[int, int, float]:
    """Roll along one run; poses made, poses that failed, and where the first of these is."""
    made, failed = 0, 0
    failed_at = math.nan
    ahead, behind = max(body.x[-1], 0.0), max(-body.wheelbase - body.x[0], 0.0)
    first = max(math.floor((line.low - body.wheelbase - ahead) / line.step), 0)
    last = min(math.ceil((line.high + behind) / line.step), line.centre.size - 1)
    for k in range(first, last + 1, stride):
        state = make_pose(best, line, body, k * line.step, line.centre[k])
        if state > 0:
            made += 1
        elif state < 0:
            failed += 1
            if math.isnan(failed_at):
                failed_at = min(max(k * line.step, line.low), line.high)
    _refine(best, line, body, stride * line.step)
    return made, failed, failed_at


@kernel
def sweep(runs: Runs, body: Body, stride: int) -> Swept:
    """Roll a vehicle over every run in both directions.

    Parameters
    ----------
    runs
        The profiles.
    body
        The vehicle.
    stride
        A pose stands at every *stride*-th height.

    Returns
    -------
    Swept
        The worst of each check. Direction 0 travels along the run, direction 1 against it; places always count
        along the run.
    """
    count = runs.offsets.size - 1
    shape = (count, 2, CHECKS)
    out = Swept(
        np.zeros(shape),
        np.zeros(shape),
        np.full(shape, math.nan),
        np.full(shape, math.nan),
        np.full(shape, math.nan),
        np.full(shape, math.nan),
        np.full(shape, 255, dtype=np.uint8),
        np.zeros((count, 2), dtype=np.int64),
        np.zeros((count, 2), dtype=np.int64),
        np.full((count, 2), math.nan),
    )
    for run in range(count):
        a, b = runs.offsets[run], runs.offsets[run + 1]
        wheel, under = runs.wheel_z[a:b].copy(), runs.under_z[a:b].copy()
        centre = tyre_envelope(wheel, runs.step, body.radius)
        end = (b - a - 1) * runs.step
        low, high = runs.own_from[run] - AT_END_M, runs.own_to[run] + AT_END_M
        for direction in range(2):
            line = Line(wheel, under, centre, runs.step, low, high)
            _one_way(out, line, body, runs.basis[a:b], (run, direction, stride))
            wheel, under, centre = wheel[::-1].copy(), under[::-1].copy(), centre[::-1].copy()
            low, high = end - high, end - low
    return out


@inner
def _one_way(out: Swept, line: Line, body: Body, basis: UInt8, key: tuple[int, int, int]) -> None:
    """Roll along one run in one direction and write down what was found."""
    run, direction, stride = key
    best = np.zeros((CHECKS, FIELDS))
    made, failed, failed_at = _travel(best, line, body, stride)
    end = (line.centre.size - 1) * line.step
    out.poses[run, direction] = made
    out.failed[run, direction] = failed
    out.failed_at[run, direction] = failed_at if direction == 0 else end - failed_at
    for check in range(CHECKS):
        if best[check, UTILISATION] <= 0.0:
            continue
        out.utilisation[run, direction, check] = best[check, UTILISATION]
        out.demand[run, direction, check] = best[check, DEMAND]
        out.limit[run, direction, check] = best[check, LIMIT]
        worst = 255
        for field, column in ((PLACE, out.place), (REAR, out.rear), (FRONT, out.front)):
            at = best[check, field] if direction == 0 else end - best[check, field]
            column[run, direction, check] = at
            k = min(max(math.floor(at / line.step + 0.5), 0), basis.size - 1)
            worst = min(worst, basis[k])
        out.basis[run, direction, check] = worst
