"""Mass and centre of gravity of a vehicle with its loads.

The whole mass is taken as sprung: with the suspension raised by Δ the centre of gravity rises by Δ too, a little more
than in truth, where wheels and axles stay down, and therefore on the careful side. Springs are not modelled: a load
does not lower the body.
"""

from typing import NamedTuple

import numpy as np

from pipeline.vehicle.model import Load, Vehicle

__all__ = ["Body", "TipLimits", "loaded_body", "tip_limits"]


class Body(NamedTuple):
    """Mass and centre of gravity."""

    mass_kg: float
    cg_m: tuple[float, float, float]
    """x, y, z; x forward from the front axle, y left, z up from the ground."""


class TipLimits(NamedTuple):
    """Static tip angles on a plane, degrees; 0 where the centre of gravity lies outside the wheels."""

    roll_deg: float
    """Towards the worse side."""
    climb_deg: float
    """Backwards about the rear axle."""
    descent_deg: float
    """Forwards about the front axle."""


def loaded_body(vehicle: Vehicle, loads: tuple[Load, ...], lift_m: float) -> Body:
    """Mass-weighted centre of gravity of the vehicle and *loads*, the suspension raised by *lift_m*.

    Parameters
    ----------
    vehicle
        Kerb mass at its own centre of gravity: x from the front axle's share: l_f = L·(1 − m_f/m).
    loads
        What is carried.
    lift_m
        Raise of the sprung body, loads included.
    """
    share = vehicle.front_axle_mass_kg / vehicle.kerb_mass_kg
    bare = (-vehicle.wheelbase_m * (1.0 - share), vehicle.cg_left_m, vehicle.cg_height_m)
    masses = np.array([vehicle.kerb_mass_kg, *(load.mass_kg for load in loads)])
    places = np.array([bare, *(load.at_m for load in loads)])
    x, y, z = masses @ places / masses.sum()
    return Body(float(masses.sum()), (float(x), float(y), float(z + lift_m)))


def tip_limits(body: Body, wheelbase_m: float, track_m: float) -> TipLimits:
    """Angles of a plane at which the rigid vehicle tips sideways, backwards and forwards.

    Parameters
    ----------
    body
        Loaded mass and centre of gravity.
    wheelbase_m, track_m
        Wheelbase and the smaller track.

    Notes
    -----
    Rigid body: atan((track/2 − |y|)/z), atan(l_r/z), atan(l_f/z). A sprung vehicle tips earlier (TRB Special Report
    265, p. 28), which the shares of the limits must allow for.
    """
    x, y, z = body.cg_m
    arms = np.array([track_m / 2.0 - abs(y), wheelbase_m + x, -x])
    roll, climb, descent = np.degrees(np.arctan(np.maximum(arms, 0.0) / z))
    return TipLimits(float(roll), float(climb), float(descent))
