"""The vehicle file as a strict model, and the choice of one set-up from it.

Axes in the sense of ISO 8855: x forward, y left, z up; the origin lies on the ground below the middle of the front
axle, so the rear axle is at x = −wheelbase. Bounds are wide for vehicles and narrow for units: 2850 for a wheelbase
in metres is a fault.
"""

from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated

from pydantic import Field, ValidationInfo, field_validator

from pipeline.settings import Strict
from pipeline.terms import Drive, Driver
from pipeline.vehicle import rules

__all__ = ["NORMAL", "Load", "Overhang", "SetUpChoice", "Source", "Suspension", "Vehicle"]

NORMAL = "normal"
"""The suspension setting that every vehicle has, with lift 0."""

X = Annotated[float, Field(ge=-9.0, le=4.0)]
Y = Annotated[float, Field(ge=-2.0, le=2.0)]
Z = Annotated[float, Field(ge=0.0, le=4.5)]
PointZ = Annotated[float, Field(gt=0.02, le=2.5)]
HardPoint = tuple[X, PointZ]
Angle = Annotated[float, Field(gt=2.0, lt=89.0)]


class Source(StrEnum):
    """Where the figures of a vehicle file come from."""

    MEASURED = "measured"
    """Measured on the vehicle as it stands."""
    MAKER = "maker"
    """Published by the maker."""


class Suspension(Strict):
    """One setting of the suspension."""

    lift_m: float = Field(ge=-0.2, le=0.4)
    """How much higher than normal the sprung body stands; negative when lowered."""


class Load(Strict):
    """Something carried that is not in the kerb mass: people, fuel, a roof load."""

    mass_kg: float = Field(gt=0.0, le=5000.0)
    """Its mass."""
    at_m: tuple[X, Y, Z]
    """Its centre of gravity, x, y, z, with normal suspension."""
    top_m: float | None = Field(default=None, gt=0.0, le=6.0)
    """Height of its top above ground with normal suspension, where that may be above the roof."""
    width_m: float | None = Field(default=None, ge=0.05, le=3.2)
    """Its width, where its top is above the roof; missing: as wide as the roof."""
    people: bool = False
    """Whether it is people in their seats."""


class Overhang(Strict):
    """Something always fitted that a bare vehicle does not have: a hitch, a bar, a winch."""

    points: tuple[HardPoint, ...] = Field(min_length=1)
    """Its hard points in side view, [x, z], added to the underbody."""
    width_m: float | None = Field(default=None, ge=0.02, le=3.2)
    """Its width in plan, about the middle line; missing: as wide as the body."""


