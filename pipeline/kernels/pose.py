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
from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

from pipeline.kernels.tyre import tyre_centre, tyre_envelope

__all__ = [
    "APPROACH",
    "BELLY",
    "BREAKOVER",
    "DEPARTURE",
    "Body",
    "Runs",
    "Swept",
    "front_wheel",
    "half_tangent",
    "sweep",
]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]
UInt8 = NDArray[np.uint8]

APPROACH = 0
BREAKOVER = 1
DEPARTURE = 2
BELLY = 3
CHECKS = 4

UTILISATION = 0
DEMAND = 1
LIMIT = 2
PLACE = 3
REAR = 4
FRONT = 5
FIELDS = 6

CONVERGED_M = 1e-8
"""The wheelbase is met to this."""
MOST_STEPS = 60
NEWTON_STEPS = 12
"""After this many steps only halving is left, which always ends."""
REFINE_ABOVE = 0.2
"""Utilisation below which the worst pose is not looked at more closely: nothing hangs on it."""
REFINEMENTS = 6
FINER = 3
"""Each refinement divides the spacing of the poses by this."""
LEAST_LIMIT_M = 1e-3
"""A hard point lower than the required gap has this much left."""
LEAST_LIMIT_RAD = 1e-3
"""A hard point on the ground has this angle."""


class Body(NamedTuple):
    """A vehicle in side view. Axes: x forward from the front axle, z up from the ground line, m."""

    x: Float64
    """Hard points, ascending."""
    z: Float64
    wheelbase: float
    radius: float
    """Static loaded radius."""
    gap: float
    """Clearance that must be left."""
    front_axle: float
    """Height of the lowest point of the front axle housing."""
    rear_axle: float
    lowest: float
    """Height of the lowest hard point."""


class Runs(NamedTuple):
    """Profiles, one after another; run ``r`` owns ``offsets[r]:offsets[r + 1]``."""

    offsets: Int64
    wheel_z: Float64
    """Ground that the tyres roll on, m; NaN where there is none."""
    under_z: Float64
    """Ground that the body passes over, m."""
    basis: UInt8
    """What the heights rest on; smaller is worse."""
    own_from: Float64
    """First place whose ground counts, m from the first height of the run."""
    own_to: Float64
    step: float


class Swept(NamedTuple):
    """What a sweep found; arrays of shape (runs, 2 directions, 4 checks) unless said otherwise."""

    utilisation: Float64
    """0 where the ground asks nothing."""
    demand: Float64
    """Radians; m for the belly."""
    limit: Float64
    """NaN where the ground asks nothing."""
    place: Float64
    """Ground of the worst pose, m from the first height of the run; NaN where the ground asks nothing."""
    basis: UInt8
    """Worst basis of that ground and of the ground under both wheels."""
    poses: Int64
    """Poses made, shape (runs, 2)."""
    failed: Int64
    """Poses that could not be made because ground under a wheel is missing, shape (runs, 2)."""
    failed_at: Float64
    """Place of the first of them, shape (runs, 2); NaN when there is none."""


class _Line(NamedTuple):
    """One run in the direction of travel."""

    wheel: Float64
    under: Float64
    centre: Float64
    step: float
    low: float
    high: float


@njit(cache=True, nogil=True)
def half_tangent(away: float, height: float, radius: float) -> float:
    """Tangent of half the angle of the line through a point that is tangent to the loaded arc of a tyre from below.

    With t = tan(angle ÷ 2): (2r − h)·t² − 2a·t + h = 0, and so t = h ÷ (a + √(a² − h(2r − h))), which also holds for
    h = 2r. Derived from the definition in 49 CFR 523.2.

    Parameters
    ----------
    away
        Horizontal distance from the axle, m; ≥ 0.
    height
        Height over the ground line, m; 0 or less gives 0.
    radius
        Static loaded radius, m.

    Returns
    -------
    float
        tan(angle ÷ 2); NaN for a point inside the tyre, which it hides.
    """
    if height <= 0.0:
        return 0.0
    under = away * away - height * (2.0 * radius - height)
    if under < 0.0:
        return math.nan
    return height / (away + math.sqrt(under))


