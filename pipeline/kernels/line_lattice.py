"""A lattice laid over a stretch of trail, and the line that its control points make.

The rear axle runs on the uniform cubic B-spline of the control points, one a stage: its heading and its curvature have
no jumps, the curvature between two stages lies between those at them, and so does its change. Between control points
P and Q with second differences D and E it is, for t from 0 to 1 (de Boor, A Practical Guide to Splines, 1978),

    P + t (Q − P) + D (1 − t)³ / 6 + E t³ / 6.

Steps are measured on it: the ends of a step are those of the lattice, the second differences those of the line that
the lattice lies round, so that the finer the lattice, the nearer it comes to the line itself.
"""

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.compiled import bare, fused
from pipeline.kernels.line_search import CLOSED, GAP, HEADING, LENGTH, Rules, Space
from pipeline.kernels.plan_gap import Hull, Pose, least_gap, pose_of
from pipeline.kernels.plan_records import LEFT, RIGHT, WHEELS
from pipeline.kernels.plan_way import BEND, BODY, COS, ROLL, SIN, WHEEL, X, Y
from pipeline.kernels.plan_way import HEADING as ALONG

__all__ = ["ASIDE", "HOLD", "OFFSET", "WANTED", "Body", "Mesh", "Stretch", "control", "lay", "place_of", "room_at"]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]
Ends = tuple[float, float, float, float]

ASIDE = 11
"""First column of the rows of a stretch after those of a way: how far the rear axle may run left and right,"""
WANTED = 13
"""where it runs when the middle line is driven, m, + right,"""
HOLD = 14
"""and where a thing holds it, NaN for none."""
OFFSET, CX, CY, DX, DY = range(5)
"""Columns of control points: m right of the way, world, second differences (0 at both ends)."""
REAR, FRONT, Y_RIGHT, Y_LEFT = range(4)
AHEAD = 0.3
"""Least share of a step that leads on along the trail; steeper ones are closed."""


class Body(NamedTuple):
    """A vehicle."""

    boxes: Float64
    """Rows of :func:`pipeline.kernels.plan_gap.box_rows`."""
    swept: Float64
    """The same with short boxes as long as what they sweep from pose to pose, one set a number of poses a step from 0
    on, shape (samples, boxes, columns); the first set is as long as it is."""
    hull: Hull
    """Of the longest."""
    wheelbase: float
    most: float
    """Curvature of the rear axle's way at full lock, 1/m."""


class Stretch(NamedTuple):
    """A stretch of trail."""

    rows: Float64
    """Of :func:`pipeline.kernels.plan_way.way_rows`, and what limits the rear axle's way; shape (points, 15)."""
    step: float
    """Distance of the points, m."""
    solids: Float64
    """Rows of :func:`pipeline.kernels.plan_gap.solid_rows`."""
    offsets: Int64
    """Point ``i`` is near to ``which[offsets[i]:offsets[i + 1]]``."""
    which: Int64
    slack: float
    """How far a thing under or between the wheels may lie off its place, m."""


class Mesh(NamedTuple):
    """How a lattice lies round a line."""

    stages: int
    stride: int
    """Points of the way from stage to stage."""
    places: int
    """Places across, odd, the middle one on the line."""
    apart: float
    """m between them."""
    samples: int
    """Poses a step."""
    tied_start: bool
    """It has to begin on the wanted line."""
    tied_end: bool
    """It has to end there."""


@bare
def control(rows: Float64, stride: int, line: Float64) -> None:
    """Put control points their offset right of the way, every *stride* points of it."""
    stages = line.shape[0]
    for k in range(stages):
        row = rows[k * stride]
        line[k, CX], line[k, CY] = row[X] + line[k, OFFSET] * row[SIN], row[Y] - line[k, OFFSET] * row[COS]
        line[k, DX], line[k, DY] = 0.0, 0.0
    for k in range(1, stages - 1):
        for x, dx in ((CX, DX), (CY, DY)):
            line[k, dx] = line[k - 1, x] - 2.0 * line[k, x] + line[k + 1, x]


