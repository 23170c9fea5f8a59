"""Make the envelope of a set-up: the vehicle with its suspension, loads and overhangs, as numbers for the checks."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pipeline.errors import Fault, SettingsError
from pipeline.settings import did_you_mean
from pipeline.units import KMH
from pipeline.vehicle.classes import Clearances, FloodClass, flood_class, stability_factor, stability_factor_odd
from pipeline.vehicle.envelope_model import Envelope
from pipeline.vehicle.geometry import (
    Tyres,
    approach_angle,
    breakover_angle,
    departure_angle,
    lowest_between,
    merged,
)
from pipeline.vehicle.mass import Body, loaded_body, tip_limits
from pipeline.vehicle.model import Load, SetUpChoice, Source, Vehicle
from pipeline.vehicle.outline import outline
from pipeline.vehicle.wedge import Published, wedge_underbody

__all__ = ["choice_faults", "kerb_clearances", "make_envelope", "vehicle_flood_class"]

Floats = NDArray[np.float64]

_COPIED = {
    "drive",
    "low_range",
    "wheelbase_m",
    "track_front_m",
    "track_rear_m",
    "tyre_radius_m",
    "tyre_width_m",
    "wheel_travel_m",
    "width_m",
    "width_mirrors_m",
    "front_axle_clearance_m",
    "rear_axle_clearance_m",
    "fording_depth_m",
}
"""What every set-up has as the vehicle file says it."""
_ANGLES_AGREE_DEG = 3.0
"""Measured and published angles may differ by this much before a product says so; common practice, no source."""


def choice_faults(vehicle: Vehicle, choice: SetUpChoice, file: str | Path, place: str) -> list[Fault]:
    """List what a set-up asks of a vehicle that its file does not have.

    Parameters
    ----------
    vehicle
        The vehicle.
    choice
        What the site settings ask for.
    file, place
        Where the choice stands, for the messages.
    """
    faults = []
    if choice.suspension not in vehicle.suspensions:
        found = f'suspension = "{choice.suspension}" is unknown to {vehicle.name}'
        faults.append(_unknown(file, place, found, choice.suspension, list(vehicle.suspensions)))
    for load in dict.fromkeys(choice.loads):
        if load not in vehicle.loads:
            found = f'load "{load}" is unknown to {vehicle.name}'
            faults.append(_unknown(file, place, found, load, list(vehicle.loads)))
        if choice.loads.count(load) > 1:
            faults.append(Fault(file, place, f'load "{load}" is listed {choice.loads.count(load)} times', "once"))
    return faults


def _unknown(file: str | Path, place: str, found: str, word: str, known: Sequence[str]) -> Fault:
    """Make the fault of an unknown name."""
    return Fault(
        file, place, found, " | ".join(known) or "none: the vehicle file lists none", did_you_mean(word, known)
    )


def make_envelope(vehicle: Vehicle, choice: SetUpChoice) -> Envelope:
    """Make the envelope of *vehicle* as *choice* sets it up.

    A suspension lift raises the sprung points: underbody, roof, loads and centre of gravity; axle clearances stay.
    Loads add mass, move the centre of gravity and may stand above the roof. Overhangs are always fitted.

    Parameters
    ----------
    vehicle
        The vehicle.
    choice
        Suspension, loads and driver by name.

    Raises
    ------
    SettingsError
        When the vehicle has no such suspension or load.
    """
    faults = choice_faults(vehicle, choice, vehicle.name, f"set-up {choice.name}")
    if faults:
        raise SettingsError(faults)
    lift = vehicle.suspensions[choice.suspension].lift_m
    loads = tuple(vehicle.loads[name] for name in choice.loads)
    flood = vehicle_flood_class(vehicle)
    return Envelope(
        setup=choice.name,
        vehicle=vehicle.name,
        driver=choice.driver,
        suspension=choice.suspension,
        loads=choice.loads,
        turning_radius_m=vehicle.turning_circle_m / 2.0,
        fording_still_m=flood.still_depth_m,
        fording_flow_m2_s=flood.flow_m2_s,
        crawl_grade=vehicle.crawl_grade_pct / 100.0,
        min_controlled_speed_m_s=vehicle.min_controlled_speed_kmh * KMH,
        measured=vehicle.source is Source.MEASURED,
        **_shape(vehicle, loads, lift),
        **_balance(vehicle, loads, lift),
        **outline(vehicle, loads, lift),
        **vehicle.model_dump(include=_COPIED),
    )


def _shape(vehicle: Vehicle, loads: tuple[Load, ...], lift: float) -> dict[str, Any]:
    """Give the envelope's side view with the suspension raised by *lift*."""
    geometry, underbody = _clearances(vehicle, lift), _underbody(vehicle, lift)
    front, rear = _reach(vehicle)
    return {
        "height_m": _height(vehicle, loads) + lift,
        "length_front_m": front,
        "length_rear_m": rear,
        "underbody": underbody,
        "approach_deg": geometry.approach_deg,
        "breakover_deg": geometry.breakover_deg,
        "departure_deg": geometry.departure_deg,
        "clearance_m": lowest_between(underbody, _tyres(vehicle)),
    }


