"""One run as four wheels meet it: the paths of the wheel centres of both sides, in either direction, and the bends."""

import math

from pipeline.kernels.compiled import bare, inner
from pipeline.kernels.four_records import GRAVITY, Chassis, Track, TyreLines
from pipeline.kernels.tyre import tyre_envelope

__all__ = ["MOST_SIDEWAYS", "sideways_at", "track_of", "turned"]

MOST_SIDEWAYS = 0.25
"""Sideways acceleration, in g, at which a driver slows down; common practice, no source."""
AT_END_M = 1e-6
"""A pose this far beyond the end of a run's own part still counts: binary chainages leave no crack at a node."""


@inner
def track_of(lines: TyreLines, chassis: Chassis, run: int) -> Track:
    """Take one run in its own direction."""
    a, b = lines.offsets[run], lines.offsets[run + 1]
    left = tyre_envelope(lines.left[a:b], lines.step, chassis.radius)
    right = tyre_envelope(lines.right[a:b], lines.step, chassis.radius)
    low, high = lines.own_from[run] - AT_END_M, lines.own_to[run] + AT_END_M
    return Track(left, right, 0.5 * (left + right), lines.bend[a:b], lines.step, low, high)


@inner
def turned(track: Track) -> Track:
    """Take a run in the other direction."""
    end = (track.middle.size - 1) * track.step
    return Track(
        track.right[::-1].copy(),
        track.left[::-1].copy(),
        track.middle[::-1].copy(),
        -track.bend[::-1],
        track.step,
        end - track.high,
        end - track.low,
    )


@bare
def sideways_at(track: Track, place: float, speed: float) -> float:
    """Sideways acceleration, in g, + to the right, at which a bend is driven."""
    bend = track.bend[math.floor(place / track.step + 0.5)]
    return float(min(max(speed * speed * bend / GRAVITY, -MOST_SIDEWAYS), MOST_SIDEWAYS))