@bare
def place_of(line: Float64, k: int, ends: Ends, t: float) -> tuple[float, float, float, float]:
    """Give x, y, heading and curvature of the spline *t* of the way from stage *k* to the next.

    Parameters
    ----------
    line
        Control points; their second differences count.
    k, t
        The stage; 0–1.
    ends
        x and y of the control points at both of them.
    """
    back, dx, dy = 1.0 - t, ends[2] - ends[0], ends[3] - ends[1]
    near, far = back * back * back / 6.0, t * t * t / 6.0
    x = ends[0] + t * dx + near * line[k, DX] + far * line[k + 1, DX]
    y = ends[1] + t * dy + near * line[k, DY] + far * line[k + 1, DY]
    near, far = -0.5 * back * back, 0.5 * t * t
    vx, vy = dx + near * line[k, DX] + far * line[k + 1, DX], dy + near * line[k, DY] + far * line[k + 1, DY]
    ax, ay = back * line[k, DX] + t * line[k + 1, DX], back * line[k, DY] + t * line[k + 1, DY]
    speed = math.hypot(vx, vy)
    return x, y, math.atan2(vy, vx), (vx * ay - vy * ax) / (speed * speed * speed)


@bare
def lay(stretch: Stretch, body: Body, line: Float64, mesh: Mesh, rules: Rules, space: Space) -> None:
    """Lay a lattice round a line, and measure every step.

    Parameters
    ----------
    stretch, body
        Where, and what drives there.
    line
        Control points of the line.
    mesh
        How fine.
    rules
        Gaps beyond its comfort are not measured, steps below its floor are closed.
    space
        Where the lattice stands.
    """
    middle, slopes = mesh.places // 2, space.steps.shape[2]
    _set_aside(stretch.rows, line, mesh, space)
    for k in range(mesh.stages - 1):
        for i in range(mesh.places):
            begins = space.aside[k, i] < np.inf and (k == 0 or space.reached[k, i])
            for s in range(slopes):
                j = i + s - slopes // 2
                step = space.steps[k, i, s]
                step[GAP] = CLOSED
                if begins and 0 <= j < mesh.places and space.aside[k + 1, j] < np.inf:
                    ends = _ends(stretch.rows, line, mesh, k, (i - middle, j - middle))
                    if _direct(stretch.rows[k * mesh.stride + mesh.stride // 2], ends, step):
                        step[GAP] = _gap(stretch, body, (line, mesh, rules), k, ends)
                        space.reached[k + 1, j] |= step[GAP] >= rules.floor


@bare
def _set_aside(rows: Float64, line: Float64, mesh: Mesh, space: Space) -> None:
    """Tell how far each place is from the wanted line; at the tied ends only the nearest one is left."""
    middle, aside = mesh.places // 2, space.aside
    for k in range(mesh.stages):
        row = rows[k * mesh.stride]
        for i in range(mesh.places):
            offset = line[k, OFFSET] + (i - middle) * mesh.apart
            there = i == middle or -row[ASIDE + LEFT] <= offset <= row[ASIDE + RIGHT]
            aside[k, i] = abs(offset - row[WANTED]) if there else np.inf
            space.reached[k, i] = False
    for k in range(mesh.stages):
        if (mesh.tied_start and k < 2) or (mesh.tied_end and k >= mesh.stages - 2):
            keep = 0
            for i in range(mesh.places):
                keep = i if aside[k, i] < aside[k, keep] else keep
            for i in range(mesh.places):
                if i != keep:
                    aside[k, i] = np.inf


@fused
def _ends(rows: Float64, line: Float64, mesh: Mesh, k: int, off: tuple[int, int]) -> Ends:
    """Give both ends of a step, *off* places beside the line."""
    here, there = k * mesh.stride, (k + 1) * mesh.stride
    a, b = off[0] * mesh.apart, off[1] * mesh.apart
    return (
        line[k, CX] + a * rows[here, SIN],
        line[k, CY] - a * rows[here, COS],
        line[k + 1, CX] + b * rows[there, SIN],
        line[k + 1, CY] - b * rows[there, COS],
    )


@fused
def _direct(row: Float64, ends: Ends, step: Float64) -> bool:
    """Write heading and length of a step; tell whether it leads on along the way."""
    dx, dy = ends[2] - ends[0], ends[3] - ends[1]
    on, left = row[COS] * dx + row[SIN] * dy, row[COS] * dy - row[SIN] * dx
    step[LENGTH] = math.hypot(on, left)
    step[HEADING] = row[ALONG] + math.atan2(left, on)
    return bool(on > AHEAD * step[LENGTH])


@bare
def _gap(stretch: Stretch, body: Body, how: tuple[Float64, Mesh, Rules], k: int, ends: Ends) -> float:
    """Smallest gap of the poses of a step."""
    line, mesh, rules = how
    least = rules.comfort
    for sample in range(mesh.samples):
        t = (sample + 0.5) / mesh.samples
        least = room_at(
            stretch, body, place_of(line, k, ends, t), round((k + t) * mesh.stride), (rules.floor, least, mesh.samples)
        )
        if least < rules.floor:
            return CLOSED
    return least


@bare
def room_at(
    stretch: Stretch, body: Body, place: tuple[float, float, float, float], point: int, how: tuple[float, float, int]
) -> float:
    """Smallest gap of a pose to edges, solids and what has to stay between the wheels.

    Parameters
    ----------
    stretch, body
        Where, and what stands there.
    place
        x, y, heading, curvature.
    point
        Point of the way that the rear axle is abreast of.
    how
        Gaps that are told apart, m: below the first any below will do, above the second it is given as that; number of
        poses a step, 0 for the pose by itself.
    """
    floor, least, samples = how
    steer = math.atan(body.wheelbase * place[3])
    pose = pose_of(place[0], place[1], place[2], steer, stretch.rows[point, ROLL])
    for box in range(body.boxes.shape[0]):
        edge = WHEEL if box < WHEELS else BODY
        if min(stretch.rows[point, edge + LEFT], stretch.rows[point, edge + RIGHT]) < np.inf:
            least = min(least, _box_room(stretch, body.boxes, box, pose, point))
            if least < floor:
                return least
    for x in (0.0, body.wheelbase):
        right, at = _across(stretch, pose, point, (x, 0.0))
        off = abs(right - stretch.rows[at, HOLD])
        if off > stretch.slack:
            least = min(least, stretch.slack - off)
    which = stretch.which[stretch.offsets[point] : stretch.offsets[point + 1]]
    return float(least_gap(pose, body.swept[samples], body.hull, stretch.solids, which, least))


@bare
def _box_room(stretch: Stretch, boxes: Float64, box: int, pose: Pose, point: int) -> float:
    """Smallest gap of the corners of a box to the edges; only the outer ones of a box on one side."""
    least, edge = np.inf, WHEEL if box < WHEELS else BODY
    x, y = 0.5 * (boxes[box, REAR] + boxes[box, FRONT]), 0.5 * (boxes[box, Y_RIGHT] + boxes[box, Y_LEFT])
    long, wide = boxes[box, FRONT] - x, boxes[box, Y_LEFT] - y
    cos, sin = (pose.cos_steer, pose.sin_steer) if box < WHEELS // 2 else (1.0, 0.0)
    for corner in range(4):
        a, b = long * (1 - 2 * (corner & 1)), wide * (1 - (corner & 2))
        if y * b >= 0.0:
            right, at = _across(stretch, pose, point, (x + cos * a - sin * b, y + sin * a + cos * b))
            least = min(least, stretch.rows[at, edge + LEFT] + right, stretch.rows[at, edge + RIGHT] - right)
    return least


@bare
def _across(stretch: Stretch, pose: Pose, point: int, spot: tuple[float, float]) -> tuple[float, int]:
    """Give how far right of the way a spot of the body stands, m, and which point of the way it is abreast of."""
    at = min(max(point + math.floor(spot[0] / stretch.step + 0.5), 0), stretch.rows.shape[0] - 1)
    row = stretch.rows[at]
    dx = pose.x + pose.cos * spot[0] - pose.sin * spot[1] - row[X]
    dy = pose.y + pose.sin * spot[0] + pose.cos * spot[1] - row[Y]
    on, right = row[COS] * dx + row[SIN] * dy, row[SIN] * dx - row[COS] * dy
    return right + 0.5 * row[BEND] * on * on, at
