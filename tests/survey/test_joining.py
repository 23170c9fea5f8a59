"""Lines joined to segments, every change on the record."""

import pytest
import shapely

from pipeline.survey.findings import Findings
from pipeline.survey.joining import Joined, join
from pipeline.survey.lines import Line
from tests.survey.worlds import at, line, repaired

SNAP = 2.0
BOW = at((0, 0), (40, 10), (80, 0))


def joined(*lines: Line) -> tuple[Joined, Findings]:
    """Join lines."""
    findings = Findings()
    return join(lines, (), SNAP, findings), findings


def test_duplicate_is_dropped_and_recorded() -> None:
    """The second of two equal lines is dropped, reversed or not, with what it knew that the first did not."""
    for shape in (BOW, shapely.reverse(BOW)):
        network, findings = joined(line(BOW, "A"), line(shape, "B", "osm.gpkg", width_m=2.1))
        assert network.parts.line.tolist() == [0]
        assert repaired(findings) == ["dropped duplicate"]
        (repair,) = findings.repairs
        assert (repair.feature, repair.source, repair.line) == ("feature B", "osm.gpkg", 0)
        assert "the same line as feature A of trails.gpkg; not taken over: width_m 2.1" in repair.detail
        assert repair.amount_m == pytest.approx(BOW.length)


def test_survey_grade_line_stands_for_a_plain_one() -> None:
    """Of two equal lines the one with surveyed heights is kept, though it comes second."""
    high = shapely.force_3d(BOW, 100.0)
    network, _ = joined(line(BOW, "A"), line(high, "B", profile="survey"))
    assert network.parts.line.tolist() == [1]
    assert network.parts.shapes[0].has_z


def test_closed_duplicate_closes_what_stands_for_it() -> None:
    """Dropping a closed line never opens a trail: the kept one is closed, and the line given is not changed."""
    first = line(BOW, "A")
    network, _ = joined(first, line(BOW, "B", status="closed"))
    assert network.lines[0].row["status"] == "closed"
    assert first.row["status"] == "open"


def test_partial_duplicate() -> None:
    """Lines that run together for a stretch are one segment there and two beyond; a closed stretch stays closed."""
    first = line(at((0, 0), (50, 0), (100, 0)), "A")
    second = line(at((20, 30), (20, 0), (50, 0), (80, 0), (80, 30)), "B")
    network, findings = joined(first, second)
    assert network.parts.line.tolist() == [0, 0, 0, 1, 1]
    assert "dropped duplicate" in repaired(findings)
    assert shapely.length(network.parts.shapes).sum() == pytest.approx(160.0)


def test_out_and_back_track_is_one_trail() -> None:
    """A track that goes out and comes back the same way gives one segment."""
    network, findings = joined(line(at((0, 0), (40, 10), (80, 0), (40, 10), (0, 0)), "A"))
    assert len(network.parts.shapes) == 1
    assert network.parts.shapes[0].length == pytest.approx(BOW.length)
    assert repaired(findings) == ["dropped duplicate"]
    assert "its other part" in findings.repairs[0].detail


def test_ford_beside_a_bridge_stays() -> None:
    """A ford and the bridge over it are two ways across."""
    network, findings = joined(line(BOW, "A", bridge=True), line(BOW, "B", ford=True))
    assert len(network.parts.shapes) == 2
    assert not findings.repairs


def test_snap_is_recorded_with_its_way() -> None:
    """A moved end is recorded with how far and from where to where."""
    _, findings = joined(line(at((0, 0), (50, 0)), "A"), line(at((50, 1.5), (50, 60)), "B"))
    (repair,) = findings.repairs
    assert repair.repair == "snapped"
    assert repair.amount_m == pytest.approx(1.5)
    assert repair.geometry is not None
    assert repair.geometry.length == pytest.approx(1.5)


def test_split_is_recorded_with_its_places() -> None:
    """A split feature is recorded once, with the points where it was cut."""
    _, findings = joined(
        line(at((0, 0), (50, 0)), "A"), line(at((10, -5), (10, 5)), "B"), line(at((30, 0), (30, 9)), "C")
    )
    split = {repair.feature: repair.geometry for repair in findings.repairs if repair.repair == "split"}
    assert sorted(split) == ["feature A", "feature B"]
    assert split["feature A"] is not None
    assert shapely.get_num_geometries(split["feature A"]) == 2


def test_vanished_line_is_recorded() -> None:
    """A line shorter than the snap distance that shrinks into its node is recorded as dropped."""
    network, findings = joined(line(at((0, 0), (50, 0)), "A"), line(at((50, 0), (51.5, 0)), "B"))
    assert network.parts.line.tolist() == [0]
    dropped = [repair for repair in findings.repairs if repair.repair == "dropped"]
    assert [repair.feature for repair in dropped] == ["feature B"]
    assert dropped[0].amount_m == pytest.approx(1.5)


def test_layers_are_kept_apart() -> None:
    """Lines on different layers, or a tunnel, are not joined where they cross."""
    for row in ({"layer": 1}, {"tunnel": True}, {"bridge": True}):
        network, _ = joined(line(at((0, 0), (50, 0)), "A"), line(at((10, -9), (10, 9)), "B", **row))
        assert len(network.parts.shapes) == 2
