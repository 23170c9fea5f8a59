"""Grip on a slope: what tyres can push, hold and steer with. Formulas only; arrays broadcast.

Forces are told as shares of the load on the ground, the way an adhesion coefficient is. *along* and *across* are what
the weight (and the sideways force in a bend) asks of the tyres lengthwise and sideways on a combined slope, see
:func:`along` and :func:`across`; *rolling* is the rolling resistance coefficient.

What is not in here: that the lower wheels of a side slope carry more than the upper ones. An axle counts as one, as
with its lock engaged or its brakes holding a spinning wheel; an open axle gives twice what its lighter wheel holds.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pipeline.terms import Drive

__all__ = [
    "Balance",
    "across",
    "along",
    "crawl_limit",
    "gradeability",
    "held_by_driven",
    "left_lengthwise",
    "max_tractive_force",
    "needed_driving",
    "over",
    "reversing",
    "slides_first",
]

Float64 = NDArray[np.float64]


class Balance(NamedTuple):
    """Where the loaded centre of gravity lies between the axles."""

    wheelbase: float
    """L, m."""
    to_front: float
    """l_f, from the front axle back to the centre of gravity, m."""
    height: float
    """H, m."""


class _Axle(NamedTuple):
    """The driven axle of a vehicle with one."""

    share: float
    """Share of the weight that it carries on the level."""
    gain: float
    """Share that it gains for each unit of *along*: + H/L at the rear on the way up, − H/L at the front."""


def along(grade: Float64, cross: Float64, turning: ArrayLike = 0.0) -> Float64:
    """Lengthwise force that the slope asks of the tyres, as a share of the load on the ground.

    Parameters
    ----------
    grade
        Rise over run in the direction of travel, + uphill.
    cross
        Rise over run to the right of it, + rises to the right.
    turning
        Sideways acceleration ÷ g in a bend, + to the left, see :func:`pipeline.checks.grip.speed.sideways`.

    Returns
    -------
    Float64
        + where the tyres must push uphill.

    Notes
    -----
    Weight (0, 0, −1) and inertia (0, −u, 0) resolved on the plane z = g·x − c·y (x ahead, y left): the load is
    (1 + u·c)/D with D = √(1 + g² + c²), the lengthwise force g/√(1 + g²). Derived. With :func:`across` and u = 0,
    along² + across² = g² + c², the tangent of the slope squared, whatever the heading.
    """
    load = np.maximum(1.0 + np.asarray(turning) * cross, 1e-9)
    found: Float64 = grade * np.sqrt((1.0 + grade**2 + cross**2) / (1.0 + grade**2)) / load
    return found


def across(grade: Float64, cross: Float64, turning: ArrayLike = 0.0) -> Float64:
    """Sideways force that slope and bend ask of the tyres, as a share of the load on the ground.

    Parameters
    ----------
    grade, cross, turning
        As of :func:`along`.

    Returns
    -------
    Float64
        + where the vehicle is drawn to the left.

    Notes
    -----
    (c − u·(1 + g²)) ÷ (√(1 + g²)·(1 + u·c)), from the same plane; derived. On the level lengthwise it is
    (c − u)/(1 + u·c), the exact form of the bank formula; without a bend c·cos(pitch), the tangent of the roll.
    """
    turning = np.asarray(turning, dtype=np.float64)
    load = np.maximum(1.0 + turning * cross, 1e-9)
    found: Float64 = (cross - turning * (1.0 + grade**2)) / (np.sqrt(1.0 + grade**2) * load)
    return found


def left_lengthwise(mu: ArrayLike, aside: ArrayLike) -> Float64:
    """Give what remains of the adhesion lengthwise when *aside* is asked sideways; 0 where nothing does.

    Friction circle (derived): √(μ² − across²).
    """
    mu, aside = np.asarray(mu, dtype=np.float64), np.asarray(aside, dtype=np.float64)
    left: Float64 = np.sqrt(np.maximum(mu**2 - aside**2, 0.0))
    return left


def max_tractive_force(drive: Drive, balance: Balance, weight: float, mu: ArrayLike, rolling: ArrayLike) -> Float64:
    """Greatest force that the driven tyres can push with, in the unit of *weight*, on the level.

    Parameters
    ----------
    drive
        Driven axles.
    balance
        Centre of gravity between the axles.
    weight
        W; on a slope, its part square to the ground.
    mu, rolling
        Adhesion and rolling resistance coefficients.

    Notes
    -----
    Levinson et al., Fundamentals of Transportation, section 7.2 "Grade": rear drive
    μ·W·(l_f − f·H)/L ÷ (1 − μ·H/L), front drive μ·W·(l_r + f·H)/L ÷ (1 + μ·H/L). The page prints l_f in the front
    drive formula and ρ for μ, both slips of the pen: Wong's form has l_r. All wheels, locked or ideally shared: μ·W.
    """
    mu, rolling = np.asarray(mu, dtype=np.float64), np.asarray(rolling, dtype=np.float64)
    if drive is Drive.FOUR_WHEEL:
        return mu * weight
    axle = _driven(drive, balance)
    return mu * weight * (axle.share - rolling * axle.gain) / (1.0 - mu * axle.gain)


def gradeability(drive: Drive, balance: Balance, mu: ArrayLike, rolling: ArrayLike, aside: ArrayLike = 0.0) -> Float64:
    """Steepest *along* that grip lets a vehicle drive up nose first, at a steady crawl.

    Parameters
    ----------
    drive
        Driven axles.
    balance
        Centre of gravity between the axles.
    mu
        Adhesion coefficient.
    rolling
        Rolling resistance coefficient, overcome by the driven tyres.
    aside
        What the side slope asks, :func:`across`; either sign.

    Returns
    -------
    Float64
        Without a side slope, rise over run; −*rolling*, the least, where the side slope takes all the grip; below 0
        where not even the level can be driven.

    Notes
    -----
    All wheels, locked or ideally shared: √(μ² − across²) − f. One axle, with static share s of the weight and
    h = ± H/L of load transfer: (a + f)² + (across·s)² ≤ μ²·(s + h·a)², solved for a; the sideways force is shared by
    the axles as on the level, for the vehicle to go straight. Without a side slope these are μ − f,
    (μ·l_f/L − f)/(1 − μ·H/L) for rear and (μ·l_r/L − f)/(1 + μ·H/L) for front drive, which is
    :func:`max_tractive_force` less rolling resistance. Friction circle and slope form derived from Levinson et al.,
    section 7.2. No steeper than where the other axle leaves the ground.
    """
    mu, rolling, aside = (np.asarray(value, dtype=np.float64) for value in (mu, rolling, aside))
    if drive is Drive.FOUR_WHEEL:
        return left_lengthwise(mu, aside) - rolling
    share, gain = _driven(drive, balance)
    # A·a² + 2·B·a + C ≤ 0, the larger root.
    square = np.maximum(1.0 - (mu * gain) ** 2, 1e-9)
    half = rolling - mu**2 * share * gain
    rest = rolling**2 + share**2 * (aside**2 - mu**2)
    under = half**2 - square * rest
    root = np.where(under < 0.0, -rolling, (np.sqrt(np.maximum(under, 0.0)) - half) / square)
    lifts = (1.0 - share) / gain if gain > 0.0 else np.inf
    return np.clip(root, -rolling, lifts)


def reversing(drive: Drive, balance: Balance) -> tuple[Drive, Balance]:
    """Look at a vehicle from behind: front and rear change places, so that its way up is the reverse one.

    Its own inverse.
    """
    swapped = {Drive.REAR: Drive.FRONT, Drive.FRONT: Drive.REAR}.get(drive, drive)
    return swapped, balance._replace(to_front=balance.wheelbase - balance.to_front)


def held_by_driven(
    drive: Drive, balance: Balance, mu: ArrayLike, rolling: ArrayLike = 0.0, aside: ArrayLike = 0.0
) -> Float64:
    """Steepest *along* downhill on which the driven wheels alone can hold a vehicle back, nose first.

    Parameters
    ----------
    drive, balance, mu, aside
        As of :func:`gradeability`.
    rolling
        Rolling resistance coefficient; it helps here. 0 leaves it out.

    Notes
    -----
    The mirror of reversing up: the load goes to the lower axle, so a rear axle holds (μ·l_f/L + f)/(1 + μ·H/L) and a
    front axle (μ·l_r/L + f)/(1 − μ·H/L). Derived.
    """
    return gradeability(*reversing(drive, balance), mu, -np.asarray(rolling, dtype=np.float64), aside)


def crawl_limit(crawl_grade: float, rolling: ArrayLike) -> Float64:
    """Steepest grade that the torque of the lowest gear drives up against rolling resistance, rise over run.

    Parameters
    ----------
    crawl_grade
        The same without rolling resistance: the thrust of the lowest gear is W·sin(atan(crawl_grade)).
    rolling
        Rolling resistance coefficient f.

    Notes
    -----
    sin θ + f·cos θ = sin θ₀ gives θ = asin(sin θ₀·cos φ) − φ with tan φ = f. Derived. Below 0 where the thrust cannot
    overcome f on the level. A side slope does not help: that it unloads the ground a little is left out.
    """
    lag = np.arctan(np.asarray(rolling, dtype=np.float64))
    thrust = np.sin(np.arctan(crawl_grade))
    limit: Float64 = np.tan(np.arcsin(thrust * np.cos(lag)) - lag)
    return limit


def needed_driving(drive: Drive, balance: Balance, push: Float64, rolling: ArrayLike, aside: Float64) -> Float64:
    """Adhesion that driving on a combined slope needs, nose first at a steady crawl; 0 where nothing must be driven.

    Parameters
    ----------
    drive, balance
        As of :func:`gradeability`.
    push
        :func:`along`, + uphill.
    rolling
        Rolling resistance coefficient, which the driven tyres overcome.
    aside
        :func:`across`; either sign.

    Returns
    -------
    Float64
        Of the axle that needs more. With one driven axle, it pushes for the whole vehicle with its own share of the
        load, while the other holds no more than its own share sideways; inf where an axle carries nothing.

    Notes
    -----
    Friction circle; for the driven axle :func:`gradeability` is this solved for *push*. Derived.
    """
    pushed = np.maximum(push + np.asarray(rolling), 0.0)
    if drive is Drive.FOUR_WHEEL:
        return np.where(pushed <= 0.0, 0.0, np.hypot(pushed, aside))
    share, gain = _driven(drive, balance)
    load = share + gain * push
    driven = over(np.hypot(pushed, aside * share), load)
    other = over(np.abs(aside) * (1.0 - share), 1.0 - load)
    return np.where(pushed <= 0.0, 0.0, np.maximum(driven, other))


def slides_first(mu: ArrayLike, stability_factor: ArrayLike) -> NDArray[np.bool_]:
    """Tell whether a vehicle slides down a side slope before it tips: μ < half track ÷ height (derived)."""
    return np.asarray(mu, dtype=np.float64) < np.asarray(stability_factor, dtype=np.float64)


def _driven(drive: Drive, balance: Balance) -> _Axle:
    """Take the driven axle, on the way up."""
    rear, gain = balance.to_front / balance.wheelbase, balance.height / balance.wheelbase
    return _Axle(rear, gain) if drive is Drive.REAR else _Axle(1.0 - rear, -gain)


def over(force: Float64, load: Float64) -> Float64:
    """Divide *force* by *load*; inf where there is nothing to divide by. NaN stays."""
    force, load = np.broadcast_arrays(force, load)
    blank = np.where(np.isnan(load) | np.isnan(force), np.nan, np.inf)
    return np.divide(force, load, out=blank, where=load > 0.0)
