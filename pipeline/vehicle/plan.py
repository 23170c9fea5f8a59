"""A set-up in plan: wheels, body, overhangs, mirrors and roof as boxes, and the lock of its steering.

Body frame of :mod:`pipeline.kernels.plan_records`: x forward from the middle of the rear axle, y to the left, z up.
"""

from collections.abc import Iterator

import numpy as np

from pipeline.kernels.plan_records import Boxes
from pipeline.terms import Part
from pipeline.vehicle.envelope_model import Envelope
from pipeline.vehicle.turning import rear_radius

__all__ = ["MIRROR_LENGTH_M", "boxes_of", "least_radius", "steering_lock"]

MIRROR_LENGTH_M = 0.24
"""How long a mirror is along the vehicle. Assumption, no source."""
LEAST_RADIUS_M = 0.3
"""The rear axle turns about no point nearer to its middle than this, whatever the turning circle says."""

_Box = tuple[float, float, float, float, float, float, Part]
"""Rear, front, right, left, low, high, part."""


def least_radius(envelope: Envelope) -> float:
    """Radius of the middle of the rear axle at full lock, m: √(R² − L²) − track/2.

    R is the turning radius, which the middle of the outer front tyre runs on, L the wheelbase.
    """
    outer = float(rear_radius(envelope.turning_radius_m, envelope.wheelbase_m))
    return max(outer - envelope.track_front_m / 2.0, LEAST_RADIUS_M)


def steering_lock(envelope: Envelope) -> float:
    """Largest steering angle of the single-track model, rad: tan δ = wheelbase ÷ :func:`least_radius`."""
    return float(np.arctan(envelope.wheelbase_m / least_radius(envelope)))


def boxes_of(envelope: Envelope) -> Boxes:
    """Lay a set-up out in boxes: the wheels first, in the order of ``terms.Wheel``.

    Parameters
    ----------
    envelope
        The set-up.

    Returns
    -------
    Boxes
        Wheels from the ground to twice the loaded radius; the body at its full width from the lowest point of the
        underbody up to where its sides lean in; the roof above it; overhangs; the left and the right mirror. Without
        mirrors wider than the body there are no boxes for them, and without a roof of its own the body goes up to the
        full height.
    """
    every = (*_wheels(envelope), *_body(envelope), *_overhangs(envelope), *_mirrors(envelope))
    columns = [np.array(column, dtype=np.float64) for column in zip(*(box[:-1] for box in every), strict=True)]
    rear, front, right, left, low, high = columns
    part = np.array([box[-1] for box in every], dtype=np.int64)
    return Boxes(rear, front, right, left, low, high, part, envelope.wheelbase_m, steering_lock(envelope))


def _wheels(envelope: Envelope) -> Iterator[_Box]:
    radius, half = envelope.tyre_radius_m, envelope.tyre_width_m / 2.0
    for x, track in ((envelope.wheelbase_m, envelope.track_front_m), (0.0, envelope.track_rear_m)):
        for y in (track / 2.0, -track / 2.0):
            yield (x - radius, x + radius, y - half, y + half, 0.0, 2.0 * radius, Part.WHEEL)


def _body(envelope: Envelope) -> Iterator[_Box]:
    """Give the body, and the roof where it has one of its own."""
    half = envelope.width_m / 2.0
    ahead = envelope.length_front_m if envelope.body_front_m is None else envelope.body_front_m
    behind = envelope.length_rear_m if envelope.body_rear_m is None else envelope.body_rear_m
    rear, front = -behind, envelope.wheelbase_m + ahead
    low = float(envelope.underbody[:, 1].min())
    if envelope.roof_m is None:
        yield (rear, front, -half, half, low, envelope.height_m, Part.SILL)
        return
    roof_rear, roof_front, width, line = envelope.roof_m
    yield (rear, front, -half, half, low, line, Part.SILL)
    base = envelope.wheelbase_m
    yield (roof_rear + base, roof_front + base, -width / 2.0, width / 2.0, line, envelope.height_m, Part.ROOF)


def _overhangs(envelope: Envelope) -> Iterator[_Box]:
    base = envelope.wheelbase_m
    for rear, front, width, low, high in envelope.overhang_m:
        yield (rear + base, front + base, -width / 2.0, width / 2.0, low, high, Part.SILL)


def _mirrors(envelope: Envelope) -> Iterator[_Box]:
    """Give both mirrors, from the side of the body outwards."""
    inner, outer = envelope.width_m / 2.0, envelope.width_mirrors_m / 2.0
    if outer <= inner:
        return
    x, low, high = envelope.mirror_m
    middle, half = x + envelope.wheelbase_m, MIRROR_LENGTH_M / 2.0
    for right, left in ((inner, outer), (-outer, -inner)):
        yield (middle - half, middle + half, right, left, low, high, Part.MIRROR)
