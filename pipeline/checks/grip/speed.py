"""What depends on speed: sideways force in a bend, stopping on a slope, the speed a bend holds. Formulas only."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pipeline.checks.grip.formulas import over
from pipeline.kernels.four_track import MOST_SIDEWAYS
from pipeline.units import GRAVITY

__all__ = ["bank_speed", "braking_distance", "curve_radius", "sideways"]

Float64 = NDArray[np.float64]


def sideways(speed: float, bend: Float64) -> Float64:
    """Sideways acceleration in a bend as a share of g, + to the left; a driver slows down for 0.25 g.

    Parameters
    ----------
    speed
        Speed on the straight, m/s.
    bend
        Signed curvature, 1/m, + to the left.
    """
    return np.clip(speed**2 * bend / GRAVITY, -MOST_SIDEWAYS, MOST_SIDEWAYS)


def braking_distance(
    speed: ArrayLike, mu: ArrayLike, downhill: ArrayLike, *, end_speed: float = 0.0, gravity: float = GRAVITY
) -> Float64:
    """Distance along the slope that braking with all wheels takes; inf where it cannot stop.

    Parameters
    ----------
    speed
        Speed braked from, m/s.
    mu
        Adhesion coefficient, or what a side slope leaves of it (:func:`pipeline.checks.grip.formulas.left_lengthwise`).
    downhill
        Fall over run in the direction of travel; − uphill.
    end_speed
        Speed braked to, m/s.
    gravity
        m/s².

    Notes
    -----
    (v² − v_e²) ÷ 2g·(μ·cos θ − sin θ), Levinson et al., Fundamentals of Transportation, section 7.1. Where
    μ·cos θ ≤ sin θ nothing brakes.
    """
    slope = np.arctan(np.asarray(downhill, dtype=np.float64))
    slows = np.asarray(mu, dtype=np.float64) * np.cos(slope) - np.sin(slope)
    return over(np.asarray(speed, dtype=np.float64) ** 2 - end_speed**2, 2.0 * gravity * slows)


def bank_speed(radius: ArrayLike, bank: ArrayLike, mu: ArrayLike, gravity: float = GRAVITY) -> Float64:
    """Speed at which a bend slides outwards, m/s: v² = g·R·(e + f)/(1 − e·f); inf where the bank holds any speed.

    Parameters
    ----------
    radius
        m.
    bank
        e, rise over run towards the outside; − where it falls away to the outside (adverse camber).
    mu
        f, the adhesion used sideways.
    gravity
        m/s².

    Notes
    -----
    Exact form of the curve formula of Fundamentals of Transportation, section 7.4 (derived). 0 where adverse camber
    slides it standing.
    """
    bank, mu = np.asarray(bank, dtype=np.float64), np.asarray(mu, dtype=np.float64)
    return np.sqrt(gravity * np.asarray(radius) * over(np.maximum(bank + mu, 0.0), 1.0 - bank * mu))


def curve_radius(speed: ArrayLike, bank: ArrayLike, mu: ArrayLike, gravity: float = GRAVITY) -> Float64:
    """Smallest radius of a bend at a speed, m: R = v² ÷ (g·(e + f)); inf where nothing holds.

    Parameters
    ----------
    speed
        m/s.
    bank, mu, gravity
        As of :func:`bank_speed`.

    Notes
    -----
    Levinson et al., Fundamentals of Transportation, section 7.4 "Horizontal Curves", for small banks.
    """
    held = np.asarray(bank, dtype=np.float64) + np.asarray(mu, dtype=np.float64)
    return over(np.asarray(speed, dtype=np.float64) ** 2, gravity * held)
