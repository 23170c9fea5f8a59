"""Plans of the tight places of all set-ups: their poses along the lines found, and what stands beside them."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.prepared import Prepared
from pipeline.checks.room.contact import Met, Near, Stands, touch
from pipeline.checks.room.found import TightPlaces
from pipeline.checks.room.plans import Edges, Plans, Shapes, Ways, joined
from pipeline.checks.room.solids import solids_of
from pipeline.checks.room.tracks import SiteTracks, for_set_up, make_tracks
from pipeline.checks.room.windows import Windows, finer, finer_poses, slices_of
from pipeline.kernels.line_refine import FINE
from pipeline.kernels.plan_records import LEFT, RIGHT, Boxes, Solids, Tracks
from pipeline.kernels.plan_sweep import Nearest, sweep
from pipeline.vehicle.plan import boxes_of

__all__ = ["make_plans"]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]
Flags = NDArray[np.bool_]

SAME_M = 0.02
"""Gaps this close are the same: poses between those that are told lie on arcs, not on the line itself."""


@dataclass(frozen=True, slots=True)
class _Drawn:
    """The tight places of one set-up as they are driven: a track a place."""

    boxes: Boxes
    tracks: Tracks
    solids: Solids
    poses: tuple[Float64, Float64, Float64, Float64]
    """x and y of the middle of the rear axle, heading, steering angle."""
    near: Nearest


def make_plans(prepared: Prepared) -> Plans | None:
    """Draw every tight place of every set-up.

    Parameters
    ----------
    prepared
        Site and set-ups, with the room found for them.

    Returns
    -------
    Plans or None
        Parallel to the rows of :func:`pipeline.checks.room.table.lines_table`; ``None`` without any tight place.
    """
    tight = [number for number, room in enumerate(prepared.rooms) if room.places.row.size]
    if not tight:
        return None
    site = make_tracks(prepared.scene, prepared.limits)
    return joined([_plans(prepared, number, site) for number in tight])


def _plans(prepared: Prepared, number: int, site: SiteTracks) -> Plans:
    """Draw the places of one set-up."""
    places, drawn = prepared.rooms[number].places, _driven(prepared, number, site)
    tracks, solids = drawn.tracks, drawn.solids
    nearest = np.column_stack([_nearest(drawn, places, side) for side in (LEFT, RIGHT)])
    ends = [_ends(drawn, nearest[:, side], side) for side in (LEFT, RIGHT)]
    offset = np.minimum(tracks.wheel, tracks.body)
    aside = np.where(np.isfinite(offset), offset, np.nan) * [-1.0, 1.0]
    sin, cos = np.sin(tracks.heading)[:, None], np.cos(tracks.heading)[:, None]
    ids = prepared.scene.things.id[solids.thing]
    shapes = (solids.ax, solids.ay, solids.bx, solids.by, solids.radius, solids.low)
    return Plans(
        ways=Ways(tracks.offsets, *drawn.poses, tracks.roll),
        shapes=Shapes(solids.offsets, *shapes, ids),
        edges=Edges(tracks.x[:, None] + aside * sin, tracks.y[:, None] - aside * cos, tracks.body <= tracks.wheel),
        tightest=_tightest(drawn, places, nearest),
        nearest=nearest,
        body=np.stack([body for body, _ in ends], axis=1),
        beside=np.stack([beside for _, beside in ends], axis=1),
    )


def _driven(prepared: Prepared, number: int, site: SiteTracks) -> _Drawn:
    """Cut the places out of the tracks of a set-up, and drive them again along the lines found."""
    scene, limits, envelope = prepared.scene, prepared.limits, prepared.envelopes[number]
    places, choice, boxes = prepared.rooms[number].places, prepared.choices[number], boxes_of(envelope)
    whole = for_set_up(site, scene, choice, envelope, limits)
    windows = _windows(places, site, scene.length_m)
    solids = solids_of(scene, site, choice, envelope, limits)
    tracks, near, _ = slices_of(windows, whole, solids)
    right = places.rear_offset_m
    x, y = tracks.x + right * np.sin(tracks.heading), tracks.y - right * np.cos(tracks.heading)
    bearing = np.arctan2(places.y - y, places.x - x)
    heading = tracks.heading + np.arctan2(np.sin(bearing - tracks.heading), np.cos(bearing - tracks.heading))
    x, y = places.x - boxes.wheelbase * np.cos(heading), places.y - boxes.wheelbase * np.sin(heading)
    x, y, heading, steer = finer_poses((x, y, heading, places.steer), tracks.offsets, FINE)
    fine, poses = finer(tracks, FINE), (x, y, heading, steer)
    return _Drawn(boxes, fine, near, poses, sweep(boxes, fine, near, poses).near)


def _windows(places: TightPlaces, site: SiteTracks, length_m: Float64) -> Windows:
    """Find the stretch of track of every place by the chainage of a pose that stands on the segment itself."""
    track = 2 * places.row + places.direction
    first, counts = places.points[:-1], np.diff(places.points)
    owner = np.repeat(np.arange(first.size), counts)
    inside = (places.chainage_m > 0.0) & (places.chainage_m < length_m[places.row[owner]])
    anchor = np.flatnonzero(inside)[np.searchsorted(owner[inside], np.arange(first.size))]
    begins = [
        _point(site, int(own), float(places.chainage_m[pose])) - (pose - begin)
        for own, pose, begin in zip(track, anchor, first, strict=True)
    ]
    begin = np.array(begins, dtype=np.int64)
    return Windows(track, begin, begin + counts - 1, np.ones((first.size, 2), dtype=np.bool_))


def _point(site: SiteTracks, track: int, chainage_m: float) -> int:
    """Find the point of a track at a chainage."""
    own = slice(site.tracks.offsets[track], site.tracks.offsets[track + 1])
    return int(own.start + np.argmin(np.abs(site.chainage[own] - chainage_m)))


def _nearest(drawn: _Drawn, places: TightPlaces, side: int) -> Int64:
    """Find the pose of every place whose gap on a side is the one told; −1 where nothing stands there.

    A thing that the wheels have to straddle or tread is nowhere beside them: no pose stands for it.
    """
    offsets, gap = drawn.tracks.offsets, drawn.near.gap[:, side]
    owner = np.repeat(np.arange(offsets.size - 1), np.diff(offsets))
    apart = np.abs(gap - places.gap_m[owner, side])
    apart = np.where(np.isnan(apart), np.inf, apart)
    least = np.flatnonzero(apart <= np.minimum.reduceat(apart, offsets[:-1])[owner])
    pose = least[np.searchsorted(owner[least], np.arange(offsets.size - 1))]
    return np.where(apart[pose] < SAME_M, pose, -1)


def _tightest(drawn: _Drawn, places: TightPlaces, nearest: Int64) -> Int64:
    """Choose the nearest pose of the side with less room; the middle one where nothing stands on either."""
    gaps = np.where(nearest < 0, np.inf, places.gap_m)
    pose = np.take_along_axis(nearest, gaps.argmin(axis=1)[:, None], axis=1)[:, 0]
    offsets = drawn.tracks.offsets
    return np.where(pose < 0, (offsets[:-1] + offsets[1:]) // 2, pose)


def _ends(drawn: _Drawn, pose: Int64, side: int) -> tuple[Float64, Float64]:
    """Give the two ends of the gap on a side of every place; NaN where nothing stands there."""
    x, y, heading, steer = (column[pose] for column in drawn.poses)
    near = drawn.near
    stands = Stands(x, y, heading, steer, np.sin(drawn.tracks.roll[pose]))
    turn = drawn.tracks.heading[_abreast(drawn, pose, near.body_x[pose, side])] - heading
    gap = np.where(pose < 0, 0.0, near.gap[pose, side])
    what = Near(gap, near.part[pose, side], near.body_x[pose, side], np.full(pose.size, side), turn)
    solid = near.solid[pose, side]
    there = (solid >= 0) & (pose >= 0)
    pick = np.where(there, solid, 0)
    columns = [_or(column, pick, there, other) for column, other in _met_columns(drawn.solids)]
    ax, ay, bx, by, radius, low, high = columns
    met = Met(np.column_stack([ax, ay]), np.column_stack([bx, by]), radius, low, high)
    shown = (pose >= 0)[:, None]
    body, beside = touch(drawn.boxes, stands, what, met)
    return np.where(shown, body, np.nan), np.where(shown, beside, np.nan)


def _abreast(drawn: _Drawn, pose: Int64, body_x: Float64) -> Int64:
    """Find the points of the tracks that places on the body are abreast of, one a place."""
    ahead = np.rint(np.nan_to_num(body_x) / drawn.tracks.step).astype(np.int64)
    offsets = drawn.tracks.offsets
    point: Int64 = np.clip(pose + ahead, offsets[:-1], offsets[1:] - 1)
    return point


def _met_columns(solids: Solids) -> Iterator[tuple[Float64, float]]:
    """Give the columns of what may be met, each with what stands for the edge of the trail."""
    yield from ((column, 0.0) for column in (solids.ax, solids.ay, solids.bx, solids.by))
    yield from ((solids.radius, np.nan), (solids.low, -np.inf), (solids.high, np.inf))


def _or(column: Float64, pick: Int64, there: Flags, other: float) -> Float64:
    """Pick from a column where something is *there*."""
    return np.where(there, np.append(column, other)[np.where(there, pick, column.size)], other)
