"""What a load does to the balance: static angles to each side, what a driver may use of them, and the change in words.

Static angle: the plane on which the rigid vehicle, standing with all wheels on it, begins to tip about one edge of the
polygon of its tyre contacts. It is the edge angle of the force-angle measure on level ground (Papadopoulos & Rey,
Vehicle System Dynamics 33(1), 2000, 29–48): atan(distance of the edge ÷ height), both from the centre of gravity.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from pipeline.terms import Driver
from pipeline.vehicle.envelope_model import Envelope
from pipeline.vehicle.model import Vehicle

__all__ = ["RAMP_DEG", "Angles", "Working", "effect_text", "ramp_travel_index", "static_angles", "working_angles"]

RAMP_DEG = 20.0
"""Angle of the ramp of the index; 23° and 30° exist too and give other figures."""
_EVEN_DEG = 0.05
"""Sides that differ by less are called even."""


class Angles(NamedTuple):
    """Angles about the four edges, degrees; a static one is 0 where the centre of gravity lies outside the wheels."""

    left: float
    """Left side downhill."""
    right: float
    """Right side downhill."""
    up: float
    """Nose uphill: about the rear axle."""
    down: float
    """Nose downhill: about the front axle."""

    @property
    def across(self) -> float:
        """The weaker side's angle."""
        return min(self.left, self.right)

    @property
    def weaker(self) -> str:
        """Name of the weaker side: left, right or even."""
        if abs(self.left - self.right) < _EVEN_DEG:
            return "even"
        return "left" if self.left < self.right else "right"


@dataclass(frozen=True, slots=True)
class Working:
    """What may be used of the static angles: the limits file's figures that the balance needs."""

    compliance_share: float
    """Share of the static arm that springs and tyres take, 0–1."""
    across: Mapping[Driver, float]
    """Share of what is left that each driver may use on a side slope, 0–1."""
    along: Mapping[Driver, float]
    """The same, up and down."""


def static_angles(envelope: Envelope) -> Angles:
    """Give the static angles of a set-up on a plane, all wheels on the ground, suspension as at rest.

    Parameters
    ----------
    envelope
        Its centre of gravity, wheelbase and both tracks count; the side edges run from front to rear tyre.

    Notes
    -----
    Left and right: atan((b − y)/z) and atan((b + y)/z), b half the track below the centre of gravity; for unequal
    tracks times the cosine of the side edge's angle to the vehicle. Up and down: atan(l_r/z), atan(l_f/z).
    """
    x, y, z = envelope.cg_m
    behind = -x / envelope.wheelbase_m
    half = (envelope.track_front_m * (1.0 - behind) + envelope.track_rear_m * behind) / 2.0
    taper = np.hypot(envelope.wheelbase_m, (envelope.track_front_m - envelope.track_rear_m) / 2.0)
    square = envelope.wheelbase_m / taper
    arms = np.array([(half - y) * square, (half + y) * square, envelope.wheelbase_m + x, -x])
    return Angles(*map(float, np.degrees(np.arctan(np.maximum(arms, 0.0) / z))))


def working_angles(static: Angles, working: Working, driver: Driver) -> Angles:
    """Give what *driver* may use: atan((1 − compliance)·tan(static angle)) times the driver's share, degrees.

    Parameters
    ----------
    static
        From :func:`static_angles`.
    working
        Allowance for springs and tyres, and the shares. Why one is needed: TRB Special Report 265, p. 28; its size
        is an assumption.
    driver
        Whose share.
    """
    across, along = working.across[driver], working.along[driver]
    held = np.degrees(np.arctan((1.0 - working.compliance_share) * np.tan(np.radians(static))))
    return Angles(*map(float, held * np.array([across, across, along, along])))


def ramp_travel_index(wheel_travel_m: float, wheelbase_m: float) -> float:
    """Give the ramp travel index at 20°: 1000 × way up the ramp ÷ wheelbase, the way being lift ÷ sin 20°.

    Parameters
    ----------
    wheel_travel_m
        Height of the wheel on the ramp when the first other tyre leaves the ground.
    wheelbase_m
        Wheelbase.

    Notes
    -----
    Published example: 62 in up the ramp at 94 in wheelbase → 659.57.
    """
    return float(1000.0 * wheel_travel_m / (wheelbase_m * np.sin(np.radians(RAMP_DEG))))


def effect_text(vehicle: Vehicle, envelope: Envelope, bare: Envelope) -> str:
    """Say in one line what the loads, or else the suspension, of a set-up do to the balance.

    Parameters
    ----------
    vehicle
        The vehicle, for what its loads are.
    envelope
        The set-up.
    bare
        The set-up to compare with: same suspension without loads, or normal suspension for a bare set-up.
    """
    what = " + ".join(envelope.loads) if envelope.loads else envelope.suspension
    risen = _moved(envelope.cg_m[2] - bare.cg_m[2], ("higher", "lower"))
    if not envelope.loads:
        moved = f"roof and centre of gravity {risen or 'as high as before'}"
        return f"{what}: {moved}: {_across(envelope, bare)}"
    aside = _moved(envelope.cg_m[1] - bare.cg_m[1], ("to the left", "to the right"))
    moved = ", ".join(part for part in (risen, aside) if part) or "where it was"
    return f"{what}: centre of gravity {moved}: {_across(envelope, bare)}; {_why(vehicle, envelope)}"


def _moved(by_m: float, words: tuple[str, str]) -> str:
    """Say a shift to the millimetre; nothing for less."""
    shown = round(by_m, 3)
    return f"{abs(shown):.3f} m {words[0] if shown > 0 else words[1]}" if shown else ""


def _across(envelope: Envelope, bare: Envelope) -> str:
    """Say what the weaker side gains or loses."""
    angles = static_angles(envelope)
    shown = round(angles.across - static_angles(bare).across, 1)
    side = "" if angles.weaker == "even" else f", {angles.weaker} side weaker"
    change = f"{abs(shown):.1f}° {'more' if shown > 0 else 'less'}" if shown else "no change"
    return f"{change} across{side}"


def _why(vehicle: Vehicle, envelope: Envelope) -> str:
    """Say where the loads' own centre lies against the vehicle's: that decides which way the height goes."""
    loads = [vehicle.loads[name] for name in envelope.loads]
    masses = np.array([load.mass_kg for load in loads])
    above = float(masses @ np.array([load.at_m[2] for load in loads]) / masses.sum()) - vehicle.cg_height_m
    who = "people seated" if all(load.people for load in loads) else "carried"
    shift = _moved(above, ("above", "below"))
    return f"{who} {shift or 'level with'} the vehicle's own centre of gravity"
