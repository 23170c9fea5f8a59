"""What a loop is strung together from: traversals, and chains of them that some set-ups go round.

Move *n* with *n* below the number of traversals is traversal *n* by itself, driven by the whole group; it is only
used where all of them may. Chains come after.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.loops.traversals import Traversal
from pipeline.loops.value.credits import practised_on

__all__ = ["Move", "Round", "Sums", "Terms", "single_moves", "sum_up"]


@dataclass(frozen=True, slots=True)
class Round:
    """The way of one set-up that does not drive a chain."""

    setup: int
    """Its place in the request."""
    path: tuple[int, ...]
    """Numbers of the traversals, from the first node of the chain to its last; empty where those are one."""


@dataclass(frozen=True, slots=True)
class Move:
    """Traversals driven one after the other."""

    path: tuple[int, ...]
    """Their numbers."""
    rounds: tuple[Round, ...] = ()
    """Those who go round, in the order of the request."""


@dataclass(frozen=True, slots=True)
class Terms:
    """What the sums of a move depend on besides its traversals."""

    comfort_floor: float
    laps: int
    again: float
    """Share of credits and coaching in a further lap."""


@dataclass(frozen=True, slots=True)
class Sums:
    """What a move adds up to, every lap counted."""

    length_m: float
    """Plan length of the loop's own legs."""
    driving_min: float
    """Of those who take longest, waiting for the others included."""
    coaching_min: float
    utilisation: float
    """Largest of anybody who drives anything of it."""
    exposure_m: float
    """Length × utilisation above the comfort floor, ways round included."""
    credits: NDArray[np.float64]
    """Mean over the set-ups of what each practises, shape (techniques,)."""

    @property
    def minutes(self) -> float:
        """Driving and coaching."""
        return self.driving_min + self.coaching_min


def single_moves(traversals: Sequence[Traversal]) -> list[Move]:
    """Make the moves of one traversal each."""
    return [Move((number,)) for number in range(len(traversals))]


def sum_up(move: Move, traversals: Sequence[Traversal], terms: Terms) -> Sums:
    """Add up what a move takes and gives.

    Those who stay together drive at the pace of the slowest and stop for the one who takes most coaching; where the
    group is split, the slower part decides, and the other waits.
    """
    setups = range(len(traversals[move.path[0]].verdicts))
    away = {one.setup: one.path for one in move.rounds}
    stay = [setup for setup in setups if setup not in away]
    own = [traversals[number] for number in move.path]
    driving = sum(max(leg.driving[s] for s in stay) for leg in own)
    coaching = sum(max(leg.coaching[s] for s in stay) for leg in own)
    worst = [(leg.length_m, max(leg.utilisations[s] for s in stay)) for leg in own]
    practised = np.sum([practised_on(away.get(s, move.path), traversals, s, terms) for s in setups], axis=0)
    parts = [(driving, coaching)]
    for s, path in away.items():
        legs = [traversals[number] for number in path]
        parts.append((sum(leg.driving[s] for leg in legs), sum(leg.coaching[s] for leg in legs)))
        worst += [(leg.length_m, leg.utilisations[s]) for leg in legs]
    further = 1.0 + (terms.laps - 1) * terms.again
    return Sums(
        length_m=terms.laps * sum(leg.length_m for leg in own),
        driving_min=_minutes(parts, terms) - further * coaching,
        coaching_min=further * coaching,
        utilisation=max(u for _, u in worst),
        exposure_m=terms.laps * sum(length * max(0.0, u - terms.comfort_floor) for length, u in worst),
        credits=practised / len(setups),
    )


def _minutes(parts: Sequence[tuple[float, float]], terms: Terms) -> float:
    """Give the minutes of all laps, the slowest part of the group deciding, from driving and coaching of each part."""
    first = max(driving + coaching for driving, coaching in parts)
    later = max(driving + terms.again * coaching for driving, coaching in parts)
    return first + (terms.laps - 1) * later
