"""The keys of a settings file as Markdown, for the reference in DEVELOPERS.md: read from the models themselves."""

from collections.abc import Iterator, Mapping
from typing import Any

from pipeline.settings.strict import Strict

__all__ = ["markdown"]

Schema = Mapping[str, Any]

_BOUNDS = {
    "minimum": "≥ {}",
    "exclusiveMinimum": "> {}",
    "maximum": "≤ {}",
    "exclusiveMaximum": "< {}",
    "minItems": "at least {}",
}


def markdown(model: type[Strict]) -> str:
    """Render every key of *model* and of the tables in it: name, kind and bounds, default, meaning."""
    schema = model.model_json_schema()
    parts = schema.get("$defs", {})
    return "\n".join(_table("", schema, parts))


def _table(name: str, schema: Schema, parts: Mapping[str, Schema]) -> Iterator[str]:
    """Yield the table of one settings table, then those inside it."""
    needed = set(schema.get("required", ()))
    own: list[tuple[str, Schema]] = []
    inner: list[tuple[str, Schema, Schema]] = []
    for key, value in schema.get("properties", {}).items():
        child = _child(value, parts)
        if child is None:
            own.append((key, value))
        else:
            inner.append((key, value, child))
    if own:
        yield f"#### `{name or 'top level'}`"
        yield ""
        yield "| key | kind | default | meaning |"
        yield "|---|---|---|---|"
        for key, value in own:
            default = "needed" if key in needed else f"`{value.get('default')}`" if "default" in value else ""
            kind = _kind(value, parts).replace("|", "or")
            yield f"| {key} | {kind} | {default} | {_meaning(value)} |"
        yield ""
    for key, value, child in inner:
        outer = name.strip("[]")
        label = f"{outer}.{key}" if outer else key
        opening, closing = ("[[", "]]") if value.get("type") == "array" else ("[", "]")
        suffix = ".NAME" if "additionalProperties" in value else ""
        yield from _table(f"{opening}{label}{suffix}{closing}", child, parts)


def _meaning(value: Schema) -> str:
    """Give the docstring of a key on one line, in Markdown."""
    return " ".join(value.get("description", "").split()).replace("``", "`")


def _child(value: Schema, parts: Mapping[str, Schema]) -> Schema | None:
    """Give the settings table that a key holds (one, a list of them, or named ones); ``None`` for a plain value."""
    inside = value.get("items") or value.get("additionalProperties") or value
    if not isinstance(inside, Mapping) or "$ref" not in inside:
        return None
    part = parts[inside["$ref"].rsplit("/", 1)[-1]]
    return part if "properties" in part else None


def _kind(value: Schema, parts: Mapping[str, Schema]) -> str:
    """Say what a key may hold."""
    if "$ref" in value:
        return _kind(parts[value["$ref"].rsplit("/", 1)[-1]], parts)
    if "anyOf" in value:
        return " or ".join(_kind(choice, parts) for choice in value["anyOf"] if choice.get("type") != "null")
    if "enum" in value:
        return ", ".join(f"`{word}`" for word in value["enum"])
    if "prefixItems" in value:
        return "[" + ", ".join(_kind(item, parts) for item in value["prefixItems"]) + "]"
    bounds = ", ".join(text.format(f"{value[key]:g}") for key, text in _BOUNDS.items() if key in value)
    if value.get("type") == "array":
        return f"list of {_kind(value.get('items', {}), parts)}" + (f" ({bounds})" if bounds else "")
    kind = str(value.get("format") or value.get("type", "any"))
    return f"{kind} {bounds}".strip()
