"""Where a line has to be searched: stretches of track round the places that are tight on the middle line."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.plan_records import Solids, Tracks

__all__ = ["Windows", "finer", "finer_poses", "own_points", "points_of", "slices_of", "windows_of"]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]
Flags = NDArray[np.bool_]
Poses = tuple[Float64, Float64, Float64, Float64]
"""x and y of the middle of the rear axle, heading, steering angle."""

BESIDE_M = 12.0
"""Solids this far before and behind a window along the track are looked at: the longest vehicle, and room to see."""
STAGES = 3
"""Least number of stages after the first: fewer make no line."""


@dataclass(frozen=True, slots=True)
class Windows:
    """Stretches of tracks; arrays of shape (windows,), sorted by track, then place."""

    track: Int64
    first: Int64
    """First point, counted over all tracks."""
    last: Int64
    """Last point, inclusive; a whole number of stages after the first."""
    tied: Flags
    """Whether the line there joins the middle line before and behind it, (windows, 2)."""

    def where(self, take: Flags | Int64) -> "Windows":
        """Take some of the windows."""
        return Windows(self.track[take], self.first[take], self.last[take], self.tied[take])

    def any_of(self, flags: Flags) -> Flags:
        """Tell in which windows one of the points is flagged."""
        until = np.concatenate(([0], np.cumsum(flags)))
        return np.asarray(until[self.last + 1] > until[self.first])


def own_points(tracks: Tracks, wheelbase_m: float) -> Flags:
    """Tell which points are the rear axle's in poses that count for the track's own segment, shape (points,).

    A pose counts for the segment under the middle of the wheelbase, with half of the distance of the points to spare:
    so every pose of a drive counts for one segment, those over a node for both. Every segment has at least one.
    """
    counts = np.diff(tracks.offsets)
    track = np.repeat(np.arange(counts.size), counts)
    place = tracks.step * (np.arange(track.size) - tracks.offsets[track]) + wheelbase_m / 2.0
    slack = tracks.step / 2.0
    return np.asarray((place >= tracks.own_from[track] - slack) & (place <= tracks.own_to[track] + slack))


def windows_of(tracks: Tracks, tight: Flags, reach_m: float, stride: int) -> Windows:
    """Lay windows round tight points, and join those that meet.

    Parameters
    ----------
    tracks
        The tracks.
    tight
        Points that are tight, shape (points,).
    reach_m
        How far a window goes on before and behind them, m.
    stride
        Points from stage to stage.

    Returns
    -------
    Windows
        Those with at least three stages after the first; shorter tracks leave no choice.
    """
    point = np.flatnonzero(tight)
    track = np.searchsorted(tracks.offsets, point, side="right") - 1
    begin, end = tracks.offsets[track], tracks.offsets[track + 1] - 1
    reach = int(np.ceil(reach_m / tracks.step))
    low, high = np.maximum(point - reach, begin), np.minimum(point + reach, end)
    new = np.ones(point.size, dtype=np.bool_)
    new[1:] = (track[1:] != track[:-1]) | (low[1:] > high[:-1] + stride)
    start = np.flatnonzero(new)
    stop = np.append(start[1:], point.size) - 1 if point.size else start
    first, last, track = low[start], high[stop], track[start]
    begin, end = begin[start], end[start]
    last = np.minimum(last + (first - last) % stride, end)
    first = np.maximum(first - (first - last) % stride, begin)
    last -= (last - first) % stride
    tied = np.column_stack([first > begin, last < end])
    whole = Windows(track, first, last, tied)
    return whole.where(last - first >= STAGES * stride)


def points_of(windows: Windows) -> tuple[Int64, Int64]:
    """Give the points of all windows one after another, and where each window's begin, length windows + 1."""
    counts = windows.last - windows.first + 1
    offsets = np.concatenate(([0], np.cumsum(counts))).astype(np.int64)
    return np.arange(offsets[-1]) - np.repeat(offsets[:-1] - windows.first, counts), offsets


