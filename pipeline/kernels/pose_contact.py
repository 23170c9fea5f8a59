"""Ground held against the body above it, in one pose: vertex against polyline, both ways, and the worst kept."""

import math

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.compiled import bare, fused, kernel
from pipeline.kernels.pose_records import (
    APPROACH,
    BELLY,
    BREAKOVER,
    DEMAND,
    DEPARTURE,
    FIELDS,
    FRONT,
    HARMLESS,
    LIMIT,
    PLACE,
    REAR,
    UNDER,
    UTILISATION,
    Body,
    Line,
)

__all__ = ["half_tangent", "pass_over"]

Float64 = NDArray[np.float64]

LEAST_LIMIT_M = 1e-3
"""A hard point lower than the required gap has this much left."""
LEAST_LIMIT_RAD = 1e-3
"""A hard point on the ground has this angle."""
TOUCHING_M2 = 1e-12
"""A point is on the tyre when its power with respect to the tyre's circle is within this of 0: the ground that a tyre
rolls over always is, and the last binary digit must not decide whether it is seen."""
LEAST_AWAY_M = 1e-6
"""Right below the axle a point on the tyre is seen under no angle."""
ROUNDING_M = 1e-9
"""Heights seen in two ways agree to this."""
HOUSING_M = 0.1
"""Half the length of an axle housing along the vehicle: half of the largest distance between poses, so that nothing
slips through between two of them. Housings are about that long; common practice, no source."""


