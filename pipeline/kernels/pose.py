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

from pipeline.kernels.compiled import bare, fused, kernel
from pipeline.kernels.pose_contact import pass_over
from pipeline.kernels.pose_records import (
    CHECKS,
    DEMAND,
    FIELDS,
    FRONT,
    LIMIT,
    LINE_ROWS,
    PLACE,
    REAR,
    ROWS,
    UNDER,
    UTILISATION,
    Body,
    Line,
    Runs,
    Swept,
)
from pipeline.kernels.tyre import (
    ABOVE,
    CENTRE,
    GROUND,
    SLOPE,
    TOUCHES,
    turn_path,
    tyre_between,
    tyre_centre,
    tyre_path,
)

__all__ = ["front_wheel", "make_pose", "sweep", "sweep_into"]

Float64 = NDArray[np.float64]

TRIES = 4
"""So often the part of the ground that the front wheel touches is guessed again before halving takes over."""
SAME_M = 1e-12
"""Heights this close are the same."""
CLOSEST_M = 1e-13
"""The halving ends when its bounds are this close."""
REFINE_ABOVE = 0.2
"""Utilisation below which the worst pose is not looked at more closely: nothing hangs on it."""
REFINEMENTS = 6
FINER = 3
"""Each refinement divides the spacing of the poses by this."""
AT_END_M = 1e-6
"""Ground this close beyond the end of a run's own part still counts: binary chainages leave no crack at a node."""


@bare
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
    step, square = line.step, body.wheelbase * body.wheelbase
    last = line.ground.shape[1] - 1
    high = math.ceil((rear + body.wheelbase) / step - 1e-9)
    if high > last:
        high = last
        if _apart(line, high, rear, rear_z) < square:
            return math.inf, math.inf
    far = _apart(line, high, rear, rear_z)
    while high > 0:
        near = _apart(line, high - 1, rear, rear_z)
        if math.isnan(near) or math.isnan(far):
            return math.nan, math.nan
        if near < square:
            return _between(line, body, (rear, rear_z), high - 1)
        high, far = high - 1, near
    return math.nan, math.nan


@fused
def _apart(line: Line, k: int, rear: float, rear_z: float) -> float:
    """Square of the distance of the wheel centre over height *k* from the rear wheel's."""
    across, up = k * line.step - rear, line.ground[CENTRE, k] - rear_z
    return float(across * across + up * up)


@fused
def _between(line: Line, body: Body, rear: tuple[float, float], node: int) -> tuple[float, float]:
    """Solve for the wheelbase between two heights that enclose it, exactly on the part of the ground that is met."""
    step, sizes = line.step, (line.step, body.radius)
    low, high = int(line.ground[TOUCHES, node]), int(line.ground[TOUCHES, node + 1])
    ahead, rear_z = node * step - rear[0], rear[1]
    part = low
    if low != high:
        near, far = _apart(line, node, *rear), _apart(line, node + 1, *rear)
        share = (body.wheelbase * body.wheelbase - near) / (far - near)
        part = tyre_between(line.ground, (node, share * step), sizes)[1]
    for _ in range(TRIES):
        beyond, up = _meets(line, body, (ahead, rear_z), (node, part))
        if not 0.0 <= beyond <= step:
            break
        if low == high:
            return node * step + beyond, rear_z + up
        height, part = tyre_between(line.ground, (node, beyond), sizes)
        if abs(height - rear_z - up) < SAME_M:
            return node * step + beyond, height
    return _halved(line, body, rear, node)


@fused
def _meets(line: Line, body: Body, rear: tuple[float, float], at: tuple[int, int]) -> tuple[float, float]:
    """Find where a tyre on one part of the ground is one wheelbase from the rear wheel.

    Over a vertex two circles meet, over a piece a circle and a line; the upper and the farther of the two solutions.

    Parameters
    ----------
    line, body
        Run and vehicle.
    rear
        How far the height counted from lies ahead of the rear wheel, and the height of that wheel's centre, m.
    at
        The height counted from, and the part of the ground.

    Returns
    -------
    tuple of float
        How far beyond the height the wheel is, and how far over the rear one, m; NaN when they do not meet.
    """
    k, length = at[1] // 2, body.wheelbase
    ahead = rear[0] + (k - at[0]) * line.step
    if at[1] % 2 == 0:
        up = line.ground[GROUND, k] - rear[1]
        square = ahead * ahead + up * up
        along = 0.5 * ((length * length - body.radius * body.radius) / square + 1.0)
        aside = length * length / square - along * along
        if aside < 0.0:
            return math.nan, math.nan
        aside = math.sqrt(aside)
        return along * ahead - aside * up - rear[0], along * up + aside * ahead
    slope = line.ground[SLOPE, k]
    over = line.ground[GROUND, k] + line.ground[ABOVE, k] - rear[1] - slope * ahead
    steep = 1.0 + slope * slope
    root = steep * length * length - over * over
    if root < 0.0:
        return math.nan, math.nan
    across = (math.sqrt(root) - over * slope) / steep
    return across - rear[0], over + slope * across


