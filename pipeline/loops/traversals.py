"""Every segment in each direction: what it takes to drive it, or why a loop may not use it."""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from pipeline.loops.headings import Heading, end_headings
from pipeline.loops.names import resolve
from pipeline.loops.objective import PIECE_CREDITS, PIECES, GainCurve
from pipeline.loops.request import LoopInputs, LoopRequest
from pipeline.loops.session import coaching_minutes, driving_minutes
from pipeline.terms import Direction, Status, Technique, Verdict

__all__ = ["DRIVEABLE", "Traversal", "list_traversals"]

DRIVEABLE = frozenset((Verdict.AMPLE, Verdict.WATCH, Verdict.SPOT))
"""Verdicts that let a set-up on to a traversal."""
UNKNOWN_UTILISATION = 1.0
"""Utilisation of a traversal none of whose checks has one: what is not known is not quietly easy."""

Key = tuple[str, Direction]
Runs = defaultdict[Key, list[tuple[Technique, float]]]


@dataclass(frozen=True, slots=True)
class Traversal:
    """One segment in one direction."""

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
    minutes: float
    """Driving and coaching, min; NaN when it may not be driven."""
    utilisation: float
    """Largest over set-ups and checks; 1 when none is known."""
    verdicts: tuple[tuple[str, str], ...]
    """Set-up and verdict, in the order of the request."""
    credits: tuple[int, ...]
    """Credits of each technique of the gain curve."""
    refusal: str
    """Why a loop may not use it; empty when it may."""

    @property
    def key(self) -> Key:
        """Segment and direction."""
        return self.segment_id, self.direction


@dataclass(frozen=True, slots=True)
class _Facts:
    """Look-ups by segment and direction."""

    verdicts: Mapping[tuple[str, str, str], str]
    utilisation: Mapping[tuple[str, str], float]
    runs: Runs
    avoided: frozenset[str]
    avoided_nodes: frozenset[int]


def list_traversals(inputs: LoopInputs, request: LoopRequest, curve: GainCurve) -> list[Traversal]:
    """List both directions of every segment, in order of segment id, ``with`` before ``against``."""
    facts = _collect(inputs, request)
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
            refusal = (
                _closed(Status(status), int(oneway), direction) or _avoided(key, ends, facts) or _refused(verdicts)
            )
            found.append(
                Traversal(
                    segment_id=key[0],
                    direction=direction,
                    tail=ends[0],
                    head=ends[1],
                    leaving=leaving,
                    arriving=arriving,
                    length_m=float(length_m),
                    minutes=float("nan") if refusal else _minutes(float(length_m), verdicts, facts.runs[key], inputs),
                    utilisation=facts.utilisation.get((key[0], direction.value), UNKNOWN_UTILISATION),
                    verdicts=verdicts,
                    credits=_credits(facts.runs[key], curve),
                    refusal=refusal,
                )
            )
    return found


def _headings(ends: tuple[Heading, Heading], direction: Direction) -> tuple[Heading, Heading]:
    """Give the headings where a traversal begins and ends; driven against, both are turned round and change places."""
    if direction is Direction.WITH:
        return ends
    (x0, y0), (x1, y1) = ends
    return (-x1, -y1), (-x0, -y0)


def _collect(inputs: LoopInputs, request: LoopRequest) -> _Facts:
    """Gather what the tables say, for the set-ups of the request."""
    verdicts = inputs.verdicts.loc[inputs.verdicts["setup"].isin(request.setups)]
    checks = inputs.checks.loc[inputs.checks["setup"].isin(request.setups)].dropna(subset=["utilisation"])
    worst = checks.groupby(["segment_id", "direction"], observed=True)["utilisation"].max()
    runs: Runs = defaultdict(list)
    table = inputs.techniques
    order = ["segment_id", "direction", "technique", "from_m", "to_m"]
    for segment_id, direction, technique, amount, intensity in table.sort_values(order)[
        ["segment_id", "direction", "technique", "amount", "intensity"]
    ].itertuples(index=False, name=None):
        share = inputs.settings.intensity_floor + (1.0 - inputs.settings.intensity_floor) * float(intensity)
        runs[segment_id, Direction(direction)].append((Technique(technique), float(amount) * share))
    targets = [resolve(name, inputs.network) for name in request.avoid]
    return _Facts(
        verdicts=dict(
            zip(
                zip(verdicts["segment_id"], verdicts["setup"], verdicts["direction"], strict=True),
                verdicts["verdict"],
                strict=True,
            )
        ),
        utilisation={(s, d): float(u) for s, d, u in worst.reset_index().itertuples(index=False, name=None)},
        runs=runs,
        avoided=frozenset(segment for target in targets for segment in target.segments),
        avoided_nodes=frozenset(node for target in targets for node in target.nodes),
    )


def _closed(status: Status, oneway: int, direction: Direction) -> str:
    """Say why the segment itself forbids the direction."""
    if status is not Status.OPEN:
        return str(status.value)
    return "one-way" if oneway * direction.sign < 0 else ""


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


def _minutes(
    length_m: float,
    verdicts: tuple[tuple[str, str], ...],
    runs: list[tuple[Technique, float]],
    inputs: LoopInputs,
) -> float:
    """Give driving and coaching minutes of an allowed traversal."""
    paces = {setup: inputs.settings.pace[inputs.drivers[setup]] for setup, _ in verdicts}
    words = {setup: Verdict(word) for setup, word in verdicts}
    drivers = [inputs.drivers[setup] for setup, _ in verdicts]
    standing = coaching_minutes([technique for technique, _ in runs], drivers, inputs.settings)
    return driving_minutes(length_m, words, paces) + standing


def _credits(runs: list[tuple[Technique, float]], curve: GainCurve) -> tuple[int, ...]:
    """Give the whole credits of each technique of the curve."""
    totals = dict.fromkeys(curve.techniques, 0.0)
    for technique, amount in runs:
        if technique in totals:
            totals[technique] += amount
    full = PIECES * PIECE_CREDITS
    amounts = np.array([totals[t] for t in curve.techniques], dtype=np.float64)
    return tuple(int(value) for value in np.rint(amounts / curve.saturation * full))
