"""What stands beside, over and in the ways of a set-up, as upright capsules.

Trees and posts are round. A gap is what bounds it to both sides. A branch the set-up does not fit under hangs across.
Of the things on the ground, those that the set-up passes beside are solid, and those that no line of its own was
worked out for, because they lie beside its middle line, where they are higher than the air it must keep: no tyre climbs
what nobody looked at. A hole there is no higher than a tyre notices: the body passes over it.
"""

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.limits import Limits
from pipeline.checks.obstacles import IN_PROFILE, Things, goes_down
from pipeline.checks.passing.choice import Choice, codes_of
from pipeline.checks.room.tracks import SiteTracks, half_length, ways_past
from pipeline.checks.scene import Scene
from pipeline.kernels.plan_records import Solids
from pipeline.terms import ObstacleKind, Passing
from pipeline.vehicle.envelope_model import Envelope

__all__ = ["solids_of"]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]
Flags = NDArray[np.bool_]

STEMS = (ObstacleKind.TREE, ObstacleKind.POST)
"""Kinds that are round and stand upright."""
WALL_M = 2.0
"""How far to each side of a gap nothing passes."""
BRANCH_M = 0.3
"""How thick a branch is along the trail that was given no length. Assumption, no source."""
ACROSS_M = 1.0
"""How far beyond the edge of the trail a branch of unknown extent reaches."""
UNTAGGED_M = 2.0
"""Half of a trail without a tagged width, for a branch of unknown extent."""
PIT_M = 0.02
"""How high a hole counts that no tyre may drop into."""
CHUNK_M = 3.0
"""Longer things are laid in pieces, so that they follow the bends of the trail."""


@dataclass(frozen=True, slots=True)
class _Shapes:
    """Boxes with round ends on the ways in the digitised direction; arrays of shape (shapes,)."""

    place: Int64
    """Which placed thing it is."""
    offset: Float64
    """Of its middle, m right of its own segment's digitised direction."""
    along: Float64
    """Half of its extent along the trail, m."""
    across: Float64
    """Half of its extent across it."""
    low: Float64
    high: Float64
    there: Flags
    """Whether it stands in the way in travel with and against the segment of the track, (shapes, 2)."""

    def where(self, take: Int64 | Flags) -> "_Shapes":
        """Take some."""
        return _Shapes(*(getattr(self, field.name)[take] for field in fields(self)))


def solids_of(scene: Scene, site: SiteTracks, choice: Choice, envelope: Envelope, limits: Limits) -> Solids:
    """Lay all solids of one set-up on all tracks.

    Parameters
    ----------
    scene
        The site.
    site
        Its tracks.
    choice
        The way of the set-up past the things in its way.
    envelope
        The set-up.
    limits
        Roof margin, and the air that must stay under the body.

    Returns
    -------
    Solids
        By track, then by place along it; ``thing`` counts in the scene's things.
    """
    things = scene.things.where(site.placed.thing)
    groups = (
        _stems(things),
        _gaps(things),
        _branches(things, envelope, limits),
        _on_ground(things, ways_past(site, scene.things, choice), envelope, limits),
    )
    whole = _Shapes(*(np.concatenate([getattr(group, one.name) for group in groups]) for one in fields(_Shapes)))
    return _laid(site, whole)


def _both(count: int) -> Flags:
    return np.ones((count, 2), dtype=np.bool_)


def _stems(things: Things) -> _Shapes:
    """Trees and posts; without a width they are lines, without a height there is no getting over them."""
    at = np.flatnonzero(np.isin(things.kind, [kind.value for kind in STEMS]))
    radius = np.nan_to_num(things.width_m[at], nan=0.0) / 2.0
    high = np.nan_to_num(things.height_m[at], nan=np.inf)
    offset = np.nan_to_num(things.offset_m[at], nan=0.0)
    return _Shapes(at, offset, radius, radius, np.zeros(at.size), high, _both(at.size))


def _gaps(things: Things) -> _Shapes:
    """Both sides of every gap of known width."""
    at = np.flatnonzero((things.kind == ObstacleKind.GAP.value) & ~np.isnan(things.clear_width_m))
    away = things.clear_width_m[at] / 2.0 + WALL_M / 2.0
    middle, along = np.nan_to_num(things.offset_m[at], nan=0.0), np.nan_to_num(things.length_m[at], nan=0.0) / 2.0
    offset = np.concatenate([middle - away, middle + away])
    count = offset.size
    half, low, high = np.full(count, WALL_M / 2.0), np.zeros(count), np.full(count, np.inf)
    return _Shapes(np.tile(at, 2), offset, np.tile(along, 2), half, low, high, _both(count))


