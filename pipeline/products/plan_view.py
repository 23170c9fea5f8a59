"""What of a tight place stands on the drawing of its plan: the poses near the tightest one, and what is beside them."""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.room.plans import Plans
from pipeline.vehicle.envelope_model import Envelope

__all__ = ["AWAY_M", "BESIDE_M", "ELSEWHERE", "REACH_M", "SPACING_M", "Cut", "Side", "cut"]

REACH_M = 2.5
"""So much of the way before the first and behind the last of the nearest poses is drawn."""
SPACING_M = 0.5
"""About this far apart stand the outlines of a plan."""
BESIDE_M = 3.0
"""What stands farther from the axles of all drawn poses than the ends of the body do, and this, is left out."""

AWAY_M = 6.0
"""A pose farther from the tightest one than this is not drawn with it: the picture would be too small."""
ELSEWHERE = -1
"""Stands for a pose that is not drawn."""

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


class Side(NamedTuple):
    """What is nearest on one side in travel; points in the plan's own frame."""

    pose: int
    """Which of the drawn poses comes nearest; ``ELSEWHERE`` where that one is not drawn."""
    body: Floats
    """Point of the body, shape (2,)."""
    beside: Floats
    """Point of what it comes nearest to."""


@dataclass(frozen=True, slots=True)
class Cut:
    """One place cut out; metres east and north of the middle of the rear axle at the tightest pose."""

    origin: Floats
    """That middle in the world, shape (2,)."""
    poses: Floats
    """Poses half a metre apart, (poses, 5): x, y of the rear axle's middle, heading, steering angle, lean, rad."""
    tightest: int
    """Which of them is the tightest."""
    sides: tuple[Side | None, Side | None]
    """What is nearest, left and right; ``None`` where nothing stands."""
    shapes: Ints
    """Numbers of the shapes near the drawn poses, of all shapes."""
    edges: tuple[Floats, Floats]
    """Points of the left and the right edge, shape (places, 2); NaN where no edge is known."""
    whole: tuple[bool, bool]
    """Whether the whole body must stay inside the edge."""


def cut(plans: Plans, place: int, envelope: Envelope) -> Cut:
    """Cut one place out.

    Parameters
    ----------
    plans
        Plans of all places.
    place
        Number of the place.
    envelope
        The set-up that is drawn there.
    """
    ways = plans.ways
    own = np.arange(ways.offsets[place], ways.offsets[place + 1])
    middle = np.column_stack([ways.x[own], ways.y[own]])
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(middle, axis=0).T))])
    kept, around = _drawn(plans, place, along, envelope)
    origin = middle[plans.tightest[place] - own[0]]
    angles = (ways.heading, ways.steer, ways.roll)
    turned = np.column_stack([middle - origin, *(angle[own] for angle in angles)])[kept]
    edges = np.stack([plans.edges.x[own][around], plans.edges.y[own][around]], axis=2) - origin
    whole = (plans.edges.whole[own][around] & np.isfinite(edges[:, :, 0])).any(axis=0)
    return Cut(
        origin=origin,
        poses=turned,
        tightest=_which(kept, plans.tightest[place] - own[0]),
        sides=tuple(_side(plans, (place, side), kept, origin) for side in (0, 1)),  # type: ignore[arg-type]
        shapes=_near(plans, place, turned[:, :2] + origin, envelope),
        edges=(edges[:, 0], edges[:, 1]),
        whole=(bool(whole[0]), bool(whole[1])),
    )


def _drawn(plans: Plans, place: int, along: Floats, envelope: Envelope) -> tuple[Ints, Ints]:
    """Choose the poses that are drawn, and those whose edges are: as far as the body reaches."""
    first, tightest = plans.ways.offsets[place], plans.tightest[place]
    wanted = np.append(plans.nearest[place], tightest) - first
    wanted = wanted[wanted >= 0]
    wanted = wanted[np.abs(along[wanted] - along[tightest - first]) <= AWAY_M]
    begin, end = along[wanted].min() - REACH_M, along[wanted].max() + REACH_M
    ahead = envelope.wheelbase_m + envelope.length_front_m
    around = np.flatnonzero((along >= begin - envelope.length_rear_m) & (along <= end + ahead))
    inside = np.flatnonzero((along >= begin - 1e-9) & (along <= end + 1e-9))
    marks = np.arange(along[inside[0]], along[inside[-1]] + SPACING_M / 2, SPACING_M)
    spaced = np.abs(along[:, None] - marks[None, :]).argmin(axis=0)
    return np.unique(np.concatenate([spaced, wanted])), around


def _which(kept: Ints, pose: np.int64) -> int:
    found = np.flatnonzero(kept == pose)
    return int(found[0]) if found.size else ELSEWHERE


def _side(plans: Plans, where: tuple[int, int], kept: Ints, origin: Floats) -> Side | None:
    """Give what is nearest on a side."""
    pose = plans.nearest[where]
    if pose < 0:
        return None
    own = pose - plans.ways.offsets[where[0]]
    return Side(_which(kept, own), plans.body[where] - origin, plans.beside[where] - origin)


def _near(plans: Plans, place: int, axles: Floats, envelope: Envelope) -> Ints:
    """Find the shapes that stand near the drawn poses."""
    shapes = plans.shapes
    own = np.arange(shapes.offsets[place], shapes.offsets[place + 1])
    ends = [np.column_stack([shapes.ax[own], shapes.ay[own]]), np.column_stack([shapes.bx[own], shapes.by[own]])]
    length = envelope.length_rear_m + envelope.wheelbase_m + envelope.length_front_m
    apart = [np.hypot(*(one[:, None] - axles[None]).transpose(2, 0, 1)).min(axis=1) for one in ends]
    near: Ints = own[np.minimum(*apart) - shapes.radius[own] <= length + BESIDE_M]
    return near