@njit(cache=True, nogil=True)
def front_wheel(line: _Line, body: Body, rear: float, rear_z: float) -> tuple[float, float]:
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
        Place and height of the front wheel's centre; NaN when ground under the wheel is missing, inf when the run
        ends before.
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
            break
        high -= 1
    return _between(line, body, (rear, rear_z), ((high - 1) * step, high * step))


@njit(cache=True, nogil=True)
def _apart(line: _Line, k: int, rear: float, rear_z: float) -> float:
    """Distance of the wheel centre over height *k* from the rear wheel's."""
    across, up = k * line.step - rear, line.centre[k] - rear_z
    return math.sqrt(across * across + up * up)


@njit(cache=True, nogil=True)
def _between(line: _Line, body: Body, rear: tuple[float, float], ends: tuple[float, float]) -> tuple[float, float]:
    """Solve for the wheelbase between two places that enclose it: Newton's method, halving where it leaves them."""
    low, high = ends
    k = math.floor(low / line.step + 0.5)
    below, above = _apart(line, k, *rear) - body.wheelbase, _apart(line, k + 1, *rear) - body.wheelbase
    x = low - below * (high - low) / (above - below)
    z = math.nan
    for turn in range(MOST_STEPS):
        z, rise = tyre_centre(line.wheel, line.step, body.radius, x)
        across, up = x - rear[0], z - rear[1]
        apart = math.sqrt(across * across + up * up)
        off = apart - body.wheelbase
        if abs(off) < CONVERGED_M or math.isnan(off):
            break
        if off < 0.0:
            low = x
        else:
            high = x
        growth = (across + up * rise) / apart
        x = x - off / growth if growth > 0.0 and turn < NEWTON_STEPS else math.inf
        if not low < x < high:
            x = 0.5 * (low + high)
    return x, z


@njit(cache=True, nogil=True)
def _note(best: Float64, check: int, ask: tuple[float, float], where: tuple[float, float, float]) -> None:
    """Keep a demand and its limit if they are the worst of their check."""
    ratio = ask[0] / ask[1]
    if ratio > best[check, UTILISATION]:
        best[check, UTILISATION] = ratio
        best[check, DEMAND] = ask[0]
        best[check, LIMIT] = ask[1]
        best[check, PLACE] = where[0]
        best[check, REAR] = where[1]
        best[check, FRONT] = where[2]


@njit(cache=True, nogil=True)
def _note_angles(
    best: Float64, check: int, halves: tuple[float, float, float, float], where: tuple[float, float, float]
) -> None:
    """Keep angles, given as tangents of their halves (ground, ground, hard point, hard point), if they are the worst.

    As t·3/(3 + t²) ≤ atan t ≤ t, most are seen not to be the worst without an arc tangent.
    """
    g0, g1, b0, b1 = halves
    least = 3.0 * b0 / (3.0 + b0 * b0) + 3.0 * b1 / (3.0 + b1 * b1)
    if g0 + g1 <= best[check, UTILISATION] * least:
        return
    ground, hard = 2.0 * (math.atan(g0) + math.atan(g1)), 2.0 * (math.atan(b0) + math.atan(b1))
    _note(best, check, (ground, max(hard, LEAST_LIMIT_RAD)), where)


@njit(cache=True, nogil=True)
def _meet(
    best: Float64,
    sizes: tuple[float, float, float],
    point: tuple[float, float, float],
    where: tuple[float, float, float],
) -> None:
    """Hold ground of height h against the body of height z above it, at x in the frame of the body."""
    wheelbase, radius, gap = sizes
    x, h, z = point
    clear = (h, max(z - gap, LEAST_LIMIT_M))
    if -wheelbase <= x <= 0.0:
        _note(best, BELLY, clear, where)
        g0, g1 = half_tangent(-x, h, radius), half_tangent(wheelbase + x, h, radius)
        b0, b1 = half_tangent(-x, z, radius), half_tangent(wheelbase + x, z, radius)
        if not math.isnan(g0 + g1 + b0 + b1):
            _note_angles(best, BREAKOVER, (g0, g1, b0, b1), where)
        return
    away = x if x > 0.0 else -wheelbase - x
    seen, limit = half_tangent(away, h, radius), half_tangent(away, z, radius)
    if math.isnan(seen + limit):
        _note(best, BELLY, clear, where)
    else:
        _note_angles(best, APPROACH if x > 0.0 else DEPARTURE, (seen, 0.0, limit, 0.0), where)


