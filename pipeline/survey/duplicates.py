"""Finds lines that were surveyed twice: same ends, same shape within the snap distance, either direction."""

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.survey.layer import Shapes

__all__ = ["duplicates"]

Ints = NDArray[np.int64]


def duplicates(shapes: Shapes, ends: Ints, groups: Sequence[object], preference: Ints, snap_m: float) -> Ints:
    """Find for each line the better one that it doubles.

    Parameters
    ----------
    shapes
        Plane lines.
    ends
        Nodes at both ends (n, 2).
    groups
        Only lines of equal group can double each other (a ford never stands for the bridge beside it).
    preference
        The lower, the better the line; ties go to the shorter one, then to the one that comes first.
    snap_m
        Largest distance between two lines of the same shape (Hausdorff distance), m.

    Returns
    -------
    Ints
        Number of the line that is kept in its place; its own where it is kept.
    """
    keeper = np.arange(len(shapes))
    buckets: dict[object, list[int]] = {}
    length = np.round(shapely.length(shapes), 6)
    for row in np.lexsort((np.arange(len(shapes)), length, preference)):
        low, high = sorted(ends[row].tolist())
        buckets.setdefault((low, high, groups[row]), []).append(int(row))
    for rows in buckets.values():
        kept = rows[:1]
        for row in rows[1:]:
            gaps = shapely.hausdorff_distance(shapes[kept], shapes[row])
            near = np.flatnonzero(gaps <= snap_m)
            if near.size:
                keeper[row] = kept[int(near[0])]
            else:
                kept.append(row)
    return keeper
