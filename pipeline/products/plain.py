"""Plain text for people: numbers with their units, the caution, and the escaping that every product shares."""

import json
import math
import re
from collections import Counter
from collections.abc import Iterable, Mapping
from typing import Any

from pipeline.terms import CAUTION
from pipeline.vehicle.classes import FLOOD_CAVEAT

__all__ = [
    "CAUTION",
    "FORMAT",
    "MISSING",
    "WATER_CAUTION",
    "clean",
    "counts",
    "json_block",
    "metres",
    "minutes",
    "number",
    "odds",
    "per_cent",
    "rounded",
    "stamp",
    "text",
    "utilised",
]

WATER_CAUTION = (
    f"Limits of water are those of Australian Rainfall and Runoff, Project 10, Stage 2 (2011). {FLOOD_CAVEAT} Water "
    "rises within minutes: sound it and look at its bed on the day, and turn back where either is in doubt."
)
"""What stands wherever limits of water are told."""

FORMAT = 1
"""Number of the products' format; goes up when a reader of an older one would misread them."""

_SELDOM = 1 / 1000
_PARTS = (2, 3, 4, 5, 6, 8, 10, 15, 20, 30, 50, 100, 200, 500, 1000)
"""Numbers that a chance of one in so many is rounded to."""

MISSING = "–"
"""What stands where a value is not known."""

# XML 1.0 section 2.2 allows tab, newline, return and the rest of Unicode without surrogates, U+FFFE and U+FFFF.
# C1 controls (U+0080–U+009F) are legal there but show as nothing: they go too.
_UNPRINTABLE = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ud800-\udfff\ufffe\uffff]")
_STRING = re.compile(r'"(?:[^"\\]|\\.)*"')
_UNSAFE = str.maketrans({char: f"\\u{ord(char):04x}" for char in "<>&{}%\u2028\u2029"})


def clean(value: str) -> str:
    """Replace what XML 1.0 cannot carry (control characters, lone surrogates) by U+FFFD; white space to one space."""
    return " ".join(_UNPRINTABLE.sub("\ufffd", value).split())


def text(value: object, missing: str = "") -> str:
    """Give a table's text value, cleaned; *missing* where it has none (``None``, NaN, NA)."""
    return clean(value) if isinstance(value, str) else missing


def counts(values: Iterable[object]) -> dict[str, int]:
    """Count texts, cleaned, most frequent first, ties by name."""
    found = Counter(map(text, values))
    return dict(sorted(found.items(), key=lambda item: (-item[1], item[0])))


def rounded(value: float | None, digits: int) -> float | None:
    """Round for JSON; ``None`` where there is no finite number."""
    return None if value is None or not math.isfinite(value) else round(float(value), digits)


def number(value: float | None, digits: int, missing: str = MISSING) -> str:
    """Format *value* with *digits* decimals and a true minus sign; *missing* for None, NaN and infinities."""
    if value is None or not math.isfinite(value):
        return missing
    shown = f"{value:.{digits}f}"
    if float(shown) == 0:
        shown = shown.lstrip("-")
    return shown.replace("-", "−")


def metres(value: float | None) -> str:
    """Format a length: whole metres below 1 km, kilometres with two decimals from there."""
    if value is None or not math.isfinite(value):
        return MISSING
    return f"{number(value, 0)} m" if abs(value) < 999.5 else f"{number(value / 1000, 2)} km"


def minutes(value: float | None) -> str:
    """Format a duration given in minutes: ``25 min``, ``1 h 05 min``."""
    if value is None or not math.isfinite(value):
        return MISSING
    hours, rest = divmod(round(value), 60)
    return f"{hours} h {rest:02d} min" if hours else f"{rest} min"


def per_cent(share: float | None, digits: int = 0) -> str:
    """Format a share (0–1) in per cent."""
    if share is None or not math.isfinite(share):
        return MISSING
    return f"{number(100 * share, digits)} %"


def utilised(share: float | None) -> str:
    """Format a utilisation with two decimals, rounded up: an overrun never reads as 1.00."""
    if share is None or not math.isfinite(share):
        return MISSING
    return number(math.ceil(100 * share - 1e-6) / 100, 2)


def odds(chance: float | None) -> str:
    """Say a probability (0–1) as people do, ``about 1 in 8``; empty where it is not known."""
    if chance is None or not math.isfinite(chance):
        return ""
    rest = min(chance, 1.0 - chance)
    if rest < _SELDOM:
        return f"less than 1 in {round(1 / _SELDOM)}" if chance < 0.5 else "all but certain"
    parts = min(_PARTS, key=lambda n: abs(math.log(rest * n)))
    return f"about {1 if chance <= 0.5 else parts - 1} in {parts}"


def stamp(built_at: str) -> str:
    """Shorten an ISO 8601 time to the minute, with its zone where that is known: ``2025-03-01 14:05 UTC``."""
    words = clean(built_at)
    zone = " UTC" if words.endswith(("+00:00", "Z")) else ""
    return words.replace("T", " ")[:16] + zone


def json_block(data: Mapping[str, Any]) -> str:
    r"""Write *data* as JSON that can stand inside ``<script type="application/json">``.

    Inside its strings ``<``, ``>``, ``&``, ``{``, ``}``, ``%``, U+2028 and
    U+2029 stand as ``\u`` escapes: no text can end the block, open a tag or
    look like a template to any program the page passes through.

    Raises
    ------
    ValueError
        When *data* holds NaN or an infinity, which JSON has no word for.
    """
    written = json.dumps(data, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    return _STRING.sub(lambda match: match.group().translate(_UNSAFE), written)
