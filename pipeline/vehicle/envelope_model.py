"""The envelope: what one set-up can do, as numbers ready for the checks."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.terms import Drive, Driver

__all__ = ["Envelope"]


@dataclass(frozen=True, slots=True)
class Envelope:
    """What one set-up (vehicle, suspension, loads, driver) can do.

    Axes in the sense of ISO 8855: x forward, y left, z up; the origin lies on the ground below the middle of the
    front axle, so the rear axle is at x = −wheelbase. Angles in degrees, all positive. Grades are rise over run.
    """

    setup: str
    """Name of the set-up."""
    vehicle: str
    """Name of the vehicle."""
    driver: Driver
    suspension: str
    loads: tuple[str, ...]
    drive: Drive
    low_range: bool
    wheelbase_m: float
    track_front_m: float
    track_rear_m: float
    tyre_radius_m: float
    """Static loaded radius."""
    tyre_width_m: float
    wheel_travel_m: float
    """Twist of the ground, m, at which the first wheel lifts: how far one wheel of an axle rises above the other."""
    width_m: float
    width_mirrors_m: float
    height_m: float
    """Highest point with today's suspension and loads."""
    length_front_m: float
    """Front axle to the foremost point, overhangs included."""
    length_rear_m: float
    """Rear axle to the rearmost point, overhangs included."""
    underbody: NDArray[np.float64]
    """Hard points in side view after suspension and overhangs, shape (n, 2), columns x and z, x descending."""
    approach_deg: float
    breakover_deg: float
    departure_deg: float
    clearance_m: float
    """Running clearance: lowest sprung point between the axles."""
    front_axle_clearance_m: float
    rear_axle_clearance_m: float
    mass_kg: float
    cg_m: tuple[float, float, float]
    """Loaded centre of gravity, x, y, z."""
    roll_limit_deg: float
    """Static tip angle towards the worse side: atan((track/2 − |y|) / z)."""
    climb_tip_deg: float
    """Static tip angle about the rear axle."""
    descent_tip_deg: float
    """Static tip angle about the front axle."""
    turning_radius_m: float
    """Kerb to kerb circle ÷ 2: path of the outer front tyre."""
    fording_depth_m: float | None
    fording_still_m: float
    """Still-water depth limit of the vehicle's class of the flood criteria."""
    fording_flow_m2_s: float
    """Limit of depth × velocity of that class."""
    crawl_grade: float
    """Steepest grade that the lowest gear can drive up on a firm surface, rolling resistance not deducted."""
    min_controlled_speed_m_s: float
    """Slowest speed held on engine braking."""
    measured: bool
    """Figures measured on the vehicle as it stands, not the maker's."""
    warnings: tuple[str, ...]
    """What every product must say about this set-up, such as maker's figures on a modified vehicle."""
    body_front_m: float | None = None
    """Front axle to the front of the body at its full width, without overhangs; ``None``: as ``length_front_m``."""
    body_rear_m: float | None = None
    """Rear axle to the rear of the body at its full width; ``None``: as ``length_rear_m``."""
    overhang_m: tuple[tuple[float, float, float, float, float], ...] = ()
    """Overhangs in plan: x of the rear and front end, width, z of the lowest and highest point."""
    mirror_m: tuple[float, float, float] = (-0.6, 1.0, 1.35)
    """Mirrors: x of their middle, z of their lower and upper edge, with today's suspension."""
    roof_m: tuple[float, float, float, float] | None = None
    """Roof and roof load: x of the rear and front end, width, z from which the sides lean in to it; ``None``: the body
    goes up to its full height at its full width."""
