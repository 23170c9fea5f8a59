"""How the set-ups pass their tight places, seen from above: what a drawing to scale is made from."""

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

__all__ = ["Edges", "Plans", "Shapes", "Ways", "joined"]

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


def joined(plans: Sequence[Plans]) -> Plans:
    """Put the plans of several set-ups, one at least, one after another."""
    first = np.cumsum([0, *(one.ways.x.size for one in plans)])
    shifted = [np.where(one.nearest < 0, -1, one.nearest + begin) for one, begin in zip(plans, first[:-1], strict=True)]
    return Plans(
        ways=Ways(**_columns([one.ways for one in plans])),
        shapes=Shapes(**_columns([one.shapes for one in plans])),
        edges=Edges(**_columns([one.edges for one in plans])),
        tightest=np.concatenate([one.tightest + begin for one, begin in zip(plans, first[:-1], strict=True)]),
        nearest=np.concatenate(shifted),
        body=np.concatenate([one.body for one in plans]),
        beside=np.concatenate([one.beside for one in plans]),
    )


def _columns(records: Sequence[Any]) -> dict[str, Any]:
    """Put the columns of records one after another; what each place owns is counted on."""
    columns = {}
    for field in fields(records[0]):
        parts = [getattr(record, field.name) for record in records]
        if field.name == "offsets":
            steps = np.concatenate([np.diff(part) for part in parts])
            columns[field.name] = np.concatenate(([0], np.cumsum(steps))).astype(np.int64)
        else:
            columns[field.name] = np.concatenate(parts)
    return columns