def _branches(things: Things, envelope: Envelope, limits: Limits) -> _Shapes:
    """Branches of known clear height that the set-up does not fit under."""
    needed = envelope.height_m + limits.roof_margin_m
    with np.errstate(invalid="ignore"):
        at = np.flatnonzero((things.kind == ObstacleKind.BRANCH.value) & (things.clear_height_m < needed))
    trail = np.nan_to_num(things.room_m[at] / 2.0, nan=UNTAGGED_M) + ACROSS_M
    across = np.where(np.isnan(things.width_m[at]), trail, things.width_m[at] / 2.0)
    along = np.nan_to_num(things.length_m[at], nan=BRANCH_M) / 2.0
    low = things.clear_height_m[at] - limits.roof_margin_m
    offset = np.nan_to_num(things.offset_m[at], nan=0.0)
    return _Shapes(at, offset, along, across, low, np.full(at.size, np.inf), _both(at.size))


def _on_ground(things: Things, past: tuple[Int64, Int64, Float64], envelope: Envelope, limits: Limits) -> _Shapes:
    """Things on the ground that are passed beside, or lie beside the middle line."""
    slot, passing, _ = past
    with np.errstate(invalid="ignore"):
        slight = np.abs(things.height_m) <= limits.required_gap_m
    kind = np.isin(things.kind, [kind.value for kind in IN_PROFILE])
    beside = (slot < 0) & kind & ~slight
    there = (passing == codes_of(Passing.ROUND)[0]) | beside[:, None]
    at = np.flatnonzero(there.any(axis=1))
    here = things.where(at)
    wheels = (max(envelope.track_front_m, envelope.track_rear_m) + envelope.tyre_width_m) / 2.0
    across = np.where(here.kind == ObstacleKind.RUT.value, wheels, np.nan_to_num(here.width_m, nan=0.0) / 2.0)
    high = np.where(goes_down(here), PIT_M, np.nan_to_num(np.abs(here.height_m), nan=np.inf))
    offset = np.nan_to_num(here.offset_m, nan=0.0)
    return _Shapes(at, offset, half_length(here), across, np.zeros(at.size), high, there[at])


def _laid(site: SiteTracks, shapes: _Shapes) -> Solids:
    """Lay shapes on the tracks of both directions, long ones in pieces."""
    pieces = np.maximum(np.ceil(2.0 * shapes.along / CHUNK_M), 1.0).astype(np.int64)
    of = np.repeat(np.arange(pieces.size), pieces)
    nth = np.arange(of.size) - np.repeat(np.cumsum(pieces) - pieces, pieces)
    shapes, pieces = shapes.where(of), pieces[of]
    along = shapes.along / pieces
    away = (2.0 * nth - pieces + 1.0) * along
    segment, sign = site.placed.segment[shapes.place], site.placed.sign[shapes.place]
    at, offset = site.placed.at[shapes.place] + away, sign * shapes.offset
    radius = np.minimum(along, shapes.across)
    lengthwise, sideways = along - radius, shapes.across - radius
    ax, ay = _world(site, segment, at - lengthwise, offset - sideways)
    bx, by = _world(site, segment, at + lengthwise, offset + sideways)
    shape, direction = np.nonzero(shapes.there)
    track = site.number(segment, 0)[shape] + direction
    place = np.where(direction == 0, at[shape], site.length(segment)[shape] - at[shape])
    order = np.lexsort((shape, place, track))
    shape, track, place = shape[order], track[order], place[order]
    counts = np.bincount(track, minlength=site.tracks.offsets.size - 1)
    return Solids(
        offsets=np.concatenate(([0], np.cumsum(counts))).astype(np.int64),
        ax=ax[shape],
        ay=ay[shape],
        bx=bx[shape],
        by=by[shape],
        radius=radius[shape],
        low=shapes.low[shape],
        high=shapes.high[shape],
        at=place,
        half=along[shape],
        thing=site.placed.thing[shapes.place[shape]],
    )


def _world(site: SiteTracks, segment: Int64, at: Float64, offset: Float64) -> tuple[Float64, Float64]:
    """Turn places along ways and offsets to the right of them into world coordinates; beyond the ends straight on."""
    ways, step = site.ways, site.tracks.step
    most = np.diff(ways.offsets)[segment] - 1
    nth = at / step
    whole = np.clip(np.floor(nth), 0, np.maximum(most - 1, 0)).astype(np.int64)
    t, i = nth - whole, ways.offsets[segment] + whole
    j = np.minimum(i + 1, ways.x.size - 1)
    heading = ways.heading[i] + np.clip(t, 0.0, 1.0) * (ways.heading[j] - ways.heading[i])
    x = ways.x[i] + t * (ways.x[j] - ways.x[i])
    y = ways.y[i] + t * (ways.y[j] - ways.y[i])
    return x + offset * np.sin(heading), y - offset * np.cos(heading)
