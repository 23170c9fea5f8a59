"""The ways round of one loop: where a set-up leaves it, where it comes back, who waits how long."""

from collections.abc import Iterator
from dataclasses import dataclass

from pipeline.loops.moves import Move
from pipeline.loops.plan import Plan
from pipeline.loops.solve.hunt import Answer

__all__ = ["Detour", "detours"]


@dataclass(frozen=True, slots=True)
class Detour:
    """One set-up that does not drive one chain of a loop. Distances and minutes are those of the first lap."""

    number: int
    """Of the chain on the loop, from 1 in driving order; the same for all who go round it."""
    leg: int
    """Place of the chain among the moves of the loop."""
    setup: str
    place: int
    """Place of the set-up in the request."""
    path: tuple[int, ...]
    """Traversals of the way round; empty when the set-up waits where the loop comes back to."""
    split_node: int
    meet_node: int
    split_m: float
    """Distance along the loop where it leaves, m."""
    meet_m: float
    """Distance along the loop where it comes back, m."""
    length_m: float
    """Plan length of the way round."""
    minutes: float
    """Driving and coaching on the way round."""
    others_min: float
    """Driving and coaching of those who stay, meanwhile."""

    @property
    def waits_min(self) -> float:
        """Minutes that the set-up waits for the others; negative: they wait for it."""
        return self.others_min - self.minutes


def detours(plan: Plan, answer: Answer) -> tuple[Detour, ...]:
    """List the ways round of a loop in driving order, those of one chain in the order of the request."""
    return tuple(_listed(plan, answer))


def _listed(plan: Plan, answer: Answer) -> Iterator[Detour]:
    """Yield the ways round."""
    at, number = 0.0, 0
    for leg, move in enumerate(plan.moves[n] for n in answer.numbers):
        own = [plan.traversals[part] for part in move.path]
        ahead = at + sum(one.length_m for one in own)
        number += bool(move.rounds)
        for one in move.rounds:
            way = [plan.traversals[part] for part in one.path]
            yield Detour(
                number=number,
                leg=leg,
                setup=plan.request.setups[one.setup],
                place=one.setup,
                path=one.path,
                split_node=own[0].tail,
                meet_node=own[-1].head,
                split_m=at,
                meet_m=ahead,
                length_m=sum((part.length_m for part in way), 0.0),
                minutes=sum((part.driving[one.setup] + part.coaching[one.setup] for part in way), 0.0),
                others_min=_others(plan, move),
            )
        at = ahead


def _others(plan: Plan, move: Move) -> float:
    """Give the minutes of those who stay on a chain."""
    away = {one.setup for one in move.rounds}
    stay = [setup for setup in range(len(plan.request.setups)) if setup not in away]
    own = [plan.traversals[part] for part in move.path]
    return sum(max(t.driving[s] for s in stay) + max(t.coaching[s] for s in stay) for t in own)
