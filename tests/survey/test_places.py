"""Obstacles and places read, and the trailhead found."""

import numpy as np
import pytest
import shapely

from pipeline.survey.findings import Findings
from pipeline.survey.places import (
    TRAILHEAD_REACH_M,
    Thing,
    find_trailhead,
    mentions,
    near_places,
    read_things,
    report_beside,
    stops_of,
)
from pipeline.terms import ObstacleKind
from tests.survey.worlds import X, Y, at, found, layer, line, repaired, spot

TRAIL = [line(at((0, 0), (100, 0)), "A")]


def things(*rows: tuple[shapely.Geometry | None, dict[str, object]]) -> tuple[list[Thing], Findings]:
    """Read obstacles."""
    findings = Findings()
    read = read_things([layer([row[0] for row in rows], [row[1] for row in rows], source="obs.gpkg")], findings)
    return read, findings


def test_point() -> None:
    """An obstacle reads with its numbers; without an id it is named by file stem and row."""
    (rock,), findings = things((spot(5, 1), {"kind": "Rock", "height_m": 0.35, "note": "loose"}))
    assert not findings.faults
    assert (rock.obstacle_id, rock.kind, rock.row["height_m"], rock.row["note"]) == ("obs-1", "rock", 0.35, "loose")


def test_shapes_have_a_point_that_stands_for_them() -> None:
    """A line is stood for by its middle, a polygon by its centroid, or by a point inside where that is outside."""
    hook = spot(0, 0).buffer(10).difference(spot(4, 0).buffer(10))
    (log, pond, bow), _ = things(
        (at((0, 0), (10, 0), (10, 2)), {"kind": "log"}),
        (spot(3, 3).buffer(2), {"kind": "water"}),
        (hook, {"kind": "soft"}),
    )
    assert (log.point.x - X, log.point.y - Y) == (6.0, 0.0)
    assert pond.point.distance(spot(3, 3)) < 1e-6
    assert hook.contains(bow.point)


def test_unknown_kind_and_missing_kind() -> None:
    """A kind that is not known is refused with the nearest; a missing one with all of them."""
    read, findings = things((spot(0, 0), {"kind": "trunk"}), (spot(0, 0), {"kind": "treee"}), (spot(0, 0), {}))
    text = found(findings)
    assert not read
    assert len(findings.faults) == 3
    assert 'did you mean "tree"' in text
    assert "kind is missing; allowed: rock | log" in text


def test_no_position() -> None:
    """An obstacle without a position is a fault: it must not be lost in silence."""
    read, findings = things((None, {"kind": "rock"}), (shapely.Point(), {"kind": "rock"}))
    assert not read
    assert len(findings.faults) == 2


def test_hollow_things_are_down() -> None:
    """A hole 0.4 m "high" is 0.4 m deep, and that is recorded; a step keeps its sign."""
    (hole, step), findings = things(
        (spot(0, 0), {"kind": "hole", "height_m": 0.4}), (spot(0, 0), {"kind": "step", "height_m": 0.4})
    )
    assert (hole.row["height_m"], step.row["height_m"]) == (-0.4, 0.4)
    assert repaired(findings) == ["value read"]


def test_doubled_id() -> None:
    """An id that occurs twice is told apart, and that is recorded."""
    read, findings = things(*[(spot(0, 0), {"kind": "rock", "id": 7})] * 3)
    assert [thing.obstacle_id for thing in read] == ["7", "7-2", "7-3"]
    assert repaired(findings) == ["id changed", "id changed"]


PLACES = [
    (spot(0, 1), {"kind": "trailhead", "name": "Gate"}),
    (spot(50, 2), {"kind": "muster", "name": "Old quarry"}),
    (spot(70, 2), {"kind": "turnround", "name": "Top"}),
    (spot(90, 2), {"kind": "rock", "name": "Gate"}),
    (spot(20, 200), {"kind": "trailhead", "name": "Far gate"}),
]


def trailhead(wanted: str | tuple[float, float]) -> tuple[shapely.Point | None, Findings]:
    """Find a trailhead among the places."""
    read, findings = things(*PLACES)
    return find_trailhead(wanted, read, TRAIL, findings), findings


def test_trailhead_by_name() -> None:
    """A trailhead is found by its name, whatever the capitals; another place or thing serves too."""
    for wanted, x in (("gate", 0.0), ("Old Quarry", 50.0), ("Top", 70.0)):
        point, findings = trailhead(wanted)
        assert not findings.faults
        assert point is not None
        assert point.x - X == x


def test_trailhead_by_coordinates() -> None:
    """Coordinates in the working CRS are taken as they are."""
    point, findings = trailhead((X + 30, Y + 5))
    assert point == spot(30, 5)
    assert not findings.faults


