"""A stretch that was searched at once, told piece by piece: one tight place for each thing that leaves little room."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.room.ground import Ground, Searched
from pipeline.checks.room.windows import Windows, points_of

__all__ = ["piece_by_piece"]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]
Flags = NDArray[np.bool_]

TOGETHER_M = 4.0
"""Things that come nearest within the length of a vehicle are passed at once. No source."""


def piece_by_piece(ground: Ground, found: Searched, comfort_m: float) -> Searched:
    """Cut the windows halfway between the things that the lines through them come near.

    Parameters
    ----------
    ground
        The site as the set-up finds it.
    found
        What the search found.
    comfort_m
        Gap from which nobody minds a thing, m.

    Returns
    -------
    Searched
        The same lines; a window in which a line comes near several things one after the other is as many windows that
        share the points at which they meet.
    """
    windows = found.windows
    point, offsets = points_of(windows)
    window = np.repeat(np.arange(windows.track.size), np.diff(offsets))
    gap, solid = found.line.gap[point], found.line.solid[point]
    near = gap.argmin(axis=1)
    gap, solid = (one[np.arange(point.size), near] for one in (gap, solid))
    minded = (solid >= 0) & (gap < comfort_m) & ground.own[point]
    number = ground.scene.things.number[ground.solids.thing[solid[minded]]]
    place, of = _nearest(number, (point[minded], window[minded]), gap[minded])
    cuts = [_between(place[of == k], ground.tracks.step) for k in range(windows.track.size)]
    return _cut(found, cuts)


def _nearest(number: Int64, where: tuple[Int64, Int64], gap: Float64) -> tuple[Int64, Int64]:
    """Find the point at which the line of each window comes nearest to each thing, in order, and its window."""
    point, window = where
    order = np.lexsort((point, gap, number, window))
    _, first = np.unique(np.column_stack([window[order], number[order]]), axis=0, return_index=True)
    pick = order[first]
    pick = pick[np.argsort(point[pick], kind="stable")]
    return point[pick], window[pick]


def _between(place: Int64, step_m: float) -> Int64:
    """Give the points halfway between places that are farther apart than things that are passed at once."""
    apart = np.diff(place) * step_m > TOGETHER_M
    return np.asarray((place[:-1][apart] + place[1:][apart]) // 2)


def _cut(found: Searched, cuts: list[Int64]) -> Searched:
    """Cut windows at points inside them."""
    windows = found.windows
    whole = np.repeat(np.arange(windows.track.size), [cut.size + 1 for cut in cuts])
    first = [np.concatenate(([begin], cut)) for begin, cut in zip(windows.first, cuts, strict=True)]
    last = [np.concatenate((cut, [end])) for end, cut in zip(windows.last, cuts, strict=True)]
    if not cuts:
        return found
    pieces = Windows(windows.track[whole], np.concatenate(first), np.concatenate(last), windows.tied[whole])
    columns = {name: getattr(found, name)[whole] for name in ("share", "shunt", "barring")}
    return replace(found, windows=pieces, **columns)
