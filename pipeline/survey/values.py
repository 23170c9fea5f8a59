"""Readers of single attribute values: lengths, grades, dates, words.

Survey files write values as people do: ``2.5 m``, ``6'7"``, ``20%``, ``10°``,
``0,6``. Each reader takes the value as the file gave it and returns a
:class:`Reading`, or raises :class:`ValueNotUnderstoodError`, which names what is
allowed. A value that means "not known" (empty, ``unknown``, NaN) reads as
``None``.

Notations: OpenStreetMap wiki, pages "Key:maxwidth", "Key:width",
"Key:incline", "Key:tracktype", "Key:oneway".
"""

import datetime as dt
import math
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from numbers import Real

import numpy as np

from pipeline.settings.suggest import did_you_mean
from pipeline.units import FOOT_M, INCH_M, degrees_to_grade

__all__ = [
    "Reading",
    "ValueNotUnderstoodError",
    "date",
    "flag",
    "incline_pct",
    "length_m",
    "one_word",
    "oneway",
    "speed_m_s",
    "text",
    "whole",
    "worst_word",
]

_UNKNOWN = frozenset(
    {
        "", "none", "unknown", "default", "below_default", "no_indications", "no_sign", "unsigned", "n/a", "na",
        "null", "nan", "-", "?",
    }
)  # fmt: skip
_QUOTES = str.maketrans({"′": "'", "’": "'", "‘": "'", "´": "'", "″": '"', "”": '"', "“": '"', "−": "-"})
_NUMBER = r"[-+]?(?:\d+(?:[.,]\d*)?|[.,]\d+)"
_METRIC = re.compile(rf"(?P<number>{_NUMBER})\s*(?P<unit>[a-z]*)")
_IMPERIAL = re.compile(
    r"(?P<sign>[-+]?)(?:(?P<feet>\d+(?:\.\d+)?)\s*(?:'|ft|feet|foot))?(?P<gap>\s*)"
    r"(?:(?P<inches>\d+(?:\.\d+)?)\s*(?:\"|''|in|inch|inches))?"
)
_INCLINE = re.compile(rf"(?P<number>{_NUMBER})\s*(?P<unit>%|°|deg)?")
_SPEED = re.compile(rf"(?P<number>{_NUMBER})\s*(?P<unit>m/s|km/h|)")
_RANGE = re.compile(r"(?P<low>-?[^-]*[0-9'\"a-z%°])\s*-\s*(?P<high>-?[^-]+)")
_METRES = {
    "": 1.0, "m": 1.0, "metre": 1.0, "metres": 1.0, "meter": 1.0, "meters": 1.0, "cm": 0.01, "mm": 0.001, "km": 1000.0,
}  # fmt: skip
_YES = frozenset({"yes", "true", "1", "y", "t"})
_NO = frozenset({"no", "false", "0", "n", "f"})
_UNSAID_GRADES = frozenset({"up", "down", "yes"})


class ValueNotUnderstoodError(ValueError):
    """A value that cannot be read; the message says what is allowed."""


@dataclass(frozen=True, slots=True)
class Reading:
    """What a value says."""

    value: float | int | str | bool | None
    """The value in the unit of the reader; ``None`` when it is not known."""
    note: str = ""
    """How the value was bent to be understood; empty when it was written by the rules."""


_MISSING = Reading(None)


def _is_missing(value: object) -> bool:
    """Tell whether *value* means "not known"."""
    if value is None or value is np.ma.masked:
        return True
    if isinstance(value, str):
        return value.strip().casefold() in _UNKNOWN
    return bool(value != value) or str(value) == "NaT"  # noqa: PLR0124 — NaN is the value that differs from itself


def text(value: object) -> Reading:
    """Read free text; a whole number that became a float in its table is written without decimals."""
    if value is None or (not isinstance(value, str) and _is_missing(value)):
        return _MISSING
    if isinstance(value, Real) and not isinstance(value, bool) and float(value).is_integer():
        return Reading(f"{float(value):.0f}")
    words = " ".join(str(value).split())
    return Reading(words) if words else _MISSING


