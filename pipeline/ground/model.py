"""Grip, rolling resistance, bearing capacity and wetness of every segment under the conditions of a day."""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pipeline.ground.runoff import Runoff
from pipeline.terms import Wetness

__all__ = ["Bearing", "Ground", "Lie"]

Float64 = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Lie:
    """How every segment lies to running water, as far as the elevation models tell; shape (segments,)."""

    twi: Float64
    """Topographic wetness index that a tenth of the segment is above; NaN where it is not known."""
    over_land: Float64
    """By how much that is above the mean of the land round the trails; likewise NaN."""
    hollow: NDArray[np.bool_]
    """A tenth of it or more lies in hollows without an outlet."""
    hollow_m: Float64
    """Chainage of the deepest hollow that the segment runs through; NaN where it runs through none."""


class Bearing(NamedTuple):
    """Pressure that the ground bears under a tyre, kPa; shape (segments,)."""

    low: Float64
    """Low value of the spread."""
    typical: Float64


@dataclass(frozen=True, slots=True)
class Ground:
    """Arrays parallel to the segments of the network."""

    wetness: Wetness
    """How wet open, drained ground of the default surface is: the word for the day."""
    site_mm: float
    """Rain index of that ground, mm: what runs in the streams follows it."""
    surface: tuple[str, ...]
    """Surface class of each segment, a key of the surfaces settings; of several the one that grips least."""
    softest: tuple[str, ...]
    """The one of them that bears least."""
    assumed: NDArray[np.bool_]
    """The surface was not tagged: the class is an assumption."""
    wet: tuple[Wetness, ...]
    """How wet each segment is: its surface drains in its own time, and low ground gathers what others shed."""
    index_mm: Float64
    """Rain index of each segment, mm."""
    lie: Lie
    """How each lies to running water."""
    mu_low: Float64
    """Adhesion coefficient, low value of the published range."""
    mu_typical: Float64
    mu_high: Float64
    rolling: Float64
    """Rolling resistance coefficient, high value of the range."""
    rolling_low: Float64
    """The same, low value."""
    bearing: Bearing
    """Of each segment at large."""
    hollow_bearing: Bearing
    """In its deepest hollow; NaN where it runs through none."""
    spot_bearing: Bearing
    """In a soft spot that a survey found on it."""
    runoff: Runoff
    """How streams rise with the index."""
