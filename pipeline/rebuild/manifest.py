"""The manifest of a build: what went in, what came out, and what made it.

``manifest.json``::

    format      number of this layout
    built_at    UTC time
    inputs      {file, bytes, sha256} of every file that was read, paths relative to the site file
    settings    the settings as they were understood, defaults included
    versions    of this package, Python and the libraries that decide the numbers, GDAL and PROJ included
    products    {file, bytes, sha256} of every product
    timings_s   seconds a stage took

:func:`stale_reasons` compares it with what a build would use now and names every reason to build again.
"""

import hashlib
import json
import os
import platform
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from importlib.metadata import version
from pathlib import Path
from typing import Any

import pyogrio
import pyproj
import rasterio

from pipeline import __version__
from pipeline.errors import Fault, InputMissingError

__all__ = ["FORMAT", "Recipe", "read_manifest", "recipe", "stale_reasons", "write_manifest"]

FORMAT = 1
"""Number of the layout of the build folder; a change of it makes every build stale."""
NAME = "manifest.json"

_LIBRARIES = (
    "geopandas",
    "highspy",
    "networkx",
    "numba",
    "numpy",
    "pandas",
    "pyarrow",
    "pyflwdir",
    "pyogrio",
    "pyproj",
    "rasterio",
    "shapely",
)

_CODE = frozenset({".py", ".html", ".css", ".js", ".typ", ".qml", ".xml", ".ini"})
"""Suffixes of the package's files that decide what a product is."""

Json = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Recipe:
    """Everything that decides what a build is."""

    inputs: tuple[Json, ...]
    """``{file, bytes, sha256}`` of every input, in order of file."""
    settings: Json
    """The settings as understood; plain values only."""
    versions: Mapping[str, str]
    """Version of everything that decides the numbers."""


def recipe(inputs: Iterable[Path], settings: Json, *, root: Path) -> Recipe:
    """Hash the inputs and note the versions.

    Parameters
    ----------
    inputs
        Every file that is read.
    settings
        The settings as understood, of plain values.
    root
        Folder that the names of the inputs are relative to.

    Raises
    ------
    InputMissingError
        When an input cannot be read any more.
    """
    names = {os.path.relpath(path, root): path for path in inputs}
    facts = tuple(_file_facts(path, name) for name, path in sorted(names.items()))
    return Recipe(inputs=facts, settings=json.loads(json.dumps(settings, default=str)), versions=_versions())


def write_manifest(
    folder: Path, made_of: Recipe, timings_s: Mapping[str, float], *, now: datetime | None = None
) -> Path:
    """Write ``manifest.json`` for the products that stand in *folder*; call it last.

    Parameters
    ----------
    folder
        The build folder, complete but for the manifest.
    made_of
        What it was made of.
    timings_s
        Seconds a stage took, in the order of the stages.
    now
        The time of the build; the clock's when not given.
    """
    products = [_file_facts(path, path.relative_to(folder).as_posix()) for path in _files(folder) if path.name != NAME]
    content = {
        "format": FORMAT,
        "built_at": (now or datetime.now(tz=UTC)).isoformat(timespec="seconds"),
        "inputs": list(made_of.inputs),
        "settings": made_of.settings,
        "versions": dict(sorted(made_of.versions.items())),
        "products": products,
        "timings_s": {stage: round(seconds, 3) for stage, seconds in timings_s.items()},
    }
    path = folder / NAME
    path.write_text(json.dumps(content, indent=2, ensure_ascii=False) + "\n", encoding="utf-8")
    return path