def test_trailhead_not_found() -> None:
    """A name that no place has is a fault that names the nearest and lists them."""
    point, findings = trailhead("Old query")
    assert point is None
    assert 'did you mean "Old quarry"' in found(findings)
    assert "named places: Far gate, Gate, Old quarry, Top" in found(findings)


def test_trailhead_too_far() -> None:
    """A trailhead far from every trail is a fault that says how far, and where the network is."""
    for wanted in ("Far gate", (X + 20, Y + TRAILHEAD_REACH_M + 1), (9.0, 48.0)):
        _, findings = trailhead(wanted)
        assert "from the nearest trail" in found(findings)
        assert "x 500000 to 500100" in found(findings)
    assert not trailhead((X + 20, Y + TRAILHEAD_REACH_M))[1].faults


def test_trailhead_of_two_places() -> None:
    """Two trailheads of one name in two places are a fault."""
    read, findings = things(*PLACES, (spot(60, 0), {"kind": "trailhead", "name": "Gate"}))
    assert find_trailhead("Gate", read, TRAIL, findings) is None
    assert "2 places are called 'Gate'" in found(findings)


def test_stops() -> None:
    """The trailhead comes first, then every place where a vehicle can turn round."""
    read, _ = things(*PLACES)
    stops = stops_of(read, spot(0, 1), 15.0)
    assert [(stop.x - X, stop.reach_m) for stop in stops] == [(0.0, 50.0), (0.0, 15.0), (70.0, 15.0), (20.0, 15.0)]


def test_places_near_nodes() -> None:
    """Places near a node name it, trailheads first; things and notes do not."""
    read, _ = things(
        *PLACES, (spot(0, 0), {"kind": "exit", "name": "Way out"}), (spot(0, 0), {"kind": "note", "name": "x"})
    )
    near = [(row, thing.name) for row, thing in near_places(read, np.array([[X, Y], [X + 50, Y]]), 2.0)]
    assert near == [(0, "Gate"), (1, "Old quarry"), (0, "Way out")]
    assert ObstacleKind.EXIT == "exit"


@pytest.mark.parametrize("value", [{"kind": "rock", "height_m": 35}, {"kind": "water", "depth_m": "deep"}])
def test_bad_number(value: dict[str, object]) -> None:
    """A number out of bounds is a fault of its feature."""
    _, findings = things((spot(0, 0), value))
    assert found(findings).startswith("obs.gpkg:feature 1: ")


def test_outline_that_crosses_itself() -> None:
    """A bow tie is repaired, and the repair recorded: its area is what it encloses (OGC 06-103r4, valid polygons)."""
    tie = shapely.Polygon([(X - 2, Y - 2), (X + 2, Y + 2), (X + 2, Y - 2), (X - 2, Y + 2)])
    (pond,), findings = things((tie, {"kind": "water"}))
    assert pond.shape.is_valid
    assert pond.shape.area == pytest.approx(8.0)
    assert repaired(findings) == ["shape repaired"]


def test_obstacles_of_another_ground_are_a_fault() -> None:
    """A file of which nothing lies near a trail is one; places may lie anywhere, and one obstacle near is enough."""
    far, near = spot(80_000, 0), spot(400, 0)
    read, findings = things((far, {"kind": "rock"}), (spot(80_000, 30), {"kind": "log"}), (near, {"kind": "muster"}))
    report_beside(read, TRAIL, findings)
    (fault,) = findings.faults
    assert (fault.file, fault.place) == ("obs.gpkg", "")
    assert fault.found == "none of its 2 obstacles is near a trail; the nearest is 79900 m away"
    for rows in ([(far, "rock"), (near, "rock")], [(far, "muster")], []):
        read, findings = things(*((shape, {"kind": kind}) for shape, kind in rows))
        report_beside(read, TRAIL, findings)
        assert not findings.faults
    report_beside(read, [], findings)
    assert not findings.faults


def test_a_trailhead_that_another_fault_explains() -> None:
    """Its own feature is refused: told once. A name that no feature bears is told whatever else is wrong."""
    layers = [layer([spot(0, 0)], [{"kind": "trialhead", "name": " yard"}])]
    assert mentions(layers, "Yard")
    assert not mentions(layers, "Yrd")
    assert not mentions(layers, (1.0, 2.0))
    findings = Findings()
    assert find_trailhead("Yard", [], TRAIL, findings, explained=True) is None
    assert not findings.faults
    assert find_trailhead("Yard", [], TRAIL, findings) is None
    assert len(findings.faults) == 1


def test_trailhead_in_degrees() -> None:
    """Longitude and latitude where metres are wanted: the way out says so."""
    findings = Findings()
    find_trailhead((9.1, 48.2), [], TRAIL, findings)
    assert "look like degrees" in found(findings)