@kernel
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
        tan(angle ÷ 2); NaN for a point inside the tyre, which it hides. A point that the tyre touches is seen.
    """
    if height <= 0.0:
        return 0.0
    under = away * away - height * (2.0 * radius - height)
    if under < TOUCHING_M2:
        return math.nan if under < -TOUCHING_M2 else height / max(away, LEAST_AWAY_M)
    return height / (away + math.sqrt(under))


@bare
def _note(best: Float64, check: int, ask: tuple[float, float], where: tuple[float, float, float]) -> None:
    """Keep a demand and its limit if they are the worst of their check."""
    if ask[0] <= best[check, UTILISATION] * ask[1]:
        return
    best[check, UTILISATION] = ask[0] / ask[1]
    best[check, DEMAND] = ask[0]
    best[check, LIMIT] = ask[1]
    best[check, PLACE] = where[0]
    best[check, REAR] = where[1]
    best[check, FRONT] = where[2]
    best[HARMLESS, 0] = -1.0


@bare
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


@bare
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
        if min(-x, wheelbase + x) >= radius and h <= _harmless(best[BREAKOVER, UTILISATION], z, radius):
            return
        g0, g1 = half_tangent(-x, h, radius), half_tangent(wheelbase + x, h, radius)
        b0, b1 = half_tangent(-x, z, radius), half_tangent(wheelbase + x, z, radius)
        if not math.isnan(g0 + g1 + b0 + b1):
            _note_angles(best, BREAKOVER, (g0, g1, b0, b1), where)
        return
    away, check = (x, APPROACH) if x > 0.0 else (-wheelbase - x, DEPARTURE)
    if away >= radius and h <= _harmless(best[check, UTILISATION], z, radius):
        return
    seen, limit = half_tangent(away, h, radius), half_tangent(away, z, radius)
    if math.isnan(seen + limit):
        _note(best, BELLY, clear, where)
    else:
        _note_angles(best, check, (seen, 0.0, limit, 0.0), where)


@bare
def _harmless(worst: float, z: float, radius: float) -> float:
    """Height of ground that asks no worse ratio of an angle than *worst* of a body at height z, a radius or more away.

    There, seen from a away, tan(angle ÷ 2) of the ground is at most h ÷ (2a − h), as √(a² − h(2r − h)) ≥ a − h, and
    that of the body at least z ÷ 2a (z ≤ 2r). With t ≥ atan t ≥ 3t ÷ (3 + t²) their ratio is then at most
    h ÷ z · 2r ÷ (2r − h) · (1 + z² ÷ 12r²), for every a ≥ r.
    """
    z = max(min(z, 2.0 * radius), 0.0)
    part = worst * z
    return part * 2.0 * radius / (2.0 * radius + z * z / (6.0 * radius) + part)


@bare
def _raise_thresholds(best: Float64, body: Body) -> None:
    """Work out which ground, ahead of, at and between the axles and behind, cannot be worse than what was found.

    A radius or more from both axles the angles have :func:`_harmless`, the belly its share of z − gap. Closer to an
    axle the body is hidden by the tyre, and the belly counts; or it is so low that it is seen below the tyre's middle,
    a ≥ √(r·z) ≥ z away, where the ratio is below 2.17·h ÷ z; or so high that it is seen above, under 90° or more, and
    the ground, no higher than a² ÷ r as it is seen too, under at most 2·atan √(h ÷ r): a ratio below 1.28·√(h ÷ r).
    """
    ahead, between, behind = body.lowest
    radius, low = body.radius, best[HARMLESS]
    approach, breakover, departure = (
        best[APPROACH, UTILISATION],
        best[BREAKOVER, UTILISATION],
        best[DEPARTURE, UTILISATION],
    )
    belly = best[BELLY, UTILISATION]
    low[0] = _harmless(approach, ahead, radius)
    low[1] = _at_axle(min(approach, breakover), belly, (min(ahead, between), body.gap, radius))
    low[2] = min(_harmless(breakover, between, radius), belly * max(between - body.gap, 0.0))
    low[3] = _at_axle(min(breakover, departure), belly, (min(between, behind), body.gap, radius))
    low[4] = _harmless(departure, behind, radius)
    low[5] = min(low[0], low[1], low[2], low[3], low[4])


@bare
def _at_axle(worst: float, clear: float, heights: tuple[float, float, float]) -> float:
    """Take the threshold within a radius of an axle; see :func:`_thresholds`."""
    z, gap, radius = heights
    above = worst / 1.28
    return min(worst * max(min(z, radius), 0.0) / 2.17, radius * above * above, clear * max(z - gap, 0.0))


@fused
def _threshold(best: Float64, x: float, wheelbase: float, radius: float) -> float:
    """Take the threshold for ground at *x*."""
    if x >= radius:
        zone = 0
    elif x > -radius:
        zone = 1
    elif x >= radius - wheelbase:
        zone = 2
    else:
        zone = 3 if x > -radius - wheelbase else 4
    return float(best[HARMLESS, zone])


@bare
def pass_over(
    best: Float64,
    line: Line,
    body: Body,
    window: tuple[int, int],
    pose: tuple[float, float, float, float, float],
) -> None:
    """Hold all ground under the body against it: its vertices, then what lies between them under the hard points."""
    if best[HARMLESS, 0] < 0.0:
        _raise_thresholds(best, body)
    _, front, front_z, cosine, sine = pose
    fall = line.step * sine
    level = body.radius - front_z * cosine + front * sine - best[HARMLESS, FIELDS - 1] + ROUNDING_M
    p, done = body.x.size // 2, window[0] - 1
    for k in range(window[0], window[1] + 1):
        if line.ground[UNDER, k] * cosine - k * fall + level > 0.0:
            p = _vertex(best, line, body, (k, p), pose)
            for piece in range(max(k - 1, done + 1), min(k + 1, window[1])):
                p = _piece(best, line, body, (piece, p), pose)
            done = k
    _axles(best, line, body, pose)


@fused
def _seen(line: Line, k: int, pose: tuple[float, float, float, float, float], radius: float) -> tuple[float, float]:
    """Place of a vertex in the frame of the body, and its height over the ground line."""
    _, front, front_z, cosine, sine = pose
    across, up = k * line.step - front, line.ground[UNDER, k] - front_z
    return across * cosine + up * sine, up * cosine - across * sine + radius


@fused
def _vertex(
    best: Float64, line: Line, body: Body, at: tuple[int, int], pose: tuple[float, float, float, float, float]
) -> int:
    """Hold one vertex of the ground against the body above it; *at* is the vertex and a hard point to look from."""
    k, p = at
    x, h = _seen(line, k, pose, body.radius)
    place = k * line.step
    inside = body.x[0] <= x <= body.x[-1] and line.low <= place <= line.high
    if inside and h > _threshold(best, x, body.wheelbase, body.radius):
        p = _spot(body.x, x, p)
        z = body.z[p]
        if p > 0 and body.x[p] != x:
            z = body.z[p - 1] + (x - body.x[p - 1]) / (body.x[p] - body.x[p - 1]) * (z - body.z[p - 1])
        _meet(best, (body.wheelbase, body.radius, body.gap), (x, h, z), (place, pose[0], pose[1]))
    return p


@fused
def _piece(
    best: Float64, line: Line, body: Body, at: tuple[int, int], pose: tuple[float, float, float, float, float]
) -> int:
    """Hold the hard points above the piece of ground after a vertex against it."""
    k, p = at
    (x0, h0), (x1, h1) = _seen(line, k, pose, body.radius), _seen(line, k + 1, pose, body.radius)
    p = _spot(body.x, min(x0, x1), p)
    while p < body.x.size and body.x[p] <= max(x0, x1):
        on = (body.x[p] - x0) / (x1 - x0) if x1 != x0 else 0.0
        h, place = h0 + on * (h1 - h0), (k + on) * line.step
        if h > 0.0 and line.low <= place <= line.high:
            sizes = (body.wheelbase, body.radius, body.gap)
            _meet(best, sizes, (body.x[p], h, body.z[p]), (place, pose[0], pose[1]))
        p += 1
    return p


@fused
def _spot(xs: Float64, x: float, p: int) -> int:
    """First hard point at or beyond *x*, looked for from *p* on; the number of points when there is none."""
    while p < xs.size and xs[p] < x:
        p += 1
    while p > 0 and xs[p - 1] >= x:
        p -= 1
    return p


@bare
def _axles(best: Float64, line: Line, body: Body, pose: tuple[float, float, float, float, float]) -> None:
    """Hold the ground vertically (in the frame of the body) below the wheel centres against the axle housings."""
    rear, front, front_z, cosine, sine = pose
    rear_z = front_z - body.wheelbase * sine
    for foot, foot_z, housing in ((front, front_z, body.front_axle), (rear, rear_z, body.rear_axle)):
        # The ground line's foot point below the centre, then the ground there: exact on a plane, and within the
        # curvature of the ground over r·sin(pitch) elsewhere.
        middle, reach = foot + body.radius * sine, max(HOUSING_M, line.step)
        first = max(math.ceil((middle - reach) / line.step - 1e-9), 0)
        last = min(math.floor((middle + reach) / line.step + 1e-9), line.ground.shape[1] - 1)
        for k in range(first, last + 1):
            place = k * line.step
            h = (line.ground[UNDER, k] - foot_z) * cosine - (place - foot) * sine + body.radius
            if h > 0.0 and line.low <= place <= line.high:
                _note(best, BELLY, (h, max(housing - body.gap, LEAST_LIMIT_M)), (place, rear, front))
