"""The session's plan in words."""

from collections.abc import Iterable, Mapping, Sequence
from math import floor

__all__ = ["count", "metres", "minutes", "named", "over", "spent"]

_NAMED = 4
"""Trails of a way that are named."""
_WHOLE_FROM_MIN = 9.95
_TENTHS_FROM_MIN = 0.95


def minutes(amount: float) -> str:
    """Give minutes: whole ones from ten on, tenths below, seconds (to five) below one."""
    if amount >= _WHOLE_FROM_MIN:
        return f"{amount:.0f} min"
    if amount >= _TENTHS_FROM_MIN:
        return f"{f'{amount:.1f}'.removesuffix('.0')} min"
    return f"{5 * floor(amount * 12.0 + 0.5)} s"


def spent(parts: Mapping[str, float]) -> list[str]:
    """Give minutes and what they are spent on, as whole numbers that add up to those of the whole.

    The largest remainders are rounded up (Hamilton's method of apportionment).
    """
    whole = {word: floor(amount) for word, amount in parts.items()}
    left = round(sum(parts.values())) - sum(whole.values())
    by_rest = sorted(parts, key=lambda word: whole[word] - parts[word])
    for word in by_rest[:left]:
        whole[word] += 1
    return [f"{amount} min {word}" for word, amount in whole.items()]


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
