"""Plan curvature of lines that carry the noise of their survey.

A vertex that is 0.2 m off turns the line by tens of degrees over a metre, yet no driver follows it. So the curvature
at a station is that of the longest stretch of line round it that one circle fits well: windows of 4, 2 and 1 times
the asked length are tried in that order, and the first whose points lie within *tolerance* (root mean square) of
their best circle gives the answer. In the shortest window the mean heading change per metre counts instead where the
circle does not fit, or bends more: a single sharp vertex of angle δ reads as about δ ÷ window.

The circle is Taubin's algebraic fit (G. Taubin, "Estimation of planar curves, surfaces and nonplanar space curves
…", IEEE Trans. PAMI 13, 1991), solved by Newton's method; it is exact for points on a circle of any arc and nearly
unbiased for noisy short arcs. A window is refused when its two ends are not as far apart as the circle would
have them, so that a line that turns back on itself never passes as a straight.

Limits: a bend shorter than the asked window is smeared over it (its radius reads too large); a short bend between
straights may read up to a tenth too wide where a window that takes in a little of the straights still fits; noise
beyond the tolerance reads as bends.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.compiled import inner, kernel

__all__ = ["Bending", "curvatures"]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]

POINTS_A_SIDE = 8
"""A window is looked at in this many steps each side (fewer where points are farther apart)."""
STRAIGHT = 1e-4
"""Curvature below this (1/m) is none: a radius of 10 km."""
CHORD_SLACK = 0.15
"""How much of a window's length its chord may differ from the circle's."""


class Bending(NamedTuple):
    """How curvature is measured."""

    window: float
    """Length of the shortest window, m; never less than two steps."""
    tolerance: float
    """Largest root mean square distance of the line from its circle, m."""


@kernel
def curvatures(
    points: tuple[Float64, Float64], offsets: Int64, step: Float64, own: tuple[Int64, Int64], bending: Bending
) -> Float64:
    """Measure the signed curvature at points of equally spaced lines.

    Parameters
    ----------
    points
        x and y of all points, m; line ``i`` owns ``offsets[i]:offsets[i + 1]``, *step[i]* apart along the line.
    offsets, step
        Length lines + 1, and lines.
    own
        First index and number of the points of each line that are asked for; points before and after are where the
        line goes on. At an end where it does not, the window is moved inwards.
    bending
        How it is measured.

    Returns
    -------
    ndarray
        Curvature of the points asked for, line after line, 1/m; + bends to the left; 0 on a straight.
    """
    curvature = np.zeros(own[1].sum())
    at = 0
    for line in range(offsets.size - 1):
        ends = (offsets[line], offsets[line + 1] - 1)
        for i in range(own[0][line], own[0][line] + own[1][line]):
            curvature[at] = _at_point(points, ends, step[line], i, bending)
            at += 1
    return curvature


@inner
def _at_point(points: tuple[Float64, Float64], ends: tuple[int, int], step: float, i: int, bending: Bending) -> float:
    """Measure at point *i* of the line between the indices *ends*."""
    for scale in (4.0, 2.0, 1.0):
        half = 0.5 * scale * bending.window
        stride = max(1, round(half / (POINTS_A_SIDE * step)))
        side = max(1, round(half / (stride * step)))
        if 2 * side * stride > ends[1] - ends[0]:
            continue
        first = min(max(i - side * stride, ends[0]), ends[1] - 2 * side * stride)
        window = (first, stride, 2 * side + 1)
        curvature, fits = _circle(points, window, step, bending.tolerance)
        if scale == 1.0:
            turn = _turn(points, window, step)
            return curvature if fits and abs(curvature) < abs(turn) else turn
        if fits:
            return curvature
    count = ends[1] - ends[0] + 1
    return _turn(points, (ends[0], 1, count), step) if count > 2 else 0.0


@inner
def _turn(points: tuple[Float64, Float64], window: tuple[int, int, int], step: float) -> float:
    """Give the mean heading change per metre over a window (first index, stride, count)."""
    x, y = points
    first, stride, count = window
    turn = 0.0
    for k in range(first + stride, first + (count - 1) * stride, stride):
        ax, ay = x[k] - x[k - stride], y[k] - y[k - stride]
        bx, by = x[k + stride] - x[k], y[k + stride] - y[k]
        turn += np.arctan2(ax * by - ay * bx, ax * bx + ay * by)
    curvature = turn / ((count - 2) * stride * step)
    return curvature if abs(curvature) > STRAIGHT else 0.0


@inner
def _circle(
    points: tuple[Float64, Float64], window: tuple[int, int, int], step: float, tolerance: float
) -> tuple[float, bool]:
    """Fit a circle to a window; give its signed curvature, and whether the line keeps to it."""
    x, y = points
    first, stride, count = window
    last, middle = first + (count - 1) * stride, first + (count // 2) * stride
    cx, cy, radius, rms = _taubin(points, window)
    length = (count - 1) * stride * step
    chord = np.hypot(x[last] - x[first], y[last] - y[first])
    straight = radius * STRAIGHT > 1.0
    expected = length if straight else abs(2.0 * radius * np.sin(0.5 * length / radius))
    fits = rms <= tolerance and abs(chord - expected) <= CHORD_SLACK * length
    if straight:
        return 0.0, fits
    along_x, along_y = x[middle + stride] - x[middle - stride], y[middle + stride] - y[middle - stride]
    left = along_x * (cy - y[middle]) - along_y * (cx - x[middle]) > 0.0
    return (1.0 if left else -1.0) / radius, fits


@inner
def _taubin(points: tuple[Float64, Float64], window: tuple[int, int, int]) -> tuple[float, float, float, float]:
    """Fit Taubin's circle; give centre, radius (inf for a line) and root mean square distance from it."""
    mx, my, moments = _moments(points, window)
    xx, yy, xy, xz, yz, zz = moments
    z, covariance = xx + yy, xx * yy - xy * xy
    root = _newton(
        xz * xz * yy + yz * yz * xx - zz * covariance - 2.0 * xz * yz * xy + z * z * covariance,
        zz * z + 4.0 * covariance * z - xz * xz - yz * yz - z * z * z,
        -3.0 * z * z - zz,
        4.0 * z,
    )
    determinant = root * root - root * z + covariance
    across, along = xz * (yy - root) - yz * xy, yz * (xx - root) - xz * xy
    reach = np.hypot(across, along)
    if 2.0 * abs(determinant) <= STRAIGHT * reach or reach == 0.0:
        least = 0.5 * (z - np.sqrt((xx - yy) ** 2 + 4.0 * xy * xy))
        return mx, my, np.inf, np.sqrt(max(least, 0.0))
    cx, cy = 0.5 * across / determinant, 0.5 * along / determinant
    radius = np.sqrt(cx * cx + cy * cy + z)
    return mx + cx, my + cy, radius, _distance(points, window, (mx + cx, my + cy, radius))


