"""The search for room: the middle line of every segment, and a better one where that is tight."""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.limits import Limits
from pipeline.checks.passing.choice import Choice
from pipeline.checks.room.again import only_on, passed_otherwise, put_into
from pipeline.checks.room.driven import Driven, driven_along
from pipeline.checks.room.found import Room
from pipeline.checks.room.gather import gather
from pipeline.checks.room.ground import Ground, Searched
from pipeline.checks.room.solids import solids_of
from pipeline.checks.room.tracks import SiteTracks, for_set_up, make_tracks
from pipeline.checks.room.windows import Windows, finer, finer_poses, own_points, points_of, slices_of, windows_of
from pipeline.checks.scene import Scene
from pipeline.kernels.line_room import EASY, FINE, STRIDE_M, Asked, Middle, find_lines
from pipeline.kernels.plan_records import EDGE, LEFT, RIGHT, Boxes, Solids, Tracks
from pipeline.kernels.steering import follow
from pipeline.spread import Mapper, serial
from pipeline.terms import ObstacleKind
from pipeline.units import KMH
from pipeline.vehicle.envelope_model import Envelope
from pipeline.vehicle.plan import boxes_of

__all__ = ["find_rooms", "room_key"]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]
Flags = NDArray[np.bool_]

RUN_UP_M = 4.0
"""How far before and behind a tight place a driver begins to move over, besides the length of the vehicle."""
TRIES = 4
"""Most times that a line is searched again without the branches that it can lead neither under nor round."""
GENTLER = 0.95
"""Share of the steering angle of the middle line for which it is worth leaving, where the room is as good."""
BETTER_M = 0.01
"""Room for which it is worth leaving the middle."""
GAIN_M = 0.05
"""A line is searched where a place shows on one side this much more room than shared out evenly."""
NEAR = 0.75
"""Gaps below this share of the side margin decide whether a set-up passes: half of it, and what poses miss."""
SURE = 0.7
"""Share of the slack round what holds a line that the search uses: the line is then within all of it."""


@dataclass(frozen=True, slots=True)
class _Block:
    """All that one search needs."""

    scene: Scene
    site: SiteTracks
    choice: Choice
    envelope: Envelope
    limits: Limits


def find_rooms(
    scene: Scene,
    choices: Sequence[Choice],
    envelopes: Sequence[Envelope],
    limits: Limits,
    mapper: Mapper = serial,
    before: Sequence[tuple[Choice, Envelope, Room]] = (),
) -> list[Room]:
    """Find the room of every set-up on every segment, in both directions.

    Parameters
    ----------
    scene
        The site.
    choices, envelopes
        The set-ups: their ways past the things on the ground, and themselves.
    limits
        Margins, comfort, steering rates.
    mapper
        Spreads the set-ups; the numbers are the same for every mapper.
    before
        Rooms found before on the same site with the same limits, and the set-ups that they are of: where one of these
        passes a few things another way now, only the ways that lead past them are searched again.

    Returns
    -------
    list[Room]
        One a set-up; those of equal key share one.
    """
    keys = [room_key(choice, envelope, limits) for choice, envelope in zip(choices, envelopes, strict=True)]
    rooms = {room_key(choice, one, limits): room for choice, one, room in before}
    fresh = {key: k for k, key in reversed(list(enumerate(keys))) if key not in rooms}
    if fresh:
        site = make_tracks(scene, limits)
        order = sorted(fresh.values())
        bases = [_nearest((scene, site, limits), before, choices[k], envelopes[k]) for k in order]
        sites = [site if base is None else only_on(site, base[1]) for base in bases]
        blocks = [_Block(scene, part, choices[k], envelopes[k], limits) for part, k in zip(sites, order, strict=True)]
        for k, base, room in zip(order, bases, mapper(_find, blocks), strict=True):
            rooms[keys[k]] = room if base is None else put_into(base[0], room, base[1])
    return [rooms[key] for key in keys]


def _nearest(
    ground: tuple[Scene, SiteTracks, Limits],
    before: Sequence[tuple[Choice, Envelope, Room]],
    choice: Choice,
    envelope: Envelope,
) -> tuple[Room, Flags] | None:
    """Find the room of a set-up of the same shape with the fewest segments to search again, and these."""
    scene, site, limits = ground
    shape = _shape(envelope, limits)
    alike = [(past, room) for past, one, room in before if _shape(one, limits) == shape]
    found = [(room, passed_otherwise(site, scene.things, past, choice)) for past, room in alike]
    return min(found, key=lambda one: int(one[1].sum()), default=None)


