"""Which reader a file goes to, and files that are not there."""

from pathlib import Path

import pytest

from pipeline.survey.attributes import OBSTACLE_ATTRIBUTES, TRAIL_ATTRIBUTES, keys_of
from pipeline.survey.findings import Findings
from pipeline.survey.model import Source
from pipeline.survey.ogr import Wanted
from pipeline.survey.read import read_layer
from tests.survey.worlds import at, found, write

LINES = Wanted("lines", ("LineString",), keys_of(TRAIL_ATTRIBUTES, trail=True))
OBSTACLES = Wanted("obstacles", ("Point", "Polygon", "LineString"), keys_of(OBSTACLE_ATTRIBUTES, trail=False))


@pytest.mark.parametrize("name", ["t.gpkg", "t.geojson", "t.shp"])
def test_vector_files(tmp_path: Path, name: str) -> None:
    """GeoPackage, GeoJSON and Shapefile are read, whatever the capitals of the ending."""
    path = write(tmp_path / name, [at((0, 0), (9, 0))], id=["A"]).path
    for part in list(tmp_path.iterdir()):
        part.rename(part.with_name(part.name.upper()))
    findings = Findings()
    layer = read_layer(Source(path.with_name(name.upper())), LINES, findings)
    assert layer is not None, found(findings)
    assert layer.tags == [{"id": "A"}]


def test_missing_file_names_the_nearest(tmp_path: Path) -> None:
    """A file that is not there is missing input, with the nearest name of its folder."""
    write(tmp_path / "trails.gpkg", [at((0, 0), (9, 0))])
    findings = Findings()
    assert read_layer(Source(tmp_path / "trials.gpkg"), LINES, findings) is None
    assert findings.missing
    assert not findings.faults
    assert 'did you mean "trails.gpkg"' in found(findings)


def test_folder(tmp_path: Path) -> None:
    """A folder is no file."""
    findings = Findings()
    assert read_layer(Source(tmp_path), LINES, findings) is None
    assert "is a folder" in found(findings)


def test_unknown_kind(tmp_path: Path) -> None:
    """Another ending is refused with those that are read."""
    path = tmp_path / "t.dwg"
    path.write_text("x")
    findings = Findings()
    assert read_layer(Source(path), LINES, findings) is None
    assert "unknown kind of file '.dwg'; allowed: .gpkg" in found(findings)


@pytest.mark.parametrize("name", ["t.gpx", "t.osm", "t.osm.pbf"])
def test_tracks_bring_no_obstacles(tmp_path: Path, name: str) -> None:
    """Tracks and extracts cannot bring obstacles."""
    path = tmp_path / name
    path.write_text("x")
    findings = Findings()
    assert read_layer(Source(path), OBSTACLES, findings) is None
    assert "cannot bring obstacles" in found(findings)


def test_unreadable_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file that may not be opened is missing input, with the system's reason."""
    source = write(tmp_path / "t.gpkg", [at((0, 0), (9, 0))])

    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", refuse)
    findings = Findings()
    assert read_layer(source, LINES, findings) is None
    assert "cannot be opened: Permission denied" in found(findings)
    assert findings.missing
