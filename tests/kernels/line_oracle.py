"""The line with the most room by another method: linear programs over a finer spline, from many starts.

The rear axle runs on a cubic B-spline with a control point a metre. What the sweep measures at every quarter of a metre
is made linear in the offsets of the control points by small changes of each; within a region of trust a linear program
raises the smallest gap while lock and steering rate are kept (sequential linear programming: Griffith and Stewart, A
nonlinear programming technique for the optimization of continuous processing systems, Management Science 7, 1961).
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import BSpline
from scipy.optimize import linprog

from pipeline.checks.room.windows import finer
from pipeline.kernels.plan_records import Boxes, Solids, Tracks
from pipeline.kernels.plan_sweep import sweep

Float64 = NDArray[np.float64]

TIMES = 4
"""Poses a point of the way."""
TRIES = 40
"""Linear programs from each start."""
TRUST_M, LEAST_M = 0.15, 0.002
CHANGE_M = 1e-4


class Steering(NamedTuple):
    """What the line may do."""

    bend: float
    """Largest curvature, 1/m."""
    change: float
    """Largest change of curvature a metre, 1/m²."""
    comfort: float
    """Gaps beyond count alike, m."""


class World(NamedTuple):
    """One way, made finer, with what stands beside it."""

    boxes: Boxes
    tracks: Tracks
    solids: Solids
    control: Float64
    """Where control points stand, m."""
    basis: Float64
    """Value of each at each pose, (poses, control points)."""
    rate: Float64
    """First and second derivative a metre, (2, poses, control points)."""


def world_of(boxes: Boxes, tracks: Tracks, solids: Solids, apart: float) -> World:
    """Lay a spline along a way, one control point every *apart* m."""
    fine = finer(tracks, TIMES)
    at = fine.step * np.arange(fine.x.size)
    control = np.arange(round(at[-1] / apart) + 3) * apart - apart
    knots = np.concatenate(
        (control[:1] - apart * np.array([2.0, 1.0]), control, control[-1:] + apart * np.array([1.0, 2.0]))
    )
    # Cubic: the control point k stands over the middle of its five knots.
    splines = BSpline(knots, np.eye(control.size), 3)
    inside = np.clip(at, control[1], control[-2] - 1e-9)
    return World(
        boxes, fine, solids, control, splines(inside), np.stack([splines(inside, nu=1), splines(inside, nu=2)])
    )


def poses_of(world: World, offset: Float64) -> tuple[Float64, Float64, Float64, Float64, Float64]:
    """Give poses of a line and its curvature: control points stand their offset right of the way."""
    way = world.tracks
    at = way.step * np.arange(way.x.size)
    x, y, heading = (_beyond(world.control, at, column, way.heading) for column in (way.x, way.y, way.heading))
    px, py = x + offset * np.sin(heading), y - offset * np.cos(heading)
    (vx, vy), (ax, ay) = ((world.rate[k] @ px, world.rate[k] @ py) for k in range(2))
    bend = (vx * ay - vy * ax) / np.hypot(vx, vy) ** 3
    ahead = np.arctan2(vy, vx)
    ahead += 2.0 * np.pi * np.round((way.heading - ahead) / (2.0 * np.pi))
    return world.basis @ px, world.basis @ py, ahead, np.arctan(world.boxes.wheelbase * bend), bend


def _beyond(control: Float64, at: Float64, column: Float64, heading: Float64) -> Float64:
    """Interpolate, straight on beyond the ends."""
    found = np.interp(control, at, column)
    for end, beyond in ((0, control[0] - at[0]), (-1, control[-1] - at[-1])):
        near = 1 if end == 0 else -2
        if column is not heading:
            found[end] += beyond * (column[near] - column[end]) / (at[near] - at[end])
    return found


def measured(world: World, offset: Float64, rules: Steering) -> Float64:
    """Give what has to be large, a row a pose: gaps left and right, and what is left of lock and of rate, in m."""
    *poses, bend = poses_of(world, offset)
    gap = sweep(world.boxes, world.tracks, world.solids, tuple(np.ascontiguousarray(one) for one in poses)).near.gap
    change = np.diff(bend, append=bend[-1]) / world.tracks.step
    steering = [rules.bend - bend, rules.bend + bend, rules.change - change, rules.change + change]
    return np.column_stack([np.minimum(gap, rules.comfort), *steering])


def best_line(
    world: World, start: Float64, free: NDArray[np.bool_], aside: float, rules: Steering
) -> tuple[float, Float64]:
    """Raise the smallest gap from a start; give the best gap that keeps to the steering, and its offsets."""
    line, trust, here = start.copy(), TRUST_M, measured(world, start, rules)
    worth = _worth(here)
    moving = np.flatnonzero(free)
    for _ in range(TRIES):
        slope = np.stack(
            [(measured(world, line + CHANGE_M * one, rules) - here) / CHANGE_M for one in np.eye(line.size)[moving]], -1
        )
        step = _program(here, slope, trust, aside - np.abs(line[moving]), np.sign(line[moving]))
        tried = line.copy()
        tried[moving] = np.clip(tried[moving] + step, -aside, aside)
        there = measured(world, tried, rules)
        if _worth(there) > worth + 1e-5:
            line, here, worth, trust = tried, there, _worth(there), min(trust * 1.5, 0.3)
        else:
            trust *= 0.5
            if trust < LEAST_M:
                break
    legal = here[:, 2:4].min() > -0.01 * rules.bend and here[:, 4:].min() > -0.01 * rules.change
    return (float(here[:, :2].min()) if legal else -np.inf), line


def _worth(here: Float64) -> float:
    """Smallest gap, less what steering is asked too much."""
    return float(here[:, :2].min() + 20.0 * min(here[:, 2:4].min(), 0.0) + 5.0 * min(here[:, 4:].min(), 0.0))


def _program(here: Float64, slope: Float64, trust: float, left: Float64, side: Float64) -> Float64:
    """Solve one linear program: the change of the moving offsets that raises the smallest gap most."""
    count = slope.shape[-1]
    rows, values = slope.reshape(-1, count), here.reshape(-1)
    gap = np.tile(np.arange(here.shape[1]) < 2, here.shape[0])
    over = np.tile(np.array([0.0, 0.0, 1.0, 1.0, 4.0, 4.0]), here.shape[0])
    # Unknowns: changes, smallest gap, steering beyond what is allowed.
    full = np.column_stack([-rows, gap.astype(float), -over])
    low = np.where(side < 0, -np.minimum(trust, np.maximum(left, 0.0)), -trust)
    high = np.where(side >= 0, np.minimum(trust, np.maximum(left, 0.0)), trust)
    keep = values < 3.0
    cost = np.concatenate([np.zeros(count), [-1.0, 20.0]])
    limits = [*zip(low, high, strict=True), (None, None), (0.0, None)]
    found = linprog(cost, A_ub=full[keep], b_ub=values[keep], bounds=limits, method="highs")
    return found.x[:count] if found.success else np.zeros(count)
