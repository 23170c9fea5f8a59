"""What things in the way ask of a set-up, beside what the sweeps find: the climb on to them, and why they are barred.

The sweeps roll over the ground as it was measured, and what a dip of a few centimetres beside a rock seems to give away
is within the error of the elevation model. A thing that no way leads past on level ground is therefore barred in the
check that bars it, wherever it lies.
"""

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.check import Case, Outcome, ratio
from pipeline.checks.passing.choice import Choice, codes_of, lowest_of
from pipeline.checks.passing.trodden import SIDE_CHECKS
from pipeline.terms import Basis, CheckName, Passing

__all__ = ["with_things"]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]
Flags = NDArray[np.bool_]


class _Asked(NamedTuple):
    """What things ask in one check; arrays of shape (things, 2)."""

    counts: Flags
    demand: Float64
    limit: Float64
    unit: str
    words: str
    """With the name of the thing in place of {}."""


def with_things(outcome: Outcome, name: CheckName, case: Case) -> Outcome:
    """Put the worst thing of every segment in place of what a check found there, where it is worse.

    Parameters
    ----------
    outcome
        What the check found.
    name
        The check. Things count in the climb: the edge that a wheel meets against the edge that the set-up climbs, m.
        Those without a way past count in the check that says so.
    case
        Site and set-up.
    """
    ask = _ASKS.get(name)
    if ask is None or case.choice.things.row.size == 0:
        return outcome
    worse = outcome.worse_of(_worst(ask(case, name), case))
    if name is not CheckName.CLIMB:
        return worse
    return replace(worse, unknown=np.where(worse.unknown == "", _not_known(case), worse.unknown))


def _not_known(case: Case) -> NDArray[np.object_]:
    """Say of every segment and direction which thing a wheel may have to climb, nobody knows how high or on what."""
    choice, here = case.choice, case.choice.things
    flat = np.isnan(choice.climb.edge_m)
    asked = (choice.passing == codes_of(Passing.UNSURVEYED)[0]) & choice.lines.tread[:, None]
    asked &= flat | np.isnan(choice.climb.limit_m)
    texts = np.full((case.scene.length_m.size, 2), "", dtype=object)
    for k, way in np.argwhere(asked)[::-1]:
        lacks = "has no height" if flat[k, way] else "stands on a slope that is not known"
        texts[here.row[k], way] = f"{here.label[k]} at {here.at_m[k]:.1f} m {lacks}"
    return texts


def _stuck(choice: Choice) -> Flags:
    """Tell what no way leads past, or none that is known."""
    return np.isin(choice.passing, codes_of(Passing.BARRED, Passing.UNSURVEYED))


def _climb(case: Case, _name: CheckName) -> _Asked:
    """Edges that wheels must climb."""
    choice = case.choice
    met = _stuck(choice) | (choice.passing == codes_of(Passing.TREAD)[0])
    counts = met & choice.lines.tread[:, None] & (choice.climb.edge_m > 0.0)
    words = "the edge that a wheel meets at {}, momentum not counted"
    return _Asked(counts, choice.climb.edge_m, choice.climb.limit_m, "m", words)


def _twist(case: Case, _name: CheckName) -> _Asked:
    """Twist of what lifts or lowers one wheel too far."""
    choice = case.choice
    counts = _stuck(choice) & choice.lines.tread[:, None] & choice.climb.passes & ~choice.climb.twist
    demand = np.column_stack([choice.climb.sinks_m] * 2)
    return _Asked(counts, demand, np.full(demand.shape, case.envelope.wheel_travel_m), "m", "one wheel on {}")


def _side(case: Case, name: CheckName) -> _Asked:
    """Side view over what is trodden on, and height under the body of what no wheel reaches."""
    choice, belly = case.choice, name is CheckName.BELLY
    over, stuck, reached = choice.over, _stuck(choice), choice.lines.tread[:, None]
    counts = stuck & reached & choice.climb.passes & choice.climb.twist & (over.used > 1.0)
    counts &= over.check == SIDE_CHECKS.index(name)
    scale = 1.0 if belly else 180.0 / np.pi
    demand, limit = over.demand * scale, over.limit * scale
    if belly:
        height = np.broadcast_to(np.abs(choice.things.height_m)[:, None], demand.shape)
        demand = np.where(reached, demand, height)
        limit = np.where(reached, limit, lowest_of(case.envelope)[1] - case.limits.required_gap_m)
        counts |= stuck & ~reached
    return _Asked(counts, demand, limit, "m" if belly else "°", "{} as on level ground")


_ASKS: Mapping[CheckName, Callable[[Case, CheckName], _Asked]] = {
    CheckName.CLIMB: _climb,
    CheckName.ARTICULATION: _twist,
    **dict.fromkeys(SIDE_CHECKS, _side),
}


def _worst(asked: _Asked, case: Case) -> Outcome:
    """Take the worst thing of every segment, the first of equal ones; NaN where none asks anything."""
    here, segments = case.choice.things, case.scene.length_m.size
    used = np.where(asked.counts, ratio(asked.demand, asked.limit), np.nan)
    thing = np.column_stack([_first_worst(here.row, used[:, way], segments) for way in (0, 1)])
    none = thing < 0
    pick = (np.maximum(thing, 0), np.array([0, 1]))
    basis = np.where(np.isnan(here.length_m), np.uint8(Basis.ASSUMED), np.uint8(Basis.SURVEYED))
    told = np.array([asked.words.format(label) for label in here.label], dtype=object)
    return Outcome.of(
        np.where(none, np.nan, asked.demand[pick]),
        np.where(none, np.nan, asked.limit[pick]),
        asked.unit,
        utilisation=np.where(none, np.nan, used[pick]),
        at_m=np.where(none, np.nan, here.at_m[pick[0]]),
        basis=np.where(none, np.uint8(Basis.NONE), basis[pick[0]]),
        more=np.where(none, "", told[pick[0]]),
    )


def _first_worst(row: Int64, used: Float64, segments: int) -> Int64:
    """Find the thing of each segment with the largest utilisation, the first of equal ones; −1 where there is none."""
    found = np.full(segments, -1, dtype=np.int64)
    known = np.flatnonzero(~np.isnan(used))
    order = known[np.lexsort((-known, used[known]))]
    found[row[order]] = order
    return found
