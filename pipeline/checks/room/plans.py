"""How the set-ups pass their tight places, seen from above: what a drawing to scale is made from."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Edges", "Plans", "Shapes", "Ways"]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]
Flags = NDArray[np.bool_]
Texts = NDArray[np.object_]


@dataclass(frozen=True, slots=True)
class Ways:
    """Poses along the lines, in travel; place ``p`` owns ``offsets[p]:offsets[p + 1]``."""

    offsets: Int64
    x: Float64
    """Middle of the rear axle, world, m."""
    y: Float64
    heading: Float64
    """Of the body, rad, anticlockwise from east."""
    steer: Float64
    """Steering angle of the single-track model, rad, + left."""
    roll: Float64
    """Lean of the ground, rad, + right side down in travel."""


@dataclass(frozen=True, slots=True)
class Shapes:
    """Upright capsules that the set-up has to keep clear of; place ``p`` owns ``offsets[p]:offsets[p + 1]``."""

    offsets: Int64
    ax: Float64
    """All that lies within the radius of the line from a to b, world, m."""
    ay: Float64
    bx: Float64
    by: Float64
    radius: Float64
    low: Float64
    """Lowest point over the ground, m."""
    thing: Texts
    """``obstacle_id``; ``None`` for what is not in the survey."""


@dataclass(frozen=True, slots=True)
class Edges:
    """Edges of the trail beside the poses, [left, right] in travel; arrays (poses, 2) parallel to the ways."""

    x: Float64
    """World, m; NaN where no edge is known."""
    y: Float64
    whole: Flags
    """The whole body must stay inside, not the tyres alone."""


@dataclass(frozen=True, slots=True)
class Plans:
    """Plans of the tight places, parallel to the rows of LINES; sides are those in travel, [left, right]."""

    ways: Ways
    shapes: Shapes
    edges: Edges
    tightest: Int64
    """Number of the pose where room is least, of all poses, shape (places,)."""
    nearest: Int64
    """Number of the pose that comes nearest to what is nearest on each side, (places, 2); −1 where nothing stands."""
    body: Float64
    """Point of the body that comes nearest then, world, (places, 2, 2): [side, x or y]; NaN where nothing stands."""
    beside: Float64
    """Point of what it comes nearest to, the same shape."""