def length_m(value: object, *, low: float, high: float, worse: Callable[[Sequence[float]], float] = min) -> Reading:
    """Read a length in metres.

    Parameters
    ----------
    value
        A number (m), or a text: ``2.5``, ``2.5 m``, ``250 cm``, ``8 ft``, ``6'7"``, ``30"``; a decimal comma, a
        space inside ``12' 6"``, ranges and lists are understood with a note, and 0 as "not known" where *low* is
        above it.
    low, high
        What is believable, m, both allowed; catches a wrong unit.
    worse
        Which of several values counts: ``min`` for room, ``max`` for water.

    Raises
    ------
    ValueNotUnderstoodError
        When the value is no length, or not a believable one.
    """
    allowed = f"{low:g} to {high:g} m, as 2.5, 2.5 m or 8'2\""
    if _is_missing(value):
        return _MISSING
    reading = _several(value, lambda part: _one_length(part, allowed), worse)
    if low > 0.0 and reading.value == 0.0:
        return Reading(None, "0 read as not known")
    return _bounded(reading, low, high, allowed)


def speed_m_s(value: object, *, high: float) -> Reading:
    """Read a speed in metres a second: a number, ``0.5 m/s`` or ``2 km/h``; of several the fastest counts.

    Raises
    ------
    ValueNotUnderstoodError
        When it is no speed, negative, or above *high*.
    """
    allowed = f"0 to {high:g} m/s, as 0.5, 0.5 m/s or 2 km/h"
    if _is_missing(value):
        return _MISSING

    def one(written: str) -> Reading:
        match = _SPEED.fullmatch(written.casefold())
        if match is None:
            raise ValueNotUnderstoodError(allowed)
        number, note = _number(match["number"])
        return Reading(number / 3.6 if match["unit"] == "km/h" else number, note)

    return _bounded(_several(value, one, max), 0.0, high, allowed)


def _several(value: object, one: Callable[[str], Reading], worse: Callable[[Sequence[float]], float]) -> Reading:
    """Read a number, one text, or a list or range of texts of which the *worse* counts."""
    if isinstance(value, Real) and not isinstance(value, bool):
        return Reading(float(value))
    whole_text = str(value).strip().translate(_QUOTES)
    parts = [part.strip() for part in whole_text.split(";")]
    if len(parts) == 1 and (spread := _RANGE.fullmatch(whole_text)):
        parts = [spread["low"].strip(), spread["high"].strip()]
    if len(parts) == 1:
        return one(whole_text)
    values = [float(reading.value) for part in parts if (reading := one(part)).value is not None]
    return Reading(worse(values), f"{whole_text!r} read as the worse of its values")


def _one_length(written: str, allowed: str) -> Reading:
    """Read one length without list or range."""
    small = written.casefold()
    if (metric := _METRIC.fullmatch(small)) and metric["unit"] in _METRES:
        number, note = _number(metric["number"])
        return Reading(number * _METRES[metric["unit"]], note)
    imperial = _IMPERIAL.fullmatch(small)
    if imperial is None or not (imperial["feet"] or imperial["inches"]):
        raise ValueNotUnderstoodError(allowed)
    metres = float(imperial["feet"] or 0) * FOOT_M + float(imperial["inches"] or 0) * INCH_M
    spaced = bool(imperial["feet"] and imperial["inches"] and imperial["gap"]) and "'" in small
    note = f"the space inside {written} was overlooked" if spaced else ""
    return Reading(-metres if imperial["sign"] == "-" else metres, note)


def _number(written: str) -> tuple[float, str]:
    """Read a number that may have a decimal comma, with the note that says so."""
    note = f"the comma in {written} was read as a decimal point" if "," in written else ""
    return float(written.replace(",", ".")), note


def _bounded(reading: Reading, low: float, high: float, allowed: str) -> Reading:
    """Refuse numbers that are not believable."""
    if reading.value is not None and not low <= float(reading.value) <= high:
        raise ValueNotUnderstoodError(allowed)
    return reading


