"""The ways of all segments in both directions as tracks of plan view, and what a set-up adds to them.

A track is the smoothed line of a segment. Offsets across it, of things and of edges, are those of the survey: a tape
is laid from the middle of the trail, wherever the receiver put that, so a thing keeps its offset from the line.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.limits import Limits
from pipeline.checks.obstacles import RUT_LENGTH_M, Things, across, on_runs
from pipeline.checks.passing.choice import Choice, codes_of
from pipeline.checks.room.edges import edges_of
from pipeline.checks.room.runs import Known, known_lines
from pipeline.checks.room.way import STEP_M, Ways, make_ways
from pipeline.checks.scene import Scene
from pipeline.kernels.plan_records import LEFT, RIGHT, Tracks
from pipeline.terms import ObstacleKind, Passing
from pipeline.vehicle.envelope_model import Envelope

__all__ = ["Placed", "SiteTracks", "for_set_up", "half_length", "make_tracks", "ways_past"]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]
Flags = NDArray[np.bool_]

INSIDE_BEND = 0.8
"""Nothing runs farther to the inside of a bend than this share of its radius: past its centre ways turn back."""
NODE_M = 0.5
"""A thing this far beyond where a way is followed still belongs to it: nodes are snapped, and things have a size."""


@dataclass(frozen=True, slots=True)
class Placed:
    """Things on the ways of segments in the digitised direction; arrays of shape (places,)."""

    thing: Int64
    """Index into the scene's things."""
    segment: Int64
    """Segment whose way it lies on: its own, or a neighbour's."""
    sign: Int64
    """+1 where that way goes with the thing's own segment, −1 against."""
    at: Float64
    """Place along the way, m from its first point."""


@dataclass(frozen=True, slots=True)
class SiteTracks:
    """Tracks of all segments; track 2·i is segment i in the digitised direction, 2·i + 1 the same points reversed."""

    tracks: Tracks
    """With the edges of the trail; nothing holds, and the rear axle keeps to the middle, until :func:`for_set_up`."""
    chainage: Float64
    """Of every point, in the digitised direction of its segment: below 0 and above the length beyond its ends."""
    row: Int64
    """Segment under every point, the next one beyond the ends; −1 where nobody walked."""
    curvature: Float64
    """Of the way in travel, 1/m, + to the left."""
    ways: Ways
    """The ways in the digitised direction."""
    placed: Placed

    def number(self, segment: Int64, direction: int) -> Int64:
        """Give the track of each segment in a direction, 0 with and 1 against."""
        return 2 * segment + direction

    def length(self, segment: Int64) -> Float64:
        """Length of the track of each segment from its first to its last point, m."""
        offsets = self.ways.offsets
        return np.asarray((offsets[segment + 1] - offsets[segment] - 1) * self.tracks.step)


