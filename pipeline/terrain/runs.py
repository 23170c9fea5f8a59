"""The paths that vehicles are rolled over: each segment continued into its neighbours, and the ways across a node.

The layout is that of ``terrain.model.Profiles``: a run's coordinate is the chainage of its main segment.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.stations import Pieces
from pipeline.terrain.joins import Joins

__all__ = ["Runs", "make_runs", "take_runs"]

Int64 = NDArray[np.int64]
Float64 = NDArray[np.float64]
Flags = NDArray[np.bool_]

MOST_HOPS = 64
"""A path is followed over at most this many nodes; the reach ends it long before."""


@dataclass(frozen=True, slots=True)
class Runs:
    """Runs as pieces of segments, without samples."""

    segment: Int64
    """Row of the main segment of every run."""
    own_from_m: Float64
    own_to_m: Float64
    """Run coordinates between which ground points count for the main segment."""
    pieces: Pieces
    begin: Float64
    """Lowest run coordinate of every piece, m (its highest is ``pieces.end``)."""
    simple: Flags
    """Whether a piece is the main segment's own, or reached over nodes where just two ends meet."""


@dataclass(frozen=True, slots=True)
class _Steps:
    """Pieces beyond an end of a run's main segment, one a row; distances count from that end."""

    run: Int64
    side: Int64
    """+1 beyond the end of the main segment, −1 before its start."""
    entry: Int64
    """End by which the neighbour is entered."""
    near: Float64
    far: Float64
    simple: Flags


def make_runs(joins: Joins, length_m: Float64, reach_m: float) -> Runs:
    """Make the runs of a network.

    Parameters
    ----------
    joins
        How segment ends meet.
    length_m
        Plan length of every segment.
    reach_m
        How far a run goes on beyond its main segment, and how much of the main segment a run across a node takes.

    Returns
    -------
    Runs
        First one run a segment, in order, continued at both ends into the straightest neighbours; then one for every
        other pair of ends at a node, by end.
    """
    whole, across = _whole(joins, length_m, reach_m), _across(joins, length_m, reach_m)
    main, own_from, own_to, ahead, room_ahead, behind, room_behind = (
        np.concatenate(pair) for pair in zip(whole, across, strict=True)
    )
    steps = [
        *_follow(joins, length_m, _Walk(+1, ahead, room_ahead, joins.through[2 * main + 1])),
        *_follow(joins, length_m, _Walk(-1, behind, room_behind, joins.through[2 * main])),
    ]
    return _assemble(main, (own_from, own_to), steps, length_m)


_Starts = tuple[Int64, Float64, Float64, Int64, Float64, Int64, Float64]
"""Main segment, own from and to, then the end entered ahead and how far to go, and the same behind."""


def _whole(joins: Joins, length_m: Float64, reach_m: float) -> _Starts:
    """Begin the runs of whole segments."""
    main = np.arange(length_m.size)
    room = np.full(main.size, reach_m)
    return main, np.zeros(main.size), length_m.copy(), joins.straightest[1::2], room, joins.straightest[::2], room


def _across(joins: Joins, length_m: Float64, reach_m: float) -> _Starts:
    """Begin the runs across nodes: a stretch of the main segment, and on over the other pair of ends.

    A main segment shorter than the reach is continued at its other end, so that a whole vehicle finds room.
    """
    main, at_end = joins.from_end // 2, joins.from_end % 2 == 1
    length = length_m[main]
    stretch = np.minimum(reach_m, length)
    other = joins.straightest[joins.from_end ^ 1]
    room, spare = np.full(main.size, reach_m), reach_m - stretch
    return (
        main,
        np.where(at_end, length - stretch, 0.0),
        np.where(at_end, length, stretch),
        np.where(at_end, joins.to_end, other),
        np.where(at_end, room, spare),
        np.where(at_end, other, joins.to_end),
        np.where(at_end, spare, room),
    )


