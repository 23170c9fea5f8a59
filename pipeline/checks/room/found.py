"""What the search for room found for one set-up: gaps, parts, lines, one entry a segment and direction."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Room", "TightPlaces"]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]
UInt8 = NDArray[np.uint8]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class TightPlaces:
    """Places where the middle line leaves less room than a driver wants; parallel arrays of shape (places,).

    Sides are those in travel, last axis [left, right]. Sorted by segment, direction, place in travel.
    """

    row: Int64
    """Row of the segment."""
    direction: Int64
    """0 with, 1 against."""
    from_m: Float64
    """Lower chainage of the stretch."""
    to_m: Float64
    at_m: Float64
    """Chainage of the tightest point."""
    offset_m: Float64
    """Offset of the rear axle's middle there, + right in travel."""
    gap_m: Float64
    """Smallest gap on each side, (places, 2); NaN where nothing stands on that side."""
    part: Int64
    """``terms.Part`` that is nearest, (places, 2); −1 where nothing stands."""
    body_x_m: Float64
    """Where on the body, m ahead of the front axle (ISO 8855), (places, 2)."""
    gap_at_m: Float64
    """Chainage of what is nearest, (places, 2)."""
    thing: Int64
    """Index into the scene's things; −1 the edge of the trail, −2 nothing, (places, 2)."""
    middle_m: Float64
    """Smallest gap on the middle line, driven as well as the steering allows, either side."""
    swept_m: Float64
    """Widest sweep across the line."""
    offtracking_m: Float64
    tail_swing_m: Float64
    lock_share: Float64
    """Largest steering angle ÷ lock."""
    missing_m: Float64
    """Width that is missing, margin included; 0 where it passes."""
    shunt: Int64
    """1: one reverse would do it; 0: it would not; −1: not asked, for it passes."""
    points: Int64
    """Place ``p`` owns points ``points[p]:points[p + 1]`` of the four arrays below; length places + 1."""
    x: Float64
    """Way of the middle of the front axle, world, in travel."""
    y: Float64
    rear_offset_m: Float64
    """Offset of the rear axle's middle at each of them, + right in travel."""
    steer: Float64
    """Steering angle there, rad, + left."""
    chainage_m: Float64
    """Chainage of the rear axle there."""


@dataclass(frozen=True, slots=True)
class Room:
    """One set-up; arrays of shape (segments, 2), column 0 with, 1 against, unless said otherwise."""

    gap_m: Float64
    """Smallest gap on the best line, either side; NaN where nothing bounds it."""
    width_m: Float64
    """Width, across the line, of the part that is nearest there, as it is swept."""
    at_m: Float64
    """Chainage there."""
    part: Int64
    """``terms.Part``; −1 where nothing bounds it."""
    thing: Int64
    """Index into the scene's things; −1 the edge of the trail, −2 nothing."""
    side: Int64
    """0 left, 1 right in travel."""
    basis: UInt8
    """``terms.Basis`` of what is nearest: surveyed for things, tag for the edge of a tagged width, assumed beyond."""
    needed: Float64
    """Largest curvature of the rear axle's way on the best line, 1/m."""
    needed_at_m: Float64
    """Chainage there."""
    turns: Flags
    """The bends can be driven at full lock within the edges of the trail, whatever stands there."""
    under: Int64
    """Index of the branch that leaves the least height over the best line; −1 where it leads under none."""
    clear_m: Float64
    """Its clear height; NaN without one."""
    under_at_m: Float64
    """Its chainage."""
    beside: Int64
    """Number of branches too low to drive under that the best line leads round."""
    places: TightPlaces
    """Where a driver has to choose a line, or none passes."""
