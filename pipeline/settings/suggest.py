"""The nearest known word to one that is not known, for "did you mean"."""

import difflib
from collections.abc import Iterable
from pathlib import Path

__all__ = ["did_you_mean", "near_file", "nearest"]

_CUTOFF = 0.6
"""Share of matching letters below which a word is no suggestion (difflib's own default)."""
_FILE_CUTOFF = 0.65
"""The same for file names, which lie in folders of files that have nothing to do with one another."""
_COMPANIONS = frozenset({".prj", ".shx", ".dbf", ".cpg", ".tfw", ".xml", ".msk", ".qml", ".txt"})
"""Endings of files that only go with another."""


def nearest(word: str, known: Iterable[str], cutoff: float = _CUTOFF) -> str | None:
    """Find the word of *known* that is spelt most like *word*; ``None`` when none is near.

    Capitals, hyphens, underscores and spaces do not count as differences.
    """
    plain: dict[str, str] = {}
    for name in known:
        plain.setdefault(_plain(name), name)
    matches = difflib.get_close_matches(_plain(word), plain, n=1, cutoff=cutoff)
    return plain[matches[0]] if matches else None


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """Give ``did you mean "x"?`` for the nearest known word, or an empty text."""
    near = nearest(word, known)
    return "" if near is None else f'did you mean "{near}"?'


def near_file(path: Path) -> str:
    """Say which file of its folder a missing *path* could mean; empty when none is near.

    Files with the same ending come first, then the same name with another ending, if that is no mere companion: a
    ``.prj`` beside it is no elevation model, however alike the names are.
    """
    folder = path.parent
    if not folder.is_dir():
        return f"the folder {folder} is missing too"
    try:
        there = sorted(folder.iterdir())
    except OSError:
        return f"the folder {folder} cannot be read"
    alike = [entry for entry in there if entry.suffix.casefold() == path.suffix.casefold()]
    stem = nearest(path.stem, [entry.stem for entry in alike], _FILE_CUTOFF)
    near = [entry.name for entry in alike if entry.stem == stem]
    near += [entry.name for entry in there if entry.stem == path.stem and entry.suffix.casefold() not in _COMPANIONS]
    return f'did you mean "{near[0]}"?' if near else ""


def _plain(word: str) -> str:
    """Strip what spellings differ in without meaning anything."""
    return word.casefold().replace("-", "").replace("_", "").replace(" ", "")