@njit(cache=True, nogil=True)
def _pose(best: Float64, line: _Line, body: Body, rear: float, rear_z: float) -> int:
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
    _pass(best, line, body, (max(low, 0), high), (rear, front, front_z, turn[0], turn[1]))
    return 1


@njit(cache=True, nogil=True)
def _pass(
    best: Float64,
    line: _Line,
    body: Body,
    window: tuple[int, int],
    pose: tuple[float, float, float, float, float],
) -> None:
    """Hold all ground under the body against it: its vertices, then what lies between them under the hard points."""
    rear, front, front_z, cosine, sine = pose
    xs, zs, under, step = body.x, body.z, line.under, line.step
    sizes = (body.wheelbase, body.radius, body.gap)
    own = (line.low, line.high)
    ask = _thresholds(best, body)
    x0, h0, ask0, hot0 = math.nan, 0.0, 0.0, False
    p = 0
    for k in range(window[0], window[1] + 1):
        place = k * step
        across, up = place - front, under[k] - front_z
        x1 = across * cosine + up * sine
        h1 = up * cosine - across * sine + sizes[1]
        ask1 = _threshold(x1, sizes, ask)
        hot1 = h1 > ask1
        if hot1 and own[0] <= place <= own[1] and xs[0] <= x1 <= xs[-1]:
            p = _spot(xs, x1, p)
            _meet(best, sizes, (x1, h1, _height(xs, zs, x1, p)), (place, rear, front))
        if (hot0 or hot1 or ask0 != ask1) and not math.isnan(x0 + x1):
            low, high = min(x0, x1), max(x0, x1)
            p = _spot(xs, low, p)
            share = step / (x1 - x0) if x1 != x0 else 0.0
            rise = (h1 - h0) / step
            while p < xs.size and xs[p] <= high:
                on = (xs[p] - x0) * share
                h, spot = h0 + on * rise, place - step + on
                if h > 0.0 and own[0] <= spot <= own[1]:
                    _meet(best, sizes, (xs[p], h, zs[p]), (spot, rear, front))
                p += 1
        x0, h0, ask0, hot0 = x1, h1, ask1, hot1
    if xs[0] <= 0.0:
        _axles(best, line, body, pose)


@njit(cache=True, nogil=True)
def _thresholds(best: Float64, body: Body) -> tuple[float, float, float]:
    """Height of ground, ahead of, between and behind the axles, that cannot be worse than what was already found.

    A radius or more from both axles, h over the ground line under a body no lower than z ≤ r asks at most
    (h ÷ a) ÷ (3t ÷ (3 + t²)) of an angle, with t = z ÷ 2a ≤ ½: below 2.17·h ÷ z; and h ÷ (z − gap) of the belly.
    """
    z = min(body.lowest, body.radius)
    angle, clear = z / 2.17, best[BELLY, UTILISATION] * max(z - body.gap, 0.0)
    return (
        best[APPROACH, UTILISATION] * angle,
        min(best[BREAKOVER, UTILISATION] * angle, clear),
        best[DEPARTURE, UTILISATION] * angle,
    )


@njit(cache=True, nogil=True, inline="always")
def _threshold(x: float, sizes: tuple[float, float, float], ask: tuple[float, float, float]) -> float:
    """Take the threshold for ground at *x*; 0 within a radius of an axle."""
    wheelbase, radius, _ = sizes
    if x >= radius:
        return ask[0]
    if radius - wheelbase <= x <= -radius:
        return ask[1]
    if x <= -wheelbase - radius:
        return ask[2]
    return 0.0


