"""Published classes that a vehicle falls into: off-highway geometry, flood criteria, stability factor."""

from dataclasses import dataclass
from typing import NamedTuple

from pipeline.terms import Drive

__all__ = [
    "FLOOD_CAVEAT",
    "LARGE_FOUR_WHEEL",
    "LARGE_PASSENGER",
    "SMALL_PASSENGER",
    "Clearances",
    "Criterion",
    "FloodClass",
    "OffHighway",
    "flood_class",
    "off_highway",
    "off_road_eu",
    "stability_factor",
    "stability_factor_odd",
]

_GVW_LIMIT_KG = 6000 * 0.45359237
"""6 000 lb; 49 CFR 523.5(b)(1)."""
_PLAUSIBLE_FACTOR = (0.9, 1.7)
"""Own rule, a little wider than the published fleets (1.00 to 1.50)."""
_ROUNDING = 1e-9
"""Limit values count as inside; this takes up binary rounding of the product of depth and velocity."""


class Clearances(NamedTuple):
    """Geometry at kerb mass on level ground: degrees and metres."""

    approach_deg: float
    breakover_deg: float
    departure_deg: float
    running_m: float
    """Lowest sprung point."""
    front_axle_m: float
    rear_axle_m: float


@dataclass(frozen=True, slots=True)
class Criterion:
    """One criterion of a class, and whether it is met."""

    name: str
    found: float
    limit: float
    unit: str

    @property
    def met(self) -> bool:
        """Whether the value reaches the limit; the limit itself counts."""
        return self.found >= self.limit


@dataclass(frozen=True, slots=True)
class OffHighway:
    """How a vehicle stands against a list of criteria of which some number must be met."""

    criteria: tuple[Criterion, ...]
    needed: int
    """How many must be met."""
    eligible: bool
    """Whether drive or rated mass allow the class at all."""

    @property
    def met(self) -> int:
        """How many criteria are met."""
        return sum(criterion.met for criterion in self.criteria)

    @property
    def passes(self) -> bool:
        """Whether the vehicle belongs to the class."""
        return self.eligible and self.met >= self.needed


def off_highway(geometry: Clearances, drive: Drive, gross_kg: float | None) -> OffHighway:
    """Classify by 49 CFR 523.5(b): four-wheel drive or above 6 000 lb, and at least four of five criteria.

    Parameters
    ----------
    geometry
        At kerb mass, level, wheels straight.
    drive
        Driven axles.
    gross_kg
        Rated gross mass; ``None`` when not known, which leaves the drive to decide.
    """
    criteria = (
        Criterion("approach angle", geometry.approach_deg, 28.0, "°"),
        Criterion("breakover angle", geometry.breakover_deg, 14.0, "°"),
        Criterion("departure angle", geometry.departure_deg, 20.0, "°"),
        Criterion("running clearance", geometry.running_m, 0.20, "m"),
        Criterion("axle clearance, the lower axle", min(geometry.front_axle_m, geometry.rear_axle_m), 0.18, "m"),
    )
    heavy = gross_kg is not None and gross_kg > _GVW_LIMIT_KG
    return OffHighway(criteria, needed=4, eligible=drive is Drive.FOUR_WHEEL or heavy)


def off_road_eu(geometry: Clearances, drive: Drive, crawl_grade: float) -> OffHighway:
    """Compare with the off-road ("G") criteria of the EU for light vehicles: at least five of six.

    Parameters
    ----------
    geometry
        As for :func:`off_highway`.
    drive
        One front and one rear axle must be driven together.
    crawl_grade
        Steepest grade that can be driven up, rise over run; at least 0.30 is needed.

    Notes
    -----
    Directive 87/403/EEC, later Annex I of Regulation (EU) 2018/858, read in secondary copies. It also asks for a
    differential lock or something equivalent, which a vehicle file does not tell, and its angles are those at the
    laden mass.
    """
    criteria = (
        Criterion("approach angle", geometry.approach_deg, 25.0, "°"),
        Criterion("breakover angle", geometry.breakover_deg, 20.0, "°"),
        Criterion("departure angle", geometry.departure_deg, 20.0, "°"),
        Criterion("running clearance", geometry.running_m, 0.20, "m"),
        Criterion("front axle clearance", geometry.front_axle_m, 0.18, "m"),
        Criterion("rear axle clearance", geometry.rear_axle_m, 0.18, "m"),
    )
    return OffHighway(criteria, needed=5, eligible=drive is Drive.FOUR_WHEEL and crawl_grade >= 0.30)


@dataclass(frozen=True, slots=True)
class FloodClass:
    """Limits of one vehicle class in moving water; all of them apply together."""

    name: str
    still_depth_m: float
    fast_depth_m: float
    """Depth limit at the velocity limit."""
    velocity_m_s: float
    flow_m2_s: float
    """Limit of depth × velocity."""

    def allows(self, depth_m: float, velocity_m_s: float) -> bool:
        """Tell whether still-water depth, velocity and their product are all inside; limits count as inside."""
        return (
            depth_m <= self.still_depth_m + _ROUNDING
            and velocity_m_s <= self.velocity_m_s + _ROUNDING
            and depth_m * velocity_m_s <= self.flow_m2_s + _ROUNDING
        )


# Shand, Cox, Blacka, Smith (2011), Australian Rainfall and Runoff Project 10 Stage 2, P10/S2/020, Table 3, read in
# secondary copies.
SMALL_PASSENGER = FloodClass("small passenger", 0.30, 0.10, 3.0, 0.30)
LARGE_PASSENGER = FloodClass("large passenger", 0.40, 0.15, 3.0, 0.45)
LARGE_FOUR_WHEEL = FloodClass("large 4WD", 0.50, 0.20, 3.0, 0.60)
FLOOD_CAVEAT = (
    "Draft interim criteria for stationary vehicles, with an assumed friction of 0.3; their authors do not endorse "
    "them as depths to drive in."
)
"""What the report itself says about its limits."""


def flood_class(length_m: float, kerb_mass_kg: float, clearance_m: float, drive: Drive) -> FloodClass:
    """Give the vehicle class of the flood criteria; a vehicle short of any bound falls into the class below.

    Parameters
    ----------
    length_m
        Overall length; above 4.5 m for a large 4WD, above 4.3 m for a large passenger car.
    kerb_mass_kg
        Above 2000 kg, above 1250 kg.
    clearance_m
        Ground clearance; above 0.22 m, above 0.12 m.
    drive
        A large 4WD has four driven wheels.
    """
    if drive is Drive.FOUR_WHEEL and length_m > 4.5 and kerb_mass_kg > 2000.0 and clearance_m > 0.22:
        return LARGE_FOUR_WHEEL
    if length_m > 4.3 and kerb_mass_kg > 1250.0 and clearance_m > 0.12:
        return LARGE_PASSENGER
    return SMALL_PASSENGER


def stability_factor(track_m: float, cg_height_m: float) -> float:
    """Give the static stability factor: track ÷ (2 × height of the centre of gravity); NHTSA, "Rollover", chapter V."""
    return track_m / (2.0 * cg_height_m)


def stability_factor_odd(factor: float) -> bool:
    """Tell whether a factor is so far from road-going vehicles that a figure is probably wrong."""
    low, high = _PLAUSIBLE_FACTOR
    return not low <= factor <= high
