"""What is wrong with a text that is not TOML, in words, with a way to mend it."""

import re

from pipeline.errors import Fault
from pipeline.settings.locate import KeyPath, Repeat, locate

__all__ = ["path_text", "syntax_fault"]

_AT = re.compile(r" \(at (?:line (?P<line>\d+), column (?P<column>\d+)|end of document)\)$")
_BARE = re.compile(r"[A-Za-z0-9_-]+")
_DOUBLED = ("Cannot overwrite", "Cannot declare", "Cannot mutate", "Cannot redefine", "Duplicate")

_HINTS: tuple[tuple[re.Pattern[str], str], ...] = (
    (re.compile(r"[=\[,]\s*[-+]?\d+,\d+\s*(?:[,\]#]|$)"), "write a decimal point, not a comma: 2.85"),
    (re.compile("[“”‘’«»]"), "use straight quotation marks"),
    (re.compile(r"=\s*(?:True|False|TRUE|FALSE|yes|no|Yes|No|on|off)\s*(?:#|$)"), "write true or false"),
    (re.compile(r"=\s*[-+]?[\d.]+\s*[A-Za-z°%]+\s*(?:#|$)"), "write the number only: its unit stands in the key"),
    (re.compile(r"=\s*[-+]?0\d"), "write the number without leading zeros"),
    (re.compile(r"=\s*[-+]?(?:\.\d|\d+\.(?:\s|$))"), "write digits on both sides of the decimal point"),
    (re.compile(r"=\s*(?:#|$)"), "a value is missing after ="),
    (re.compile(r"""^[^="']*:\s"""), "write key = value"),
    (re.compile(r'"[^"]*\\'), "in double quotes a backslash is special: write 'single quotes' or forward slashes"),
    (re.compile(r"""=\s*["'][^"']*$"""), "the closing quotation mark is missing"),
    (re.compile(r"=\s*[A-Za-z]"), 'write text in "double quotes"'),
    (re.compile(r"^\s*\[[^\]]*$"), "the closing bracket is missing"),
    (re.compile(r"^\s*[A-Za-z0-9_-]+\s+[A-Za-z0-9_-]+.*="), "a key has no spaces: use an underscore"),
)
"""What is found on the line of the fault, and how to mend it; the first that fits counts."""


def syntax_fault(text: str, name: str, message: str) -> Fault:
    """Make the fault of a text that ``tomllib`` refused.

    Parameters
    ----------
    text
        The whole text.
    name
        The file, as the user named it.
    message
        What ``tomllib`` said; ends in ``(at line L, column C)`` or ``(at end of document)``.
    """
    at = _AT.search(message)
    said = message[: at.start()] if at else message
    rows = text.splitlines()
    line = int(at["line"]) if at and at["line"] else max(1, len(rows))
    if said.startswith(_DOUBLED):
        repeats = locate(text).repeats
        if repeats:
            return _doubled(repeats[0], name)
    column = f":{at['column']}" if at and at["column"] else ""
    row = rows[line - 1] if line <= len(rows) else ""
    found = f"{said}: {row.strip()[:60]}" if row.strip() else said
    return Fault(name, f"{line}{column}", found, mend=_hint(row))


def path_text(path: KeyPath) -> str:
    """Write a path as TOML writes it; the items of a list are counted from 1 in brackets."""
    text = ""
    for part in path:
        if isinstance(part, int):
            text += f"[{part + 1}]"
        else:
            key = part if _BARE.fullmatch(part) else f'"{part}"'
            text += f".{key}" if text else key
    return text


def _doubled(repeat: Repeat, name: str) -> Fault:
    """Make the fault of a key or table that is set twice."""
    return Fault(
        name,
        str(repeat.again),
        f"{path_text(repeat.path)} is set twice",
        f"once; line {repeat.first} has it already",
        "remove one of the two",
    )


def _hint(row: str) -> str:
    """Find a way to mend the line of the fault."""
    bare = row.rstrip()
    return next((hint for pattern, hint in _HINTS if pattern.search(bare)), "")
