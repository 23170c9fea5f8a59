"""The line past a tight place in the words of a driver, or why none passes.

A sentence has up to four parts: what to hold, what is then left on either side, what the wheels do, and what the middle
of the trail would give. The second stands between a colon and the next semicolon, the smaller gap first, so that a
sentence can be cut to what a driver takes in at a glance (:func:`at_a_glance`, :func:`without_gaps`).
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.room.found import TightPlaces
from pipeline.checks.room.names import DARK, SIDES, Names, body_words, down_to
from pipeline.kernels.plan_records import EDGE, LEFT, NOTHING, RIGHT
from pipeline.terms import ObstacleKind
from pipeline.vehicle.envelope_model import Envelope

__all__ = ["ON_LINE_M", "advice_of", "at_a_glance", "without_gaps"]

Float64 = NDArray[np.float64]

ON_LINE_M = 0.1
"""An offset smaller than this is not told: from a seat, a hand's width is nothing."""
HOLD_M = 0.25
"""A driver who is told to hold an edge moves over by more than this; less is told as a distance from the middle."""
EVEN_M = 0.1
"""Gaps that differ by no more are alike to the eye: between two things it is their middle that counts."""
STRAIGHT_RAD = math.radians(3.0)
"""Wheels that are turned by less than this are straight to the driver: an eighth of a turn of most steering wheels."""
FULL_LOCK = 0.95
"""From this share of the lock on a driver turns the wheel until it stops."""
TOGETHER_M = 4.0
"""What stands left and right within the length of a vehicle is passed at once."""
LEAST_M = 1.0
"""A stretch shorter than this is not counted in metres from the driver's seat."""
MOST_M = 10.0
"""Nobody counts farther than this while looking at a tree."""
_NO_SIGNS = str.maketrans(":;", ",,")
_THROUGH, _BETWEEN = "through ", "between "
_HANGS = ObstacleKind.BRANCH.value
_HABIT = "the middle of the trail leaves too little room"


@dataclass(frozen=True)
class _Place:
    """One tight place of one set-up, with all that its sentence needs."""

    places: TightPlaces
    p: int
    row: int
    way: int
    names: Names
    envelope: Envelope

    @cached_property
    def gaps(self) -> list[float]:
        """Smallest gap left and right, NaN for none."""
        return [float(self.places.gap_m[self.p, side]) for side in (LEFT, RIGHT)]

    @cached_property
    def things(self) -> list[int]:
        """What is nearest left and right."""
        return [int(self.places.thing[self.p, side]) for side in (LEFT, RIGHT)]

    @cached_property
    def near(self) -> int:
        """Side of the smaller gap."""
        left, right = (math.inf if math.isnan(gap) else gap for gap in self.gaps)
        return LEFT if left <= right else RIGHT

    @cached_property
    def own(self) -> slice:
        """Points of the line."""
        return slice(int(self.places.points[self.p]), int(self.places.points[self.p + 1]))

    @cached_property
    def level(self) -> int:
        """Point of the line at which the front axle is level with what is nearest, or with the tightest point."""
        at = float(self.places.gap_at_m[self.p, self.near])
        at = float(self.places.at_m[self.p]) if math.isnan(at) else at
        ahead = self.envelope.wheelbase_m * (1.0 if self.way == 0 else -1.0)
        return int(np.argmin(np.abs(self.places.chainage_m[self.own] + ahead - at)))

    @cached_property
    def offset(self) -> float:
        """How far right of the middle of the trail a driver is there, who sees and steers the front axle.

        In a bend the rear axle, whose offset the table gives, runs inside of it.
        """
        point = self.own.start + self.level
        front = self.names.offset(self.row, self.way, float(self.places.x[point]), float(self.places.y[point]))
        return float(self.places.offset_m[self.p]) if math.isnan(front) else front

    @cached_property
    def even(self) -> bool:
        """Whether both gaps are alike."""
        return abs(self.gaps[LEFT] - self.gaps[RIGHT]) <= EVEN_M

    @cached_property
    def middle(self) -> float:
        """What the middle line leaves."""
        return float(self.places.middle_m[self.p])

    def called(self, side: int) -> str:
        """Name what is nearest on a side; without the signs that part a sentence, whatever its name is."""
        at_m = float(self.places.gap_at_m[self.p, side])
        return self.names.beside(self.things[side], self.row, self.way, side, at_m).translate(_NO_SIGNS)


