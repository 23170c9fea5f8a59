"""Pressure of a set-up's tyres on the ground."""

from pipeline.units import GRAVITY
from pipeline.vehicle.envelope_model import Envelope

__all__ = ["ground_pressure_kpa"]


def ground_pressure_kpa(envelope: Envelope) -> float:
    """Give the nominal ground pressure of the most loaded wheel, kPa: its load ÷ (radius × width of the tyre).

    The nominal pressure of off-road machines takes the patch to be one radius long, which is that of a wheel that has
    sunk in by about 15 % of its diameter (from memory, not verified). On hard ground the patch is shorter and the
    pressure near that of the air in the tyre. The loaded radius is taken, which is on the careful side.

    Parameters
    ----------
    envelope
        Mass, centre of gravity, wheelbase, tracks, tyres. The vehicle stands level.
    """
    x, y, _ = envelope.cg_m
    rear = -x / envelope.wheelbase_m
    shares = (
        share * (0.5 + abs(y) / track)
        for share, track in ((1.0 - rear, envelope.track_front_m), (rear, envelope.track_rear_m))
    )
    load_n = envelope.mass_kg * GRAVITY * max(shares)
    return load_n / (envelope.tyre_radius_m * envelope.tyre_width_m) / 1000.0