def slices_of(windows: Windows, tracks: Tracks, solids: Solids) -> tuple[Tracks, Solids, Int64]:
    """Cut windows out of tracks, with the solids near them.

    Returns
    -------
    tracks, solids, source
        One track a window; where each of the solids stands among *solids*.
    """
    point, offsets = points_of(windows)
    names = ("x", "y", "heading", "roll", "wheel", "body", "aside", "hold")
    length = tracks.step * (windows.last - windows.first).astype(np.float64)
    cut = tracks._replace(
        offsets=offsets,
        own_from=np.zeros(windows.track.size),
        own_to=length,
        **{name: getattr(tracks, name)[point] for name in names},
    )
    source, owned = _solids_near(windows, tracks, solids)
    columns = {name: getattr(solids, name)[source] for name in solids._fields if name != "offsets"}
    return cut, Solids(offsets=owned, **columns), source


def finer(tracks: Tracks, times: int) -> Tracks:
    """Lay points between those of tracks, *times* as many; between two of them the way is an arc."""
    first, t = _between(tracks.offsets, times)
    counts = times * (np.diff(tracks.offsets) - 1) + 1
    near = first + (t >= 0.5)
    x, y, heading = _arcs((tracks.x, tracks.y, tracks.heading), (first, t))
    names = ("roll", "wheel", "body", "aside", "hold")
    return tracks._replace(
        offsets=np.concatenate(([0], np.cumsum(counts))).astype(np.int64),
        x=x,
        y=y,
        heading=heading,
        step=tracks.step / times,
        **{name: getattr(tracks, name)[near] for name in names},
    )


def finer_poses(poses: Poses, offsets: Int64, times: int) -> Poses:
    """Lay poses between those along tracks, *times* as many; the wheel is held from each pose to the next."""
    first, t = _between(offsets, times)
    return (*_arcs(poses[:3], (first, t)), poses[3][first])


def _arcs(points: tuple[Float64, Float64, Float64], place: tuple[Int64, Float64]) -> tuple[Float64, Float64, Float64]:
    """Give x, y and heading of places on arcs between points: number of the point before, share of the way on."""
    (x, y, heading), (first, t) = points, place
    after = np.minimum(first + 1, x.size - 1)
    dx, dy, turn = x[after] - x[first], y[after] - y[first], heading[after] - heading[first]
    bulge = 0.5 * t * (1.0 - t) * turn
    return x[first] + t * dx + bulge * dy, y[first] + t * dy - bulge * dx, heading[first] + t * turn


def _between(offsets: Int64, times: int) -> tuple[Int64, Float64]:
    """Give the point before each of the finer points of tracks, and the share of the way to the next."""
    counts = times * (np.diff(offsets) - 1) + 1
    nth = np.arange(counts.sum()) - np.repeat(np.cumsum(counts) - counts, counts)
    return np.repeat(offsets[:-1], counts) + nth // times, (nth % times) / times


def _solids_near(windows: Windows, tracks: Tracks, solids: Solids) -> tuple[Int64, Int64]:
    """Find the solids of the track of each window that stand along it: their numbers, and where each window's begin."""
    low = tracks.step * (windows.first - tracks.offsets[windows.track]) - BESIDE_M
    high = tracks.step * (windows.last - tracks.offsets[windows.track]) + BESIDE_M
    apart = float(np.abs(solids.at).max(initial=0.0) + np.abs(high).max(initial=0.0)) + BESIDE_M + 1.0
    owner = np.repeat(np.arange(solids.offsets.size - 1), np.diff(solids.offsets))
    key = 2.0 * apart * owner + solids.at
    begin = np.searchsorted(key, 2.0 * apart * windows.track + low, side="left")
    counts = np.searchsorted(key, 2.0 * apart * windows.track + high, side="right") - begin
    owned = np.concatenate(([0], np.cumsum(counts))).astype(np.int64)
    return np.arange(owned[-1]) - np.repeat(owned[:-1] - begin, counts), owned
