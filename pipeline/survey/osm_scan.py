"""Counts the nodes that an OpenStreetMap extract refers to but does not hold.

GDAL joins the remaining nodes of such a way and says nothing; the count lets
the survey record it. XML is streamed through expat. PBF is read at its lowest
level, ids and references only: the format is small enough to need no library
(OpenStreetMap wiki, page "PBF Format": a file is a run of length-prefixed
blobs; ids are delta-coded variable-length integers).
"""

import struct
import zlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from xml.parsers import expat

import numpy as np
from numpy.typing import NDArray

__all__ = ["OsmDamagedError", "missing_nodes"]

Ids = NDArray[np.int64]

_VARINT, _FIXED64, _BYTES, _FIXED32 = 0, 1, 2, 5
"""Wire types of protocol buffers."""
_BLOB_CAP_BYTES = 32 * 1024 * 1024
"""Largest uncompressed blob that the format allows."""


class OsmDamagedError(ValueError):
    """The extract is not what its ending says."""


@dataclass(slots=True)
class _Extract:
    """Node ids of an extract, and the node references of its ways."""

    nodes: list[Ids] = field(default_factory=list)
    ways: list[tuple[int, Ids]] = field(default_factory=list)


def missing_nodes(path: Path) -> Mapping[int, int]:
    """Count the missing nodes of each way that lacks any.

    Parameters
    ----------
    path
        An ``.osm`` or ``.osm.pbf`` file.

    Returns
    -------
    Mapping[int, int]
        Number of missing node references by way id.

    Raises
    ------
    OsmDamagedError
        When the file is damaged; the message says where.
    """
    extract = _scan_pbf(path) if path.suffix.lower() == ".pbf" else _scan_xml(path)
    if not extract.ways:
        return {}
    nodes = np.unique(np.concatenate(extract.nodes)) if extract.nodes else np.empty(0, np.int64)
    ids = np.array([way for way, _ in extract.ways])
    counts = np.array([refs.size for _, refs in extract.ways])
    absent = ~np.isin(np.concatenate([refs for _, refs in extract.ways]), nodes)
    lacking = np.bincount(np.repeat(np.arange(ids.size), counts), weights=absent, minlength=ids.size)
    return {int(ids[row]): int(lacking[row]) for row in np.flatnonzero(lacking)}


def _scan_xml(path: Path) -> _Extract:
    """Collect ids and references from XML."""
    nodes: list[int] = []
    ways: list[tuple[int, list[int]]] = []

    def start(tag: str, attributes: dict[str, str]) -> None:
        if tag == "node":
            nodes.append(int(attributes["id"]))
        elif tag == "way":
            ways.append((int(attributes["id"]), []))
        elif tag == "nd":
            ways[-1][1].append(int(attributes["ref"]))

    def doctype(*_: object) -> None:
        message = "a document type declaration, which an extract needs none of"
        raise OsmDamagedError(message)

    parser = expat.ParserCreate()
    parser.StartElementHandler = start
    parser.StartDoctypeDeclHandler = doctype
    try:
        with path.open("rb") as file:
            parser.ParseFile(file)
    except (expat.ExpatError, KeyError, IndexError) as fault:
        message = f"line {parser.CurrentLineNumber}, column {parser.CurrentColumnNumber + 1}: {fault}"
        raise OsmDamagedError(message) from fault
    return _Extract([np.array(nodes, np.int64)], [(way, np.array(refs, np.int64)) for way, refs in ways])


def _scan_pbf(path: Path) -> _Extract:
    """Collect ids and references from PBF."""
    extract = _Extract()
    try:
        for block in _blocks(path):
            for number, group in _fields(block):
                if number == 2 and isinstance(group, memoryview):
                    _read_group(group, extract)
    except (struct.error, zlib.error, IndexError, ValueError) as fault:
        message = f"damaged PBF: {fault}"
        raise OsmDamagedError(message) from fault
    return extract


def _blocks(path: Path) -> Iterator[memoryview]:
    """Yield the data blocks of a PBF file, uncompressed."""
    with path.open("rb") as file:
        while prefix := file.read(4):
            (size,) = struct.unpack(">I", prefix)
            header = dict(_fields(memoryview(file.read(min(size, _BLOB_CAP_BYTES)))))
            blob = dict(_fields(memoryview(file.read(min(int(header[3]), _BLOB_CAP_BYTES)))))
            if bytes(header[1]) == b"OSMData":
                yield _unpack(blob)


def _unpack(blob: Mapping[int, "int | memoryview"]) -> memoryview:
    """Uncompress one blob, and no more of it than the format allows."""
    if isinstance(raw := blob.get(1), memoryview):
        return raw
    if not isinstance(packed := blob.get(3), memoryview):
        message = "compressed in another way than zlib"
        raise OsmDamagedError(message)
    return memoryview(zlib.decompressobj().decompress(packed, _BLOB_CAP_BYTES))


def _read_group(group: memoryview, extract: _Extract) -> None:
    """Collect ids and references of one group of nodes or ways."""
    for number, value in _fields(group):
        if not isinstance(value, memoryview):
            continue
        parts = dict(_fields(value))
        if number == 1:
            extract.nodes.append(_unzigzag(np.array([parts[1]], np.uint64)))
        elif number == 2:
            extract.nodes.append(np.cumsum(_unzigzag(_varints(parts[1]))))
        elif number == 3 and 8 in parts and 9 not in parts:  # 9: the way brings its coordinates itself
            extract.ways.append((int(parts[1]), np.cumsum(_unzigzag(_varints(parts[8])))))


def _fields(message: memoryview) -> Iterator[tuple[int, "int | memoryview"]]:
    """Yield number and value of each field of a protocol buffer message."""
    at = 0
    while at < len(message):
        key, at = _varint(message, at)
        number, wire = key >> 3, key & 7
        value: int | memoryview
        if wire == _VARINT:
            value, at = _varint(message, at)
        else:
            size = {_FIXED64: 8, _FIXED32: 4}.get(wire)
            if wire == _BYTES:
                size, at = _varint(message, at)
            if size is None or at + size > len(message):
                text = f"a field of {size} bytes does not fit"
                raise OsmDamagedError(text)
            value, at = message[at : at + size], at + size
        yield number, value


def _varint(message: memoryview, at: int) -> tuple[int, int]:
    """Read one variable-length integer; the place after it comes back too."""
    value = shift = 0
    while True:
        byte = message[at]
        value |= (byte & 0x7F) << shift
        at, shift = at + 1, shift + 7
        if byte < 0x80:
            return value, at


def _varints(packed: "int | memoryview") -> NDArray[np.uint64]:
    """Read a packed run of variable-length integers."""
    if isinstance(packed, int) or len(packed) == 0:
        return np.empty(0, np.uint64)
    data = np.frombuffer(packed, np.uint8)
    ends = np.flatnonzero(data < 0x80)
    if ends.size == 0 or ends[-1] != data.size - 1:
        message = "an integer is cut off"
        raise OsmDamagedError(message)
    starts = np.concatenate(([0], ends[:-1] + 1))
    place = np.arange(data.size) - np.repeat(starts, ends - starts + 1)
    digits = (data & 0x7F).astype(np.uint64) << (7 * place).astype(np.uint64)
    return np.add.reduceat(digits, starts).astype(np.uint64)


def _unzigzag(values: NDArray[np.uint64]) -> Ids:
    """Undo the coding that puts the sign in the lowest bit."""
    return (values >> np.uint64(1)).astype(np.int64) ^ -(values & np.uint64(1)).astype(np.int64)
