"""Every segment in each direction: what it takes to drive it, or why a loop may not use it."""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pipeline.loops.calls import Lesson, Way, lessons_of
from pipeline.loops.headings import Heading, end_headings
from pipeline.loops.names import resolve
from pipeline.loops.pace import Ride, coaching_minutes, driving_minutes
from pipeline.loops.request import LoopInputs, LoopRequest
from pipeline.loops.runs import Key, Run
from pipeline.loops.value.credits import credits_of
from pipeline.loops.value.objective import GainCurve
from pipeline.terms import Direction, Status, Technique, Verdict

__all__ = ["DRIVEABLE", "Run", "Traversal", "list_traversals"]

DRIVEABLE = frozenset((Verdict.AMPLE, Verdict.WATCH, Verdict.SPOT))
"""Verdicts that let a set-up on to a traversal."""
UNKNOWN_UTILISATION = 1.0
"""Utilisation of a traversal none of whose checks has one: what is not known is not quietly easy."""

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Traversal:
    """One segment in one direction; what differs from set-up to set-up stands in the order of the request."""

    segment_id: str
    direction: Direction
    tail: int
    """Node where it begins."""
    head: int
    """Node where it ends."""
    leaving: Heading
    """Which way the vehicle points where it begins."""
    arriving: Heading
    """Which way it points where it ends."""
    length_m: float
    shut: str
    """Why nobody may drive it; empty when that depends on the set-up."""
    verdicts: tuple[tuple[str, str], ...]
    """Set-up and verdict."""
    utilisations: tuple[float, ...]
    """Largest over the checks of each set-up; 1 when none is known."""
    driving: tuple[float, ...]
    """Minutes of driving of each set-up; NaN when it may not drive it."""
    coaching: tuple[float, ...]
    """Minutes of standing and talking that the driver of each set-up takes."""
    lessons: tuple[Lesson, ...]
    """Where the group stops for that."""
    runs: tuple[Run, ...]
    """What it exercises."""
    by_run: Floats
    """Credits of each set-up, technique of the gain curve and run, not rounded; shape (set-ups, techniques, runs)."""
    practised: Floats
    """Its sum over the runs; shape (set-ups, techniques)."""

    @property
    def key(self) -> Key:
        """Segment and direction."""
        return self.segment_id, self.direction

    @property
    def refusal(self) -> str:
        """Why the whole group may not drive it; empty when it may."""
        return self.shut or _refused(self.verdicts)

    def may(self, setup: int) -> bool:
        """Tell whether one set-up, by its place in the request, may drive it."""
        return not self.shut and Verdict(self.verdicts[setup][1] or Verdict.UNSURVEYED) in DRIVEABLE


@dataclass(frozen=True, slots=True)
class _Facts:
    """Look-ups by segment and direction."""

    inputs: LoopInputs
    request: LoopRequest
    curve: GainCurve
    verdicts: Mapping[tuple[str, str, str], str]
    utilisation: Mapping[tuple[str, str, str], float]
    runs: Mapping[Key, tuple[Run, ...]]
    avoided: frozenset[str]
    avoided_nodes: frozenset[int]


def list_traversals(inputs: LoopInputs, request: LoopRequest, curve: GainCurve) -> list[Traversal]:
    """List both directions of every segment, in order of segment id, ``with`` before ``against``.

    The traversal *n* driven the other way is *n* ^ 1.
    """
    facts = _collect(inputs, request, curve)
    headings = end_headings(inputs.network.segments)
    columns = ["segment_id", "status", "oneway", "node_a", "node_b", "length_m"]
    rows = inputs.network.segments[columns].sort_values("segment_id").itertuples(index=False, name=None)
    found = []
    for segment_id, status, oneway, node_a, node_b, length_m in rows:
        for direction in Direction:
            ends = (int(node_a), int(node_b)) if direction is Direction.WITH else (int(node_b), int(node_a))
            key = (str(segment_id), direction)
            leaving, arriving = _headings(headings[key[0]], direction)
            verdicts = tuple((s, facts.verdicts.get((key[0], s, direction.value), "")) for s in request.setups)
            runs = facts.runs.get(key, ())
            lessons = lessons_of(runs, Way(float(length_m), direction), inputs.settings, inputs.calls)
            by_run = np.stack([credits_of(runs, inputs, setup, curve) for setup in request.setups])
            found.append(
                Traversal(
                    segment_id=key[0],
                    direction=direction,
                    tail=ends[0],
                    head=ends[1],
                    leaving=leaving,
                    arriving=arriving,
                    length_m=float(length_m),
                    shut=_shut(Status(status), int(oneway) * direction.sign, _avoided(key, ends, facts)),
                    verdicts=verdicts,
                    utilisations=_utilisations(key, facts),
                    driving=tuple(_driving(key, float(length_m), word, facts) for word in verdicts),
                    coaching=tuple(
                        coaching_minutes(lessons, inputs.drivers[s], inputs.settings) for s in request.setups
                    ),
                    lessons=lessons,
                    runs=runs,
                    by_run=by_run,
                    practised=by_run.sum(axis=2),
                )
            )
    return found


