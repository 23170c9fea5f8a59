"""A change of the request, the group or the ground that would give a loop, and the order in which they are told."""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import IntEnum

__all__ = ["Change", "Effort", "in_words"]

_LITTLE = 0.5
"""Share of a number of the request up to which its change is a small one. Judgement."""


class Effort(IntEnum):
    """What a change takes, least first."""

    NUMBER = 0
    """A number of the request, by up to half of what it is."""
    GROUP = 1
    """Who drives, or what must be taken in."""
    GROUND = 2
    """Leave or work on the ground: room to turn, segments opened."""
    FAR = 3
    """A number of the request, by more than half."""


@dataclass(frozen=True, slots=True, order=True)
class Change:
    """One change that alone gives a loop; the smallest sorts first."""

    effort: Effort
    size: float
    """Compares changes of one effort: share of the number, number of things."""
    words: str
    """What is changed: ``max_redriven = 0.34 instead of 0.20``."""

    @classmethod
    def number(cls, size: float, words: str) -> "Change":
        """Make the change of a number of the request by a share *size* of it."""
        return cls(Effort.NUMBER if size <= _LITTLE else Effort.FAR, size, words)

    @classmethod
    def group(cls, size: float, words: str) -> "Change":
        """Make a change of who drives, or of what must be taken in."""
        return cls(Effort.GROUP, size, words)

    @classmethod
    def ground(cls, size: float, words: str) -> "Change":
        """Make a change of the ground."""
        return cls(Effort.GROUND, size, words)


def in_words(changes: Iterable[Change]) -> str:
    """Name the changes each of which alone gives a loop, the smallest first; empty without any."""
    first, *others = [change.words for change in sorted(changes)] or [""]
    if not others:
        return f"Smallest change that gives one: {first}." if first else ""
    return f"Smallest change that gives one: {first}. Others: {'; '.join(others)}."
