"""The slopes at every station, in both directions of travel, and the stations where a check presses hardest."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.grip.formulas import across, along
from pipeline.kernels.check_worst import first_largest
from pipeline.terms import Basis
from pipeline.terrain.model import Stations

__all__ = ["Slopes", "Worst", "slopes_of", "ways"]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]
UInt8 = NDArray[np.uint8]


@dataclass(frozen=True, slots=True)
class Worst:
    """One station of each segment and direction; arrays of shape (segments, 2)."""

    station: Int64
    """Index of the station; 0 where there is none."""
    known: NDArray[np.bool_]
    """There is one."""

    def take(self, *values: Float64) -> Float64:
        """Read *values* of all stations there, one array for both directions or one for each; NaN where none is."""
        columns = [one[self.station[:, k]] for k, one in enumerate(values * (2 // len(values)))]
        return np.where(self.known, np.column_stack(columns), np.nan)


@dataclass(frozen=True, slots=True)
class Slopes:
    """Slopes at the stations of all segments, one after another, in the with direction; NaN without heights.

    Travel in the other direction turns all signs round.
    """

    stations: Stations
    row: Int64
    """Segment of every station."""
    grade: Float64
    """Rise over run, + uphill."""
    degrees: Float64
    """The same in degrees."""
    cross: Float64
    """The same to the right, + rises."""
    bend: Float64
    """Plan curvature, 1/m, + to the left."""
    along: Float64
    """Lengthwise part of the weight ÷ load on the ground, + uphill."""
    across: Float64
    """Sideways part of it, + draws to the left."""

    def worst(self, used: Sequence[Float64]) -> Worst:
        """Find the first station of each segment where each of the two directions is used most; NaN is passed over."""
        found = np.column_stack([first_largest(one, self.stations.offsets) for one in used])
        return Worst(np.maximum(found, 0), found >= 0)

    def at_m(self, worst: Worst) -> Float64:
        """Give the chainage of the stations."""
        return worst.take(self.stations.chainage_m)

    def basis(self, worst: Worst) -> UInt8:
        """Tell what the heights of the stations rest on."""
        return np.where(worst.known, self.stations.basis[worst.station], np.uint8(Basis.NONE))


def ways(values: Float64) -> tuple[Float64, Float64]:
    """Give *values* as they are met with and against the digitised direction."""
    return values, -values


def slopes_of(stations: Stations) -> Slopes:
    """Take the slopes out of the stations and resolve the weight on them, once for all set-ups."""
    grade, cross = stations.grade.astype(np.float64), stations.cross.astype(np.float64)
    counts = np.diff(stations.offsets)
    return Slopes(
        stations=stations,
        row=np.repeat(np.arange(counts.size, dtype=np.int64), counts),
        grade=grade,
        degrees=np.degrees(np.arctan(grade)),
        cross=cross,
        bend=stations.curvature.astype(np.float64),
        along=along(grade, cross),
        across=across(grade, cross),
    )
