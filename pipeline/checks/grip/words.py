"""What the sentences of slide, climb and descent say besides their numbers: what decides, and the typical grip."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.grip.formulas import left_lengthwise, slides_first
from pipeline.checks.grip.speed import bank_speed
from pipeline.ground.model import Ground
from pipeline.kernels.four_track import MOST_SIDEWAYS
from pipeline.units import GRAVITY, KMH
from pipeline.vehicle.envelope_model import Envelope

__all__ = ["Bend", "climb_words", "descent_words", "slide_words"]

Float64 = NDArray[np.float64]
Texts = NDArray[np.object_]
Flags = NDArray[np.bool_]

TOLD = 0.01
"""Smallest part of an adhesion that is worth a word."""
_SLACK = 1e-6


@dataclass(frozen=True, slots=True)
class Bend:
    """The bends at the stations where the tyres are asked most; arrays of shape (segments, 2)."""

    adds: Float64
    """Adhesion that the bend asks on top."""
    curvature: Float64
    """1/m, + to the left, in the with direction."""
    cross: Float64
    """Side slope, + rises to the right, in the with direction."""
    along: Float64
    """Lengthwise part of the weight ÷ load."""
    speed: float
    """Speed of the driver on the straight, m/s."""


def climb_words(demand: Float64, limit: Float64, typical: Float64, geared: Flags) -> Texts:
    """Say which of grip and the lowest gear limits each climb, and what it is at typical grip.

    Parameters
    ----------
    demand, limit, typical
        Degrees, shape (segments, 2); nothing is said where nothing is asked or no limit is left.
    geared
        The torque of the lowest gear gives out before the grip.
    """
    by = np.where(geared, "limited by the lowest gear", "limited by grip")
    return _joined((demand > 0.0) & (limit > 0.0), by, _typical(limit, typical))


def descent_words(demand: Float64, limit: Float64, typical: Float64, engine: Float64, speed: float) -> Texts:
    """Say what holds each descent, and what the limit is at typical grip.

    Parameters
    ----------
    demand, limit, typical
        Degrees, shape (segments, 2).
    engine
        What engine braking alone holds, degrees.
    speed
        Slowest speed that it holds, m/s.
    """
    helped = [f"the brakes must hold it: engine braking alone holds {_down(one)}°" for one in engine.ravel().tolist()]
    holds = np.select(
        [demand >= limit, demand <= engine],
        ["cannot stop at all at low grip", f"engine braking holds it at {speed / KMH:.1f} km/h"],
        default=np.array(helped, dtype=object).reshape(demand.shape),
    )
    return _joined((demand > 0.0) & (limit > 0.0), holds, _typical(limit, typical))


def slide_words(beyond: Float64, bend: Bend, ground: Ground, envelope: Envelope) -> Texts:
    """Say what asks more of the tyres than standing does, and the typical grip.

    Parameters
    ----------
    beyond
        Adhesion asked beyond that of standing, shape (segments, 2).
    bend
        The bends there.
    ground
        Adhesion of every segment.
    envelope
        Static tip angle of the set-up.
    """
    why = np.select(
        [bend.adds > TOLD, beyond > TOLD],
        [_in_bend(bend, ground), np.full(beyond.shape, "driving asks for more than standing", dtype=object)],
        default="",
    )
    low, typical = (np.broadcast_to(mu[:, None], beyond.shape) for mu in (ground.mu_low, ground.mu_typical))
    texts = [
        f"limit {math.floor(one * 100.0 + _SLACK) / 100.0:.2f} μ at typical grip" for one in ground.mu_typical.tolist()
    ]
    figure = np.where(typical != low, np.array(texts, dtype=object)[:, None], "")
    tips = np.where(slides_first(typical, math.tan(math.radians(envelope.roll_limit_deg))), "", "tips before it slides")
    return _joined(~np.isnan(beyond), why, figure, tips)


def _in_bend(bend: Bend, ground: Ground) -> Texts:
    """Say at which speed the bend is taken, and at which speed the low grip is gone in it."""
    tight = np.maximum(np.abs(bend.curvature), 1e-9)
    taken = np.minimum(bend.speed, np.sqrt(MOST_SIDEWAYS * GRAVITY / tight)) / KMH
    left = left_lengthwise(ground.mu_low[:, None], bend.along)
    gone = bank_speed(1.0 / tight, bend.cross * np.sign(bend.curvature), left) / KMH
    pairs = zip(taken.ravel().tolist(), gone.ravel().tolist(), strict=True)
    texts = [
        f"in the bend at {at:.0f} km/h, grip gone at {math.floor(end)} km/h" if end < 99.0 else "" for at, end in pairs
    ]
    return np.array(texts, dtype=object).reshape(tight.shape)


def _typical(limit: Float64, typical: Float64) -> Texts:
    """Write the limit at typical grip where it reads differently."""
    pairs = zip(limit.ravel().tolist(), typical.ravel().tolist(), strict=True)
    texts = [f"limit {_down(most)}° at typical grip" if _down(most) != _down(low) else "" for low, most in pairs]
    return np.array(texts, dtype=object).reshape(limit.shape)


def _down(degrees: float) -> str:
    """Write degrees rounded down, as limits are; empty when not known."""
    return "" if math.isnan(degrees) else f"{math.floor(degrees * 10.0 + _SLACK) / 10.0:.1f}"


def _joined(told: Flags, *texts: Texts) -> Texts:
    """Join texts by commas where they are told."""
    rows = zip(
        told.ravel().tolist(), *(np.broadcast_to(text, told.shape).ravel().tolist() for text in texts), strict=True
    )
    joined = [", ".join(filter(None, parts)) if say else "" for say, *parts in rows]
    return np.array(joined, dtype=object).reshape(told.shape)
