"""What a traversal exercises, run by run."""

from dataclasses import dataclass

from pipeline.terms import Direction, Technique

__all__ = ["Key", "Run"]

Key = tuple[str, Direction]
"""Segment and direction."""


@dataclass(frozen=True, slots=True)
class Run:
    """One run of a technique on a traversal."""

    technique: Technique
    from_m: float
    """Chainage where it begins, along the digitised direction."""
    to_m: float
    amount: float
    """Metres, or 1 for a single thing."""
    intensity: float
