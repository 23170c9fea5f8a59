"""The session's plan in words."""

from collections.abc import Iterable, Sequence

__all__ = ["count", "metres", "minutes", "named", "over"]

_NAMED = 4
"""Trails of a way that are named."""
_WHOLE_FROM_MIN = 9.95


def minutes(amount: float) -> str:
    """Give minutes: tenths below ten."""
    return f"{amount:.0f} min" if amount >= _WHOLE_FROM_MIN else f"{amount:.1f} min"


def metres(amount: float) -> str:
    """Give whole metres."""
    return f"{amount:.0f} m"


def count(number: int, word: str) -> str:
    """Give a number of things."""
    return f"{number} {word}{'' if number == 1 else 's'}"


def named(words: Sequence[str]) -> str:
    """Join words as they are spoken."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def over(trails: Iterable[str]) -> str:
    """Name the trails of a way, each once, the first few."""
    known = list(dict.fromkeys(trails))
    more = len(known) - _NAMED
    return ", ".join(known[:_NAMED]) + (f" and {more} more" if more > 0 else "")
