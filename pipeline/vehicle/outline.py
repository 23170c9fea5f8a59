"""The outline of a set-up in plan: mirrors, roof and fitted things, and what is taken where the file says nothing.

A vehicle file has these figures only as far as somebody measured them. What is missing is taken on the large side: a
roof as wide and as long as the body, a fitted thing as wide as it. Shares of the height: common practice, no source.
"""

from collections.abc import Sequence
from typing import Any

from pipeline.vehicle.model import Load, Vehicle

__all__ = ["outline"]

MIRROR_X_M = -0.6
"""Where mirrors are that nobody measured: at the front ends of the doors."""
MIRROR_OF_HEIGHT = (0.5, 0.75)
"""Lower and upper edge of mirrors that nobody measured, as parts of the height."""
ROOF_OF_HEIGHT = 0.6
"""From where the sides lean in when nobody measured it, as a part of the height: below the windows."""


def outline(vehicle: Vehicle, loads: Sequence[Load], lift: float) -> dict[str, Any]:
    """Give the envelope's figures in plan.

    Parameters
    ----------
    vehicle
        The vehicle.
    loads
        What it carries: what stands above the roof may be wider than it.
    lift
        How much higher than normal the body stands, m.

    Returns
    -------
    dict[str, Any]
        ``body_front_m``, ``body_rear_m``, ``overhang_m``, ``mirror_m`` and ``roof_m`` of the envelope.
    """
    return {
        "body_front_m": vehicle.length_front_m,
        "body_rear_m": vehicle.length_rear_m,
        "overhang_m": _overhangs(vehicle, lift),
        "mirror_m": _mirrors(vehicle, lift),
        "roof_m": _roof(vehicle, loads, lift),
    }


def _or(value: float | None, default: float) -> float:
    return default if value is None else value


def _overhangs(vehicle: Vehicle, lift: float) -> tuple[tuple[float, float, float, float, float], ...]:
    """Give x of rear and front end, width, z of the lowest and highest point of everything that is always fitted."""
    found = []
    for overhang in vehicle.overhangs.values():
        xs, zs = zip(*overhang.points, strict=True)
        width = _or(overhang.width_m, vehicle.width_m)
        found.append((min(xs), max(xs), width, min(zs) + lift, max(zs) + lift))
    return tuple(found)


def _mirrors(vehicle: Vehicle, lift: float) -> tuple[float, float, float]:
    """Give x of the middle, z of the lower and upper edge; an edge that is given moves one that is not."""
    low, high = (share * vehicle.height_m for share in MIRROR_OF_HEIGHT)
    low = _or(vehicle.mirror_low_m, min(low, _or(vehicle.mirror_high_m, low)))
    high = _or(vehicle.mirror_high_m, max(high, low))
    return _or(vehicle.mirror_x_m, MIRROR_X_M), low + lift, high + lift


def _roof(vehicle: Vehicle, loads: Sequence[Load], lift: float) -> tuple[float, float, float, float]:
    """Give x of rear and front end, width with what stands on it, z from which the sides lean in."""
    width = _or(vehicle.roof_width_m, vehicle.width_m)
    above = (_or(load.width_m, width) for load in loads if _or(load.top_m, load.at_m[2]) > vehicle.height_m)
    return (
        _or(vehicle.roof_rear_m, -(vehicle.wheelbase_m + vehicle.length_rear_m)),
        _or(vehicle.roof_front_m, vehicle.length_front_m),
        max((width, *above)),
        _or(vehicle.roof_from_m, ROOF_OF_HEIGHT * vehicle.height_m) + lift,
    )
