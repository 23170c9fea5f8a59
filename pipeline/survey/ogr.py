"""Reads layers of GeoPackage, GeoJSON and Shapefile, and refuses what GDAL would pass over in silence."""

import warnings
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pyogrio
import pyogrio.raw
import shapely
from pyogrio.errors import CRSError, DataLayerError, DataSourceError, FeatureError, FieldError, GeometryError
from pyproj import CRS
from pyproj.exceptions import CRSError as UnknownCRSError

from pipeline.errors import Fault
from pipeline.settings.suggest import did_you_mean
from pipeline.survey.findings import Findings, Repair
from pipeline.survey.layer import Layer, plain_key
from pipeline.survey.model import Source

__all__ = ["LINES", "READ_ERRORS", "Wanted", "read_ogr", "unreadable"]

LINES = "lines"
"""What a network is read for, in messages."""
READ_ERRORS = (
    DataSourceError, DataLayerError, FeatureError, FieldError, GeometryError, CRSError, UnicodeDecodeError, OSError,
)  # fmt: skip
"""What reading a damaged file raises."""

_SHAPEFILE_CODE = (9994).to_bytes(4, "big")
_SHAPEFILE_NAME = 10
"""Characters that a Shapefile keeps of a field name (its dBASE table allows no more)."""
_NO_CRS = Fault(
    file="",
    place="",
    found="the coordinate reference system is not given",
    mend="find out which CRS it was surveyed in and write it into a copy, for instance: "
    "ogr2ogr -a_srs EPSG:25832 copy.gpkg {file}",
)


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is looked for in a file."""

    what: str
    """For messages: :data:`LINES`, ``obstacles``."""
    types: tuple[str, ...]
    """Parts of OGR geometry type names that make a layer a candidate."""
    keys: frozenset[str]
    """Plain keys of the attributes that are understood; other columns are not read."""


def unreadable(source: Source, fault: Exception) -> Fault:
    """Make the fault of a file that is there but cannot be understood, in words that need no knowledge of GDAL."""
    said = " ".join(str(fault).split())
    kind = source.path.suffix.lower()
    if not source.path.stat().st_size:
        found = "the file is empty"
    elif "not recognized as being in a supported file format" in said:
        found = f"what is in it is not what {kind} files hold"
    elif "database disk image is malformed" in said:
        found = "the file is damaged or cut off (database disk image is malformed)"
    else:
        found = f"cannot be read: {said}"
    return Fault(source.name, "", found, mend="copy it again, or export it again from the GIS it came from")


def read_ogr(source: Source, wanted: Wanted, findings: Findings) -> Layer | None:
    """Read one layer by the layer rules.

    A layer named in the settings is read; without a name, the only layer of
    the wanted geometry. Only columns that are understood are read, so that
    photographs and the like stay where they are.

    Parameters
    ----------
    source
        The file, and the layer where one was named.
    wanted
        What is looked for.
    findings
        Collects the faults; the layer is ``None`` when there is one.
    """
    shapefile = source.path.suffix.lower() == ".shp"
    if shapefile and (missing := _missing_parts(source.path)):
        findings.missing.append(
            Fault(
                file=source.name,
                place="",
                found=f"{' and '.join(missing)} missing beside it",
                mend="copy all files of the Shapefile together; a GIS can rebuild the index (.shx)",
            )
        )
        return None
    if shapefile and (lost := _lost_bytes(source.path)):
        found = f"the file is cut off: its last {lost} bytes are missing"
        findings.faults.append(Fault(source.name, "", found, mend="copy all files of the Shapefile again"))
        return None
    try:
        layer = _choose_layer(source, wanted, findings)
        return None if layer is None else _read_layer(source, layer, wanted, findings)
    except READ_ERRORS as fault:
        findings.faults.append(unreadable(source, fault))
        return None


def _missing_parts(path: Path) -> list[str]:
    """List the files of a Shapefile that are not there (any capitals do)."""
    there = {entry.name.lower() for entry in path.parent.iterdir()}
    wanted = [f"{path.stem}{suffix}" for suffix in (".shx", ".dbf")]
    return [name for name in wanted if name.lower() not in there]


def _lost_bytes(path: Path) -> int:
    """Count the bytes that a Shapefile lacks of the length in its header, which GDAL passes over feature by feature.

    Source: ESRI Shapefile Technical Description (1998), main file header: length in 16-bit words, big-endian, byte 24.
    """
    with path.open("rb") as file:
        head = file.read(28)
    is_shapefile = len(head) == 28 and head[:4] == _SHAPEFILE_CODE
    return max(0, 2 * int.from_bytes(head[24:28], "big") - path.stat().st_size) if is_shapefile else 0


def _choose_layer(source: Source, wanted: Wanted, findings: Findings) -> str | None:
    """Choose the layer to read, or report why none can be chosen."""
    layers = {str(name): str(kind) for name, kind in pyogrio.list_layers(source.path) if kind is not None}
    listed = ", ".join(f"{name} ({kind})" for name, kind in layers.items()) or "none"
    if source.layer is not None:
        if source.layer in layers:
            return source.layer
        found = f"layer {source.layer!r} is not in the file"
        findings.faults.append(Fault(source.path.name, "", found, listed, did_you_mean(source.layer, layers)))
        return None
    candidates = [name for name, kind in layers.items() if any(part in kind for part in wanted.types)]
    candidates = candidates or [name for name, kind in layers.items() if kind in {"Unknown", "Geometry"}]
    if len(candidates) == 1:
        return candidates[0]
    found = f"{len(candidates)} layers hold {wanted.what}" if candidates else f"no layer holds {wanted.what}"
    mend = f'name the layer in the settings, as "{source.path.name}:{candidates[0]}"' if candidates else ""
    findings.faults.append(Fault(source.path.name, "", found, f"one such layer; in the file: {listed}", mend))
    return None


def _read_layer(source: Source, layer: str, wanted: Wanted, findings: Findings) -> Layer | None:
    """Read the features of *layer* with the attributes that are understood."""
    info = pyogrio.read_info(source.path, layer=layer)
    crs = _crs(source, info["crs"], findings)
    if crs is None:
        return None
    shapefile = source.path.suffix.lower() == ".shp"
    columns = dict(_columns(map(str, info["fields"]), wanted.keys, shapefile=shapefile))
    try:
        with warnings.catch_warnings(record=True) as said:
            warnings.simplefilter("always")
            meta, fids, blobs, values = _read_raw(source, layer, columns)
    except ValueError as error:  # pyogrio makes calendar dates of date columns, whatever stands there
        if isinstance(error, UnicodeDecodeError):
            raise
        findings.faults.append(_bad_date(source, layer, columns, int(info["features"])))
        return None
    for remark in dict.fromkeys(str(warning.message) for warning in said):
        findings.repairs.append(Repair("read as it is", source.name, "all", remark))
    with np.errstate(invalid="ignore"):  # coordinates that are no numbers are reported with their feature
        shapes = shapely.from_wkb(blobs, on_invalid="ignore")
    tags = _rows([columns[str(name)] for name in meta["fields"]], values, len(fids))
    return Layer(
        source=source.name,
        path=source.path,
        shapes=np.asarray(shapes, dtype=object),
        crs=crs,
        features=[f"feature {fid}" for fid in fids],
        tags=tags,
    )


def _read_raw(source: Source, layer: str, columns: Iterable[str], **part: int) -> tuple[Any, Any, Any, Any]:
    """Read features as they are; texts stay texts even where they look like dates."""
    text = {"DATE_AS_STRING": "YES"} if source.path.suffix.lower() in {".geojson", ".json"} else {}
    meta, fids, blobs, values = pyogrio.raw.read(
        source.path, layer=layer, columns=list(columns), return_fids=True, datetime_as_string=True, **part, **text
    )
    return meta, fids, blobs, values


def _bad_date(source: Source, layer: str, columns: Iterable[str], count: int) -> Fault:
    """Find the first feature with a date that is not in the calendar, by halving what is read."""
    columns, first = list(columns), 0
    while count > 1:
        half = count // 2
        if _reads(source, layer, columns, skip_features=first, max_features=half):
            first, count = first + half, count - half
        else:
            count = half
    _, fids, _, _ = _read_raw(source, layer, (), skip_features=first, max_features=1)
    bad = [name for name in columns if not _reads(source, layer, [name], skip_features=first, max_features=1)]
    found = f"{' and '.join(bad) or 'a date'} is no date of the calendar"
    return Fault(source.name, f"feature {fids[0]}", found, "a date as 2025-05-31", "correct it, or clear it")


def _reads(source: Source, layer: str, columns: Iterable[str], **part: int) -> bool:
    """Tell whether the dates of some features can be read."""
    try:
        _read_raw(source, layer, columns, **part)
    except ValueError:
        return False
    return True


def _crs(source: Source, written: str | None, findings: Findings) -> CRS | None:
    """Understand the CRS of a layer, or report that there is none."""
    try:
        if written is not None:
            return CRS.from_user_input(written)
    except UnknownCRSError:
        pass
    mend = _NO_CRS.mend.format(file=source.path.name)
    if source.path.suffix.lower() == ".shp":
        mend = f"copy {source.path.stem}.prj beside it; if there is none, {mend}"
    findings.faults.append(Fault(source.name, "", _NO_CRS.found, "any CRS of the EPSG register", mend))
    return None


def _columns(fields: Iterator[str], keys: frozenset[str], *, shapefile: bool) -> Iterator[tuple[str, str]]:
    """Yield the fields that are understood, with the plain key each stands for."""
    for name in fields:
        key = plain_key(name)
        if key in keys:
            yield name, key
        elif shapefile and len(name) == _SHAPEFILE_NAME:
            longer = sorted(known for known in keys if known.startswith(key))
            if len(longer) == 1:
                yield name, longer[0]


def _rows(keys: Sequence[str], values: Sequence[np.ndarray], count: int) -> list[Mapping[str, object]]:
    """Turn columns into one mapping a feature."""
    if not keys:
        return [{} for _ in range(count)]
    return [dict(zip(keys, row, strict=True)) for row in zip(*values, strict=True)]
