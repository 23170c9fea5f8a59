"""Counting nodes that an extract does not hold, in XML and in PBF written byte by byte."""

import struct
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.survey import osm_scan
from pipeline.survey.osm_scan import OsmDamagedError, missing_nodes
from tests.survey.osm_files import Node, Way, blob, field, packed, pbf, varint, xml, zigzag

NODES: list[Node] = [(1, 9.0, 48.0), (2, 9.001, 48.0), (7_000_000_000, 9.002, 48.0)]
WAYS: list[Way] = [
    (10, [1, 2, 7_000_000_000], {"highway": "track"}),
    (11, [1, 99, 2, 98], {"highway": "track"}),
    (12, [97], {"highway": "track"}),
]


@pytest.mark.parametrize("dense", [True, False])
@pytest.mark.parametrize("squeeze", [True, False])
def test_pbf(tmp_path: Path, dense: bool, squeeze: bool) -> None:  # noqa: FBT001 — the two ways to write one
    """Missing nodes are counted by way, however the nodes and blobs are written."""
    path = tmp_path / "t.osm.pbf"
    path.write_bytes(pbf(NODES, WAYS, dense=dense, squeeze=squeeze))
    assert missing_nodes(path) == {11: 2, 12: 1}


def test_xml(tmp_path: Path) -> None:
    """The same from XML."""
    path = tmp_path / "t.osm"
    path.write_text(xml(NODES, WAYS))
    assert missing_nodes(path) == {11: 2, 12: 1}


def test_whole_extract(tmp_path: Path) -> None:
    """Nothing is missing from an extract that is whole, or that has no ways."""
    path = tmp_path / "t.osm"
    for ways in (WAYS[:1], []):
        path.write_text(xml(NODES, ways))
        assert missing_nodes(path) == {}


def test_ways_that_bring_their_coordinates(tmp_path: Path) -> None:
    """A way with coordinates of its own lacks nothing, though no node is there."""
    way = field(3, field(1, 5) + field(8, packed([1, 2])) + field(9, packed([1, 2])) + field(10, packed([1, 2])))
    path = tmp_path / "t.pbf"
    path.write_bytes(blob("OSMData", field(1, b"") + field(2, way)))
    assert missing_nodes(path) == {}


@pytest.mark.parametrize("cut", [2, 6, 30, 60])
def test_truncated_pbf(tmp_path: Path, cut: int) -> None:
    """An extract cut off anywhere is damaged, not shorter."""
    path = tmp_path / "t.pbf"
    path.write_bytes(pbf(NODES, WAYS)[:-cut])
    with pytest.raises(OsmDamagedError):
        missing_nodes(path)


def test_damaged_xml_names_the_line(tmp_path: Path) -> None:
    """XML cut off says at which line; so does a node without an id, and a declaration of entities."""
    path = tmp_path / "t.osm"
    for text, message in (
        ("<osm>\n<node id='1'/>\n<way id='1'>", "line 3"),
        ("<osm>\n<node/></osm>", "line 2"),
        ("<osm>\n<nd ref='1'/></osm>", "line 2"),
        ("<!DOCTYPE osm [<!ENTITY a 'b'>]>\n<osm/>", "document type"),
    ):
        path.write_text(text)
        with pytest.raises(OsmDamagedError, match=message):
            missing_nodes(path)


def test_foreign_compression(tmp_path: Path) -> None:
    """A blob that is not zlib says so."""
    body = field(2, 4) + field(7, b"zstd")
    header = field(1, b"OSMData") + field(3, len(body))
    path = tmp_path / "t.pbf"
    path.write_bytes(struct.pack(">I", len(header)) + header + body)
    with pytest.raises(OsmDamagedError, match="zlib"):
        missing_nodes(path)


@given(st.lists(st.integers(-(2**62), 2**62), max_size=30))
def test_runs_of_integers_against_a_plain_twin(values: list[int]) -> None:
    """Integers of every length survive being packed; the twin writes them digit by digit."""
    run = b"".join(varint(zigzag(value)) for value in values)
    read = osm_scan._unzigzag(osm_scan._varints(memoryview(run)))
    assert read.tolist() == values
