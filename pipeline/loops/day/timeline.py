"""When each leg of a loop begins, lap by lap, and what its minutes are made of."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from pipeline.loops.moves import Move, sum_up
from pipeline.loops.plan import Plan
from pipeline.loops.solve.hunt import Answer

__all__ = ["LegTime", "staying", "timeline"]


@dataclass(frozen=True, slots=True)
class LegTime:
    """One traversal of a loop in one lap. Times are minutes."""

    lap: int
    """From 1."""
    seq: int
    """Number of the leg in its lap, from 1."""
    place: int
    """Place of its move among those of the loop."""
    number: int
    """Of the traversal."""
    start_m: float
    """Distance along the loop where it begins, laps before counted."""
    start_min: float
    """Minutes after the start when it begins."""
    driving_min: float
    """Of the slowest of those who drive it."""
    coaching_min: float
    """Standing and talking on it."""
    waits_min: float
    """Waiting at its end for those who go round longer than the others stay."""

    @property
    def end_min(self) -> float:
        """Minutes after the start when the next one begins."""
        return self.start_min + self.driving_min + self.coaching_min + self.waits_min


def staying(move: Move, setups: int) -> tuple[int, ...]:
    """Give the places in the request of those who drive a move themselves, of so many *setups*."""
    away = {one.setup for one in move.rounds}
    return tuple(setup for setup in range(setups) if setup not in away)


def timeline(plan: Plan, answer: Answer) -> tuple[LegTime, ...]:
    """Give every leg of every lap in driving order.

    Those who stay together drive at the pace of the slowest and stop for the one who takes most coaching; a further lap
    has its share of the coaching. The last leg ends with the minutes that LOOPS tells.
    """
    return tuple(_legs(plan, answer))


def _legs(plan: Plan, answer: Answer) -> Iterator[LegTime]:
    """Yield the legs."""
    at, minute = 0.0, 0.0
    for lap in range(1, plan.terms.laps + 1):
        share, seq = 1.0 if lap == 1 else plan.terms.again, 0
        for place, move in enumerate(plan.moves[number] for number in answer.numbers):
            stay = staying(move, len(plan.request.setups))
            own = [plan.traversals[part] for part in move.path]
            driving = [max(leg.driving[s] for s in stay) for leg in own]
            coaching = [max(leg.coaching[s] for s in stay) for leg in own]
            waits = _lap_min(plan, move, lap) - sum(driving) - share * sum(coaching) if move.rounds else 0.0
            for part, number in enumerate(move.path):
                seq += 1
                last = part == len(own) - 1
                leg = LegTime(
                    lap=lap,
                    seq=seq,
                    place=place,
                    number=number,
                    start_m=at,
                    start_min=minute,
                    driving_min=driving[part],
                    coaching_min=coaching[part] * share,
                    waits_min=max(0.0, waits) if last else 0.0,
                )
                yield leg
                at, minute = at + own[part].length_m, leg.end_min


def _lap_min(plan: Plan, move: Move, lap: int) -> float:
    """Give the minutes that a move takes in one lap, whichever part of the group is the slower one in it."""
    whole, before = (sum_up(move, plan.traversals, replace(plan.terms, laps=laps)).minutes for laps in (2, 1))
    return before if lap == 1 else whole - before