def advice_of(places: TightPlaces, names: Names, envelope: Envelope) -> list[str]:
    """Write the sentence of every tight place of one set-up.

    Parameters
    ----------
    places
        The places.
    names
        Names of what stands beside the trails.
    envelope
        The set-up.

    Returns
    -------
    list of str
        One a place. Gaps are rounded down and what is missing up, so that nothing reads as roomier than it is.
    """
    rows, ways = places.row.tolist(), places.direction.tolist()
    each = [_Place(places, p, rows[p], ways[p], names, envelope) for p in range(len(rows))]
    return [_passes(one) if places.missing_m[one.p] <= 0.0 else _barred(one) for one in each]


def at_a_glance(advice: str) -> str:
    """Shorten a sentence to what to hold, the smaller of the gaps, and what the wheels do.

    Parameters
    ----------
    advice
        Of :func:`advice_of`.
    """
    what, colon, rest = advice.partition(": ")
    gaps, *then = rest.split("; ")
    return what + colon + "; ".join([gaps.split(", ")[0], *(part for part in then if part != _HABIT)])


def without_gaps(advice: str) -> str:
    """Leave the figures of the gaps out of a sentence: what remains is what the driver does.

    Parameters
    ----------
    advice
        Of :func:`advice_of` or :func:`at_a_glance`.
    """
    what, _, rest = advice.partition(": ")
    return "; ".join([what, *rest.split("; ")[1:]])


def _passes(one: _Place) -> str:
    """Say what to hold, what is left, what the wheels do."""
    parts = [f"{_hold(one)}: {_gaps(one)}", *_steering(one)]
    if one.middle < one.names.limits.side_margin_m / 2.0 and abs(one.offset) >= ON_LINE_M:
        parts.append(_HABIT)
    return "; ".join([*parts, *_unknown(one)])


def _barred(one: _Place) -> str:
    """Say what is missing, and whether one reverse would do it."""
    missing = math.ceil(float(one.places.missing_m[one.p]) * 100.0 - 1e-6) / 100.0
    shunt = int(one.places.shunt[one.p])
    reverse = {1: ["one reverse would do it"], 0: ["one reverse would not do it"]}.get(shunt, [])
    where = _past(one) or "through"
    margin = one.names.limits.side_margin_m / 2.0
    short = f"{missing:.2f} m of width missing to have {margin:.2f} m a side"
    return "; ".join([f"no line leads {where}: {_gaps(one)}", short, *reverse, *_unknown(one)])


def _unknown(one: _Place) -> list[str]:
    """Say where the edge that is near is only a tag."""
    return [DARK] if EDGE in one.things and not one.names.scene.tags.surveyed[one.row] else []


def _hold(one: _Place) -> str:
    """Say where the vehicle goes across the trail, and past what."""
    offset, past = one.offset, _past(one)
    side = RIGHT if offset > 0.0 else LEFT
    if past.startswith((_THROUGH, _BETWEEN)) and one.even:
        return _amid(past)
    if abs(offset) < ON_LINE_M:
        held = "keep the middle"
    elif abs(offset) >= HOLD_M and _edge_is_near(one, side):
        held = f"hold the {SIDES[side]} edge"
    else:
        held = f"keep {abs(offset):.1f} m {SIDES[side]} of the middle"
    return f"{held} {past}" if past else held


