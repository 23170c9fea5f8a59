"""The line with the most room along tight stretches: a lattice over the trail, then finer ones round the line found.

The first lattice is as wide as the trail, the next ones are narrow and fine, so that the gap is found to the
centimetre without the cost of a fine lattice everywhere. Full lock is used where it gains more room than a driver gives
up for easier steering.
"""

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.compiled import bare, kernel
from pipeline.kernels.line_lattice import OFFSET, WANTED, Body, Mesh, Stretch, control, lay
from pipeline.kernels.line_refine import (
    COARSE,
    EASY,
    FINE,
    FINEST,
    SAMPLES,
    SHARPER,
    TUBE,
    Work,
    bent,
    line_along,
    refine,
    room_along,
    share_of,
)
from pipeline.kernels.line_search import CLOSED, FAR, Rules, Space, search
from pipeline.kernels.plan_gap import box_rows, hull_of, solid_rows
from pipeline.kernels.plan_records import LEFT, RIGHT, Boxes, Solids, Tracks
from pipeline.kernels.plan_way import HEADING, near_solids, way_rows
from pipeline.kernels.shunt import Yard, one_reverse

__all__ = ["EASY", "FINE", "STRIDE_M", "Asked", "Lines", "Middle", "find_lines"]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]
Flags = NDArray[np.bool_]

STRIDE_M = 1.5
"""Distance of the stages: over less no driver turns the wheel much."""
APART_M = 0.15
"""Distance of the places of the first lattice, where the trail is not too wide for it."""
MOST = 14
"""Most places to either side of the middle."""
SLOPES = 11
"""Slopes of the steps of all lattices."""
SHORT_M = 1.0
"""Boxes shorter than this can pass a thing between two poses of a step."""
BEYOND = 4.0
"""Largest multiple of the lock that is tried; above 1 nobody can drive it."""


class Asked(NamedTuple):
    """What is asked of the lines."""

    rate: float
    """Most that the steering angle changes, rad a metre."""
    comfort: float
    """Gaps beyond count alike, m."""
    enough: float
    """Gap for which a reverse is worth looking for, m."""
    slack: float
    """How far a thing under or between the wheels may lie off its place, m."""
    reverse: float
    """Longest way back of a shunt, m."""


class Middle(NamedTuple):
    """The middle line of tracks, driven as well as steering allows."""

    offset: Float64
    """Where the rear axle runs, m, + right, shape (points,)."""
    gap: Float64
    """Smallest gap along it, m, shape (tracks,); −inf where it cannot be driven."""
    worth: Flags
    """Whether another line may leave more, shape (tracks,)."""
    tied: Flags
    """Whether a line begins and ends on it, shape (tracks, 2)."""


class Rows(NamedTuple):
    """Stretches of trail with what stands beside them, as rows of numbers."""

    points: Float64
    """Of ``Stretch.rows``."""
    solids: Float64
    """Of :func:`pipeline.kernels.plan_gap.solid_rows`."""
    tracks: Int64
    """Track ``t`` owns points ``tracks[t]:tracks[t + 1]``."""
    near: Int64
    """Point ``i`` is near to the solids ``which[near[i]:near[i + 1]]``."""
    which: Int64
    none: Int64
    """Zeros, one a point and one more: nothing is near."""
    places: Int64
    """Places of the first lattice, (tracks,)."""
    apart: Float64
    """m between them, (tracks,)."""
    gap: Float64
    """Smallest gap of the middle line, m, (tracks,)."""
    floor: Float64
    """Gap below which no line is worth taking, m, (tracks,); inf where none is searched."""
    tied: Flags
    """Whether a line begins and ends on the wanted one, (tracks, 2)."""
    step: float
    """Distance of the points, m."""
    stride: int
    """Points from stage to stage."""


class Lines(NamedTuple):
    """The lines found."""

    poses: Float64
    """x and y of the middle of the rear axle, heading, steering angle + left, :data:`FINE` of them from each point of a
    track to the next, abreast of the place; shape (poses, 4)."""
    share: Float64
    """Largest curvature allowed ÷ that at full lock, (tracks,): 0 where no line is worth taking, above 1 where none
    within the lock leads through."""
    needed: Float64
    """Least multiple of the lock that stays within the edges of the trail, whatever stands there, (tracks,): 1 where
    the lock is enough, or the trail too narrow for any."""
    shunt: Flags
    """Whether one reverse gets past where no line leaves enough, (tracks,)."""


