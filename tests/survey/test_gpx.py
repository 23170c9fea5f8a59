"""GPX tracks: read by the track, refused when damaged or dangerous.

Outside check: element order and attributes follow the GPX 1.1 schema (http://www.topografix.com/GPX/1/1).
"""

from pathlib import Path

import pytest

from pipeline.survey import gpx
from pipeline.survey.crs import check_coordinates
from pipeline.survey.findings import Findings
from pipeline.survey.gpx import read_gpx
from pipeline.survey.layer import Layer
from pipeline.survey.model import Source
from tests.survey.worlds import found

HEAD = (
    '<?xml version="1.0" encoding="UTF-8"?>\n<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" creator="t">'
)
POINTS = '<trkpt lat="48.0" lon="9.0"><ele>400</ele></trkpt><trkpt lat="48.001" lon="9.001"><ele>410</ele></trkpt>'
TRACK = f"<trk><name>Long lane</name><trkseg>{POINTS}</trkseg></trk>"


def read(tmp_path: Path, text: str, layer: str | None = None) -> tuple[Layer | None, Findings]:
    """Write a GPX file and read it."""
    path = tmp_path / "t.gpx"
    path.write_text(text, encoding="utf-8")
    findings = Findings()
    return read_gpx(Source(path, layer), findings), findings


def test_tracks_are_read_though_waypoints_come_first(tmp_path: Path) -> None:
    """GDAL's first layer of a GPX file is its waypoints; the track is what is wanted, in longitude and latitude."""
    layer, findings = read(tmp_path, f'{HEAD}<wpt lat="48" lon="9"/>{TRACK}</gpx>')
    assert layer is not None, found(findings)
    (shape,) = layer.shapes
    assert list(shape.coords) == [(9.0, 48.0), (9.001, 48.001)]
    assert layer.tags == [{"name": "Long lane"}]
    assert layer.features == ["track 1 segment 1"]
    assert layer.crs.to_epsg() == 4326


def test_one_point_segment_spoils_nothing(tmp_path: Path) -> None:
    """A track segment of one point comes as a point, to be dropped on the record; its neighbours are read."""
    one = '<trkseg><trkpt lat="48.0" lon="9.0"/></trkseg><trkseg/>'
    layer, _ = read(tmp_path, f"{HEAD}<trk>{one}<trkseg>{POINTS}</trkseg></trk></gpx>")
    assert layer is not None
    assert [shape.geom_type for shape in layer.shapes] == ["Point", "LineString", "LineString"]
    assert layer.shapes[1].is_empty
    assert layer.features[2] == "track 1 segment 3"


def test_truncated_file_names_line_and_column(tmp_path: Path) -> None:
    """A file cut off in mid-track says where it ends."""
    layer, findings = read(tmp_path, f"{HEAD}\n<trk><trkseg>\n{POINTS}")
    assert layer is None
    assert "t.gpx:line 4, column" in found(findings)
    assert "damaged: no element found" in found(findings)


def test_entity_bomb_is_refused(tmp_path: Path) -> None:
    """Entities that multiply are never expanded: the declaration itself is refused."""
    bomb = '<!DOCTYPE gpx [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;">]>'
    head = HEAD.replace("?>\n", f"?>\n{bomb}\n")
    layer, findings = read(tmp_path, f"{head}<trk><name>&b;</name><trkseg>{POINTS}</trkseg></trk></gpx>")
    assert layer is None
    assert "document type declaration" in found(findings)
    assert "line 2" in found(findings)


def test_external_entity_in_another_encoding_is_refused(tmp_path: Path) -> None:
    """Writing the declaration in UTF-16 does not smuggle it past."""
    path = tmp_path / "t.gpx"
    text = f'<?xml version="1.0" encoding="UTF-16"?><!DOCTYPE g [<!ENTITY x SYSTEM "file:///etc/hostname">]>{TRACK}'
    path.write_bytes(text.encode("utf-16"))
    findings = Findings()
    assert read_gpx(Source(path), findings) is None
    assert "document type declaration" in found(findings)


def test_long_text_is_refused(tmp_path: Path) -> None:
    """A name longer than the cap is refused; one at the cap is read."""
    for length, usable in ((gpx.TEXT_CAP, True), (gpx.TEXT_CAP + 1, False)):
        layer, findings = read(tmp_path, f"{HEAD}{TRACK.replace('Long lane', 'x' * length)}</gpx>")
        assert (layer is not None) is usable
        assert usable or f"a text longer than {gpx.TEXT_CAP} characters" in found(findings)


def test_large_file_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file over the cap is refused before it is parsed."""
    monkeypatch.setattr(gpx, "FILE_CAP_BYTES", 100)
    layer, findings = read(tmp_path, f"{HEAD}{TRACK}</gpx>")
    assert layer is None
    assert "split the file" in found(findings)


@pytest.mark.parametrize(
    ("body", "message"),
    [
        ('<wpt lat="48" lon="9"/><rte><rtept lat="48" lon="9"/></rte>', "no tracks (1 waypoints, 1 routes)"),
        ("", "no tracks (0 waypoints, 0 routes)"),
        ('<trk><trkseg><trkpt lat="x" lon="9"/></trkseg></trk>', "cannot be read as GPX"),
    ],
)
def test_no_track(tmp_path: Path, body: str, message: str) -> None:
    """A file without a track, or with a position that is no number, says so."""
    layer, findings = read(tmp_path, f"{HEAD}{body}</gpx>")
    assert layer is None
    assert message in found(findings)


def test_position_that_is_no_number_comes_through(tmp_path: Path) -> None:
    """A latitude of NaN, which gpxpy reads, is left for the check of coordinates, which names the feature."""
    layer, findings = read(tmp_path, f"{HEAD}{TRACK.replace('48.001', 'nan')}</gpx>")
    assert layer is not None
    assert not check_coordinates(layer, findings)
    assert "track 1 segment 1: a coordinate that is no number" in found(findings)


def test_layer_name_is_refused(tmp_path: Path) -> None:
    """A layer name has no meaning in a GPX file."""
    assert "read by its tracks" in found(read(tmp_path, f"{HEAD}{TRACK}</gpx>", "tracks")[1])