def _balance(vehicle: Vehicle, loads: tuple[Load, ...], lift: float) -> dict[str, Any]:
    """Give the envelope's mass, centre of gravity, tip angles and warnings."""
    body = loaded_body(vehicle, loads, lift)
    track = min(vehicle.track_front_m, vehicle.track_rear_m)
    tips = tip_limits(body, vehicle.wheelbase_m, track)
    return {
        "mass_kg": body.mass_kg,
        "cg_m": body.cg_m,
        "roll_limit_deg": tips.roll_deg,
        "climb_tip_deg": tips.climb_deg,
        "descent_tip_deg": tips.descent_deg,
        "warnings": _warnings(vehicle, body, track),
    }


def kerb_clearances(vehicle: Vehicle) -> Clearances:
    """Angles and clearances at kerb mass with normal suspension, overhangs fitted."""
    return _clearances(vehicle, 0.0)


def vehicle_flood_class(vehicle: Vehicle) -> FloodClass:
    """Class of the flood criteria of the vehicle at kerb mass with normal suspension."""
    clearance = lowest_between(_underbody(vehicle, 0.0), _tyres(vehicle))
    return flood_class(vehicle.length_m, vehicle.kerb_mass_kg, clearance, vehicle.drive)


def _tyres(vehicle: Vehicle) -> Tyres:
    return Tyres(vehicle.wheelbase_m, vehicle.tyre_radius_m)


def _underbody(vehicle: Vehicle, lift: float) -> Floats:
    """Hard points with overhangs, raised by *lift*, x descending, m."""
    if vehicle.underbody is not None:
        points = np.array(vehicle.underbody, dtype=np.float64)
        points = points[np.argsort(-points[:, 0], kind="stable")]
    else:
        points = wedge_underbody(_published(vehicle), _tyres(vehicle))
    for overhang in vehicle.overhangs.values():
        points = merged(points, np.array(overhang.points, dtype=np.float64))
    raised: Floats = points + np.array([0.0, lift])
    return raised


def _published(vehicle: Vehicle) -> Published:
    """Give the four published figures, complete where there are no hard points."""
    figures = (vehicle.approach_deg, vehicle.breakover_deg, vehicle.departure_deg, vehicle.clearance_m)
    approach, breakover, departure, clearance = (float(figure or 0.0) for figure in figures)
    return Published(approach, breakover, departure, clearance, vehicle.length_front_m, vehicle.length_rear_m)


def _clearances(vehicle: Vehicle, lift: float) -> Clearances:
    """Angles and clearances with the suspension raised by *lift*."""
    underbody, tyres = _underbody(vehicle, lift), _tyres(vehicle)
    return Clearances(
        approach_deg=approach_angle(underbody, tyres),
        breakover_deg=breakover_angle(underbody, tyres, along=vehicle.underbody is not None),
        departure_deg=departure_angle(underbody, tyres),
        running_m=float(underbody[:, 1].min()),
        front_axle_m=vehicle.front_axle_clearance_m,
        rear_axle_m=vehicle.rear_axle_clearance_m,
    )


def _height(vehicle: Vehicle, loads: tuple[Load, ...]) -> float:
    """Highest point with normal suspension, m; a load without a top reaches at least its own centre."""
    tops = (load.at_m[2] if load.top_m is None else load.top_m for load in loads)
    return max(vehicle.height_m, *tops) if loads else vehicle.height_m


def _reach(vehicle: Vehicle) -> tuple[float, float]:
    """Front axle to the foremost and rear axle to the rearmost point, overhangs included, m."""
    xs = [x for overhang in vehicle.overhangs.values() for x, _ in overhang.points]
    front = max(vehicle.length_front_m, *xs) if xs else vehicle.length_front_m
    rear = max(vehicle.length_rear_m, *(-x - vehicle.wheelbase_m for x in xs)) if xs else vehicle.length_rear_m
    return front, rear


def _warnings(vehicle: Vehicle, body: Body, track: float) -> tuple[str, ...]:
    """List what every product must say about the set-up."""
    found = []
    if vehicle.modified and vehicle.source is Source.MAKER:
        found.append(f"{vehicle.name} was modified but its figures are the maker's: measure it as it stands.")
    factor = stability_factor(track, body.cg_m[2])
    if stability_factor_odd(factor):
        found.append(
            f"{vehicle.name}: a static stability factor of {factor:.2f} is unlike any road-going vehicle "
            "(0.9 to 1.7): check track and height of the centre of gravity."
        )
    if vehicle.gvm_kg is not None and body.mass_kg > vehicle.gvm_kg:
        found.append(
            f"{vehicle.name} is overloaded: {body.mass_kg:.0f} kg against a rated {vehicle.gvm_kg:.0f} kg, "
            "driver and passengers to be added where they are not among the loads."
        )
    return (*found, *_disagreements(vehicle))


def _disagreements(vehicle: Vehicle) -> list[str]:
    """Say where hard points and published angles of one file differ."""
    if vehicle.underbody is None:
        return []
    geometry = kerb_clearances(vehicle)
    pairs = (
        ("approach", vehicle.approach_deg, geometry.approach_deg),
        ("breakover", vehicle.breakover_deg, geometry.breakover_deg),
        ("departure", vehicle.departure_deg, geometry.departure_deg),
    )
    return [
        f"{vehicle.name}: the hard points give a {name} angle of {found:.1f}°, published are {published:.1f}°; "
        "the hard points count."
        for name, published, found in pairs
        if published is not None and abs(published - found) > _ANGLES_AGREE_DEG
    ]
