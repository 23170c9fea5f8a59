"""Across the trail: by how much a driver leaves the middle to straddle a thing, tread on it or pass beside it.

Plan view of one thing at a time: two that lie side by side are judged one by one, and may ask for different lines.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.limits import Limits
from pipeline.checks.obstacles import Things, across
from pipeline.terms import ObstacleKind
from pipeline.vehicle.envelope_model import Envelope

__all__ = ["Lines", "lines_past"]

Float64 = NDArray[np.float64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Lines:
    """Lines past things; arrays of shape (things,), shifts in m from the middle, + right of the digitised direction."""

    straddle: Flags
    """It fits between the inner edges of the tyres, half of the side margin to each side."""
    straddle_m: Float64
    """Shift for that."""
    between_m: Float64
    """Room that is left between the tyres then, both sides together, beyond the margin."""
    tread: Flags
    """A wheel can be put on it."""
    tread_m: Float64
    """Shift for that: the middle of the tyre over it, as far as the trail allows."""
    left: Flags
    """The left wheels meet it then."""
    right: Flags
    beside: Flags
    """There is room to pass it."""
    beside_m: Float64
    """Shift for that, to the wider side."""
    free_m: Float64
    """Room that is left there beyond mirrors and margin; negative where it lacks, NaN where it is not known."""


def lines_past(things: Things, envelope: Envelope, limits: Limits) -> Lines:
    """Find the lines past things.

    Parameters
    ----------
    things
        A missing width counts as the whole trail, a missing offset as on the line; neither can be passed beside.
    envelope
        Tracks, tyres and mirrors.
    limits
        Side margin. The line is shifted by at most what the tagged width leaves beyond mirrors and margin; where no
        width is tagged, by half of the margin, which is what any driver may be off.
    """
    low, high = across(things)
    aside = limits.side_margin_m / 2.0
    spare = (things.room_m - envelope.width_mirrors_m - limits.side_margin_m) / 2.0
    most = np.where(np.isnan(things.room_m), aside, np.maximum(spare, 0.0))
    inner = (min(envelope.track_front_m, envelope.track_rear_m) - envelope.tyre_width_m) / 2.0
    nearest = _nearest(high - (inner - aside), low + (inner - aside))
    between = 2.0 * (inner - aside) - (high - low)
    rut = things.kind == ObstacleKind.RUT.value
    # A rut holds the wheels where it is. One that lies in the path of neither is a pair, described by its middle.
    tread, shift, left, right = _trodden(things, envelope, np.where(rut, 0.0, most), aside)
    beside_m, free = _beside(things, envelope, limits)
    return Lines(
        straddle=~rut & (between >= 0.0) & (np.abs(nearest) <= most),
        straddle_m=nearest,
        between_m=between,
        tread=rut | tread,
        tread_m=shift,
        left=left | (rut & ~tread),
        right=right | (rut & ~tread),
        beside=free >= 0.0,
        beside_m=beside_m,
        free_m=free,
    )


def _nearest(low: Float64, high: Float64) -> Float64:
    """Find the place from *low* to *high* that is nearest to 0; of an empty range its middle."""
    swapped = low > high
    with np.errstate(invalid="ignore"):
        middle = (low + high) / 2.0
    return np.where(swapped, np.nan_to_num(middle, nan=0.0), np.clip(0.0, low, np.maximum(low, high)))


def _trodden(things: Things, envelope: Envelope, most: Float64, aside: float) -> tuple[Flags, Float64, Flags, Flags]:
    """Find the smallest shift that brings the middle of a tyre over each thing, and the wheels that meet it there.

    What a driver who is off by *aside* may meet, counts as met.
    """
    low, high = across(things)
    track = (envelope.track_front_m + envelope.track_rear_m) / 4.0
    half = envelope.tyre_width_m / 2.0
    to_right, to_left = _nearest(low - track, high - track), _nearest(low + track, high + track)
    wanted = np.where(np.abs(to_right) <= np.abs(to_left), to_right, to_left)
    shift = np.clip(wanted, -most, most)

    def met(middle: Float64, wider: float) -> Flags:
        return np.asarray((low < middle + half + wider) & (high > middle - half - wider))

    left, right = met(shift - track, aside), met(shift + track, aside)
    return left | right, shift, left, right


def _beside(things: Things, envelope: Envelope, limits: Limits) -> tuple[Float64, Float64]:
    """Find the shift that passes each thing on its wider side, and the room left there.

    Ruts are taken to be as far apart as the wheels: beside them means beside the outer one.
    """
    low, high = across(things)
    outer = (max(envelope.track_front_m, envelope.track_rear_m) + envelope.tyre_width_m) / 2.0
    rut = things.kind == ObstacleKind.RUT.value
    low, high = np.where(rut, things.offset_m - outer, low), np.where(rut, things.offset_m + outer, high)
    needed = envelope.width_mirrors_m + limits.side_margin_m
    right, left = things.room_m / 2.0 - high, things.room_m / 2.0 + low
    shift = np.where(right >= left, high + needed / 2.0, low - needed / 2.0)
    free = np.where(np.isnan(things.offset_m), np.nan, np.maximum(right, left) - needed)
    return np.where(np.isfinite(free), shift, 0.0), np.where(np.isinf(free), np.nan, free)
