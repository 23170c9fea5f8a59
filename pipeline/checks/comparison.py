"""Verdicts before and after a change of load, rain or driver, and what made the difference."""

from dataclasses import dataclass

__all__ = ["Compared"]


@dataclass(frozen=True, slots=True)
class Compared:
    """One comparison that was asked for."""

    name: str
    setup: str
    """The set-up it begins from."""
    change: str
    """What is changed, in words: ``driver first-timer; ground wet``."""
    effect: str
    """What the change does to the set-up or the ground, in a sentence with its figures."""
    better: int
    """Number of verdicts (segment and direction) that get better."""
    worse: int
    same: int
