"""Steady low-speed turning: off-tracking, swept width and the circles a vehicle draws.

Kinematic single-track relations for wheels that roll without slip; what a vehicle sweeps while it is still turning in
is less (the tractrix approaches these values from below). Radii in metres from the centre of the turn; every function
takes scalars or arrays, inf for straight on.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pipeline.errors import DataError

__all__ = ["TurnCircles", "offtracking", "rear_radius", "swept_width", "tail_swing", "turn_circles"]

Floats = NDArray[np.float64]


class TurnCircles(NamedTuple):
    """Radii of the circles that a vehicle draws in a steady turn, m."""

    inner_m: Floats
    """Inner side of the body at the rear axle."""
    kerb_m: Floats
    """Path of the outer front tyre."""
    wall_m: Floats
    """Path of the outer front corner of the body."""


def rear_radius(radius_m: ArrayLike, wheelbase_m: float) -> Floats:
    """Radius that the rear axle follows when a point of the front axle follows *radius_m*, measured on one line.

    Parameters
    ----------
    radius_m
        Radius of a point of the front axle; above the wheelbase.
    wheelbase_m
        Wheelbase.

    Raises
    ------
    DataError
        Where the radius is not above the wheelbase: no steady turn exists.
    """
    radius = np.asarray(radius_m, dtype=np.float64)
    if not np.all(radius > wheelbase_m):
        low = float(np.min(radius))
        raise DataError(f"turn of radius {low:g} m; allowed: above the wheelbase of {wheelbase_m:g} m")
    return np.sqrt(radius**2 - wheelbase_m**2)


def offtracking(radius_m: ArrayLike, wheelbase_m: float) -> Floats:
    """How far the rear axle cuts inside the front axle in a steady turn, m: R − √(R² − L²).

    Parameters
    ----------
    radius_m
        Radius R of the reference point of the front axle; inf gives 0.
    wheelbase_m
        Wheelbase L; for a vehicle with a trailer the root of the sum of the squared lengths.

    Raises
    ------
    DataError
        Where the radius is not above the wheelbase.

    Notes
    -----
    Relation of the AASHTO Green Book for low-speed off-tracking. Written as L² ÷ (R + √(R² − L²)), which keeps its
    digits at large radii.
    """
    radius = np.asarray(radius_m, dtype=np.float64)
    return wheelbase_m**2 / (radius + rear_radius(radius, wheelbase_m))


def swept_width(radius_m: ArrayLike, wheelbase_m: float, width_m: float, overhang_front_m: float = 0.0) -> Floats:
    """Width that the body sweeps in a steady turn, m, front corner swing included.

    Parameters
    ----------
    radius_m
        Radius of the middle of the front axle; above the wheelbase, inf for straight on.
    wheelbase_m
        Wheelbase.
    width_m
        Width of the body.
    overhang_front_m
        Front axle to the foremost point.

    Raises
    ------
    DataError
        Where the radius is not above the wheelbase.

    Notes
    -----
    Outer front corner √((ρ + w/2)² + (L + o)²) less inner side ρ − w/2, with ρ the radius of the middle of the rear
    axle: exact for a rectangle. The usual shorthand, width plus off-tracking, is a little more without an overhang
    and less with a long one.
    """
    rear = rear_radius(radius_m, wheelbase_m)
    outer = rear + width_m / 2.0
    reach = (wheelbase_m + overhang_front_m) ** 2
    return width_m + reach / (np.hypot(outer, wheelbase_m + overhang_front_m) + outer)


def turn_circles(kerb_m: ArrayLike, wheelbase_m: float, width_m: float, overhang_front_m: float) -> TurnCircles:
    """Radii of the inner, kerb and wall circle when the outer front tyre follows *kerb_m*.

    Parameters
    ----------
    kerb_m
        Radius of the outer front tyre (half the kerb-to-kerb circle); above the wheelbase.
    wheelbase_m
        Wheelbase.
    width_m
        Width over the tyres, taken as that of the body.
    overhang_front_m
        Front axle to the foremost point.

    Raises
    ------
    DataError
        Where the radius is not above the wheelbase.
    """
    kerb = np.asarray(kerb_m, dtype=np.float64)
    outer = rear_radius(kerb, wheelbase_m)
    return TurnCircles(outer - width_m, kerb, np.hypot(outer, wheelbase_m + overhang_front_m))


def tail_swing(outer_m: ArrayLike, overhang_rear_m: float) -> Floats:
    """How far the outer rear corner swings out of the line of the rear axle, m: √(x² + b²) − x.

    Parameters
    ----------
    outer_m
        Radius x of the outer side of the rear axle; > 0, inf for straight on.
    overhang_rear_m
        Rear axle to the rearmost point b.
    """
    outer = np.asarray(outer_m, dtype=np.float64)
    return overhang_rear_m**2 / (np.hypot(outer, overhang_rear_m) + outer)
