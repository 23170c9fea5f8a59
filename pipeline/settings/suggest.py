"""The nearest known word to one that is not known, for "did you mean"."""

import difflib
from collections.abc import Iterable
from pathlib import Path

__all__ = ["did_you_mean", "near_file", "nearest"]

_CUTOFF = 0.6
"""Share of matching letters below which a word is no suggestion (difflib's own default)."""


def nearest(word: str, known: Iterable[str]) -> str | None:
    """Find the word of *known* that is spelt most like *word*; ``None`` when none is near.

    Capitals, hyphens, underscores and spaces do not count as differences.
    """
    plain: dict[str, str] = {}
    for name in known:
        plain.setdefault(_plain(name), name)
    matches = difflib.get_close_matches(_plain(word), plain, n=1, cutoff=_CUTOFF)
    return plain[matches[0]] if matches else None


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """Give ``did you mean "x"?`` for the nearest known word, or an empty text."""
    near = nearest(word, known)
    return "" if near is None else f'did you mean "{near}"?'


def near_file(path: Path) -> str:
    """Say which file of its folder a missing *path* could mean; empty when none is near."""
    folder = path.parent
    if not folder.is_dir():
        return f"the folder {folder} is missing too"
    try:
        return did_you_mean(path.name, sorted(entry.name for entry in folder.iterdir()))
    except OSError:
        return f"the folder {folder} cannot be read"


def _plain(word: str) -> str:
    """Strip what spellings differ in without meaning anything."""
    return word.casefold().replace("-", "").replace("_", "").replace(" ", "")
