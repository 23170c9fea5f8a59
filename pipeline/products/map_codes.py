"""Verdicts and checks as the map page carries them: digits, hundredths and word numbers."""

import math
import re
from collections.abc import Sequence
from itertools import pairwise
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pipeline.errors import ContractError, Fault
from pipeline.products.facts import Facts
from pipeline.products.plain import clean, odds
from pipeline.terms import Basis, CheckName, Direction, Verdict

__all__ = [
    "BASES",
    "BASIS_WORDS",
    "CHECKS",
    "LARGE",
    "VERDICTS",
    "WAYS",
    "Sayings",
    "Words",
    "by_check",
    "codes",
    "details",
    "differences",
    "judged",
    "keys",
    "steps",
    "tenths",
    "whole",
]

LARGE = 2000
"""Above this many segments the page draws on a canvas, and carries no details of checks that are ample."""

WAYS = [way.value for way in Direction]
CHECKS = [check.value for check in CheckName]
VERDICTS = [verdict.value for verdict in Verdict]
BASES = [basis.word for basis in Basis]
BASIS_WORDS = {"none": "nothing", "assumed": "assumed", "tag": "tag of the trail", "dem": "elevation model"}
"""What a basis is called on the page, where the word of the tables does not say it."""
_FIGURE = re.compile(r"(\d+(?:\.\d+)?)")

_CHANCE = re.compile(r"; \d+ % chance of being over the limit$")
"""What ends the sentence of a verdict that doubt made worse: the page says it in other words."""

Matrix = NDArray[np.int64]


def judged(verdicts: pd.DataFrame, index: dict[str, int], setups: Sequence[str]) -> list[dict[str, Any]]:
    """For every set-up and direction: verdict digits, utilisation in per cent, deciding check and its chainage."""
    key = keys(verdicts, setups)
    row = codes(verdicts["segment_id"], list(index))
    shape = (len(setups) * len(WAYS), len(index))
    verdict, share = _tables(verdicts, key, row, shape)
    check, at = np.full(shape, -1), np.full(shape, -1)
    check[key, row] = codes(verdicts["check"], CHECKS)
    at[key, row] = [-1 if place is None else place for place in tenths(verdicts["at_m"])]
    return [
        {"v": _digits(verdict[way]), "u": share[way].tolist(), "c": check[way].tolist(), "at": at[way].tolist()}
        for way in range(shape[0])
    ]


def by_check(checks: pd.DataFrame, index: dict[str, int], setups: Sequence[str]) -> list[dict[str, Any]]:
    """For every set-up, direction and check: verdict digits and utilisation in per cent."""
    key = keys(checks, setups) * len(CHECKS) + codes(checks["check"], CHECKS)
    shape = (len(setups) * len(WAYS) * len(CHECKS), len(index))
    verdict, share = _tables(checks, key, codes(checks["segment_id"], list(index)), shape)
    return [{"v": _digits(verdict[way]), "u": share[way].tolist()} for way in range(shape[0])]


def keys(frame: pd.DataFrame, setups: Sequence[str]) -> Matrix:
    """Give the number of a set-up and direction: 2 × set-up + (0 with, 1 against)."""
    return len(WAYS) * codes(frame["setup"], setups) + codes(frame["direction"], WAYS)


def codes(values: pd.Series, vocabulary: Sequence[str]) -> Matrix:
    """Give the place of each word in *vocabulary*; a word that is not there is a fault of the program."""
    codes = np.asarray(pd.Index(vocabulary).get_indexer(pd.Index(values)), dtype=np.int64)
    if (codes < 0).any():
        word = values.iloc[int(np.argmin(codes))]
        raise ContractError(Fault("map.html", f"column {values.name}", f"unknown word {word!r}"))
    return codes


def _tables(frame: pd.DataFrame, key: Matrix, row: Matrix, shape: tuple[int, int]) -> tuple[Matrix, Matrix]:
    """Verdict codes (9 where there is none) and utilisation in per cent (−1 where unknown), by key and segment."""
    verdict, share = np.full(shape, 9), np.full(shape, -1)
    verdict[key, row] = codes(frame["verdict"], VERDICTS)
    share[key, row] = _percent(frame["utilisation"])
    return verdict, share


def _percent(values: pd.Series) -> Matrix:
    """Give whole hundredths, rounded up so that an overrun never reads as 1.00; −1 where unknown, 9999 at most."""
    hundredths = np.ceil(np.asarray(values.to_numpy(), dtype=np.float64) * 100 - 1e-6)
    return np.asarray(np.nan_to_num(np.clip(hundredths, 0, 9999), nan=-1), dtype=np.int64)


