"""Rows of the table CONVOY: in which order, how far apart, and where a spotter stands.

Common practice, no source: the most practised driver goes first, shows the line
and stands where the others can be seen coming; after them whoever is nearest to
a limit there, so that help is close and nobody is in front of them to be
driven into; the rest by what they have in hand. One vehicle at a time where it
is steep, where somebody needs a spotter, and where the stopping distance is
endless or not known. Elsewhere the distance is that in which the follower
stops, at the low value of grip, and a vehicle length more.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.loops.plan import Plan
from pipeline.loops.request import LoopInputs
from pipeline.loops.solve.hunt import Answer
from pipeline.loops.traversals import Traversal
from pipeline.tables import CONVOY, empty, validate
from pipeline.terms import Direction, Technique, Verdict

__all__ = ["convoy_frame", "convoy_rows"]

Row = dict[str, object]
Way = tuple[str, str]
"""Segment and direction."""


@dataclass(frozen=True, slots=True)
class _Leg:
    """One leg of the loop with those who drive it."""

    traversal: Traversal
    start_m: float
    setups: tuple[int, ...]
    """Places in the request."""

    def along(self, at_m: float) -> float:
        """Give the distance along the loop of a chainage."""
        with_it = self.traversal.direction is Direction.WITH
        return self.start_m + (at_m if with_it else self.traversal.length_m - at_m)

    @property
    def key(self) -> Way:
        """Segment and direction."""
        return self.traversal.segment_id, self.traversal.direction.value


@dataclass(frozen=True, slots=True)
class _Spot:
    """A place where a spotter stands."""

    at_m: float
    """Distance along the loop of the first place that they guide over."""
    last_m: float
    """The same of the last."""
    setups: frozenset[int]
    """Whom they guide."""
    whole: bool
    """No check tells the place: it is the whole leg."""


@dataclass(frozen=True, slots=True)
class _Stretch:
    """What one row is about."""

    leg: _Leg
    from_m: float
    to_m: float
    spot: _Spot | None
    """The spotter; ``None`` for a descent."""
    singly: bool
    """Driven one at a time whatever grade and grip."""


@dataclass(frozen=True, slots=True)
class _Facts:
    """Look-ups for one loop."""

    inputs: LoopInputs
    plan: Plan
    spots: dict[tuple[str, str], list[tuple[str, float]]]
    """Segment and direction → set-up and chainage of its checks with the verdict spot; NaN where none is known."""
    stops: dict[tuple[str, str, str], tuple[float, float]]
    """Segment, direction, set-up → steepest descent, degrees, and the distance in which it stops there, m."""


def convoy_rows(inputs: LoopInputs, plan: Plan, answer: Answer, rank: int) -> list[Row]:
    """Make the rows of CONVOY of one loop: its descents and its places with a spotter, in driving order."""
    legs = list(_legs(plan, answer))
    facts = _Facts(inputs, plan, _spots(inputs, plan, legs), _stops(inputs, plan, legs))
    rows = [row for leg in legs for row in _of_leg(leg, facts)]
    rows.sort(key=lambda row: (row["from_m"], row["to_m"]))
    name = plan.request.name
    return [{"loop": name, "rank": rank, "stretch": number} | row for number, row in enumerate(rows, start=1)]


def convoy_frame(rows: Sequence[Row]) -> pd.DataFrame:
    """Make the table CONVOY, checked against its contract."""
    if not rows:
        return empty(CONVOY)
    frame = pd.DataFrame(rows, columns=list(CONVOY.names))
    kinds = {column.name: column.kind.dtype for column in CONVOY.columns}
    return validate(frame.astype(kinds), CONVOY)


def _legs(plan: Plan, answer: Answer) -> Iterator[_Leg]:
    """Yield the legs of the first lap."""
    at = 0.0
    for move in (plan.moves[number] for number in answer.numbers):
        away = {one.setup for one in move.rounds}
        stay = tuple(setup for setup in range(len(plan.request.setups)) if setup not in away)
        for part in move.path:
            yield _Leg(plan.traversals[part], at, stay)
            at += plan.traversals[part].length_m


def _spots(inputs: LoopInputs, plan: Plan, legs: Sequence[_Leg]) -> dict[Way, list[tuple[str, float]]]:
    """Find the checks with the verdict spot on the legs."""
    checks = inputs.checks
    mine = checks["segment_id"].isin({leg.key[0] for leg in legs}) & checks["setup"].isin(plan.request.setups)
    table = checks.loc[mine & (checks["verdict"] == Verdict.SPOT.value)]
    found: dict[Way, list[tuple[str, float]]] = {}
    for segment, direction, setup, at_m in table[["segment_id", "direction", "setup", "at_m"]].itertuples(
        index=False, name=None
    ):
        found.setdefault((segment, direction), []).append((setup, float(at_m)))
    return found


def _stops(inputs: LoopInputs, plan: Plan, legs: Sequence[_Leg]) -> dict[tuple[str, str, str], tuple[float, float]]:
    """Give steepest descent and stopping distance of every set-up on the legs."""
    table = inputs.stopping
    if table is None:
        return {}
    mine = table.loc[
        table["segment_id"].isin({leg.key[0] for leg in legs}) & table["setup"].isin(plan.request.setups),
        ["segment_id", "direction", "setup", "grade_deg", "reaction_m", "brake_low_m"],
    ]
    return {
        (segment, direction, setup): (float(grade), float(reaction + brake))
        for segment, direction, setup, grade, reaction, brake in mine.itertuples(index=False, name=None)
    }


def _of_leg(leg: _Leg, facts: _Facts) -> Iterator[Row]:
    """Yield the rows of one leg, but for their number: descents that several drive, and places with a spotter."""
    spots = list(_places(leg, facts))
    runs = [run for run in leg.traversal.runs if run.technique is Technique.DESCENT and len(leg.setups) > 1]
    for run in runs:
        from_m, to_m = sorted((leg.along(run.from_m), leg.along(run.to_m)))
        inside = any(spot.whole or from_m <= spot.at_m <= to_m for spot in spots)
        yield _row(_Stretch(leg, from_m, to_m, None, inside), facts)
    off, end_m = facts.inputs.settings.group.spotter_m, leg.start_m + leg.traversal.length_m
    for spot in spots:
        from_m, to_m = max(leg.start_m, spot.at_m - off), min(end_m, spot.last_m + off)
        yield _row(_Stretch(leg, from_m, to_m, spot, singly=True), facts)


def _places(leg: _Leg, facts: _Facts) -> Iterator[_Spot]:
    """Yield the places with a spotter on a leg; those near together share one, who stands at the first."""
    names = {facts.plan.request.setups[setup]: setup for setup in leg.setups}
    told = [(leg.along(at), names[setup]) for setup, at in facts.spots.get(leg.key, ()) if setup in names]
    whole = frozenset(setup for at, setup in told if math.isnan(at))
    if whole:
        yield _Spot(leg.start_m, leg.start_m + leg.traversal.length_m, whole, whole=True)
    group: list[tuple[float, int]] = []
    for at, setup in [*sorted(pair for pair in told if not math.isnan(pair[0])), (math.inf, -1)]:
        if group and at - group[0][0] > facts.inputs.settings.group.spotter_m:
            yield _Spot(group[0][0], group[-1][0], frozenset(one for _, one in group), whole=False)
            group = []
        group.append((at, setup))


def _row(stretch: _Stretch, facts: _Facts) -> Row:
    """Make a row but for its number."""
    leg, spot, names = stretch.leg, stretch.spot, facts.plan.request.setups
    order = _order(leg, facts)
    spacing, endless = _spacing(stretch, order[1:], facts)
    grade = _steepest(stretch, facts)
    steep = not grade < facts.inputs.settings.group.one_at_a_time_deg  # not known: as steep
    row = {
        "segment_id": leg.traversal.segment_id,
        "from_m": stretch.from_m,
        "to_m": stretch.to_m,
        "order": "; ".join(names[setup] for setup in order),
        "one_at_a_time": stretch.singly or endless or (spot is None and steep),
        "spacing_m": spacing,
        "spotter_m": math.nan if spot is None else spot.at_m,
        "spotter_for": None if spot is None else "; ".join(names[setup] for setup in sorted(spot.setups)),
    }
    return row | {"text": _text(row, grade)}


def _order(leg: _Leg, facts: _Facts) -> list[int]:
    """Give the set-ups as they drive: the most practised first, then whoever is nearest to a limit."""
    names, drivers, used = facts.plan.request.setups, facts.inputs.drivers, leg.traversal.utilisations
    first = min(leg.setups, key=lambda s: (-drivers[names[s]].rank, used[s], s))
    rest = sorted(set(leg.setups) - {first}, key=lambda s: (-used[s], drivers[names[s]].rank, s))
    return [first, *rest]


def _spacing(stretch: _Stretch, followers: Sequence[int], facts: _Facts) -> tuple[float, bool]:
    """Give the least distance from vehicle to vehicle, whole metres, and whether somebody might not stop at all.

    A stopping distance that is not known counts as endless, unless none is known of anybody anywhere.
    """
    inputs, names = facts.inputs, facts.plan.request.setups
    far = [inputs.settings.group.spacing_m]
    if inputs.stopping is not None:
        for setup in followers:
            _, stops_m = facts.stops.get((*stretch.leg.key, names[setup]), (math.nan, math.inf))
            far.append(stops_m + inputs.vehicle_m.get(names[setup], 0.0))
    known = [one for one in far if math.isfinite(one)]
    endless = len(known) < len(far)
    if endless:
        known.append(stretch.to_m - stretch.from_m)
    return float(math.ceil(max(known) - 1e-9)), endless


def _steepest(stretch: _Stretch, facts: _Facts) -> float:
    """Give the steepest descent of a stretch, degrees, positive; else that of its segment; NaN where none is known."""
    leg, going = stretch.leg, facts.inputs.going
    pieces = None if going is None else going.segments.get(leg.traversal.segment_id)
    if pieces is not None:
        ends = np.concatenate(([0.0], np.cumsum(pieces.length_m)))
        along = np.array([leg.along(float(at)) for at in ends])
        low, high = np.minimum(along[:-1], along[1:]), np.maximum(along[:-1], along[1:])
        on = (high > stretch.from_m + 1e-6) & (low < stretch.to_m - 1e-6)
        falls = -leg.traversal.direction.sign * pieces.grade_deg[on]
        if len(falls) and np.isfinite(falls).all():
            return float(max(0.0, falls.max()))
    told = [stop[0] for key, stop in facts.stops.items() if key[:2] == leg.key]
    return max(told, default=math.nan)


def _text(row: Row, grade_deg: float) -> str:
    """Say a row in words."""
    order, spotted = str(row["order"]).split("; "), row["spotter_for"]
    if spotted is None:
        steep = "" if math.isnan(grade_deg) else f", {grade_deg:.0f}° at most"
        text = f"Descent of {float(row['to_m']) - float(row['from_m']):.0f} m{steep}"  # type: ignore[arg-type]
    else:
        text = f"A spotter stands at {row['spotter_m']:.0f} m and guides {spotted}"
    if len(order) > 1:
        numbered = " ".join(f"({number}) {name}" for number, name in enumerate(order, start=1))
        text += f". Order: {numbered}; "
        singly = "one at a time, the next begins when the one before is off it"
        text += singly if row["one_at_a_time"] else f"at least {row['spacing_m']:.0f} m apart"
    return text + "."
