"""The ground under the left and right tyres of a set-up that drives along the middle of the line."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.limits import Limits
from pipeline.checks.passing.choice import Choice
from pipeline.checks.passing.laid import tyre_bumps
from pipeline.checks.rolling.run_blocks import cut_bumps, own_samples
from pipeline.kernels.four_records import TyreLines
from pipeline.kernels.obstacle_bumps import Bumps, lay_bumps
from pipeline.kernels.wheel_lines import Ribbon, under_tyres
from pipeline.terms import Basis
from pipeline.terrain.model import Profiles, Stations
from pipeline.vehicle.envelope_model import Envelope

__all__ = ["Paths", "WheelLines", "bends_of", "lines_of", "paths_of", "tyre_weights", "wheel_lines"]

Float64 = NDArray[np.float64]
Float32 = NDArray[np.float32]
Int64 = NDArray[np.int64]
UInt8 = NDArray[np.uint8]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class WheelLines:
    """Ground under the tyres, one run after another, in the run's own direction."""

    offsets: Int64
    """Run ``r`` owns samples ``offsets[r]:offsets[r + 1]``."""
    left: Float64
    """Height under the left tyres, m; NaN where any ground under the patch is missing."""
    right: Float64
    basis: UInt8
    """Worst ``terms.Basis`` of the two heights."""
    bend: Float64
    """Signed curvature of the line, 1/m, + to the left; 0 outside the run's own part."""
    start_m: Float64
    """Run coordinate of the first sample of every run."""
    own_from: Float64
    """First place of the run's own part, m from its first sample."""
    own_to: Float64
    step: float

    def tyres(self) -> TyreLines:
        """Give the record that the kernels of four wheels take."""
        return TyreLines(
            offsets=self.offsets,
            left=self.left,
            right=self.right,
            basis=self.basis,
            bend=self.bend,
            own_from=self.own_from,
            own_to=self.own_to,
            step=self.step,
        )


@dataclass(frozen=True, slots=True)
class Paths:
    """What the wheel lines of a stretch of runs are worked out from: little to send, heights in single precision."""

    offsets: Int64
    start_m: Float64
    own_from: Float64
    own_to: Float64
    step: float
    z: Float32
    basis: UInt8
    bend: Float32
    rows: Int64
    every: int
    rise: tuple[Float64, Float64]
    """Mean rise over the width of the left and of the right tyres, one a row."""
    things: tuple[Bumps, Bumps]
    """Things under the left and under the right tyres."""
    patch_m: float
    """Length of a tyre's patch."""

    def cut(self, low: int, high: int) -> "Paths":
        """Take the runs from *low* up to *high*."""
        samples, rows = (slice(at[low], at[high]) for at in (self.offsets, self.rows))
        runs = slice(low, high)
        return Paths(
            offsets=self.offsets[low : high + 1] - self.offsets[low],
            start_m=self.start_m[runs],
            own_from=self.own_from[runs],
            own_to=self.own_to[runs],
            step=self.step,
            z=self.z[samples],
            basis=self.basis[samples],
            bend=self.bend[samples],
            rows=self.rows[low : high + 1] - self.rows[low],
            every=self.every,
            rise=(self.rise[0][rows], self.rise[1][rows]),
            things=(cut_bumps(self.things[0], low, high), cut_bumps(self.things[1], low, high)),
            patch_m=self.patch_m,
        )


def wheel_lines(
    profiles: Profiles, stations: Stations, choice: Choice, envelope: Envelope, limits: Limits
) -> WheelLines:
    """Work out the ground under the tyres of one set-up.

    Parameters
    ----------
    profiles
        The runs, and the ground beside them.
    stations
        Where the lines bend.
    choice
        The way of the set-up past the things that lie in its way.
    envelope
        The set-up: its mean track, for the rear wheels follow the front ones.
    limits
        Length of a tyre's patch, how far a driver is off the middle.

    Returns
    -------
    WheelLines
        Heights on the line and the rise beside it, averaged over the patch of a tyre (its width, and
        ``footprint_m`` along); obstacles are laid on that under the wheels whose path meets them, at their full size.
    """
    things = tyre_bumps(choice, profiles, limits)
    return lines_of(paths_of(profiles, bends_of(profiles, stations), things, envelope, limits))


