"""Tells the stages' faults in the user's terms: the line of the site file, the path of the survey file."""

import re
from collections.abc import Iterable, Iterator
from dataclasses import replace
from pathlib import Path

from pipeline.errors import Fault
from pipeline.project.files import KeyPath, entries
from pipeline.project.model import Project
from pipeline.settings import Document, load_document, path_text
from pipeline.survey.findings import SITE_SETTINGS

__all__ = ["placed"]

_KEY = re.compile(r"\[(?P<table>\w+)\] (?P<key>\w+)")
_ENTRY_KEY = re.compile(r"\[\[(?P<table>\w+)\]\] \"(?P<name>.*)\" (?P<key>\w+)", re.DOTALL)


def placed(faults: Iterable[Fault], project: Project) -> list[Fault]:
    """Put each fault where the user finds it.

    Parameters
    ----------
    faults
        Of any stage. The site file is called :data:`~pipeline.survey.findings.SITE_SETTINGS` there, with a place such
        as ``[site] trailhead`` or ``[[loops]] "Quiet round" must``; survey files go by their bare names.
    project
        Knows the files.

    Returns
    -------
    list of Fault
        The same faults, with the line of the site file and the paths of the survey files (from the working folder
        where they lie below it). A name that two survey files share stays as it is.
    """
    paths = _paths(project)
    return [_in_site_file(fault, project.path) or _in_file(fault, paths) for fault in faults]


def _paths(project: Project) -> dict[str, Path]:
    """Give the file of each name that stands in messages; names that two files share are left out."""
    files: dict[str, set[Path]] = {}
    for source in (*project.survey.network, *project.survey.obstacles):
        for name in {source.path.name, source.name}:
            files.setdefault(name, set()).add(source.path.parent / name)
    return {name: next(iter(paths)) for name, paths in files.items() if len(paths) == 1}


def _in_file(fault: Fault, paths: dict[str, Path]) -> Fault:
    """Give the fault with the path of its file."""
    path = paths.get(str(fault.file), Path(fault.file))
    here = Path.cwd()
    return replace(fault, file=path.relative_to(here) if path.is_relative_to(here) else path)


def _in_site_file(fault: Fault, path: Path) -> Fault | None:
    """Give the fault with its line in the site file; ``None`` when it is not about the settings."""
    if fault.file != SITE_SETTINGS:
        return None
    document = load_document(path)
    key = next(_keys(document, fault.place), None)
    if key is None:
        return _in_file(replace(fault, file=path), {})
    found = f"{path_text(key)}: {fault.found}"
    return _in_file(replace(fault, file=path, place=document.place(*key), found=found), {})


def _keys(document: Document, place: str) -> Iterator[KeyPath]:
    """Yield the key that a place stands for."""
    if match := _KEY.fullmatch(place):
        yield match["table"], match["key"]
    if match := _ENTRY_KEY.fullmatch(place):
        for entry, table in entries(document, match["table"]):
            if isinstance(table, dict) and table.get("name") == match["name"]:
                yield *entry, match["key"]