@inner
def _moments(
    points: tuple[Float64, Float64], window: tuple[int, int, int]
) -> tuple[float, float, tuple[float, float, float, float, float, float]]:
    """Give the mean of a window's points and their moments about it (z stands for x² + y²)."""
    x, y = points
    first, stride, count = window
    stop = first + count * stride
    mx, my = x[first:stop:stride].mean(), y[first:stop:stride].mean()
    xx = yy = xy = xz = yz = zz = 0.0
    for k in range(first, first + (count - 1) * stride + 1, stride):
        dx, dy = x[k] - mx, y[k] - my
        z = dx * dx + dy * dy
        xx += dx * dx
        yy += dy * dy
        xy += dx * dy
        xz += dx * z
        yz += dy * z
        zz += z * z
    return mx, my, (xx / count, yy / count, xy / count, xz / count, yz / count, zz / count)


@inner
def _newton(a0: float, a1: float, a2: float, a3: float) -> float:
    """Give the smallest root ≥ 0 of a0 + a1 t + a2 t² + a3 t³, by Newton's method from 0 (it rises to the root)."""
    root, value, slope = 0.0, a0, a1
    while slope != 0.0:
        following = root - value / slope
        following_value = a0 + following * (a1 + following * (a2 + following * a3))
        if following == root or not abs(following_value) < abs(value):
            break
        root, value = following, following_value
        slope = a1 + root * (2.0 * a2 + 3.0 * a3 * root)
    return root


@inner
def _distance(
    points: tuple[Float64, Float64], window: tuple[int, int, int], circle: tuple[float, float, float]
) -> float:
    """Give the root mean square distance of a window's points from a circle (centre, radius)."""
    first, stride, count = window
    total = 0.0
    for k in range(first, first + (count - 1) * stride + 1, stride):
        away = np.hypot(points[0][k] - circle[0], points[1][k] - circle[1]) - circle[2]
        total += away * away
    return float(np.sqrt(total / count))
