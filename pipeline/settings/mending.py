"""Turn what pydantic found into faults with file, line, value, allowed values and a way to mend them."""

from collections.abc import Iterable, Mapping
from typing import Any

from pydantic import BaseModel, ValidationError

from pipeline.errors import Fault
from pipeline.settings.document import Document
from pipeline.settings.locate import KeyPath
from pipeline.settings.shape import Shape, unit_at
from pipeline.settings.suggest import did_you_mean, nearest
from pipeline.settings.syntax import path_text

__all__ = ["model_faults", "value_text"]

_LONGEST_VALUE = 60
_LONGEST_LIST = 12
_WRONG_UNITS: Mapping[str, tuple[tuple[float, str, str], ...]] = {
    "m": ((1000.0, "metres", "millimetres"), (100.0, "metres", "centimetres")),
    "kg": ((1000.0, "kilograms", "grams"),),
    "mm": ((0.001, "millimetres", "metres"),),
}
"""Unit of the key → factor that the value is too large by, the unit that is meant, the unit that was written."""
_FAR = 5.0
"""A value this many times outside its range may be in another unit; one nearer is just too large or too small."""
_RETIRED: Mapping[str, str] = {
    "keep_per_day": "every class now has drains_days and dries_days of its own; take the file of a new starter site",
}
"""Keys of older files → what stands for them now."""
_KEY = ("[key]",)
"""What pydantic adds to the place of a mapping's key."""
_OWN_WORDS = {"value_error", "assertion_error"}
_ALLOWED = "allowed: "


def model_faults(error: ValidationError, document: Document, model: type[BaseModel]) -> list[Fault]:
    """List every fault of *document* that *error* holds, in the order of its lines.

    Parameters
    ----------
    error
        What pydantic found when it filled *model* with the document.
    document
        The file, with the place of every key.
    model
        The model.
    """
    shape = Shape(model.model_json_schema())
    details = _telling(error.errors(include_url=False))
    misspelt = _misspelt(details, shape)
    faults: dict[tuple[KeyPath, str], Fault] = {}
    for detail in details:
        path = _real_path(detail["loc"], document, missing=detail["type"] == "missing")
        key = (path, "" if detail["type"] not in _OWN_WORDS else detail["msg"])
        if path not in misspelt and key not in faults:
            faults[key] = _fault(detail, path, document, shape)
    return sorted(faults.values(), key=lambda fault: int(fault.place or 0))


def value_text(value: object) -> str:
    """Write a value as it stands in TOML, cut where it is long."""
    if isinstance(value, Mapping):
        text = "a table"
    elif isinstance(value, bool):
        text = str(value).lower()
    elif isinstance(value, str):
        text = f'"{value}"'
    elif isinstance(value, list):
        text = "[" + ", ".join(value_text(item) for item in value) + "]"
    else:
        text = str(value)
    return text if len(text) <= _LONGEST_VALUE else text[: _LONGEST_VALUE - 1] + "…"


def _telling(details: list[Any]) -> list[Any]:
    """Leave out what only follows from another fault.

    A list counts as too short when an item in it is at fault; what stands under an unknown key is of no matter.
    """
    locs = [detail["loc"] for detail in details]
    unknown = [loc[:-1] for loc in locs if loc[-1:] == _KEY]
    return [
        detail
        for detail in details
        if not (detail["type"] == "too_short" and any(_under(loc, detail["loc"]) for loc in locs))
        and not (detail["loc"][-1:] != _KEY and any(_under(detail["loc"], key) for key in unknown))
    ]


def _under(loc: tuple[str | int, ...], table: tuple[str | int, ...]) -> bool:
    """Tell whether *loc* lies inside *table*."""
    return len(loc) > len(table) and loc[: len(table)] == table


def _real_path(loc: tuple[str | int, ...], document: Document, *, missing: bool) -> KeyPath:
    """Cut from *loc* what pydantic adds to it: the names of a union's choices and ``[key]``."""
    path: KeyPath = ()
    for place, part in enumerate(loc):
        if missing and place == len(loc) - 1:
            return (*path, part)
        try:
            document.value((*path, part))
        except KeyError:
            return path
        path = (*path, part)
    return path


