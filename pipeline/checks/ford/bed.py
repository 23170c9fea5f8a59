"""The bed of surveyed water, laid into the profiles that vehicles are rolled over.

Lidar sees the face of the water, and a coarse cell the banks: the bed is in neither. It is laid as a parabola between
the two edges of the water, its deepest place the surveyed depth below the straight line from edge to edge, which is the
water's face; its banks are then 4·depth ÷ length steep at the water's edge. The lower of bed and profile counts: where
the elevation model or a surveyed profile shows the bed already, nothing is added to it. A ditch or a hole that was
surveyed in the same place, no shallower than the water, is the bed, measured: there nothing is laid but that. Water
beside the line lowers nothing on it.
"""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.obstacles import Things, across, on_runs
from pipeline.terms import ObstacleKind
from pipeline.terrain.model import Profiles, Terrain

__all__ = ["banks", "with_beds"]

Float64 = NDArray[np.float64]
Flags = NDArray[np.bool_]

BANK_M = 2.0
"""How far before and behind the water's edge its banks are looked at: from where the front wheels are on the way down
while the rear ones are on the flat. Rule of this project, no source."""


_SAME_M = 0.005
"""Depths that differ by less are the same."""


def with_beds(terrain: Terrain, things: Things) -> Terrain:
    """Lower the profiles to the beds of surveyed water.

    Parameters
    ----------
    terrain
        The terrain along the network.
    things
        What was surveyed, water among it. Only water of known depth and length has a bed.

    Returns
    -------
    Terrain
        The same terrain, with its own heights where no bed lies; *terrain* itself where there is no bed at all.
    """
    water = things.of(ObstacleKind.WATER)
    left, right = across(water)
    sounded = (water.depth_m > 0.0) & (water.length_m > 0.0) & (left < 0.0) & (right > 0.0)
    water = water.where(sounded & ~_measured_pit(water, things))
    if water.row.size == 0:
        return terrain
    profiles = terrain.profiles
    z = profiles.z.copy()
    thing, run, at, _ = on_runs(water, profiles)
    for k, r, middle in zip(thing, run, at, strict=True):
        first, last = profiles.offsets[r], profiles.offsets[r + 1]
        along = profiles.start_m[r] + np.arange(last - first) * profiles.step_m
        bed = _bed(along, profiles.z[first:last].astype(np.float64), middle, (water.length_m[k], water.depth_m[k]))
        z[first:last] = np.fmin(z[first:last], bed.astype(np.float32))
    return replace(terrain, profiles=replace(profiles, z=z))


def _measured_pit(water: Things, things: Things) -> Flags:
    """Tell in which water a ditch or a hole was surveyed as well, and one that can be its bed: no shallower than it."""
    pits = things.of(ObstacleKind.DITCH, ObstacleKind.HOLE)
    same = water.row[:, None] == pits.row[None, :]
    same &= np.abs(pits.height_m) >= (water.depth_m - _SAME_M)[:, None]
    apart = np.abs(water.at_m[:, None] - pits.at_m[None, :])
    return np.asarray((same & (apart <= water.length_m[:, None] / 2.0)).any(axis=1))


def _bed(along: Float64, z: Float64, middle: float, sizes: tuple[float, float]) -> Float64:
    """Give the height of the bed along a run; NaN outside the water, and where an edge has no height."""
    length, depth = sizes
    before, behind = np.interp([middle - length / 2.0, middle + length / 2.0], along, z)
    face = before + (behind - before) * ((along - middle) / length + 0.5)
    share = 1.0 - (2.0 * (along - middle) / length) ** 2
    return np.where(share > 0.0, face - depth * share, np.nan)


def banks(profiles: Profiles, row: int, reach: tuple[float, float]) -> tuple[float, float]:
    """Give the steepest way down into water and up out of it, degrees, in the digitised direction, each 0 or more.

    Parameters
    ----------
    profiles
        The runs, beds laid in.
    row
        Row of the segment.
    reach
        Chainage from and to which the water reaches; :data:`BANK_M` before and behind is looked at as well.

    Returns
    -------
    tuple of float
        Down in the first half, up in the second; NaN where there is no height.
    """
    first, last = int(profiles.offsets[row]), int(profiles.offsets[row + 1])
    at = profiles.start_m[row] + (np.arange(last - first - 1) + 0.5) * profiles.step_m
    grade = np.diff(profiles.z[first:last].astype(np.float64)) / profiles.step_m
    middle = (reach[0] + reach[1]) / 2.0
    entry = -grade[(at >= reach[0] - BANK_M) & (at <= middle)]
    leaving = grade[(at >= middle) & (at <= reach[1] + BANK_M)]
    return _steepest(entry), _steepest(leaving)


def _steepest(grades: Float64) -> float:
    """Give the steepest of some grades, degrees; 0 where none rises, NaN where none is known."""
    known = grades[~np.isnan(grades)]
    return float(np.degrees(np.arctan(max(known.max(), 0.0)))) if known.size else float("nan")