def _headings(ends: tuple[Heading, Heading], direction: Direction) -> tuple[Heading, Heading]:
    """Give the headings where a traversal begins and ends; driven against, both are turned round and change places."""
    if direction is Direction.WITH:
        return ends
    (x0, y0), (x1, y1) = ends
    return (-x1, -y1), (-x0, -y0)


def _collect(inputs: LoopInputs, request: LoopRequest, curve: GainCurve) -> _Facts:
    """Gather what the tables say, for the set-ups of the request."""
    verdicts = inputs.verdicts.loc[inputs.verdicts["setup"].isin(request.setups)]
    checks = inputs.checks.loc[inputs.checks["setup"].isin(request.setups)].dropna(subset=["utilisation"])
    worst = checks.groupby(["segment_id", "direction", "setup"], observed=True)["utilisation"].max()
    targets = [resolve(name, inputs.network) for name in request.avoid]
    return _Facts(
        inputs=inputs,
        request=request,
        curve=curve,
        verdicts=dict(
            zip(
                zip(verdicts["segment_id"], verdicts["setup"], verdicts["direction"], strict=True),
                verdicts["verdict"],
                strict=True,
            )
        ),
        utilisation={(s, d, n): float(u) for s, d, n, u in worst.reset_index().itertuples(index=False, name=None)},
        runs=_runs(inputs.techniques),
        avoided=frozenset(segment for target in targets for segment in target.segments),
        avoided_nodes=frozenset(node for target in targets for node in target.nodes),
    )


def _runs(table: pd.DataFrame) -> dict[Key, tuple[Run, ...]]:
    """Give the runs of every traversal, in one order whatever the order of the rows."""
    order = ["segment_id", "direction", "technique", "from_m", "to_m"]
    found: defaultdict[Key, list[Run]] = defaultdict(list)
    rows = table.sort_values([*order, "amount", "intensity"])[[*order, "amount", "intensity"]]
    for segment_id, direction, technique, *numbers in rows.itertuples(index=False, name=None):
        found[segment_id, Direction(direction)].append(Run(Technique(technique), *map(float, numbers)))
    return {key: tuple(runs) for key, runs in found.items()}


def _utilisations(key: Key, facts: _Facts) -> tuple[float, ...]:
    """Give the largest utilisation of each set-up."""
    setups = facts.request.setups
    return tuple(facts.utilisation.get((key[0], key[1].value, s), UNKNOWN_UTILISATION) for s in setups)


def _shut(status: Status, way: int, avoided: str) -> str:
    """Say all that keeps everybody from a direction; *way* is below zero against the only way allowed."""
    closed = "" if status is Status.OPEN else status.value
    return " and ".join(why for why in (closed, "one-way" if way < 0 else "", avoided) if why)


def _avoided(key: Key, ends: tuple[int, int], facts: _Facts) -> str:
    """Say that the request leaves the traversal out."""
    return "avoided" if key[0] in facts.avoided or facts.avoided_nodes.intersection(ends) else ""


def _refused(verdicts: tuple[tuple[str, str], ...]) -> str:
    """Say which set-up may not drive it, the worst verdict first; no verdict at all reads as unsurveyed."""
    words = [(setup, Verdict(word or Verdict.UNSURVEYED)) for setup, word in verdicts]
    bad = [(setup, verdict) for setup, verdict in words if verdict not in DRIVEABLE]
    if not bad:
        return ""
    setup, verdict = max(bad, key=lambda pair: pair[1].rank)
    return f"{verdict.value} for {setup}"


def _driving(key: Key, length_m: float, verdict: tuple[str, str], facts: _Facts) -> float:
    """Give the minutes of driving of one set-up; NaN when it may not drive there."""
    setup, word = verdict
    if Verdict(word or Verdict.UNSURVEYED) not in DRIVEABLE:
        return float("nan")
    inputs = facts.inputs
    pace = inputs.settings.pace[inputs.drivers[setup]]
    stretches = None if inputs.going is None else inputs.going.segments.get(key[0])
    return driving_minutes(Ride(length_m, key[1], stretches), Verdict(word), pace, inputs.settings)
