"""Reads one survey file of any kind that is understood."""

from collections.abc import Callable

from pipeline.errors import Fault
from pipeline.settings.suggest import near_file
from pipeline.survey.findings import Findings
from pipeline.survey.gpx import read_gpx
from pipeline.survey.layer import Layer
from pipeline.survey.model import Source
from pipeline.survey.ogr import LINES, Wanted, read_ogr
from pipeline.survey.osm import read_osm

__all__ = ["SUFFIXES", "read_layer"]

SUFFIXES = (".gpkg", ".geojson", ".json", ".shp", ".gpx", ".osm", ".pbf")
"""Endings of the files that are read."""
_LINES_ONLY: dict[str, Callable[[Source, Findings], Layer | None]] = {
    ".gpx": read_gpx,
    ".osm": read_osm,
    ".pbf": read_osm,
}


def read_layer(source: Source, wanted: Wanted, findings: Findings) -> Layer | None:
    """Read the features of one survey file.

    Parameters
    ----------
    source
        The file, and the layer where one was named.
    wanted
        What is looked for in it.
    findings
        Collects faults, missing files and repairs; the layer is ``None`` when it cannot be used.
    """
    suffix = source.path.suffix.lower()
    if not _is_there(source, findings):
        return None
    if suffix not in SUFFIXES:
        found, mend = f"unknown kind of file {suffix!r}", "export it as GeoPackage or GeoJSON"
        findings.faults.append(Fault(source.name, "", found, " | ".join(SUFFIXES), mend))
        return None
    if suffix not in _LINES_ONLY:
        return read_ogr(source, wanted, findings)
    if wanted.what != LINES:
        allowed = ".gpkg | .geojson | .shp"
        findings.faults.append(Fault(source.name, "", f"a {suffix} file cannot bring {wanted.what}", allowed))
        return None
    return _LINES_ONLY[suffix](source, findings)


def _is_there(source: Source, findings: Findings) -> bool:
    """Report a file that is missing or may not be read."""
    if not source.path.is_file():
        found = "is a folder" if source.path.is_dir() else "no such file"
        findings.missing.append(Fault(str(source.path), "", found, "", near_file(source.path)))
        return False
    try:
        with source.path.open("rb"):
            return True
    except OSError as fault:
        findings.missing.append(Fault(str(source.path), "", f"cannot be opened: {fault.strerror}"))
        return False
