"""What the figures of a vehicle file must agree on with each other.

Each rule takes the value of one key and the keys read before it, and returns the value or raises ``ValueError`` with
the reason; the settings reader adds file, line and key. A rule whose other keys are at fault themselves says nothing.
The limits are common practice, no source: wide enough for odd vehicles, narrow enough for mixed-up figures.
"""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

__all__ = [
    "CG_OF_HEIGHT",
    "FRONT_SHARE",
    "LOAD_REACH_M",
    "SLACK_M",
    "Points",
    "cg_fits",
    "circle_fits",
    "front_share_fits",
    "gross_fits",
    "load_fits",
    "outline_fits",
    "outside_tyres",
    "underbody_fits",
    "width_fits",
    "within_body",
]

Points = tuple[tuple[float, float], ...]
Known = Mapping[str, Any]

FRONT_SHARE = (0.25, 0.75)
"""Plausible part of the kerb mass on the front axle."""
CG_OF_HEIGHT = 0.65
"""Highest plausible centre of gravity, as a part of the height."""
SLACK_M = 0.05
"""Tape-measure error allowed where a point must lie inside the vehicle."""
LOAD_REACH_M = 1.5
"""How far a load's centre may lie beyond the ends or above the roof (bicycles, boxes)."""
PUBLISHED = ("approach_deg", "breakover_deg", "departure_deg", "clearance_m")


def _knows(known: Known, *keys: str) -> bool:
    """Tell whether all of *keys* were read without a fault."""
    return all(known.get(key) is not None for key in keys)


def width_fits(value: float, key: str, known: Known) -> float:
    """Check a width over mirrors or a track (m) against the width of the body."""
    if not _knows(known, "width_m"):
        return value
    width = known["width_m"]
    if key == "width_mirrors_m" and value < width:
        msg = f"{value:g} m is less than width_m = {width:g} m; without mirrors give the same figure"
        raise ValueError(msg)
    if key != "width_mirrors_m" and value > width:
        msg = f"{value:g} m is more than width_m = {width:g} m; the track is measured between tyre centre lines"
        raise ValueError(msg)
    return value


def front_share_fits(value: float, known: Known) -> float:
    """Check the mass on the front axle (kg) against the kerb mass."""
    if not _knows(known, "kerb_mass_kg"):
        return value
    share, (low, high) = value / known["kerb_mass_kg"], FRONT_SHARE
    if not low <= share <= high:
        msg = (
            f"{value:g} kg is {share:.0%} of kerb_mass_kg = {known['kerb_mass_kg']:g} kg; "
            f"from {low:.0%} to {high:.0%} is plausible, weigh the front axle again"
        )
        raise ValueError(msg)
    return value


def gross_fits(value: float | None, known: Known) -> float | None:
    """Check the rated gross mass (kg) against the kerb mass."""
    if value is not None and _knows(known, "kerb_mass_kg") and value < known["kerb_mass_kg"]:
        msg = f"{value:g} kg is less than kerb_mass_kg = {known['kerb_mass_kg']:g} kg"
        raise ValueError(msg)
    return value


def cg_fits(value: float, known: Known) -> float:
    """Check the height of the centre of gravity (m) against the height of the vehicle."""
    if _knows(known, "height_m") and value > CG_OF_HEIGHT * known["height_m"]:
        msg = f"{value:g} m is above {CG_OF_HEIGHT:.0%} of height_m = {known['height_m']:g} m; measure it again"
        raise ValueError(msg)
    return value


def circle_fits(value: float, known: Known) -> float:
    """Check the turning circle (m, diameter) against the wheelbase: the outer tyre's radius must exceed it."""
    if _knows(known, "wheelbase_m") and value / 2.0 <= known["wheelbase_m"]:
        msg = (
            f"a circle of {value:g} m has a radius not above wheelbase_m = {known['wheelbase_m']:g} m; "
            "give the diameter, kerb to kerb"
        )
        raise ValueError(msg)
    return value


def underbody_fits(value: Points | None, known: Known) -> Points | None:
    """Check the hard points, or that the published figures stand in for them.

    Parameters
    ----------
    value
        Hard points [x, z] in metres, or ``None``.
    known
        The keys read before.

    Raises
    ------
    ValueError
        When neither is complete, or a point lies outside the vehicle or inside a tyre, or no point lies ahead of,
        between or behind the axles.
    """
    if value is None:
        _published_complete(known)
        return None
    if not _knows(known, "wheelbase_m", "length_front_m", "length_rear_m"):
        return value
    wheelbase = known["wheelbase_m"]
    front, rear = known["length_front_m"] + SLACK_M, -(wheelbase + known["length_rear_m"] + SLACK_M)
    for x, z in value:
        if not rear <= x <= front:
            msg = f"[{x:g}, {z:g}] lies outside the vehicle: x from {rear + SLACK_M:g} to {front - SLACK_M:g} m"
            raise ValueError(msg)
    xs = np.array([x for x, _ in value])
    parts = {
        "ahead of the front axle (x above 0)": xs > 0.0,
        f"between the axles (x from {-wheelbase:g} to 0)": (xs < 0.0) & (xs > -wheelbase),
        f"behind the rear axle (x below {-wheelbase:g})": xs < -wheelbase,
    }
    missing = [part for part, inside in parts.items() if not inside.any()]
    if missing:
        msg = "no hard point " + ", nor ".join(missing)
        raise ValueError(msg)
    outside_tyres(value, known, "")
    return value