@dataclass(frozen=True, slots=True)
class _Walk:
    """Where the walks of all runs begin, on one side."""

    side: int
    entry: Int64
    """First end entered; −1 for none."""
    room: Float64
    """How far to go, m."""
    simple: Flags
    """Whether the first node joins just two ends."""


def _follow(joins: Joins, length_m: Float64, walk: _Walk) -> list[_Steps]:
    """Follow the straightest neighbours of all runs at once, hop by hop."""
    run = np.flatnonzero((walk.entry >= 0) & (walk.room > 0.0))
    entry, simple = walk.entry[run], walk.simple[run]
    near, steps = np.zeros(run.size), []
    for _ in range(MOST_HOPS):
        if run.size == 0:
            break
        far = np.minimum(near + length_m[entry // 2], walk.room[run])
        steps.append(_Steps(run, np.full(run.size, walk.side), entry, near, far, simple))
        leave = entry ^ 1
        onward = joins.straightest[leave]
        go = (onward >= 0) & (far < walk.room[run])
        run, near, simple = run[go], far[go], simple[go] & joins.through[leave[go]]
        entry = onward[go]
    return steps


def _assemble(main: Int64, own: tuple[Float64, Float64], steps: list[_Steps], length_m: Float64) -> Runs:
    """Turn steps beyond the main segments into pieces by run coordinate, sorted along each run."""
    parts = [_own_pieces(main, own), *(_step_pieces(main, step, length_m) for step in steps)]
    run, segment, zero, sign, begin, end, simple = (np.concatenate(column) for column in zip(*parts, strict=True))
    order = np.lexsort((begin, run))
    counts = np.bincount(run, minlength=main.size)
    offsets = np.concatenate(([0], np.cumsum(counts))).astype(np.int64)
    pieces = Pieces(offsets, segment[order], zero[order], sign[order], end[order])
    return Runs(main, own[0], own[1], pieces, begin[order], simple[order])


_Columns = tuple[Int64, Int64, Float64, Int64, Float64, Float64, Flags]


def _own_pieces(main: Int64, own: tuple[Float64, Float64]) -> _Columns:
    """Make the pieces that lie on the main segments themselves."""
    count = main.size
    ones = np.ones(count, dtype=np.int64)
    return np.arange(count), main, np.zeros(count), ones, own[0], own[1], ones.astype(bool)


def _step_pieces(main: Int64, step: _Steps, length_m: Float64) -> _Columns:
    """Make the pieces that lie on neighbours."""
    segment, at_end = step.entry // 2, step.entry % 2 == 1
    edge = np.where(step.side > 0, length_m[main[step.run]], 0.0)
    near, far = edge + step.side * step.near, edge + step.side * step.far
    sign = np.where(at_end, -step.side, step.side)
    zero = near - sign * np.where(at_end, length_m[segment], 0.0)
    return step.run, segment, zero, sign, np.minimum(near, far), np.maximum(near, far), step.simple


def take_runs(runs: Runs, rows: Int64, segments: Int64) -> Runs:
    """Take the runs at *rows*, with their segments renumbered by their place in *segments*."""
    counts = np.diff(runs.pieces.offsets)[rows]
    offsets = np.concatenate(([0], np.cumsum(counts))).astype(np.int64)
    pick = np.repeat(runs.pieces.offsets[rows] - offsets[:-1], counts) + np.arange(offsets[-1])
    place = np.zeros(int(segments.max(initial=-1)) + 1, dtype=np.int64)
    place[segments] = np.arange(segments.size)
    p = runs.pieces
    pieces = Pieces(offsets, place[p.segment[pick]], p.zero[pick], p.sign[pick], p.end[pick])
    return Runs(
        place[runs.segment[rows]],
        runs.own_from_m[rows],
        runs.own_to_m[rows],
        pieces,
        runs.begin[pick],
        runs.simple[pick],
    )