def room_key(choice: Choice, envelope: Envelope, limits: Limits) -> str:
    """Tell set-ups apart whose rooms differ; it holds within one site and one set of limits.

    Parameters
    ----------
    choice
        The way past things on the ground: only what is chosen counts, not why.
    envelope
        The set-up: its shape, its lock and how fast its driver steers count.
    limits
        The steering rates.
    """
    digest = hashlib.sha256(_shape(envelope, limits).encode())
    for column in (choice.things.row, choice.things.number, choice.passing, choice.shift_m):
        digest.update(np.ascontiguousarray(column).tobytes())
    return digest.hexdigest()


def _shape(envelope: Envelope, limits: Limits) -> str:
    """Write what searching asks of a set-up itself, the things on the ground apart."""
    shape = (
        envelope.wheelbase_m, envelope.track_front_m, envelope.track_rear_m, envelope.tyre_radius_m,
        envelope.tyre_width_m, envelope.width_m, envelope.width_mirrors_m, envelope.height_m, envelope.length_front_m,
        envelope.length_rear_m, envelope.turning_radius_m, envelope.body_front_m, envelope.body_rear_m,
        envelope.overhang_m, envelope.mirror_m, envelope.roof_m, envelope.underbody.tolist(),
        _steering_rate(envelope, limits),
    )  # fmt: skip
    return repr(shape)


def _steering_rate(envelope: Envelope, limits: Limits) -> float:
    """Most that the driver turns the front wheels, rad per metre driven."""
    motion = limits.motion[envelope.driver]
    return float(np.radians(motion.steering_deg_s) / (motion.obstacle_kmh * KMH))


def _find(block: _Block) -> Room:
    """Find the room of one set-up."""
    envelope, limits = block.envelope, block.limits
    vehicle = boxes_of(envelope)
    tracks = for_set_up(block.site, block.scene, block.choice, envelope, limits)
    solids = solids_of(block.scene, block.site, block.choice, envelope, limits)
    poses = follow(vehicle, tracks, _steering_rate(envelope, limits))
    slack = limits.side_margin_m / 2.0
    middle = driven_along((poses.x, poses.y, poses.heading, poses.steer), vehicle, tracks, solids, slack)
    own = own_points(tracks, envelope.wheelbase_m)
    easy = poses.held & (np.abs(poses.steer) <= EASY * vehicle.lock)
    tight, worth = _tight(middle, easy, limits)
    own &= _whole(tracks)
    length = envelope.length_front_m + envelope.wheelbase_m + envelope.length_rear_m
    windows = windows_of(tracks, own & tight, length + RUN_UP_M, max(round(STRIDE_M / tracks.step), 1))
    searched = _search(block, windows, windows.any_of(own & worth), middle, (vehicle, tracks, solids))
    ground = Ground(block.scene, block.site, tracks, solids, own)
    return gather(ground, searched, envelope, vehicle, limits)


def _tight(middle: Driven, easy: Flags, limits: Limits) -> tuple[Flags, Flags]:
    """Tell where a driver has to attend to what is beside the middle line, and where another line may be a better one.

    That is one with more room; or, where the steering does not hold the middle line or only just (not *easy*), one that
    asks less of it. Two sides of one pose share what room there is, so no line leaves more than half of it on both.
    Where the margin is not left every centimetre counts. A tyre may run closer to the edge of a trail than a body to a
    trunk.
    """
    least = middle.gap.min(axis=1)
    edge = np.take_along_axis(middle.solid, middle.gap.argmin(axis=1)[:, None], axis=1)[:, 0] == EDGE
    wanted = np.where(edge, limits.side_margin_m, _comfort(limits))
    gain = np.minimum(middle.gap.mean(axis=1), wanted) - least
    least_gain = np.where(least < NEAR * limits.side_margin_m, BETTER_M, GAIN_M)
    worth = (~(least >= wanted) & ~(gain <= least_gain)) | ~easy
    return worth | (least < np.where(edge, 0.5, 1.0) * limits.side_margin_m), worth


def _whole(tracks: Tracks) -> Flags:
    """Tell the points of tracks all of whose places are known."""
    known = np.isfinite(tracks.x + tracks.y + tracks.heading)
    whole = np.logical_and.reduceat(known, tracks.offsets[:-1])
    return np.asarray(np.repeat(whole, np.diff(tracks.offsets)))


def _comfort(limits: Limits) -> float:
    """Gap from which nobody looks for a better line."""
    return limits.comfort_gap_m + limits.side_margin_m / 2.0


