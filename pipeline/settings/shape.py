"""What a model allows at a place, read from its JSON Schema.

One description serves every message: the range of a number with its unit, the words of a vocabulary, the keys of a
table. The unit of a number is the suffix of its key.
"""

import math
from dataclasses import dataclass
from typing import Any

from pipeline.settings.locate import KeyPath

__all__ = ["Shape", "unit_at", "unit_of"]

Node = dict[str, Any]

_UNITS = {
    "_m": "m",
    "_mm": "mm",
    "_km": "km",
    "_deg": "°",
    "_deg_s": "°/s",
    "_m2": "m²",
    "_ha": "ha",
    "_kg": "kg",
    "_pct": "%",
    "_kmh": "km/h",
    "_m_s": "m/s",
    "_m2_s": "m²/s",
    "_min": "min",
    "_s": "s",
    "_h": "h",
    "_days": "days",
    "_kn": "kN",
    "_kpa": "kPa",
}
_SIMPLE = {"boolean": "true or false", "object": "a table", "null": "nothing"}
_FORMATS = {"date": "a date such as 2026-03-28"}


def unit_of(key: str) -> str:
    """Give the unit symbol that the suffix of *key* stands for; empty when it has none."""
    suffixes = sorted((suffix for suffix in _UNITS if key.endswith(suffix)), key=len)
    return _UNITS[suffixes[-1]] if suffixes else ""


def unit_at(path: KeyPath) -> str:
    """Give the unit of the number at *path*: that of the innermost key that has one."""
    units = (unit_of(part) for part in reversed(path) if isinstance(part, str))
    return next(filter(None, units), "")


@dataclass(frozen=True, slots=True)
class Shape:
    """The JSON Schema of a settings model, asked by place."""

    schema: Node

    def at(self, path: KeyPath) -> Node | None:
        """Give what the model allows at *path*; ``None`` where it knows no such place."""
        nodes = self._options(self.schema)
        for part in path:
            nodes = [deeper for node in nodes for deeper in self._step(node, part)]
        if len(nodes) <= 1:
            return nodes[0] if nodes else None
        return {"anyOf": nodes}

    def keys(self, path: KeyPath) -> tuple[str, ...]:
        """List the keys of the table at *path*; empty when any key may stand there."""
        node = self.at(path)
        options = [] if node is None else self._options(node)
        return tuple(key for option in options for key in self._names(option))

    def allowed(self, path: KeyPath) -> str:
        """Say in words what is allowed at *path*; empty where nothing is known."""
        node = self.at(path)
        return "" if node is None else self._words(node, unit_at(path))

    def about(self, path: KeyPath) -> str:
        """Give the first line of what the model says about the key at *path*; empty where it says nothing."""
        table = self.at(path[:-1]) or {}
        own = (option.get("properties", {}).get(path[-1], {}) for option in self._options(table))
        nodes = [*own, self.at(path) or {}]
        return next((str(node["description"]).split("\n")[0] for node in nodes if "description" in node), "")

    def bounds(self, path: KeyPath) -> tuple[float, float] | None:
        """Give the range of the number at *path*, −inf and inf where it is open; ``None`` for anything else."""
        node = self.at(path)
        for option in [] if node is None else self._options(node):
            if option.get("type") in {"number", "integer"}:
                low = option.get("minimum", option.get("exclusiveMinimum"))
                high = option.get("maximum", option.get("exclusiveMaximum"))
                return (-math.inf if low is None else low, math.inf if high is None else high)
        return None

    def home(self, key: str) -> tuple[str, ...]:
        """List the tables of the file, one level deep, that know *key*; ``""`` stands for the top."""
        tables = [name for name in self.keys(()) if key in self.keys((name,)) or key in self.keys((name, 0))]
        return ("", *tables) if key in self.keys(()) else tuple(tables)

    def _names(self, node: Node) -> tuple[str, ...]:
        """List the keys of one table: those of a model, or the words that a mapping's keys are taken from."""
        named = self._options(node["propertyNames"]) if "propertyNames" in node else []
        return (*node.get("properties", {}), *(word for choice in named for word in choice.get("enum", ())))

    def _options(self, node: Node) -> list[Node]:
        """Follow references and list the choices of *node*, without nothing."""
        if "$ref" in node:
            name = node["$ref"].rsplit("/", 1)[-1]
            return self._options(self.schema["$defs"][name])
        choices = node.get("anyOf") or node.get("oneOf") or node.get("allOf")
        if choices:
            return [option for choice in choices for option in self._options(choice)]
        return [] if node.get("type") == "null" else [node]

    def _step(self, node: Node, part: str | int) -> list[Node]:
        """Go one key or list item deeper."""
        if isinstance(part, int):
            first = node.get("prefixItems", [])
            inner = first[part] if part < len(first) else node.get("items")
        else:
            inner = node.get("properties", {}).get(part, node.get("additionalProperties"))
        return self._options(inner) if isinstance(inner, dict) else []

    def _words(self, node: Node, unit: str) -> str:
        """Describe *node* in words."""
        words = [self._describe(option, unit) for option in self._options(node)]
        return " or ".join(dict.fromkeys(word for word in words if word))

    def _describe(self, node: Node, unit: str) -> str:
        """Describe one choice."""
        if "enum" in node:
            return " | ".join(_quoted(word) for word in node["enum"])
        if "const" in node:
            return _quoted(node["const"])
        kind = node.get("type")
        if kind in {"number", "integer"}:
            return _number(node, unit)
        if kind == "array":
            return self._list(node, unit)
        if kind == "string":
            return _text(node)
        return _SIMPLE.get(str(kind), "")

    def _list(self, node: Node, unit: str) -> str:
        """Describe a list."""
        first = node.get("prefixItems")
        if first:
            inner = self._words(first[0], unit)
            return f"a list of {len(first)}, each {inner}" if inner else f"a list of {len(first)}"
        low, high = node.get("minItems", 0), node.get("maxItems")
        count = f" of {low} to {high}" if low and high else f" of at least {low}" if low else ""
        count = f" of at most {high}" if high and not low else count
        inner = self._words(node["items"], unit) if isinstance(node.get("items"), dict) else ""
        return f"a list{count}, each {inner}" if inner else f"a list{count}"


def _quoted(word: object) -> str:
    return f'"{word}"' if isinstance(word, str) else str(word).lower()


def _number(node: Node, unit: str) -> str:
    """Describe a number with its range and unit."""
    limits = (
        ("exclusiveMinimum", "above {}"),
        ("minimum", "from {}"),
        ("exclusiveMaximum", "below {}"),
        ("maximum", "up to {}"),
    )
    parts = [words.format(f"{node[key]:g}") for key, words in limits if key in node]
    kind = "a whole number" if node.get("type") == "integer" else "a number"
    text = " ".join([kind, " and ".join(parts)]) if parts else kind
    if "minimum" in node and "maximum" in node:
        text = text.replace(" and up to ", " to ")
    return f"{text} {unit}".rstrip() if parts else f"{text} in {unit}" if unit else text


def _text(node: Node) -> str:
    """Describe a text."""
    if node.get("format") in _FORMATS:
        return _FORMATS[node["format"]]
    low, high = node.get("minLength", 0), node.get("maxLength")
    if high is not None:
        return f"text of {low} to {high} characters"
    return "text, not empty" if low else "text in quotes"