def make_tracks(scene: Scene, limits: Limits) -> SiteTracks:
    """Lay the ways of all segments out, in both directions, with the edges of the trail.

    Parameters
    ----------
    scene
        The site.
    limits
        What makes an edge.
    """
    known = known_lines(scene)
    ways = make_ways(known)
    counts = np.diff(ways.offsets)
    offsets = np.concatenate(([0], np.cumsum(np.repeat(counts, 2)))).astype(np.int64)
    track = np.repeat(np.arange(2 * counts.size), np.repeat(counts, 2))
    nth = np.arange(track.size) - offsets[track]
    back = track % 2 == 1
    source = np.where(back, ways.offsets[track // 2 + 1] - 1 - nth, ways.offsets[track // 2] + nth)
    sign = np.where(back, -1.0, 1.0)
    cross = sign * ways.cross[source]
    row = ways.row[source]
    wheel, body = edges_of(scene, row, cross, limits)
    own = _own(ways, known.length_m)
    return SiteTracks(
        tracks=Tracks(
            offsets=offsets,
            x=ways.x[source],
            y=ways.y[source],
            heading=ways.heading[source] + np.where(back, np.pi, 0.0),
            roll=-np.arctan(np.nan_to_num(cross, nan=0.0)),
            wheel=wheel,
            body=body,
            aside=np.zeros(wheel.shape),
            hold=np.full(row.size, np.nan),
            step=STEP_M,
            own_from=own[0],
            own_to=own[1],
        ),
        chainage=ways.chainage[source],
        row=row,
        curvature=sign * _curvature(ways)[source],
        ways=ways,
        placed=_placed(scene.things, ways, known),
    )


def _own(ways: Ways, length_m: Float64) -> tuple[Float64, Float64]:
    """Give first and last own place of every track, m from its first point."""
    segment = np.arange(length_m.size)
    begin, end = (_along(ways, segment, at) for at in (np.zeros(length_m.size), length_m))
    whole = (np.diff(ways.offsets) - 1) * STEP_M
    return np.column_stack([begin, whole - end]).ravel(), np.column_stack([end, whole - begin]).ravel()


def _along(ways: Ways, segment: Int64, chainage: Float64) -> Float64:
    """Find chainages on the ways of segments, m from their first points."""
    span = float(np.ptp(ways.chainage)) + 1.0 if ways.chainage.size else 1.0
    way = np.repeat(np.arange(ways.offsets.size - 1), np.diff(ways.offsets))
    key = ways.chainage + span * way
    nth = np.interp(chainage + span * segment, key, np.arange(key.size, dtype=np.float64))
    place = nth - ways.offsets[segment]
    return np.asarray(np.clip(place, 0.0, np.diff(ways.offsets)[segment] - 1.0) * STEP_M)


def _curvature(ways: Ways) -> Float64:
    """Give the curvature of ways at their points, 1/m, + to the left; 0 at their ends."""
    bend = np.zeros(ways.x.size)
    bend[1:-1] = (ways.heading[2:] - ways.heading[:-2]) / (2.0 * STEP_M)
    bend[ways.offsets[:-1]] = 0.0
    bend[ways.offsets[1:] - 1] = 0.0
    return bend


def _placed(things: Things, ways: Ways, known: Known) -> Placed:
    """Find the things on every way, those of the neighbours that it goes on into among them."""
    thing, run, at, sign = on_runs(things, known.profiles)
    segments = known.length_m.size
    own = run < segments
    thing, run, at, sign = thing[own], run[own], at[own], sign[own]
    here = (at >= known.from_m[run] - NODE_M) & (at <= known.to_m[run] + NODE_M)
    thing, run, at, sign = thing[here], run[here], at[here], sign[here]
    return Placed(thing, run, sign.astype(np.int64), _along(ways, run, at))


def for_set_up(site: SiteTracks, scene: Scene, choice: Choice, envelope: Envelope, limits: Limits) -> Tracks:
    """Say where the rear axle of a set-up may run, and what holds its line.

    Parameters
    ----------
    site
        The tracks.
    scene
        The site.
    choice
        The way of the set-up past the things in its way.
    envelope
        The set-up.
    limits
        How far it may roam where no width is tagged.

    Returns
    -------
    Tracks
        With ``aside``: as far as the tyres stay within the edges, and never less than the driver may roam, for a rear
        axle cuts inside where the front one is still on the trail. With ``hold``: the shift that a thing that is
        straddled or trodden on asks for, over its length. Ruts hold nothing here: wheels that ran as these do wore
        them. Nor does what reaches right across, for every line meets it.
    """
    return site.tracks._replace(
        aside=_aside(site, envelope, limits), hold=_hold(site, scene.things, choice, envelope, limits)
    )


def _aside(site: SiteTracks, envelope: Envelope, limits: Limits) -> Float64:
    """Give how far the rear axle may run to each side, m, shape (points, 2)."""
    outer = (envelope.track_rear_m + envelope.tyre_width_m) / 2.0
    tracks = site.tracks
    edge = np.minimum(tracks.wheel - outer, tracks.body - envelope.width_m / 2.0)
    aside = np.where(np.isinf(edge), limits.roam_m, np.maximum(edge, limits.roam_m))
    least = INSIDE_BEND / np.maximum(np.abs(site.curvature), 1e-9)
    bent = site.curvature > 0.0
    aside[:, LEFT] = np.where(bent, np.minimum(aside[:, LEFT], least), aside[:, LEFT])
    aside[:, RIGHT] = np.where(bent, aside[:, RIGHT], np.minimum(aside[:, RIGHT], least))
    return aside


def ways_past(site: SiteTracks, things: Things, choice: Choice) -> tuple[Int64, Int64, Float64]:
    """Find the way of a set-up past every placed thing.

    Parameters
    ----------
    site
        The tracks.
    things
        The scene's things.
    choice
        Of the set-up, for some of them.

    Returns
    -------
    slot, passing, shift
        Index of the thing in ``choice.things``, −1 where the choice does not know it, shape (places,); position in
        ``terms.Passing`` in travel along the segment of the track and against it, −1 where there is none, and the
        shift it asks for, m, + right in travel, NaN where there is none, both of shape (places, 2).
    """
    placed, here = site.placed, choice.things
    big = int(things.number.max(initial=0)) + 1
    keys = here.row * big + here.number
    order = np.argsort(keys, kind="stable")
    wanted = (things.row * big + things.number)[placed.thing]
    if keys.size == 0:
        none = np.full((wanted.size, 2), -1)
        return none[:, 0], none, np.full(none.shape, np.nan)
    found = order[np.minimum(np.searchsorted(keys[order], wanted), keys.size - 1)]
    slot = np.where(keys[found] == wanted, found, -1)
    # A thing on a neighbour that lies the other way round is met in that one's other direction.
    columns = np.where(placed.sign[:, None] > 0, np.array([0, 1]), np.array([1, 0]))
    none = slot[:, None] < 0
    passing = np.where(none, -1, choice.passing[slot[:, None], columns])
    sides = placed.sign[:, None] * np.array([1.0, -1.0])
    return slot, passing, np.where(none, np.nan, sides * choice.shift_m[slot[:, None], columns])


def half_length(things: Things) -> Float64:
    """Half of the extent of things along the trail, m; as it is assumed for rolling over them where it is missing."""
    height = np.nan_to_num(np.abs(things.height_m), nan=0.15)
    guess = np.select(
        [things.kind == ObstacleKind.RUT.value, things.kind == ObstacleKind.STEP.value],
        [RUT_LENGTH_M / 2.0, 0.0],
        default=height,
    )
    return np.where(np.isnan(things.length_m), guess, things.length_m / 2.0)


def _hold(site: SiteTracks, things: Things, choice: Choice, envelope: Envelope, limits: Limits) -> Float64:
    """Give the offset that things ask for at every point; where two do, the higher one has its way."""
    hold = np.full(site.tracks.x.size, np.nan)
    slot, passing, shift = ways_past(site, things, choice)
    placed = things.where(site.placed.thing)
    low, high = across(placed)
    reach = np.where(np.isnan(placed.room_m), envelope.width_m / 2.0 + limits.roam_m, placed.room_m / 2.0)
    asks = (slot >= 0) & (placed.kind != ObstacleKind.RUT.value) & ~((low <= -reach) & (high >= reach))
    met = np.isin(passing, codes_of(Passing.STRADDLE, Passing.TREAD)) & asks[:, None]
    place, direction = np.nonzero(met)
    order = np.argsort(np.abs(placed.height_m[place]), kind="stable")
    place, direction = place[order], direction[order]
    points, of = _points_over(site, place, direction, half_length(placed)[place])
    hold[points] = shift[place, direction][of]
    return hold


def _points_over(site: SiteTracks, place: Int64, direction: Int64, half: Float64) -> tuple[Int64, Int64]:
    """List the points of tracks over placed things, at least the nearest one of each, and which thing each is of."""
    segment = site.placed.segment[place]
    whole = site.length(segment)
    at = np.where(direction == 0, site.placed.at[place], whole - site.placed.at[place]) / STEP_M
    last = np.rint(whole / STEP_M).astype(np.int64)
    nearest = np.rint(at).astype(np.int64)
    low = np.clip(np.minimum(np.ceil(at - half / STEP_M), nearest), 0, last).astype(np.int64)
    high = np.clip(np.maximum(np.floor(at + half / STEP_M), nearest), 0, last).astype(np.int64)
    counts = high - low + 1
    of = np.repeat(np.arange(place.size), counts)
    nth = np.arange(of.size) - np.repeat(np.cumsum(counts) - counts, counts)
    return site.tracks.offsets[2 * segment + direction][of] + low[of] + nth, of
