"""The tight places of one set-up: the line to take through each, and what it leaves."""

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.limits import Limits
from pipeline.checks.room.found import TightPlaces
from pipeline.checks.room.ground import Ground, Searched
from pipeline.checks.room.windows import points_of
from pipeline.kernels.plan_records import LEFT, NOTHING, RIGHT, Boxes

__all__ = ["places_of"]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]


def places_of(ground: Ground, found: Searched, boxes: Boxes, limits: Limits) -> TightPlaces:
    """Describe the tight place of every window.

    Parameters
    ----------
    ground
        The site as the set-up finds it.
    found
        The windows, and the lines through them.
    boxes
        The set-up.
    limits
        Its side margin.
    """
    windows, line = found.windows, found.line
    count = windows.track.size
    point, offsets = points_of(windows)
    sides = np.array([[LEFT, RIGHT]])
    near = np.column_stack([ground.lowest(line.gap[:, side], point, offsets) for side in (LEFT, RIGHT)])
    gap = line.gap[near, sides]
    bounded = np.isfinite(gap)
    at = ground.abreast(line, near, sides)
    tightest = near[np.arange(count), gap.argmin(axis=1)]
    middle = found.middle_m
    ends = np.column_stack([ground.chainage(windows.first), ground.chainage(windows.last)])
    missing = np.maximum(limits.side_margin_m - 2.0 * gap.min(axis=1, initial=np.inf), 0.0)
    return TightPlaces(
        row=windows.track // 2,
        direction=windows.track % 2,
        from_m=ends.min(axis=1),
        to_m=ends.max(axis=1),
        at_m=ground.chainage(at[np.arange(count), gap.argmin(axis=1)]),
        offset_m=line.rear_offset[tightest],
        gap_m=np.where(bounded, gap, np.nan),
        part=np.where(bounded, line.part[near, sides], -1),
        body_x_m=np.where(bounded, line.body_x[near, sides] - boxes.wheelbase, np.nan),
        gap_at_m=np.where(bounded, ground.chainage(at), np.nan),
        thing=np.where(bounded, ground.thing(line.solid[near, sides], at), NOTHING),
        middle_m=_finite(middle[ground.lowest(middle, point, offsets)]),
        swept_m=_most(_swept(line.reach[point]), offsets),
        offtracking_m=_most(line.offtracking[point], offsets),
        tail_swing_m=_most(line.tail_swing[point], offsets),
        lock_share=_most(np.abs(line.steer[point]) / boxes.lock, offsets),
        missing_m=missing,
        shunt=np.where(missing > 0.0, found.shunt, -1),
        points=offsets,
        x=line.x[point] + boxes.wheelbase * np.cos(line.heading[point]),
        y=line.y[point] + boxes.wheelbase * np.sin(line.heading[point]),
        rear_offset_m=line.rear_offset[point],
        steer=line.steer[point],
        chainage_m=ground.chainage(point),
    )


def _finite(values: Float64) -> Float64:
    """Put NaN where nothing bounds a value."""
    return np.where(np.isfinite(values), values, np.nan)


def _swept(reach: Float64) -> Float64:
    """Width that the whole body sweeps across the way at each point."""
    sides = reach.max(axis=1).sum(axis=1)
    return np.where(np.isfinite(sides), sides, 0.0)


def _most(values: Float64, offsets: Int64) -> Float64:
    """Largest value of each group."""
    return np.maximum.reduceat(values, offsets[:-1]) if offsets.size > 1 else np.zeros(0)