@njit(cache=True, nogil=True)
def _spot(xs: Float64, x: float, p: int) -> int:
    """First hard point at or beyond *x*, looked for from *p* on; the number of points when there is none."""
    while p < xs.size and xs[p] < x:
        p += 1
    while p > 0 and xs[p - 1] >= x:
        p -= 1
    return p


@njit(cache=True, nogil=True)
def _height(xs: Float64, zs: Float64, x: float, p: int) -> float:
    """Height of the underbody at *x*; *p* is the first hard point at or beyond it."""
    if p == 0 or xs[p] == x:
        return float(zs[p])
    return float(zs[p - 1] + (x - xs[p - 1]) / (xs[p] - xs[p - 1]) * (zs[p] - zs[p - 1]))


@njit(cache=True, nogil=True)
def _axles(best: Float64, line: _Line, body: Body, pose: tuple[float, float, float, float, float]) -> None:
    """Hold the ground vertically (in the frame of the body) below the wheel centres against the axle housings."""
    rear, front, front_z, cosine, sine = pose
    rear_z = front_z - body.wheelbase * sine
    for foot, foot_z, housing in ((front, front_z, body.front_axle), (rear, rear_z, body.rear_axle)):
        # The ground line's foot point below the centre, then the ground there: exact on a plane, and within the
        # curvature of the ground over r·sin(pitch) elsewhere.
        place = foot + body.radius * sine
        k = math.floor(place / line.step)
        if 0 <= k < line.under.size - 1 and line.low <= place <= line.high:
            share = place / line.step - k
            ground = line.under[k] + share * (line.under[k + 1] - line.under[k])
            h = (ground - foot_z) * cosine - (place - foot) * sine + body.radius
            if h > 0.0:
                _note(best, BELLY, (h, max(housing - body.gap, LEAST_LIMIT_M)), (place, rear, front))


@njit(cache=True, nogil=True)
def _refine(best: Float64, line: _Line, body: Body, spacing: float) -> None:
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
                    _pose(best, line, body, rear, tyre_centre(line.wheel, line.step, body.radius, rear)[0])


@njit(cache=True, nogil=True)
def _travel(best: Float64, line: _Line, body: Body, stride: int) -> tuple[int, int, float]:
    """Roll along one run; poses made, poses that failed, and where the first of these is."""
    made, failed = 0, 0
    failed_at = math.nan
    ahead, behind = max(body.x[-1], 0.0), max(-body.wheelbase - body.x[0], 0.0)
    first = max(math.floor((line.low - body.wheelbase - ahead) / line.step), 0)
    last = min(math.ceil((line.high + behind) / line.step), line.centre.size - 1)
    for k in range(first, last + 1, stride):
        state = _pose(best, line, body, k * line.step, line.centre[k])
        if state > 0:
            made += 1
        elif state < 0:
            failed += 1
            if math.isnan(failed_at):
                failed_at = min(max(k * line.step, line.low), line.high)
    _refine(best, line, body, stride * line.step)
    return made, failed, failed_at


@njit(cache=True, nogil=True)
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
        low, high = runs.own_from[run], runs.own_to[run]
        line = _Line(wheel, under, centre, runs.step, low, high)
        _one_way(out, line, body, runs.basis[a:b], (run, 0, stride))
        back = _Line(wheel[::-1].copy(), under[::-1].copy(), centre[::-1].copy(), runs.step, end - high, end - low)
        _one_way(out, back, body, runs.basis[a:b], (run, 1, stride))
    return out


@njit(cache=True, nogil=True)
def _one_way(out: Swept, line: _Line, body: Body, basis: UInt8, key: tuple[int, int, int]) -> None:
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
        place = best[check, PLACE]
        out.place[run, direction, check] = place if direction == 0 else end - place
        worst = 255
        for field in (PLACE, REAR, FRONT):
            at = best[check, field] if direction == 0 else end - best[check, field]
            k = min(max(math.floor(at / line.step + 0.5), 0), basis.size - 1)
            worst = min(worst, basis[k])
        out.basis[run, direction, check] = worst
