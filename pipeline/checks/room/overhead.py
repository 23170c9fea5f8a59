"""Branches over the best line: which one it leads under with the least height, and how many it leads round."""

from typing import TypedDict

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.limits import Limits
from pipeline.checks.obstacles import across
from pipeline.checks.room.ground import Ground, Searched
from pipeline.terms import ObstacleKind
from pipeline.vehicle.envelope_model import Envelope

__all__ = ["Overhead", "branches_of"]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]


class Overhead(TypedDict):
    """The fields of ``Room`` about branches, (segments, 2)."""

    under: Int64
    clear_m: Float64
    under_at_m: Float64
    beside: Int64


def branches_of(ground: Ground, found: Searched, envelope: Envelope, limits: Limits) -> Overhead:
    """Find the branches that the best line leads under and round.

    Parameters
    ----------
    ground
        The site as the set-up finds it.
    found
        The lines; what they can lead neither under nor round counts as led under.
    envelope
        The set-up.
    limits
        Margins over the roof.
    """
    shape = (ground.count // 2, 2)
    under, beside = np.full(shape, -1, dtype=np.int64), np.zeros(shape, dtype=np.int64)
    things = ground.scene.things
    branch = np.flatnonzero((things.kind == ObstacleKind.BRANCH.value) & ~np.isnan(things.clear_height_m))
    # Those that leave least come last, so that they have the last word.
    branch = branch[np.lexsort((branch, things.clear_height_m[branch]))[::-1]]
    low, high = across(things)
    needed = envelope.height_m + limits.roof_margin_m
    for direction in range(2):
        left, right = (low, high) if direction == 0 else (-high, -low)
        for k in branch:
            row = things.row[k]
            bars = found.barring[found.windows.track == 2 * row + direction]
            barred = bool((things.number[bars[bars >= 0]] == things.number[k]).any())  # the thing or a copy of it
            reach = _reach(ground, found, int(2 * row + direction), float(things.at_m[k]))
            over = left[k] < reach[1] and right[k] > -reach[0]
            if barred or (over and things.clear_height_m[k] >= needed):
                under[row, direction] = k
            elif things.clear_height_m[k] < needed:
                beside[row, direction] += 1
    there = under >= 0
    pick = np.maximum(under, 0)
    at, clear = np.append(things.at_m, np.nan)[pick], np.append(things.clear_height_m, np.nan)[pick]
    return {
        "under": under,
        "clear_m": np.where(there, clear, np.nan),
        "under_at_m": np.where(there, at, np.nan),
        "beside": beside,
    }


def _reach(ground: Ground, found: Searched, track: int, at_m: float) -> Float64:
    """How far the body reaches to the left and right of the way where it passes a chainage."""
    first, last = ground.tracks.offsets[track], ground.tracks.offsets[track + 1]
    nearest = first + int(np.argmin(np.abs(ground.site.chainage[first:last] - at_m)))
    return np.asarray(found.line.reach[nearest].max(axis=0))
