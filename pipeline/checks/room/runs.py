"""Where the line of every segment is known, and how it goes on beyond both ends.

The runs of the profiles say which neighbours go on straightest. Where just two ends meet, the line simply goes on.
At a junction it goes on into the straightest neighbour where that bends off little; where it bends off more, nobody
knows which way a driver takes, and the mouth of a junction is wider than its trails: the way goes straight on there,
as it does beyond a dead end, and where two ends meet in a turn that no vehicle drives in one go.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.scene import Scene
from pipeline.terrain.model import Profiles, Stations

__all__ = ["Known", "Points", "known_lines", "sample"]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]
Flags = NDArray[np.bool_]

CHORD_M = 2.0
"""The direction of a line at its end is that of its chord over this length: one vertex does not turn it."""
STRAIGHT_ON_DEG = 20.0
"""At a junction a way follows a neighbour that turns off by no more than this; assumption, no source."""
SHARPEST_TURN_DEG = 135.0
"""Where two ends meet, a way follows no neighbour that turns back more sharply: the driver shunts, as for profiles."""


@dataclass(frozen=True, slots=True)
class Known:
    """The lines of the runs of all segments; arrays of shape (segments,) unless said otherwise."""

    stations: Stations
    profiles: Profiles
    length_m: Float64
    from_m: Float64
    """Lowest run coordinate that is followed; 0 or below."""
    to_m: Float64
    """Highest one; the length or above."""
    keys: Float64
    """Upper ends of all pieces of these runs, rising from run to run: what places are looked up in."""
    apart: float
    """By how much the keys of one run lie above those of the one before."""
    origin: Float64
    """Place near which each run lies, (segments, 2): sums of squares need small coordinates."""


@dataclass(frozen=True, slots=True)
class Points:
    """Points on runs; arrays of shape (points,)."""

    x: Float64
    """From the origin of the run, and so for y."""
    y: Float64
    row: Int64
    """Segment under the point; −1 beyond what is known."""
    cross: Float64
    """Slope across, + rises to the right of the run; NaN where it is not known."""


def known_lines(scene: Scene) -> Known:
    """Find how far the run of every segment is followed.

    Parameters
    ----------
    scene
        The site.
    """
    stations, profiles = scene.site.terrain.stations, scene.site.terrain.profiles
    length = stations.chainage_m[stations.offsets[1:] - 1].astype(np.float64)
    pieces = int(profiles.piece_offsets[length.size])
    run = np.repeat(np.arange(length.size), np.diff(profiles.piece_offsets[: length.size + 1]))
    apart = float(length.max(initial=0.0)) + 1e3
    first = stations.offsets[:-1]
    known = Known(
        stations=stations,
        profiles=profiles,
        length_m=length,
        from_m=np.minimum(profiles.piece_from_m[profiles.piece_offsets[: length.size]], 0.0),
        to_m=np.maximum(profiles.piece_to_m[profiles.piece_offsets[1 : length.size + 1] - 1], length),
        keys=profiles.piece_to_m[:pieces] + apart * run,
        apart=apart,
        origin=np.column_stack([stations.x[first], stations.y[first]]),
    )
    return _cut(known, run, scene)


def _cut(known: Known, run: Int64, scene: Scene) -> Known:
    """Stop where a junction turns off, or two ends that meet turn back, by more than a way follows."""
    profiles = known.profiles
    left = np.flatnonzero(run[1:] == run[:-1])
    border = profiles.piece_to_m[left]
    before = _chord(known, left, border - np.minimum(CHORD_M, border - profiles.piece_from_m[left]), border)
    after_to = np.minimum(profiles.piece_from_m[left + 1] + CHORD_M, profiles.piece_to_m[left + 1])
    after = _chord(known, left + 1, profiles.piece_from_m[left + 1], after_to)
    turn = np.abs(np.angle(after * np.conj(before)))
    ends = scene.site.network.segments[["node_a", "node_b"]].to_numpy(np.int64)
    _, place, degree = np.unique(ends, return_inverse=True, return_counts=True)
    leaves = np.where(profiles.piece_sign[left] > 0, 1, 0)
    junction = degree[place.reshape(ends.shape)[profiles.piece_segment[left], leaves]] > 2
    stop = turn > np.radians(np.where(junction, STRAIGHT_ON_DEG, SHARPEST_TURN_DEG))
    of, at = run[left][stop], border[stop]
    half = known.length_m[of] / 2.0
    from_m, to_m = known.from_m.copy(), known.to_m.copy()
    np.maximum.at(from_m, of[at < half], at[at < half])
    np.minimum.at(to_m, of[at > half], at[at > half])
    return Known(known.stations, profiles, known.length_m, from_m, to_m, known.keys, known.apart, known.origin)


def _chord(known: Known, piece: Int64, start: Float64, end: Float64) -> NDArray[np.complex128]:
    """Give the chord of pieces between run coordinates, as complex numbers."""
    one, other = _on_pieces(known, piece, start)[0], _on_pieces(known, piece, end)[0]
    x, y = known.stations.x, known.stations.y
    return _between(x, *other) - _between(x, *one) + 1j * (_between(y, *other) - _between(y, *one))


def _between(values: NDArray[np.floating], i: Int64, t: Float64) -> Float64:
    """Interpolate between station *i* and the next."""
    low = values[i].astype(np.float64)
    return np.asarray(low + t * (values[i + 1] - low))


def _on_pieces(known: Known, piece: Int64, at: Float64) -> tuple[tuple[Int64, Float64], Int64]:
    """Find run coordinates on pieces: station before and share of the way to the next, and the segment."""
    profiles, offsets = known.profiles, known.stations.offsets
    segment = profiles.piece_segment[piece]
    chainage = profiles.piece_sign[piece] * (at - profiles.piece_zero_m[piece])
    steps = np.maximum(offsets[segment + 1] - offsets[segment] - 1, 1)
    nth = np.clip(chainage / np.maximum(known.length_m[segment], 1e-9), 0.0, 1.0) * steps
    whole = np.minimum(nth.astype(np.int64), steps - 1)
    return (offsets[segment] + whole, nth - whole), segment


def sample(known: Known, run: Int64, at: Float64) -> Points:
    """Find points on runs; beyond what is known they lie straight on.

    Parameters
    ----------
    known
        The runs.
    run, at
        Run and run coordinate (m) of each point.
    """
    held = np.clip(at, known.from_m[run], known.to_m[run])
    x, y, segment, cross = _found(known, run, held)
    beyond = at - held
    out = np.flatnonzero(beyond != 0.0)
    ahead = _outwards(known)[(beyond[out] > 0.0).astype(np.int64), run[out]]
    x[out] += beyond[out] * ahead.real
    y[out] += beyond[out] * ahead.imag
    segment[out] = -1
    cross[out] = np.nan
    return Points(x, y, segment, cross)


def _found(known: Known, run: Int64, at: Float64) -> tuple[Float64, Float64, Int64, Float64]:
    """Find x, y, segment and slope across at run coordinates that are known."""
    last = known.profiles.piece_offsets[run + 1] - 1
    piece = np.minimum(np.searchsorted(known.keys, at + known.apart * run, side="left"), last)
    piece = np.maximum(piece, known.profiles.piece_offsets[run])
    (i, t), segment = _on_pieces(known, piece, at)
    x = _between(known.stations.x, i, t) - known.origin[run, 0]
    y = _between(known.stations.y, i, t) - known.origin[run, 1]
    cross = known.profiles.piece_sign[piece] * _between(known.stations.cross, i, t)
    return x, y, segment.copy(), cross


def _outwards(known: Known) -> NDArray[np.complex128]:
    """Give unit vectors along the ways where what is known begins and ends, shape (2, segments)."""
    run = np.arange(known.length_m.size)
    begin = _found(known, run, known.from_m)
    inner = _found(known, run, np.minimum(known.from_m + CHORD_M, known.to_m))
    outer = _found(known, run, np.maximum(known.to_m - CHORD_M, known.from_m))
    end = _found(known, run, known.to_m)
    chords = np.stack([inner[0] - begin[0] + 1j * (inner[1] - begin[1]), end[0] - outer[0] + 1j * (end[1] - outer[1])])
    size = np.abs(chords)
    return np.where(size > 0.0, chords / np.maximum(size, 1e-12), 1.0)