def _published_complete(known: Known) -> None:
    """Refuse a file that has neither hard points nor all four published figures."""
    missing = [key for key in PUBLISHED if key in known and known[key] is None]
    if missing:
        msg = (
            f"neither hard points (underbody = [[x, z], …]) nor all published figures: {', '.join(missing)} missing; "
            f"give underbody, or all of {', '.join(PUBLISHED)}"
        )
        raise ValueError(msg)


def outside_tyres(points: Sequence[tuple[float, float]], known: Known, label: str) -> None:
    """Refuse hard points (m) inside the side view of a loaded tyre: those belong to the axle clearances.

    Raises
    ------
    ValueError
        When one lies nearer to a wheel centre than the static loaded radius.
    """
    if not _knows(known, "wheelbase_m", "tyre_radius_m"):
        return
    radius = known["tyre_radius_m"]
    for x, z in points:
        for axle, x_axle in (("front", 0.0), ("rear", -known["wheelbase_m"])):
            if np.hypot(x - x_axle, z - radius) < radius:
                msg = (
                    f"{label}[{x:g}, {z:g}] lies inside the {axle} tyre (radius {radius:g} m); "
                    f"parts of the axle go into {axle}_axle_clearance_m"
                )
                raise ValueError(msg)


def load_fits(name: str, at: tuple[float, float, float], top: float | None, known: Known) -> None:
    """Refuse a load whose centre (m) lies outside the vehicle, or whose top is below its centre.

    Raises
    ------
    ValueError
        With the name of the load and what is allowed.
    """
    if not _knows(known, "wheelbase_m", "length_front_m", "length_rear_m", "width_m", "height_m"):
        return
    x, y, z = at
    front = known["length_front_m"] + LOAD_REACH_M
    rear = -(known["wheelbase_m"] + known["length_rear_m"] + LOAD_REACH_M)
    side, high = known["width_m"] / 2.0, known["height_m"] + LOAD_REACH_M
    limits = (("x", x, rear, front), ("y", y, -side, side), ("z", z, 0.0, high))
    for axis, found, low, up in limits:
        if not low <= found <= up:
            msg = f"{name}: at_m {axis} = {found:g} m lies outside the vehicle, from {low:g} to {up:g} m"
            raise ValueError(msg)
    if top is not None and top < z:
        msg = f"{name}: top_m = {top:g} m is below its centre of gravity at z = {z:g} m"
        raise ValueError(msg)


def outline_fits(value: float | None, key: str, known: Known) -> float | None:
    """Check a figure of mirrors or roof (m) against the vehicle they belong to.

    Raises
    ------
    ValueError
        Where it lies outside the vehicle, or mirrors or roof are upside down or back to front.
    """
    if value is None or not _knows(known, "wheelbase_m", "length_front_m", "length_rear_m", "height_m"):
        return value
    front, rear = known["length_front_m"], -(known["wheelbase_m"] + known["length_rear_m"])
    reason = ""
    if key in {"mirror_x_m", "roof_front_m", "roof_rear_m"} and not rear - SLACK_M <= value <= front + SLACK_M:
        reason = f"lies outside the vehicle, from {rear:g} to {front:g} m"
    elif key == "roof_from_m" and value >= known["height_m"]:
        reason = f"is not below height_m = {known['height_m']:g} m"
    elif key in {"mirror_low_m", "mirror_high_m"} and value > known["height_m"]:
        reason = f"is above height_m = {known['height_m']:g} m"
    elif key == "mirror_high_m" and _knows(known, "mirror_low_m") and value <= known["mirror_low_m"]:
        reason = f"is not above mirror_low_m = {known['mirror_low_m']:g} m"
    elif key == "roof_rear_m" and _knows(known, "roof_front_m") and value >= known["roof_front_m"]:
        reason = f"is not behind roof_front_m = {known['roof_front_m']:g} m"
    if reason:
        msg = f"{value:g} m {reason}"
        raise ValueError(msg)
    return value


def within_body(value: float | None, known: Known, label: str) -> None:
    """Refuse a width (m) of roof or fitted thing above that of the body, which is the widest part but for mirrors.

    Raises
    ------
    ValueError
        With both widths.
    """
    if value is not None and _knows(known, "width_m") and value > known["width_m"]:
        msg = f"{label}{value:g} m is more than width_m = {known['width_m']:g} m, the widest part of body and wheels"
        raise ValueError(msg)
