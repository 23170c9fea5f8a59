"""A set-up in plan: wheels, body, overhangs, mirrors and roof as boxes, and the lock of its steering.

Body frame of :mod:`pipeline.kernels.plan_records`: x forward from the middle of the rear axle, y to the left, z up.
"""

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from pipeline.kernels.plan_records import WHEELS, Boxes
from pipeline.terms import Part
from pipeline.vehicle.envelope_model import Envelope
from pipeline.vehicle.turning import offtracking, rear_radius, tail_swing

__all__ = ["FullLock", "boxes_of", "full_lock", "least_radius", "steering_lock"]

MIRROR_LENGTH_M = 0.24
"""How long a mirror is along the vehicle. Assumption, no source."""
LEAST_RADIUS_M = 0.3
"""The rear axle turns about no point nearer to its middle than this, whatever the turning circle says."""

_Box = tuple[float, float, float, float, float, float, Part]
"""Rear, front, right, left, low, high, part."""


class FullLock(NamedTuple):
    """What a set-up sweeps on its turning circle, mirrors and fitted things included, m."""

    inner_m: float
    """Radius of the nearest point to the centre of the turn."""
    wall_m: float
    """Radius of the farthest point."""
    offtracking_m: float
    """How far the middle of the rear axle runs inside that of the front one."""
    tail_swing_m: float
    """How far the outer rear corner of the body swings out of the line of the rear axle."""

    @property
    def swept_m(self) -> float:
        """Width that it sweeps."""
        return self.wall_m - self.inner_m


def full_lock(envelope: Envelope) -> FullLock:
    """Work out what a set-up sweeps in a steady turn at full lock.

    Parameters
    ----------
    envelope
        The set-up.

    Notes
    -----
    The centre of the turn lies beside the middle of the rear axle, :func:`least_radius` away, to the left here. The
    farthest point is a corner of a box; the nearest may lie on a side, beside the rear axle.
    """
    radius, boxes = least_radius(envelope), boxes_of(envelope)
    body = slice(WHEELS, None)
    rear, front, right, left = (side[body] for side in (boxes.rear, boxes.front, boxes.right, boxes.left))
    farthest = np.hypot(np.maximum(-rear, front), radius - right)
    nearest = np.hypot(np.clip(0.0, rear, front), np.maximum(radius - left, 0.0))
    behind = envelope.length_rear_m if envelope.body_rear_m is None else envelope.body_rear_m
    return FullLock(
        inner_m=float(nearest.min()),
        wall_m=float(farthest.max()),
        offtracking_m=float(offtracking(np.hypot(radius, envelope.wheelbase_m), envelope.wheelbase_m)),
        tail_swing_m=float(tail_swing(radius + envelope.width_m / 2.0, behind)),
    )


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