@bare
def _halved(line: Line, body: Body, rear: tuple[float, float], node: int) -> tuple[float, float]:
    """Solve for the wheelbase by halving, where the path has kinks or steps between two heights."""
    low, high, z = 0.0, line.step, math.nan
    ahead = node * line.step - rear[0]
    while high - low > CLOSEST_M:
        middle = 0.5 * (low + high)
        z = tyre_between(line.ground, (node, middle), (line.step, body.radius))[0]
        across, up = ahead + middle, z - rear[1]
        if across * across + up * up < body.wheelbase * body.wheelbase:
            low = middle
        else:
            high = middle
    return node * line.step + low, z


@bare
def _centre(line: Line, body: Body, at: float) -> float:
    """Height of the centre of a tyre anywhere on a run."""
    last = line.ground.shape[1] - 1
    node = max(min(math.floor(at / line.step), last - 1), 0)
    if math.isnan(line.ground[CENTRE, node] + line.ground[CENTRE, min(node + 1, last)]):
        return tyre_centre(line.ground[GROUND], line.step, body.radius, at)[0]
    return tyre_between(line.ground, (node, at - node * line.step), (line.step, body.radius))[0]


@bare
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
    high = min(math.ceil(min(reach[1], line.high) / line.step), line.ground.shape[1] - 1)
    pass_over(best, line, body, (max(low, 0), high), (rear, front, front_z, turn[0], turn[1]))
    return 1


@bare
def _refine(best: Float64, line: Line, body: Body, spacing: float) -> None:
    """Repeat the worst pose of each check at closer and closer spacing."""
    end = (line.ground.shape[1] - 1) * line.step
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
                    make_pose(best, line, body, rear, _centre(line, body, rear))


@bare
def _travel(best: Float64, line: Line, body: Body, stride: int) -> tuple[int, int, float]:
    """Roll along one run; poses made, poses that failed, and where the first of these is."""
    made, failed = 0, 0
    failed_at = math.nan
    ahead, behind = max(body.x[-1], 0.0), max(-body.wheelbase - body.x[0], 0.0)
    first = max(math.floor((line.low - body.wheelbase - ahead) / line.step), 0)
    last = min(math.ceil((line.high + behind) / line.step), line.ground.shape[1] - 1)
    for k in range(first, last + 1, stride):
        state = make_pose(best, line, body, k * line.step, line.ground[CENTRE, k])
        if state > 0:
            made += 1
        elif state < 0:
            failed += 1
            if math.isnan(failed_at):
                failed_at = min(max(k * line.step, line.low), line.high)
    _refine(best, line, body, stride * line.step)
    return made, failed, failed_at


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
        utilisation=np.zeros(shape),
        demand=np.zeros(shape),
        limit=np.full(shape, math.nan),
        place=np.full(shape, math.nan),
        rear=np.full(shape, math.nan),
        front=np.full(shape, math.nan),
        basis=np.full(shape, 255, dtype=np.uint8),
        poses=np.zeros((count, 2), dtype=np.int64),
        failed=np.zeros((count, 2), dtype=np.int64),
        failed_at=np.full((count, 2), math.nan),
    )
    sweep_into(out, runs, body, stride)
    return out


@kernel
def sweep_into(out: Swept, runs: Runs, body: Body, stride: int) -> None:
    """Roll over every run in both directions and write what was found into *out*; see :func:`sweep`."""
    best = np.empty((ROWS, FIELDS))
    for run in range(runs.offsets.size - 1):
        first, count = runs.offsets[run], runs.offsets[run + 1] - runs.offsets[run]
        end = (count - 1) * runs.step
        low, high = runs.own_from[run] - AT_END_M, runs.own_to[run] + AT_END_M
        ground, back = np.empty((LINE_ROWS, count)), np.empty((LINE_ROWS, count))
        for k in range(count):
            ground[GROUND, k], ground[UNDER, k] = runs.wheel_z[first + k], runs.under_z[first + k]
            back[UNDER, count - 1 - k] = runs.under_z[first + k]
        tyre_path(ground, runs.step, body.radius)
        turn_path(ground, back)
        for direction in range(2):  # a loop: with the direction written out both ways would be compiled
            line = Line(ground, runs.step, low, high)
            if direction == 1:
                line = Line(back, runs.step, end - high, end - low)
            _one_way(out, best, line, body, runs, (run, direction, stride))


@bare
def _one_way(out: Swept, best: Float64, line: Line, body: Body, runs: Runs, key: tuple[int, int, int]) -> None:
    """Roll along one run in one direction and write down what was found."""
    run, direction, stride = key
    for row in range(ROWS):
        for field in range(FIELDS):
            best[row, field] = 0.0
    made, failed, failed_at = _travel(best, line, body, stride)
    last = line.ground.shape[1] - 1
    end = last * line.step
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
            k = min(max(math.floor(at / line.step + 0.5), 0), last)
            worst = min(worst, runs.basis[runs.offsets[run] + k])
        out.basis[run, direction, check] = worst