def _amid(past: str) -> str:
    """Say to keep to the middle of what is passed, for that is what a driver sees."""
    return (
        f"keep to the middle of {past.removeprefix(_THROUGH)}" if past.startswith(_THROUGH) else f"keep midway {past}"
    )


def _edge_is_near(one: _Place, side: int) -> bool:
    """Tell whether a thing on the other side makes it keep to the edge on this one."""
    beyond = one.gaps[side] < one.names.limits.comfort_gap_m
    return one.things[side] == EDGE and one.things[1 - side] >= 0 and beyond


def _past(one: _Place) -> str:
    """Name the things it goes past; empty where only the edges of the trail are near."""
    left, right = one.things
    apart = abs(one.places.gap_at_m[one.p, LEFT] - one.places.gap_at_m[one.p, RIGHT])
    if left >= 0 and left == right:
        gap = one.names.scene.things.kind[left] == ObstacleKind.GAP.value
        return f"{_THROUGH if gap else 'astride '}{one.called(LEFT)}"
    if left >= 0 and right >= 0 and apart <= TOGETHER_M:
        return f"{_BETWEEN}{one.called(LEFT)} and {one.called(RIGHT)}"
    side = one.near if one.things[one.near] >= 0 else 1 - one.near
    if one.things[side] < 0:
        return ""
    kind = one.names.scene.things.kind[one.things[side]]
    return f"{'round' if kind == _HANGS else 'past'} {one.called(side)} on the {SIDES[side]}"


def _gaps(one: _Place) -> str:
    """Say what is left on either side, the smaller first, and at which part of the body."""
    sides = [side for side in (one.near, 1 - one.near) if one.things[side] != NOTHING]
    told = [_gap(one, side) for side in sides if not math.isnan(one.gaps[side])]
    return ", ".join(told)


def _gap(one: _Place, side: int) -> str:
    """Say what is left on one side."""
    places, gap = one.places, one.gaps[side]
    body = body_words(
        int(places.part[one.p, side]), side, float(places.body_x_m[one.p, side]), one.envelope.wheelbase_m
    )
    to = f" to {one.called(side)}" if one.things[side] == EDGE else ""
    if gap < 0.0:
        return f"{math.ceil(-gap * 100.0 - 1e-6) / 100.0:.2f} m short at the {body}{to}"
    return f"{down_to(gap)} at the {body}{to}"


def _steering(one: _Place) -> Iterator[str]:
    """Say what the front wheels do once they are level with what is nearest."""
    places, own, it = one.places, one.own, " past it" if _past(one) else ""
    steer = places.steer[own]
    if steer.size < 2:
        return
    driven = np.concatenate(([0.0], np.cumsum(np.hypot(np.diff(places.x[own]), np.diff(places.y[own])))))
    here = one.level
    turned = np.flatnonzero((np.abs(steer[here:]) > STRAIGHT_RAD) & (driven[here:] - driven[here] <= MOST_M))
    if turned.size == 0:
        if np.abs(steer).max() > STRAIGHT_RAD:
            yield f"wheels straight{it}"
        return
    first = here + int(turned[0])
    to = _turn(one, steer, first)
    straight = driven[first] - driven[here]
    if turned[0] == 0:
        yield f"turning {to}{it}"
    elif straight < LEAST_M:
        yield f"then turn {to}"
    else:
        yield f"wheels straight for another {math.floor(straight + 1e-6)} m, then turn {to}"


def _turn(one: _Place, steer: Float64, first: int) -> str:
    """Say to which side the wheels are turned from a point on, and whether until they stop."""
    left = bool(steer[first] > 0.0)
    away = np.flatnonzero((steer[first:] > 0.0) != left)
    arc = steer[first : first + int(away[0])] if away.size else steer[first:]
    lock_share = float(one.places.lock_share[one.p]) * np.abs(arc).max() / np.abs(steer).max()
    side = SIDES[LEFT if left else RIGHT]
    return f"{side} to full lock" if lock_share >= FULL_LOCK else side