def incline_pct(value: object) -> Reading:
    """Read a tagged grade in per cent, + uphill in the digitised direction.

    ``20%``, ``-5%``, ``10°`` and plain numbers (per cent) are understood; ``up``, ``down`` and ``yes`` give no size and
    read as unknown. Source: OpenStreetMap wiki, "Key:incline".

    Raises
    ------
    ValueNotUnderstoodError
        When it is no grade, or steeper than 120 %.
    """
    allowed = "-120 to 120 per cent, as 20%, -5% or 10°; up; down"
    if _is_missing(value) or (isinstance(value, str) and value.strip().casefold() in _UNSAID_GRADES):
        return _MISSING

    def one(written: str) -> Reading:
        match = _INCLINE.fullmatch(written.casefold())
        if match is None:
            raise ValueNotUnderstoodError(allowed)
        number, note = _number(match["number"])
        if match["unit"] in {"°", "deg"}:
            if abs(number) >= 90.0:
                raise ValueNotUnderstoodError(allowed)
            number = 100.0 * degrees_to_grade(number)
        return Reading(number, note)

    return _bounded(_several(value, one, lambda values: max(values, key=abs)), -120.0, 120.0, allowed)


def oneway(value: object) -> Reading:
    """Read a one-way rule: 0 both ways, 1 only with, -1 only against the digitised direction.

    Raises
    ------
    ValueNotUnderstoodError
        When it is another word.
    """
    if _is_missing(value):
        return Reading(0)
    word = _word(value)
    if word in _YES:
        return Reading(1)
    if word in {"-1", "reverse"}:
        return Reading(-1)
    if word in _NO or word == "alternating":
        return Reading(0)
    message = "yes | no | 1 | -1"
    raise ValueNotUnderstoodError(message)


def flag(value: object) -> Reading:
    """Read a yes or no; any other word is a kind of the thing (``bridge=viaduct``) and reads as yes."""
    return Reading(not (_is_missing(value) or _word(value) in _NO))


def whole(value: object, *, low: int, high: int) -> Reading:
    """Read a whole number between *low* and *high*.

    Raises
    ------
    ValueNotUnderstoodError
        When it is none.
    """
    if _is_missing(value):
        return _MISSING
    word = _word(value).removeprefix("+")
    if not re.fullmatch(r"-?\d{1,9}", word) or not low <= int(word) <= high:
        message = f"a whole number from {low} to {high}"
        raise ValueNotUnderstoodError(message)
    return Reading(int(word))


def worst_word(value: object, words: Sequence[str]) -> Reading:
    """Read one of *words* (listed from mild to severe); of a list or range the most severe counts.

    Raises
    ------
    ValueNotUnderstoodError
        When a word is not among *words*; the message names the nearest.
    """
    if _is_missing(value):
        return _MISSING
    written = _word(value)
    parts = [part.strip() for part in re.split(r"[;,]", written) if part.strip()]
    if len(parts) == 1 and written not in words:
        parts = [part.strip() for part in written.split("-")]
    odd = [part for part in parts if part not in words]
    if odd or not parts:
        message = " | ".join(words)
        near = did_you_mean(odd[0], words) if odd else ""
        raise ValueNotUnderstoodError(f"{message}; {near}" if near else message)
    worst = max(parts, key=words.index)
    return Reading(worst, f"{written!r} read as the worse of its words, {worst}" if len(parts) > 1 else "")


def one_word(value: object, words: Sequence[str]) -> Reading:
    """Read exactly one of *words*.

    Raises
    ------
    ValueNotUnderstoodError
        When it is not among *words*; the message names the nearest.
    """
    if not _is_missing(value) and _word(value) not in words:
        near = did_you_mean(_word(value), words)
        raise ValueNotUnderstoodError("; ".join(part for part in (" | ".join(words), near) if part))
    return _MISSING if _is_missing(value) else Reading(_word(value))


def date(value: object) -> Reading:
    """Read an ISO date (a time after it is cut off) and write it as ``YYYY-MM-DD``.

    Raises
    ------
    ValueNotUnderstoodError
        When it is no date of the calendar.
    """
    if _is_missing(value):
        return _MISSING
    message = "a date as 2025-05-31"
    match = re.fullmatch(r"(\d{4})([-/])(\d{2})\2(\d{2})(?:[T ].*)?", str(value).strip())
    if match is None:
        raise ValueNotUnderstoodError(message)
    try:
        day = dt.date(int(match[1]), int(match[3]), int(match[4]))
    except ValueError as fault:
        raise ValueNotUnderstoodError(message) from fault
    return Reading(day.isoformat())


def _word(value: object) -> str:
    """Write a word, a flag or a whole number in small letters."""
    if isinstance(value, bool | np.bool_):
        return "yes" if value else "no"
    if isinstance(value, Real) and math.isfinite(value) and float(value).is_integer():
        return f"{float(value):.0f}"
    return str(value).strip().casefold()