def _digits(codes: Matrix) -> str:
    return (codes + ord("0")).astype(np.uint8).tobytes().decode("ascii")


def details(facts: Facts, index: dict[str, int], setups: Sequence[str]) -> dict[str, Any]:
    """Rows of the checks, by segment; in large networks only those that are not ample.

    A row is: set-up and direction, check, demand, limit, unit, basis, chainage in 0.1 m, reason, its figures; and
    where any of them is known: typical limit, standard deviation of the demand, a sentence on the chance of being over.
    """
    checks = facts.checks
    if len(facts.segments) > LARGE:
        checks = checks[checks["verdict"] != Verdict.AMPLE.value]
    told = checks["reason"].tolist()
    units, reasons, chances = Words(), Sayings(), Words()
    found: list[list[list[Any]]] = [[] for _ in index]
    columns = (
        codes(checks["segment_id"], list(index)).tolist(),
        keys(checks, setups).tolist(),
        codes(checks["check"], CHECKS).tolist(),
        _short(checks["demand"]),
        _short(checks["limit"]),
        checks["unit"].tolist(),
        codes(checks["basis"], BASES).tolist(),
        tenths(checks["at_m"]),
        told,
        _short(checks["limit_typical"]),
        _short(checks["demand_sd"], 2),
        map(_chance, checks["p_over"].tolist(), told),
    )
    for segment, key, check, demand, limit, unit, basis, at, reason, *doubt in zip(*columns, strict=True):
        row = [key, check, demand, limit, units.number(unit), basis, at, *reasons.code(_CHANCE.sub("", reason))]
        found[segment].append([*row, *doubt[:2], chances.number(doubt[2])] if any(doubt) else row)
    return {
        "rows": found,
        "units": units.words,
        "reasons": reasons.words,
        "chances": chances.words,
        "complete": len(checks) == len(facts.checks),
    }


def _chance(p_over: float, reason: str) -> str:
    """Say how likely it is to be over the limit, and whether that made the verdict worse; empty where not known."""
    told = odds(p_over)
    if not told:
        return ""
    begin = "Made worse by the chance of being over the limit" if _CHANCE.search(reason) else "Over the limit"
    return f"{begin}: {told}"


class Words:
    """Numbers words in the order they are first met."""

    def __init__(self) -> None:
        self._numbers: dict[Any, int] = {}

    def number(self, word: Any) -> int:  # noqa: ANN401 — any hashable
        """Give the number of *word*."""
        return self._numbers.setdefault(word, len(self._numbers))

    @property
    def words(self) -> list[Any]:
        """The words, by number."""
        return list(self._numbers)


class Sayings(Words):
    """Sentences without their figures: most sentences of a page differ in nothing else."""

    def code(self, sentence: str) -> tuple[int, str]:
        """Give the number of the saying, and its figures joined by spaces."""
        pieces = _FIGURE.split(clean(sentence))
        return self.number(tuple(pieces[::2])), " ".join(pieces[1::2])


def _short(values: pd.Series, figures: int = 6) -> list[float | None]:
    """Give so many significant figures, which the page rounds once; ``None`` where there is no finite value."""
    return [float(f"{value:.{figures}g}") if math.isfinite(value) else None for value in values.tolist()]


def steps(values: NDArray[np.floating[Any]]) -> list[int | None]:
    """First known value as a whole number, then the step from the last known one; ``None`` where one is not known."""
    known = np.isfinite(values)
    found = np.diff(np.round(values[known]).astype(np.int64), prepend=0).tolist()
    if known.all():
        return list(found)
    rest = iter(found)
    return [next(rest) if there else None for there in known.tolist()]


def differences(values: Matrix, owner: Matrix) -> list[list[int]]:
    """Write rows of whole numbers, owner by owner: the first, then the steps."""
    steps = np.diff(values, axis=0, prepend=np.zeros((1, values.shape[1]), np.int64))
    first = np.flatnonzero(np.diff(owner, prepend=-1))
    steps[first] = values[first]
    flat, width = steps.ravel().tolist(), values.shape[1]
    cuts = [*(width * first).tolist(), len(flat)]
    return [flat[begin:end] for begin, end in pairwise(cuts)]


def tenths(places: pd.Series) -> list[int | None]:
    """Give chainages in 0.1 m, cut off: rounded to metres on the page they read as in the sentences of the tables."""
    return [math.floor(10 * place + 1e-6) if math.isfinite(place) else None for place in places.tolist()]


def whole(values: pd.Series) -> list[int | None]:
    """Give whole numbers; ``None`` where there is no finite value."""
    return [round(value) if math.isfinite(value) else None for value in values.tolist()]
