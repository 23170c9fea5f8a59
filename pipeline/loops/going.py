"""What the ground along the segments is like to drive on: grades, surfaces, how wet it is."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.ground.model import Ground
from pipeline.survey.model import Network
from pipeline.terms import Wetness
from pipeline.terrain.model import Terrain

__all__ = ["Going", "Stretches", "going_of"]

Floats = NDArray[np.float64]

STRETCH_M = 10.0
"""Length of a stretch, about: two vehicle lengths. What is shorter is a step to be driven over, not a hill."""


@dataclass(frozen=True, slots=True)
class Stretches:
    """One segment as stretches of even grade, in the digitised direction."""

    length_m: Floats
    """Plan length of each stretch; they add up to that of the segment."""
    grade_deg: Floats
    """Grade of each, + uphill in the digitised direction; NaN where it is not known."""
    surface: str | None = None
    """Surface class; ``None``: firm."""
    wetness: Wetness = Wetness.DRY
    """How wet it is."""


@dataclass(frozen=True, slots=True)
class Going:
    """The ground along the segments, by segment id; one that is not listed is taken for level and firm."""

    segments: Mapping[str, Stretches]


def going_of(network: Network, terrain: Terrain, ground: Ground) -> Going:
    """Cut every segment into equal stretches of about 10 m with the mean grade of each.

    Parameters
    ----------
    network
        Segments.
    terrain
        Its stations give the grades; a station without height counts for nothing.
    ground
        Surface class and wetness of every segment; that of other weather gives the going under it.

    Returns
    -------
    Going
        Every segment of the network.
    """
    stations, lengths = terrain.stations, network.segments["length_m"].to_numpy(dtype=np.float64)
    counts = np.diff(stations.offsets)
    pieces = np.clip(np.rint(lengths / STRETCH_M), 1, np.maximum(counts - 1, 1)).astype(np.int64)
    ends = np.cumsum(pieces)
    begins = ends - pieces
    row = np.repeat(np.arange(len(lengths)), counts)
    along = stations.chainage_m / np.where(lengths > 0.0, lengths, 1.0)[row]
    stretch = begins[row] + np.clip((along * pieces[row]).astype(np.int64), 0, pieces[row] - 1)
    grade = stations.grade.astype(np.float64)
    known = np.isfinite(grade)
    total = int(pieces.sum())
    number = np.bincount(stretch[known], minlength=total)
    climbed = np.bincount(stretch[known], grade[known], total)
    mean = np.where(number > 0, climbed / np.maximum(number, 1), np.nan)
    degrees = np.degrees(np.arctan(mean))
    ids = network.segments["segment_id"].to_numpy()
    return Going(
        {
            str(ids[n]): Stretches(
                np.full(pieces[n], lengths[n] / pieces[n]),
                degrees[begins[n] : ends[n]],
                ground.surface[n],
                ground.wet[n],
            )
            for n in range(len(ids))
        }
    )