def read_manifest(folder: Path) -> Json | None:
    """Read the manifest of a build; ``None`` when there is none that can be read."""
    try:
        content = json.loads((folder / NAME).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
    return content if isinstance(content, dict) else None


def stale_reasons(previous: Path | None, made_of: Recipe) -> tuple[str, ...]:
    """Name every reason to build again; empty when *previous* is what a build would give.

    Parameters
    ----------
    previous
        The build in use; ``None`` when there is none.
    made_of
        What a build would be made of now.
    """
    if previous is None:
        return ("there is no earlier build",)
    old = read_manifest(previous)
    if old is None:
        return ("the earlier build has no manifest",)
    if old.get("format") != FORMAT:
        return (f"the layout of the build folder is {FORMAT}, was {old.get('format')}",)
    return (
        *_input_reasons(old.get("inputs", []), made_of.inputs),
        *_value_reasons("setting", _flat(old.get("settings", {})), _flat(made_of.settings)),
        *_value_reasons("version of", old.get("versions", {}), made_of.versions),
        *_product_reasons(previous, old.get("products", [])),
    )


def _input_reasons(old: Sequence[Json], new: Sequence[Json]) -> Iterator[str]:
    """Yield which inputs were added, removed or changed."""
    before = {fact["file"]: fact["sha256"] for fact in old}
    after = {fact["file"]: fact["sha256"] for fact in new}
    for name in sorted(before.keys() | after.keys()):
        if name not in before:
            yield f"input {name} is new"
        elif name not in after:
            yield f"input {name} is no longer used"
        elif before[name] != after[name]:
            yield f"input {name} has changed"


def _value_reasons(kind: str, old: Mapping[str, Any], new: Mapping[str, Any]) -> Iterator[str]:
    """Yield which settings or versions differ."""
    for name in sorted(old.keys() | new.keys()):
        if old.get(name) != new.get(name):
            yield f"{kind} {name} is {_short(new.get(name))}, was {_short(old.get(name))}"


def _product_reasons(folder: Path, products: Sequence[Json]) -> Iterator[str]:
    """Yield which products of the earlier build are gone or were changed."""
    for fact in products:
        path = folder / fact["file"]
        if not path.is_file():
            yield f"product {fact['file']} is gone"
        elif path.stat().st_size != fact["bytes"] or _digest(path) != fact["sha256"]:
            yield f"product {fact['file']} was changed by hand"


def _flat(value: Any, name: str = "") -> dict[str, Any]:  # noqa: ANN401 - plain JSON values
    """Lay nested settings out by dotted names."""
    if isinstance(value, dict):
        items = ((f"{name}.{key}" if name else key, inner) for key, inner in value.items())
    elif isinstance(value, list) and any(isinstance(item, dict | list) for item in value):
        items = ((f"{name}[{place}]", inner) for place, inner in enumerate(value, start=1))
    else:
        return {name: value}
    return {path: leaf for key, inner in items for path, leaf in _flat(inner, key).items()}


def _short(value: object) -> str:
    """Write a value for a reason; missing values as ``not set``."""
    text = (
        "not set" if value is None else json.dumps(value, ensure_ascii=False) if not isinstance(value, str) else value
    )
    return text if len(text) <= 60 else f"{text[:59]}…"


def _files(folder: Path) -> list[Path]:
    return sorted(path for path in folder.rglob("*") if path.is_file())


def _file_facts(path: Path, name: str) -> Json:
    """Describe one file."""
    try:
        return {"file": name, "bytes": path.stat().st_size, "sha256": _digest(path)}
    except OSError as error:
        raise InputMissingError(Fault(path, "", f"cannot be read: {error.strerror or error}")) from error


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _code_digest() -> str:
    """Hash the package's own files, so that a change of the code makes builds stale without a new version number."""
    root = Path(__file__).parents[1]
    digest = hashlib.sha256()
    for path in _files(root):
        if "__pycache__" not in path.parts and path.suffix in _CODE:
            digest.update(path.relative_to(root).as_posix().encode())
            digest.update(path.read_bytes())
    return digest.hexdigest()[:16]


def _versions() -> dict[str, str]:
    """Name the versions of everything that decides the numbers."""
    return {
        "loopwright": __version__,
        "loopwright code": _code_digest(),
        "python": platform.python_version(),
        "gdal (vectors)": pyogrio.__gdal_version_string__,
        "gdal (rasters)": rasterio.__gdal_version__,
        "proj": pyproj.proj_version_str,
        **{name: version(name) for name in _LIBRARIES},
    }