def _misspelt(details: Iterable[Any], shape: Shape) -> set[KeyPath]:
    """List missing keys whose misspelling stands in the same table: one typing error is one fault."""
    missing = {tuple(detail["loc"]) for detail in details if detail["type"] == "missing"}
    found = set()
    for detail in details:
        if detail["type"] == "extra_forbidden":
            table = tuple(detail["loc"][:-1])
            near = nearest(str(detail["loc"][-1]), shape.keys(table))
            if near is not None and (*table, near) in missing:
                found.add((*table, near))
    return found


def _fault(detail: Any, path: KeyPath, document: Document, shape: Shape) -> Fault:  # noqa: ANN401 - pydantic's own dict
    """Make the fault of one of pydantic's details."""
    if detail["type"] == "extra_forbidden" or detail["loc"][-1:] == _KEY:
        return _unknown(path, document, shape)
    place = document.place(*path)
    if detail["type"] == "missing":
        return _missing(path, document, shape)
    if detail["type"] in _OWN_WORDS:
        return _said(detail, path, document)
    value = document.value(path)
    name = path_text(path)
    allowed = shape.allowed(path) or str(detail["msg"])
    return Fault(document.name, place, f"{name} = {value_text(value)}", allowed, _mend(value, path, shape))


def _said(detail: Any, path: KeyPath, document: Document) -> Fault:  # noqa: ANN401 - pydantic's own dict
    """Make the fault that a model's own validator worded; one that begins with ``allowed:`` says what is allowed."""
    said = str(detail["ctx"]["error"]) if "ctx" in detail else str(detail["msg"])
    value = document.value(path)
    name = path_text(tuple(part for part in detail["loc"] if part not in _KEY))
    if not isinstance(value, Mapping):
        name = f"{name} = {value_text(value)}"
    if said.startswith(_ALLOWED):
        return Fault(document.name, document.place(*path), name, said.removeprefix(_ALLOWED))
    return Fault(document.name, document.place(*path), f"{name}: {said}" if name else said)


def _missing(path: KeyPath, document: Document, shape: Shape) -> Fault:
    """Make the fault of a key that is not there, at the line of its table."""
    about = shape.about(path).rstrip(".")
    allowed = shape.allowed(path)
    name = f"[{path_text(path)}]" if allowed == "a table" else path_text(path)
    found = f"{name} is missing" + (f" ({about[:1].lower()}{about[1:]})" if about else "")
    return Fault(document.name, document.place(*path[:-1]), found, "" if allowed == "a table" else allowed)


def _unknown(path: KeyPath, document: Document, shape: Shape) -> Fault:
    """Make the fault of a key that the model does not know."""
    key, known = str(path[-1]), shape.keys(path[:-1])
    value = document.value(path)
    if isinstance(value, Mapping):
        found = f"unknown table [{path_text(path)}]"
    else:
        found = f"unknown key {path_text(path)} = {value_text(value)}"
    mend = _RETIRED.get(key, did_you_mean(key, known))
    homes = [] if mend else [home for home in shape.home(key) if home != path_text(path[:-1])]
    if homes:
        mend = f"it belongs in [{homes[0]}]" if homes[0] else "it belongs above the first [table]"
    more = ", …" if len(known) > _LONGEST_LIST else ""
    allowed = "" if mend else ", ".join(known[:_LONGEST_LIST]) + more
    return Fault(document.name, document.place(*path), found, allowed, mend)


def _mend(value: object, path: KeyPath, shape: Shape) -> str:
    """Find a way to mend a value."""
    if isinstance(value, str):
        return _mend_text(value, path, shape)
    if isinstance(value, bool) or not isinstance(value, int | float):
        return ""
    bounds = shape.bounds(path)
    if bounds is None or not (value > _FAR * bounds[1] or 0.0 <= value < bounds[0] / _FAR):
        return ""
    for factor, meant, written in _WRONG_UNITS.get(unit_at(path), ()):
        if bounds[0] <= value / factor <= bounds[1]:
            return f"{meant}, not {written}: {value / factor:g}?"
    return ""


def _mend_text(value: str, path: KeyPath, shape: Shape) -> str:
    """Find a way to mend a text: the nearest word, or a number without its quotation marks."""
    node = shape.at(path) or {}
    options = node.get("anyOf", [node])
    near = did_you_mean(value, [str(word) for option in options for word in option.get("enum", ())])
    if near or shape.bounds(path) is None:
        return near
    try:
        float(value.replace(",", "."))
    except ValueError:
        return ""
    return "write the number without quotation marks"
