"""The files that a site file names: where they are, whether they can be read, what belongs to them."""

import os
import re
from collections.abc import Iterator
from html import unescape
from pathlib import Path
from typing import Any

from pipeline.errors import Fault
from pipeline.settings import Document, near_file, path_text
from pipeline.survey.model import Source

__all__ = [
    "KeyPath",
    "absolute",
    "config_path",
    "entries",
    "file_fault",
    "named_configs",
    "named_files",
    "source",
    "starter_folder",
    "with_companions",
]

CONFIGS = ("surfaces", "techniques", "limits", "loops")
"""Settings files beside the site file."""
_COMPANIONS = {
    ".shp": (".dbf", ".shx", ".prj", ".cpg"),
    ".tif": (".tfw", ".prj", ".tif.aux.xml", ".tif.msk"),
    ".asc": (".prj", ".asc.aux.xml"),
    ".gpkg": (".gpkg-wal",),
}
"""Suffix → suffixes of files that are read with it."""
_VRT_SOURCE = re.compile(r"<SourceFilename(?P<about>[^>]*)>(?P<path>[^<]+)<")

KeyPath = tuple[str | int, ...]


def starter_folder() -> Path:
    """Give the folder of the starter settings: the checkout's where there is one, else what was installed."""
    checkout = Path(__file__).parents[2]
    if (checkout / "pyproject.toml").is_file():
        return checkout / "configs"
    return checkout / "loopwright_starter"


def config_path(document: Document, name: str) -> Path:
    """Give the file of one of :data:`CONFIGS`: as named, else beside the site file, else the starter's."""
    folder = Path(document.name).parent
    named = named_configs(document).get(name)
    if named is not None:
        return folder / named
    beside = folder / f"{name}.toml"
    return beside if beside.is_file() else starter_folder() / f"{name}.toml"


def entries(document: Document, *path: str) -> Iterator[tuple[KeyPath, Any]]:
    """Yield place and value of every item of the list at *path*; nothing where there is no list."""
    try:
        value = document.value(path)
    except KeyError:
        return
    if isinstance(value, list):
        for number, item in enumerate(value):
            yield (*path, number), item


def named_files(document: Document) -> Iterator[tuple[KeyPath, Path]]:
    """Yield place and path of every file that the site file names, whether its other keys are right or not."""
    folder = Path(document.name).parent
    for key in ("network", "elevation", "obstacles"):
        for place, entry in entries(document, "inputs", key):
            if isinstance(entry, str) and entry:
                yield place, folder / entry if key == "elevation" else source(folder, entry).path
    for place, entry in entries(document, "setups"):
        vehicle = entry.get("vehicle") if isinstance(entry, dict) else None
        if isinstance(vehicle, str) and vehicle:
            yield (*place, "vehicle"), folder / vehicle
    for name, entry in named_configs(document).items():
        yield ("configs", name), folder / entry


def named_configs(document: Document) -> dict[str, str]:
    """Give the entries of ``[configs]`` that name a file."""
    table = document.data.get("configs")
    known = table.items() if isinstance(table, dict) else ()
    return {name: entry for name, entry in known if name in CONFIGS and isinstance(entry, str) and entry}


def source(folder: Path, entry: str) -> Source:
    """Split ``file:layer``; a file whose name holds the colon itself comes first."""
    whole = folder / entry
    if ":" not in entry or whole.exists():
        return Source(absolute(whole))
    name, layer = entry.rsplit(":", 1)
    return Source(absolute(folder / name), layer or None)


def file_fault(document: Document, place: KeyPath, path: Path) -> Fault | None:
    """Give the fault of a named file that cannot be read; ``None`` when it can."""
    named = f'{path_text(place)} = "{document.value(place)}"'
    line = document.place(*place)
    if path.is_dir():
        return Fault(document.name, line, f"{named}: is a folder", "a file")
    if not path.exists():
        mend = near_file(path) or f"looked for {absolute(path)}"
        return Fault(document.name, line, f"{named}: no such file", mend=mend)
    if not os.access(path, os.R_OK):
        return Fault(document.name, line, f"{named}: cannot be read", mend="give the file to this user to read")
    return None


def with_companions(path: Path) -> Iterator[Path]:
    """Yield *path* and every existing file that is read with it: parts of a shapefile, tiles of a mosaic."""
    yield path
    for suffix in _COMPANIONS.get(path.suffix.lower(), ()):
        beside = path.with_suffix(suffix)
        if beside.is_file():
            yield beside
    if path.suffix.lower() == ".vrt":
        for match in _VRT_SOURCE.finditer(path.read_text(encoding="utf-8", errors="replace")):
            inside = 'relativeToVRT="1"' in match["about"]
            tile = (path.parent if inside else Path()) / unescape(match["path"])
            if tile.is_file():
                yield tile


def absolute(path: Path) -> Path:
    """Make *path* absolute; the user's links keep their names."""
    return Path(os.path.abspath(path))  # noqa: PTH100 - resolve() would replace the user's links by other names
