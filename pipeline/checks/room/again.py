"""Room found once more where a set-up passes a thing another way: only on the ways that lead past it.

Every way is searched by itself, so what is found on the others stays. Those are cut to their first two points, where
nothing is known, and what was found on them before is put in again.
"""

from dataclasses import fields, replace
from itertools import starmap
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.obstacles import Things
from pipeline.checks.passing.choice import Choice
from pipeline.checks.room.found import Room, TightPlaces
from pipeline.checks.room.tracks import Placed, SiteTracks, ways_past

__all__ = ["only_on", "passed_otherwise", "put_into"]

Int64 = NDArray[np.int64]
Flags = NDArray[np.bool_]

STUB = 2
"""Points that are left of a way that is not searched."""
_BY_POINT = ("x", "y", "rear_offset_m", "steer", "chainage_m")
"""Columns of tight places that have an entry a point."""


def passed_otherwise(site: SiteTracks, things: Things, before: Choice, after: Choice) -> Flags:
    """Tell on which segments' ways a thing is passed another way, shape (segments,).

    Parameters
    ----------
    site
        The ways, and the things on them.
    things
        The scene's things.
    before, after
        Two choices of vehicles of the same shape.
    """
    one, other = ways_past(site, things, before), ways_past(site, things, after)
    same = ((one[0] >= 0) == (other[0] >= 0)) & (one[1] == other[1]).all(axis=1)
    same &= ((one[2] == other[2]) | (np.isnan(one[2]) & np.isnan(other[2]))).all(axis=1)
    changed = np.zeros(site.ways.offsets.size - 1, dtype=np.bool_)
    changed[site.placed.segment[~same]] = True
    return changed


def only_on(site: SiteTracks, segments: Flags) -> SiteTracks:
    """Leave of the other segments' ways only their first points, where nothing is known, and nothing on them."""
    keep, offsets = _cut(site.tracks.offsets, np.repeat(segments, 2))
    keep_way, way_offsets = _cut(site.ways.offsets, segments)
    tracks = site.tracks
    unknown = ~np.repeat(segments, 2)[np.repeat(np.arange(2 * segments.size), np.diff(offsets))]
    by_point = ("heading", "roll", "wheel", "body", "aside", "hold")
    here = segments[site.placed.segment]
    return replace(
        site,
        tracks=tracks._replace(
            offsets=offsets,
            x=np.where(unknown, np.nan, tracks.x[keep]),
            y=np.where(unknown, np.nan, tracks.y[keep]),
            **{name: getattr(tracks, name)[keep] for name in by_point},
        ),
        chainage=site.chainage[keep],
        row=site.row[keep],
        curvature=site.curvature[keep],
        ways=type(site.ways)(
            way_offsets, *(getattr(site.ways, column.name)[keep_way] for column in fields(site.ways)[1:])
        ),
        placed=Placed(*(getattr(site.placed, column.name)[here] for column in fields(Placed))),
    )


def _cut(offsets: Int64, whole: Flags) -> tuple[Flags, Int64]:
    """Keep groups *whole* or their first points: flags of the points that are kept, and where each group begins."""
    counts = np.diff(offsets)
    group = np.repeat(np.arange(counts.size), counts)
    nth = np.arange(group.size) - offsets[group]
    kept = np.where(whole, counts, np.minimum(counts, STUB))
    return whole[group] | (nth < STUB), np.concatenate(([0], np.cumsum(kept))).astype(np.int64)


def put_into(before: Room, after: Room, segments: Flags) -> Room:
    """Take *segments* from the room found *after*, all others from the one *before*."""
    columns = [column.name for column in fields(Room) if column.name != "places"]
    pick = segments[:, None]
    mixed = {name: np.where(pick, getattr(after, name), getattr(before, name)) for name in columns}
    return Room(**mixed, places=_mixed(before.places, after.places, segments))


def _mixed(before: TightPlaces, after: TightPlaces, segments: Flags) -> TightPlaces:
    """Put tight places of both together, sorted by segment and direction as each of them is."""
    count = before.row.size
    take = np.concatenate([np.flatnonzero(~segments[before.row]), count + np.flatnonzero(segments[after.row])])
    row, direction = (np.concatenate([getattr(one, name) for one in (before, after)]) for name in ("row", "direction"))
    take = take[np.lexsort((take, direction[take], row[take]))]
    begins = np.concatenate([before.points[:-1], before.points[-1] + after.points[:-1]])
    lengths = np.concatenate([np.diff(before.points), np.diff(after.points)])[take]
    points = np.concatenate(([0], np.cumsum(lengths))).astype(np.int64)
    source = np.concatenate([np.zeros(0, dtype=np.int64), *starmap(np.arange, _spans(begins[take], lengths))])
    mixed: dict[str, Any] = {"points": points}
    for column in fields(TightPlaces):
        if column.name != "points":
            both = np.concatenate([getattr(before, column.name), getattr(after, column.name)])
            mixed[column.name] = both[source if column.name in _BY_POINT else take]
    return TightPlaces(**mixed)


def _spans(begins: Int64, lengths: Int64) -> list[tuple[int, int]]:
    """Pair first points with the ones after the last."""
    return list(zip(begins.tolist(), (begins + lengths).tolist(), strict=True))
