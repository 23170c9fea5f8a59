"""OpenStreetMap extracts in XML and PBF, read the same."""

from pathlib import Path

import pytest
import shapely

from pipeline.survey.findings import Findings
from pipeline.survey.layer import Layer
from pipeline.survey.model import Source
from pipeline.survey.osm import read_osm
from tests.survey.osm_files import Node, Way, pbf, xml
from tests.survey.worlds import found, repaired

NODES: list[Node] = [(1, 9.0, 48.0), (2, 9.001, 48.0), (3, 9.002, 48.0), (4, 9.001, 48.001)]
WAYS: list[Way] = [
    (10, [1, 2, 3], {"highway": "track", "maxwidth:physical": "2.2 m", "note": "steep", "layer": "1", "bridge": "yes"}),
    (11, [1, 4], {"waterway": "stream"}),
    (12, [1, 2, 4, 1], {"highway": "service", "natural": "wood"}),
    (13, [1, 2, 4, 1], {"highway": "pedestrian", "area": "yes"}),
    (14, [2, 99, 4], {"highway": "path", "name": "Größe &lt; 'x'"}),
]


def read(path: Path) -> tuple[Layer | None, Findings]:
    """Read an extract."""
    findings = Findings()
    return read_osm(Source(path), findings), findings


@pytest.fixture(params=["t.osm", "t.osm.pbf"])
def extract(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    """Write the extract in each of its two forms."""
    path = tmp_path / request.param
    if path.suffix == ".osm":
        path.write_text(xml(NODES, WAYS), encoding="utf-8")
    else:
        plain = [(way, refs, {k: v.replace("&lt;", "<") for k, v in tags.items()}) for way, refs, tags in WAYS]
        path.write_bytes(pbf(NODES, plain))
    return path


def test_ways_with_a_highway(extract: Path) -> None:
    """Only ways with a ``highway`` tag that are no areas are read, closed ones too, with all their tags."""
    layer, findings = read(extract)
    assert layer is not None, found(findings)
    assert list(layer.features) == ["way 10", "way 12", "way 14"]
    first = layer.tags[0]
    assert first["osm_id"] == "10"
    assert (first["maxwidth_physical"], first["note"], first["layer"], first["bridge"]) == (
        "2.2 m",
        "steep",
        "1",
        "yes",
    )
    assert layer.tags[2]["name"] == "Größe < 'x'"
    assert layer.shapes[0].equals_exact(shapely.LineString([(9.0, 48.0), (9.001, 48.0), (9.002, 48.0)]), 1e-9)
    assert layer.shapes[1].is_closed


def test_missing_node_is_recorded(extract: Path) -> None:
    """A way that lost a node is drawn without it, and that is on the record."""
    layer, findings = read(extract)
    assert layer is not None
    assert len(layer.shapes[2].coords) == 2
    assert repaired(findings) == ["shortened"]
    assert findings.repairs[0].feature == "way 14"
    assert "1 of its nodes" in findings.repairs[0].detail


@pytest.mark.parametrize("name", ["t.osm", "t.pbf"])
def test_damaged(tmp_path: Path, name: str) -> None:
    """A damaged extract is one fault."""
    path = tmp_path / name
    path.write_bytes(b"<osm version='0.6'><node id='1'" if name == "t.osm" else pbf(NODES, [])[:-9])
    layer, findings = read(path)
    assert layer is None
    assert len(findings.faults) == 1
    assert "cannot be read" in found(findings)


def test_no_layers(tmp_path: Path) -> None:
    """A layer name has no meaning in an extract."""
    path = tmp_path / "t.osm"
    path.write_text(xml(NODES, WAYS))
    findings = Findings()
    assert read_osm(Source(path, "lines"), findings) is None
    assert "no layers" in found(findings)


def test_extract_without_ways(tmp_path: Path) -> None:
    """An extract without a trail reads as an empty layer."""
    path = tmp_path / "t.osm"
    path.write_text(xml(NODES, []))
    layer, findings = read(path)
    assert layer is not None, found(findings)
    assert len(layer.shapes) == 0