def find_lines(boxes: Boxes, tracks: Tracks, solids: Solids, middle: Middle, asked: Asked) -> Lines:
    """Find the line with the most room along every track.

    Parameters
    ----------
    boxes
        The vehicle.
    tracks
        Tight stretches; each of a whole number of stages (:data:`STRIDE_M`) and at least four of them.
    solids
        What stands beside each.
    middle
        What is known of the middle line.
    asked
        Margins and steering.
    """
    counts, stride = np.diff(tracks.offsets), max(round(STRIDE_M / tracks.step), 1)
    wide = np.maximum.reduceat(tracks.aside.max(axis=1), tracks.offsets[:-1]) if counts.size else np.zeros(0)
    body = _body(boxes, tracks.step * stride)
    wanted = np.clip(middle.offset, -tracks.aside[:, LEFT], tracks.aside[:, RIGHT])
    points = np.column_stack([way_rows(tracks), tracks.aside, wanted, _spread(tracks, stride // 2)])
    apart = np.maximum(APART_M, wide / MOST)
    across = 2 * np.ceil(wide / apart - 1e-9).astype(np.int64) + 1
    none = np.zeros(int(counts.max(initial=0)) + 1, dtype=np.int64)
    least = np.minimum(middle.gap, asked.comfort) - COARSE * apart
    floor = np.where(middle.worth, np.maximum(least, 0.5 * CLOSED), np.inf)
    near = near_solids(tracks, solids, body.hull.radius + float(wide.max(initial=0.0)) + asked.comfort)
    each = (tracks.offsets, *near, none, across, apart, middle.gap, floor, middle.tied)
    rows = Rows(points, solid_rows(solids), *each, tracks.step, stride)
    ones = np.ones((2, counts.size))
    lines = Lines(
        np.empty((FINE * tracks.x.size - (FINE - 1) * counts.size, 4)),
        ones[0],
        ones[1],
        np.zeros(counts.size, dtype=np.bool_),
    )
    stages, places = int(counts.max(initial=0)) // stride + 1, max(int(across.max(initial=0)), TUBE)
    space = Space(
        np.zeros((stages, places, SLOPES, 3)),
        np.zeros((stages, places)),
        np.zeros((stages, places), dtype=np.bool_),
        np.zeros((2, places, SLOPES, SLOPES, 2)),
        np.zeros((stages, places, SLOPES, SLOPES), dtype=np.int8),
    )
    work = Work(space, np.zeros((stages, 5)), np.zeros((stages, 5)), np.zeros(stages, dtype=np.int64))
    _find(body, rows, asked, work, lines)
    return lines


def _body(boxes: Boxes, spacing: float) -> Body:
    """Make a vehicle whose wheels and mirrors are seen between the poses of a step too."""
    longer = [boxes]
    short = boxes.front - boxes.rear < SHORT_M
    for samples in range(1, FINEST + 1):
        more = np.where(short, 0.5 * spacing / samples, 0.0)
        longer.append(boxes._replace(rear=boxes.rear - more, front=boxes.front + more))
    most = math.tan(boxes.lock) / boxes.wheelbase
    return Body(box_rows(boxes), np.stack([box_rows(one) for one in longer]), hull_of(longer[1]), boxes.wheelbase, most)


def _spread(tracks: Tracks, reach: int) -> Float64:
    """Let what holds the line hold it for the points near it too, so that no step passes it by."""
    track = np.repeat(np.arange(tracks.offsets.size - 1), np.diff(tracks.offsets))
    held, point = tracks.hold.copy(), np.arange(track.size)
    for away in range(1, reach + 1):
        for near in (point - away, point + away):
            inside = np.clip(near, 0, max(point.size - 1, 0))
            same = (inside == near) & (track[inside] == track) & np.isnan(held)
            held = np.where(same, tracks.hold[inside], held)
    return held


@kernel
def _find(body: Body, rows: Rows, asked: Asked, work: Work, out: Lines) -> None:
    """Find the line along every track."""
    for track in range(rows.places.size):
        a, b = rows.tracks[track], rows.tracks[track + 1]
        near = rows.near[a : b + 1]
        stretch = Stretch(rows.points[a:b], rows.step, rows.solids, near, rows.which, asked.slack)
        tied = (rows.tied[track, 0], rows.tied[track, 1])
        stages = (b - a - 1) // rows.stride + 1
        mesh = Mesh(stages, rows.stride, rows.places[track], rows.apart[track], SAMPLES, tied[0], tied[1])
        line, share = work.line[: mesh.stages], 0.0
        _start(stretch, mesh, line, 1.0)
        if rows.floor[track] < np.inf:
            share = _line(stretch, body, asked, mesh, work, rows.floor[track])
        room = room_along(stretch, body, line, mesh.stride, asked.enough) if share > 0.0 else rows.gap[track]
        if room < 0.0 and share <= 1.0:
            empty = Stretch(rows.points[a:b], rows.step, rows.solids, rows.none, rows.which, asked.slack)
            out.needed[track] = _needed(empty, body, asked, mesh, work)
        if room < asked.enough:
            out.shunt[track] = _shunts(stretch, body, asked, mesh, work)
        out.share[track] = share
        _write(
            stretch,
            body,
            line,
            mesh.stride,
            out.poses[FINE * a - (FINE - 1) * track : FINE * b - (FINE - 1) * (track + 1)],
        )


@bare
def _start(stretch: Stretch, mesh: Mesh, line: Float64, share: float) -> None:
    """Put control points a share of the way from the middle of the trail to the wanted line."""
    for k in range(mesh.stages):
        line[k, OFFSET] = share * stretch.rows[k * mesh.stride, WANTED]
    control(stretch.rows, mesh.stride, line)


@bare
def _line(stretch: Stretch, body: Body, asked: Asked, mesh: Mesh, work: Work, floor: float) -> float:
    """Find the line along one stretch; give the share of the lock that it may use."""
    line = work.line[: mesh.stages]
    rules = Rules(body.most, asked.rate / body.wheelbase, asked.comfort, floor, mesh.stride * stretch.step)
    lay(stretch, body, line, mesh, rules, work.space)
    share = share_of(work.space, mesh, rules, asked.enough, 1.0)
    if share == 0.0 and floor <= 0.5 * CLOSED:
        mesh = Mesh(mesh.stages, mesh.stride, mesh.places, mesh.apart, mesh.samples, False, False)
        lay(stretch, body, line, mesh, rules, work.space)
        share = share_of(work.space, mesh, rules, asked.enough, BEYOND)
    if EASY < share <= 1.0 and _easily(stretch, body, asked, mesh, work, rules):
        return EASY
    return refine(stretch, body, mesh, work, rules, share) if share > 0.0 else share


@bare
def _easily(stretch: Stretch, body: Body, asked: Asked, mesh: Mesh, work: Work, rules: Rules) -> bool:
    """Whether an easy line leaves enough once it is refined: the first lattice may show less than there is.

    If so it becomes the line; else everything is as before.
    """
    line = work.line[: mesh.stages]
    if search(work.space, (mesh.stages, mesh.places), bent(rules, EASY, rules.floor), True)[0] >= FAR:
        return False
    refine(stretch, body, mesh, work, rules, EASY)
    if room_along(stretch, body, line, mesh.stride, asked.enough) >= asked.enough:
        return True
    _start(stretch, mesh, line, 1.0)
    lay(stretch, body, line, mesh, rules, work.space)
    return False


@bare
def _needed(stretch: Stretch, body: Body, asked: Asked, mesh: Mesh, work: Work) -> float:
    """Least multiple of the lock whose line stays within the edges of the trail; 1 where the trail is too narrow."""
    free, finer = Mesh(mesh.stages, mesh.stride, mesh.places, mesh.apart, 1, False, False), work.finer[: mesh.stages]
    _start(stretch, mesh, finer, 1.0)
    change, spacing = asked.rate / body.wheelbase, mesh.stride * stretch.step
    rules = Rules(body.most, change, asked.comfort, -COARSE * mesh.apart, spacing)
    lay(stretch, body, finer, free, rules, work.space)
    share = 1.0
    room, _ = search(work.space, (mesh.stages, mesh.places), rules, True)
    while room >= FAR and share < BEYOND:
        share *= SHARPER
        room, _ = search(work.space, (mesh.stages, mesh.places), bent(rules, share, rules.floor), True)
    return share if room < FAR else 1.0


@bare
def _shunts(stretch: Stretch, body: Body, asked: Asked, mesh: Mesh, work: Work) -> bool:
    """Whether one reverse gets past."""
    finer = work.finer[: mesh.stages]
    _start(stretch, mesh, finer, 0.0)
    free = Mesh(mesh.stages, mesh.stride, mesh.places, mesh.apart, 2, False, False)
    rules = Rules(body.most, np.inf, asked.comfort, asked.enough, mesh.stride * stretch.step)
    lay(stretch, body, finer, free, rules, work.space)
    return one_reverse(Yard(stretch, body, finer, free, rules, work.space), asked.reverse)


@bare
def _write(stretch: Stretch, body: Body, line: Float64, stride: int, poses: Float64) -> None:
    """Write the poses of a line."""
    for pose in range(poses.shape[0]):
        at = pose / FINE
        x, y, heading, bend = line_along(line, stride, at)
        turns = math.floor((heading - stretch.rows[math.floor(at), HEADING]) / (2.0 * math.pi) + 0.5)
        poses[pose, 0], poses[pose, 1] = x, y
        poses[pose, 2], poses[pose, 3] = heading - 2.0 * math.pi * turns, math.atan(bend * body.wheelbase)