def _search(
    block: _Block, windows: Windows, worth: Flags, middle: Driven, ground: tuple[Boxes, Tracks, Solids]
) -> Searched:
    """Search the lines of all windows; again without branches that a line can lead neither under nor round."""
    vehicle, tracks, solids = ground
    count = windows.track.size
    share, barring = np.ones(count), np.full(count, -1, dtype=np.int64)
    shunt = np.zeros(count, dtype=np.int64)
    line, seen, again = middle, middle.gap.min(axis=1), np.arange(count)
    for _ in range(TRIES):
        if again.size == 0:
            break
        here = windows.where(again)
        point, offsets = points_of(here)
        found, share[again], shunt[again], seen[point] = _lines(
            block, here, worth[again], middle.where(point), (vehicle, tracks, solids)
        )
        line = line.with_others(point, found)
        touched = _branches_touched(block, found, solids)
        window = np.repeat(again, np.diff(offsets))[touched >= 0]
        barring[window] = solids.thing[touched[touched >= 0]]
        again = np.unique(window)
        # Of a branch that reaches over several ways, only that over the windows' own: they are searched apart.
        gone = np.isin(_by_track(solids), windows.track[again] + 1j * barring[again])
        solids = solids._replace(high=np.where(gone, -np.inf, solids.high))
    return Searched(windows, seen, line, share, shunt, barring)


def _by_track(solids: Solids) -> NDArray[np.complex128]:
    """Name every solid by its track and its thing, as one number."""
    track = np.repeat(np.arange(solids.offsets.size - 1), np.diff(solids.offsets))
    return np.asarray(track + 1j * solids.thing)


def _lines(
    block: _Block, windows: Windows, worth: Flags, middle: Driven, ground: tuple[Boxes, Tracks, Solids]
) -> tuple[Driven, Float64, Flags, Float64]:
    """Find the best lines along windows, the middle one where none is better.

    With the share of the lock that each is allowed, whether a shunt gets past, and the gaps of the middle line.
    """
    vehicle, tracks, solids = ground
    cut, near, source = slices_of(windows, tracks, solids)
    slack = block.limits.side_margin_m / 2.0
    fine = finer(cut, FINE)
    straight = _finely(finer_poses(middle.poses, cut.offsets, FINE), (vehicle, fine, near), slack)
    # Far beside its way the middle line as driven is no line at all.
    on = (middle.rear_offset >= -cut.aside[:, LEFT]) & (middle.rear_offset <= cut.aside[:, RIGHT])
    gap = straight.gap.min(axis=1)
    plain = _smallest(np.where(on, gap, -np.inf), cut)
    rate = _steering_rate(block.envelope, block.limits)
    asked = Asked(rate, _comfort(block.limits), slack, SURE * slack, block.limits.shunt_reverse_m)
    lines = find_lines(vehicle, cut, near, Middle(middle.rear_offset, plain, worth, windows.tied), asked)
    found = _finely(_columns(lines.poses), (vehicle, fine, near), slack)
    room = _smallest(found.gap.min(axis=1), cut)
    turned = -_smallest(-np.abs(np.stack([found.steer, middle.steer])), cut)
    gentler = (np.minimum(room, asked.comfort) >= np.minimum(plain, asked.comfort)) & (turned[0] < GENTLER * turned[1])
    better = (lines.share > 0.0) & (~(plain >= room - BETTER_M) | gentler)
    take = np.flatnonzero(np.repeat(better, np.diff(cut.offsets)))
    line = straight.with_others(take, found.where(take)).renumbered(source)
    return line, np.maximum(np.where(better, lines.share, 1.0), lines.needed), lines.shunt, gap


def _columns(poses: Float64) -> tuple[Float64, Float64, Float64, Float64]:
    """Give the columns of poses."""
    x, y, heading, steer = poses.T
    return x, y, heading, steer


def _finely(
    poses: tuple[Float64, Float64, Float64, Float64], ground: tuple[Boxes, Tracks, Solids], slack_m: float
) -> Driven:
    """Drive poses along finer tracks, and tell what is found at the points of the tracks themselves."""
    return driven_along(poses, *ground, slack_m).coarser(ground[1].offsets, FINE)


def _smallest(gap: Float64, tracks: Tracks) -> Float64:
    """Smallest value along each track, of each row."""
    return np.minimum.reduceat(gap, tracks.offsets[:-1], axis=-1)


def _branches_touched(block: _Block, line: Driven, solids: Solids) -> Int64:
    """Find the number of the branch that a line comes too close to at each point; −1 where it comes to none."""
    close = (line.gap < block.limits.side_margin_m / 2.0) & (line.solid >= 0)
    number = np.where(close, line.solid, -1)
    kind = block.scene.things.kind[solids.thing[number]] if solids.thing.size else np.zeros(number.shape)
    return np.asarray(np.where(kind == ObstacleKind.BRANCH.value, number, -1).max(axis=1, initial=-1))