def paths_of(
    profiles: Profiles, bend: Float32, things: tuple[Bumps, Bumps], envelope: Envelope, limits: Limits
) -> Paths:
    """Gather what the wheel lines of all runs are worked out from.

    Parameters
    ----------
    profiles
        The runs, and the ground beside them.
    bend
        That of :func:`bends_of`.
    things
        Those under the left and under the right tyres.
    envelope, limits
        As for :func:`wheel_lines`.
    """
    strip = profiles.strip
    half = (envelope.track_front_m + envelope.track_rear_m) / 4.0
    left, right = (
        _rise(strip.rise_m, tyre_weights(strip.across_m, middle, envelope.tyre_width_m)) for middle in (-half, half)
    )
    return Paths(
        offsets=profiles.offsets,
        start_m=profiles.start_m,
        own_from=profiles.own_from_m - profiles.start_m,
        own_to=profiles.own_to_m - profiles.start_m,
        step=float(profiles.step_m),
        z=profiles.z,
        basis=profiles.basis,
        bend=bend,
        rows=strip.offsets,
        every=strip.every,
        rise=(left, right),
        things=things,
        patch_m=limits.footprint_m,
    )


def lines_of(paths: Paths) -> WheelLines:
    """Work out the ground under the tyres of a stretch of runs."""
    ribbon = Ribbon(
        offsets=paths.offsets,
        z=paths.z.astype(np.float64),
        basis=np.ascontiguousarray(paths.basis),
        rows=paths.rows,
        every=paths.every,
        left=np.ascontiguousarray(paths.rise[0]),
        right=np.ascontiguousarray(paths.rise[1]),
        beside=int(Basis.DEM),
    )
    left, right, basis = under_tyres(ribbon, 0.5 * paths.patch_m / paths.step)
    start = np.ascontiguousarray(paths.start_m)
    left, under_left = lay_bumps((left, basis), paths.offsets, start, paths.step, paths.things[0])
    right, under_right = lay_bumps((right, basis), paths.offsets, start, paths.step, paths.things[1])
    return WheelLines(
        offsets=paths.offsets,
        left=left,
        right=right,
        basis=np.minimum(under_left, under_right),
        bend=paths.bend.astype(np.float64),
        start_m=start,
        own_from=np.ascontiguousarray(paths.own_from),
        own_to=np.ascontiguousarray(paths.own_to),
        step=paths.step,
    )


def tyre_weights(across_m: Float64, middle_m: float, width_m: float) -> Float64:
    """Weights of heights across the line whose sum is the mean over the width of a tyre.

    Parameters
    ----------
    across_m
        Places of the heights, m, ascending; straight lines between them, and on at the last slope beyond.
    middle_m, width_m
        Where the tyre runs and how wide it is, m.
    """
    low, high = middle_m - width_m / 2.0, middle_m + width_m / 2.0
    inside = across_m[(across_m > low) & (across_m < high)]
    knots = np.concatenate(([low], inside, [high]))
    piece = np.clip(np.searchsorted(across_m, knots, side="right") - 1, 0, across_m.size - 2)
    share = (knots - across_m[piece]) / (across_m[piece + 1] - across_m[piece])
    hats = np.zeros((knots.size, across_m.size))
    each = np.arange(knots.size)
    hats[each, piece], hats[each, piece + 1] = 1.0 - share, share
    pieces = np.diff(knots)[:, None] * (hats[:-1] + hats[1:]) / 2.0
    return np.asarray(pieces.sum(axis=0) / width_m)


def _rise(rise_m: Float32, weights: Float64) -> Float64:
    """Weigh the rises of every row; those without weight may be missing."""
    counts = np.flatnonzero(weights)
    return np.asarray(rise_m[:, counts].astype(np.float64) @ weights[counts])


def bends_of(profiles: Profiles, stations: Stations) -> Float32:
    """Signed curvature of the line at every sample of all runs, 1/m, + to the left; 0 outside the run's own part.

    Straight between the stations of the main segment, whose steps are all equal.
    """
    run, at, own = own_samples(profiles, profiles.segment.size)
    segment = profiles.segment[run]
    first, pieces = stations.offsets[segment], np.diff(stations.offsets)[segment] - 1
    length = stations.chainage_m[stations.offsets[1:] - 1]
    along = np.clip(at / length[segment], 0.0, 1.0) * pieces
    k = np.minimum(along.astype(np.int64), pieces - 1)
    share = along - k
    bend = stations.curvature[first + k] * (1.0 - share) + stations.curvature[first + k + 1] * share
    return np.where(own, bend, 0.0).astype(np.float32)
