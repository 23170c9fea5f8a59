"""How far springs give when a wheel climbs on to something, as a bound, and how slowly it must be done. Formulas only.

One axle as a mass on a spring, no damper: a base excitation with one degree of freedom. With y the height of the
wheel, z that of the body and u = y − z the compression, u″ + ω²·u = y″, so that u(t) = ∫ y′(τ)·cos ω(t − τ) dτ. A wheel
that meets a slope s at speed v begins to rise at v·s at once, and rises ever more slowly as it comes over the edge.
From u(t) ≤ ∫ y′ it follows that u ≤ h, and during the first half period of the bounce that u ≤ v·s ÷ ω, the answer to a
step of the base's velocity. So u ≤ min(h, v·s ÷ ω).

The bound is that of the first compression, the one that brings the body down on the thing. Without dampers the later
swings could reach twice that after a rise and four times after a rise and a fall in step; dampers of 0.4 of critical
keep the whole passage within the bound. Slower is gentler, and at no speed nothing gives.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["deflection", "fastest"]

Float64 = NDArray[np.float64]


def deflection(rise_m: ArrayLike, slope: ArrayLike, speed_m_s: ArrayLike, bounce_hz: float) -> Float64:
    """Give the most that the springs are compressed while a wheel climbs on to a thing, m.

    Parameters
    ----------
    rise_m
        How far the wheel (or the middle of the axle) rises, m; ≥ 0.
    slope
        Steepest slope of its path, rise over run; inf for an edge as high as the axle.
    speed_m_s
        Speed along the trail, ≥ 0.
    bounce_hz
        Natural frequency of the body on its springs, Hz.

    Returns
    -------
    Float64
        min(h, v·s ÷ 2πf); 0 at no speed.
    """
    rise, speed = np.asarray(rise_m, dtype=np.float64), np.asarray(speed_m_s, dtype=np.float64)
    steep = np.broadcast_to(np.asarray(slope, dtype=np.float64), np.broadcast_shapes(rise.shape, np.shape(slope)))
    upwards = np.multiply(speed, steep, where=speed > 0.0, out=np.zeros(np.broadcast_shapes(speed.shape, steep.shape)))
    return np.asarray(np.minimum(rise, upwards / (2.0 * np.pi * bounce_hz)), dtype=np.float64)


def fastest(rise_m: ArrayLike, slope: ArrayLike, room_m: ArrayLike, bounce_hz: float) -> Float64:
    """Give the fastest speed at which the springs give no more than *room_m*, m/s: the inverse of :func:`deflection`.

    Parameters
    ----------
    rise_m, slope, bounce_hz
        As of :func:`deflection`.
    room_m
        What may be given away, m; below 0 counts as 0.

    Returns
    -------
    Float64
        inf where the whole rise may be given away, 0 where nothing may.
    """
    rise, steep = np.asarray(rise_m, dtype=np.float64), np.asarray(slope, dtype=np.float64)
    room = np.maximum(np.asarray(room_m, dtype=np.float64), 0.0)
    shape = np.broadcast_shapes(rise.shape, steep.shape, room.shape)
    free = np.broadcast_to((room >= rise) | (steep <= 0.0), shape)
    speed = np.full(shape, np.inf)
    np.divide(2.0 * np.pi * bounce_hz * room, steep, out=speed, where=~free)
    return speed