class Vehicle(Strict):
    """One vehicle: what its file says.

    Either the hard points of the ``underbody`` or all four published figures (``approach_deg``, ``breakover_deg``,
    ``departure_deg``, ``clearance_m``) are needed. Heights and angles are those at kerb mass with normal suspension.
    """

    name: str = Field(min_length=1, max_length=80)
    """Name that stands on every product."""
    wheelbase_m: float = Field(ge=1.2, le=6.0)
    """Distance of the wheel centres."""
    tyre_radius_m: float = Field(ge=0.2, le=0.8)
    """Static loaded radius: height of the wheel centre above flat ground, not the free radius."""
    tyre_width_m: float = Field(ge=0.1, le=0.6)
    """Width of the tread."""
    width_m: float = Field(ge=0.9, le=3.2)
    """Width of the body without mirrors."""
    width_mirrors_m: float = Field(ge=0.9, le=4.0)
    """Width over the mirrors as driven."""
    track_front_m: float = Field(ge=0.8, le=2.8)
    """Distance of the tyre centre lines on the ground, front."""
    track_rear_m: float = Field(ge=0.8, le=2.8)
    """The same, rear."""
    height_m: float = Field(ge=0.9, le=4.5)
    """Highest point of the bare vehicle."""
    length_front_m: float = Field(ge=0.1, le=3.0)
    """Front axle to the foremost point of the bare vehicle."""
    length_rear_m: float = Field(ge=0.1, le=4.0)
    """Rear axle to the rearmost point of the bare vehicle."""
    mirror_x_m: float | None = Field(default=None, ge=-3.0, le=2.0)
    """x of the middle of the mirrors, as driven; missing: 0.6 m behind the front axle."""
    mirror_low_m: float | None = Field(default=None, ge=0.3, le=3.0)
    """Ground to the lower edge of the mirrors; missing: half of the height."""
    mirror_high_m: float | None = Field(default=None, ge=0.4, le=3.5)
    """Ground to their upper edge; missing: three quarters of the height."""
    roof_width_m: float | None = Field(default=None, ge=0.4, le=3.2)
    """Width at the roof, gutters included; missing: as wide as the body."""
    roof_from_m: float | None = Field(default=None, ge=0.4, le=4.4)
    """Ground to where the sides begin to lean in towards the roof; missing: six tenths of the height."""
    roof_front_m: float | None = Field(default=None, ge=-6.0, le=3.0)
    """x of the front end of the roof, at the top of the windscreen; missing: the front of the body."""
    roof_rear_m: float | None = Field(default=None, ge=-9.0, le=2.0)
    """x of its rear end; missing: the rear of the body."""
    kerb_mass_kg: float = Field(ge=300.0, le=15000.0)
    """Mass ready to drive, without driver and loads."""
    front_axle_mass_kg: float = Field(ge=50.0, le=12000.0)
    """Part of the kerb mass on the front axle, on level ground."""
    gvm_kg: float | None = Field(default=None, ge=400.0, le=20000.0)
    """Rated gross vehicle mass."""
    cg_height_m: float = Field(ge=0.25, le=2.5)
    """Height of the centre of gravity at kerb mass."""
    cg_left_m: float = Field(default=0.0, ge=-0.3, le=0.3)
    """How far the centre of gravity at kerb mass lies left of the middle line; negative to the right."""
    turning_circle_m: float = Field(ge=3.0, le=30.0)
    """Diameter of the circle of the outer front tyre, kerb to kerb."""
    wheel_travel_m: float = Field(ge=0.03, le=1.5)
    """Twist of the ground at which the first wheel lifts (cross-axle).

    Measured on a ramp or a lift under one front wheel: how high that wheel stands above the other three when another
    tyre leaves the ground. The other three on level ground, the twist (z_FL − z_FR) − (z_RL − z_RR) is that height.
    """
    fording_depth_m: float | None = Field(default=None, ge=0.05, le=2.5)
    """Deepest still water that the maker allows."""
    drive: Drive
    """Driven axles."""
    low_range: bool
    """Whether there is a low-range gear."""
    crawl_grade_pct: float = Field(ge=5.0, le=200.0)
    """Steepest grade that the lowest gear drives up on a firm surface, in per cent."""
    min_controlled_speed_kmh: float = Field(ge=0.2, le=20.0)
    """Slowest speed held on engine braking in the lowest gear."""
    front_axle_clearance_m: float = Field(ge=0.05, le=1.0)
    """Ground to the lowest point of the front axle (differential or lower arm)."""
    rear_axle_clearance_m: float = Field(ge=0.05, le=1.0)
    """The same, rear."""
    approach_deg: Angle | None = None
    """Published approach angle."""
    breakover_deg: Angle | None = None
    """Published breakover angle."""
    departure_deg: Angle | None = None
    """Published departure angle."""
    clearance_m: float | None = Field(default=None, ge=0.05, le=1.0)
    """Published running clearance."""
    underbody: tuple[HardPoint, ...] | None = Field(default=None, validate_default=True)
    """Hard points in side view, [x, z], front to rear: bumper, skid plates, sills, tank, tail."""
    source: Source
    """Where the figures come from."""
    modified: bool = False
    """Whether springs, tyres, bumpers or equipment were changed since the figures were taken."""
    suspension: dict[str, Suspension] = Field(default_factory=dict)
    """Suspension settings; ``normal`` (lift 0) always exists."""
    loads: dict[str, Load] = Field(default_factory=dict)
    """Loads that a set-up may carry."""
    overhangs: dict[str, Overhang] = Field(default_factory=dict)
    """Things always fitted."""

    @field_validator("width_mirrors_m", "track_front_m", "track_rear_m")
    @classmethod
    def _widths_fit(cls, value: float, info: ValidationInfo) -> float:
        """Refuse mirrors narrower than the body, and wheels outside it."""
        return rules.width_fits(value, info.field_name or "", info.data)

    @field_validator("mirror_x_m", "mirror_low_m", "mirror_high_m", "roof_from_m", "roof_front_m", "roof_rear_m")
    @classmethod
    def _outline_fits(cls, value: float | None, info: ValidationInfo) -> float | None:
        """Refuse mirrors and a roof that are no part of the body."""
        return rules.outline_fits(value, info.field_name or "", info.data)

    @field_validator("roof_width_m")
    @classmethod
    def _roof_within_body(cls, value: float | None, info: ValidationInfo) -> float | None:
        """Refuse a roof wider than the body."""
        rules.within_body(value, info.data, "")
        return value

    @field_validator("front_axle_mass_kg")
    @classmethod
    def _front_share(cls, value: float, info: ValidationInfo) -> float:
        """Refuse a front axle that carries nearly all or nearly nothing."""
        return rules.front_share_fits(value, info.data)

    @field_validator("gvm_kg")
    @classmethod
    def _gross_above_kerb(cls, value: float | None, info: ValidationInfo) -> float | None:
        """Refuse a rated mass below the kerb mass."""
        return rules.gross_fits(value, info.data)

    @field_validator("cg_height_m")
    @classmethod
    def _cg_below_roof(cls, value: float, info: ValidationInfo) -> float:
        """Refuse a centre of gravity in the upper part of the body."""
        return rules.cg_fits(value, info.data)

    @field_validator("turning_circle_m")
    @classmethod
    def _circle_drivable(cls, value: float, info: ValidationInfo) -> float:
        """Refuse a circle that no steering can drive."""
        return rules.circle_fits(value, info.data)

    @field_validator("underbody")
    @classmethod
    def _hard_points(cls, value: rules.Points | None, info: ValidationInfo) -> rules.Points | None:
        """Ask for hard points or published figures; refuse hard points outside the vehicle or inside a tyre."""
        return rules.underbody_fits(value, info.data)

    @field_validator("suspension")
    @classmethod
    def _normal_is_level(cls, value: dict[str, Suspension]) -> dict[str, Suspension]:
        """Refuse a ``normal`` setting with a lift: every height in the file is given at normal."""
        if NORMAL in value and value[NORMAL].lift_m != 0.0:
            msg = f"{NORMAL} has lift_m = {value[NORMAL].lift_m:g}; it is the setting of all heights here and has 0"
            raise ValueError(msg)
        return value

    @field_validator("loads")
    @classmethod
    def _loads_on_board(cls, value: dict[str, Load], info: ValidationInfo) -> dict[str, Load]:
        """Refuse loads that lie outside the vehicle."""
        for name, load in value.items():
            rules.load_fits(name, load.at_m, load.top_m, info.data)
        return value

    @field_validator("overhangs")
    @classmethod
    def _overhangs_near(cls, value: dict[str, Overhang], info: ValidationInfo) -> dict[str, Overhang]:
        """Refuse overhangs that lie inside a tyre."""
        for name, overhang in value.items():
            rules.outside_tyres(overhang.points, info.data, f"{name}: ")
            rules.within_body(overhang.width_m, info.data, f"{name}: ")
        return value

    @property
    def suspensions(self) -> dict[str, Suspension]:
        """All settings by name, ``normal`` first."""
        return {NORMAL: Suspension(lift_m=0.0), **self.suspension}

    @property
    def length_m(self) -> float:
        """Length of the bare vehicle."""
        return self.length_front_m + self.wheelbase_m + self.length_rear_m


@dataclass(frozen=True, slots=True)
class SetUpChoice:
    """One set-up as the site settings choose it."""

    name: str
    """Name of the set-up."""
    suspension: str = NORMAL
    """Name of a suspension setting of the vehicle."""
    loads: tuple[str, ...] = ()
    """Names of loads of the vehicle."""
    driver: Driver = Driver.EXPERT
    """Who drives."""
