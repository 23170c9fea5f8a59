"""Attributes by their own names and as OpenStreetMap tags."""

import pytest

from pipeline.survey.attributes import (
    OBSTACLE_ATTRIBUTES,
    TRAIL_ATTRIBUTES,
    Place,
    keys_of,
    own_id,
    read_row,
    read_trail,
)
from pipeline.survey.findings import Findings
from tests.survey.worlds import ROW, found

HERE = Place("trails.gpkg", "feature 7")


def trail(**tags: object) -> dict[str, object]:
    """Read one trail that holds no fault."""
    findings = Findings()
    row = read_trail({key.replace("__", ":"): value for key, value in tags.items()}, HERE, findings)
    assert not findings.faults, found(findings)
    return row


def test_nothing_tagged() -> None:
    """A trail without attributes is open, two-way, dry, on the ground; all else is missing."""
    assert trail() == ROW


def test_openstreetmap_tags_as_they_are() -> None:
    """Tags of a track read into the columns of the contract; a sign for 4×4 only is not a measurement."""
    row = trail(
        highway="track", name="Long lane", surface="Gravel", tracktype="grade2-grade4", smoothness="very_bad",
        width="2.5 m", maxwidth="3", maxwidth_physical="6'7\"", maxheight="4.2", maxheight_physical="4.0",
        incline="10°", oneway="-1", ford="yes", depth="0.4", bridge="viaduct", tunnel="no", layer="1",
        **{"4wd_only": "yes"},
    )  # fmt: skip
    assert row["name"] == "Long lane"
    assert row["surface"] == "gravel"
    assert (row["tracktype"], row["smoothness"]) == ("grade4", "very_bad")
    assert row["width_m"] == 2.5
    assert row["max_width_m"] == pytest.approx(2.0066)
    assert row["max_height_m"] == 4.0
    assert row["incline_pct"] == pytest.approx(17.6327, abs=1e-4)
    assert (row["oneway"], row["ford"], row["depth_m"]) == (-1, True, 0.4)
    assert (row["bridge"], row["tunnel"], row["layer"]) == (True, False, 1)
    assert "4wd_only" not in keys_of(TRAIL_ATTRIBUTES, trail=True)


@pytest.mark.parametrize(
    ("tags", "expected"),
    [
        ({}, "open"),
        ({"status": "open"}, "open"),
        ({"status": "closed"}, "closed"),
        ({"status": "proposed"}, "proposed"),
        ({"access": "no"}, "closed"),
        ({"access": "private"}, "open"),
        ({"access": "no", "motor_vehicle": "yes"}, "open"),
        ({"access": "yes", "vehicle": "no"}, "closed"),
        ({"status": "open", "access": "no"}, "closed"),
        ({"highway": "proposed"}, "proposed"),
        ({"highway": "steps"}, "closed"),
        ({"highway": "construction", "status": "proposed"}, "closed"),
    ],
)
def test_status(tags: dict[str, object], expected: str) -> None:
    """The most severe of what is said counts; the nearer rule for vehicles stands over access in general."""
    assert trail(**tags)["status"] == expected


def test_obsolete_ford() -> None:
    """``highway=ford`` is an obsolete way to say it ("Key:ford" of the OpenStreetMap wiki), and is understood."""
    assert trail(highway="ford")["ford"] is True


def test_a_depth_of_water_is_a_ford() -> None:
    """Nobody may drive past a depth because the word for it was left out; no depth, and a depth of 0, is none."""
    assert trail(depth="0.3")["ford"] is True
    assert trail(depth="0")["ford"] is False
    assert trail()["ford"] is False


def test_every_bad_value_is_reported_with_its_place() -> None:
    """Each bad value is one fault: file, feature, key, value, what is allowed."""
    findings = Findings()
    read_trail({"width": "2850", "oneway": "uphill", "status": "shut", "surveyed_on": "soon"}, HERE, findings)
    text = found(findings)
    assert len(findings.faults) == 4
    assert "trails.gpkg:feature 7: width = '2850'; allowed: 0.3 to 100 m" in text
    assert "oneway = 'uphill'" in text
    assert "status = 'shut'; allowed: open | proposed | closed" in text
    assert "surveyed_on = 'soon'; allowed: a date as 2025-05-31" in text


def test_bent_value_is_recorded() -> None:
    """A decimal comma is understood and recorded as a repair of that feature."""
    findings = Findings()
    assert read_trail({"width": "0,6"}, HERE, findings)["width_m"] == 0.6
    (repair,) = findings.repairs
    assert (repair.repair, repair.source, repair.feature) == ("value read", "trails.gpkg", "feature 7")
    assert "0,6" in repair.detail


def test_own_name_stands_before_the_alias() -> None:
    """The project's own column counts before the tag it stands beside."""
    assert trail(width="4", width_m=2.0)["width_m"] == 2.0


def test_profile() -> None:
    """Only ``survey`` makes heights count; another word is a fault."""
    assert trail(profile="survey")["profile"] == "survey"
    findings = Findings()
    read_trail({"profile": "gps"}, HERE, findings)
    assert "allowed: survey" in found(findings)


@pytest.mark.parametrize(
    ("tags", "expected"),
    [
        ({"segment_id": "A", "id": 3}, "A"),
        ({"id": 7.0}, "7"),
        ({"osm_id": "55"}, "55"),
        ({}, None),
        ({"id": None}, None),
    ],
)
def test_own_id(tags: dict[str, object], expected: str | None) -> None:
    """The source's own id, first choice first; a whole number keeps its look."""
    assert own_id(tags) == expected


def test_obstacle_bounds() -> None:
    """Numbers of an obstacle are held to what one can be: centimetres taken for metres are caught."""
    findings = Findings()
    row = read_row(
        {"kind": "rok", "height_m": 35, "flow_m_s": 1.2, "offset_m": -1.5}, OBSTACLE_ATTRIBUTES, HERE, findings
    )
    text = found(findings)
    assert 'did you mean "rock"' in text
    assert "height_m = 35; allowed: -5 to 5 m" in text
    assert (row["flow_m_s"], row["offset_m"]) == (1.2, -1.5)
