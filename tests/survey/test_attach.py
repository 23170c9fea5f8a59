"""Obstacles attached to segments, with chainage, offset and extent worked by hand."""

import pytest
import shapely

from pipeline.survey.attach import Attached, attach
from pipeline.survey.attributes import OBSTACLE_ATTRIBUTES
from pipeline.survey.findings import Findings
from pipeline.survey.places import Thing
from pipeline.terms import ObstacleKind
from tests.survey.worlds import at, objects, repaired, spot

EAST = at((0, 0), (100, 0))
NORTH = at((100, 0), (100, 80))


def attached(
    shape: shapely.Geometry, kind: str = "rock", reach_m: float = 15.0, **row: object
) -> tuple[list[Attached], list[str]]:
    """Attach one thing to a trail that goes east, then north."""
    point = shape if shape.geom_type == "Point" else shape.centroid
    values = {attribute.column: None for attribute in OBSTACLE_ATTRIBUTES} | row
    findings = Findings()
    thing = Thing("r", ObstacleKind(kind), shape, point, "obs.gpkg", "feature 1", values)  # type: ignore[arg-type]
    return attach([thing], objects([EAST, NORTH]), reach_m, findings), repaired(findings)


def only(shape: shapely.Geometry, **row: object) -> Attached:
    """Attach one thing that belongs to one segment."""
    ((one,), _) = attached(shape, **row)  # type: ignore[arg-type]
    return one


@pytest.mark.parametrize(
    ("x", "y", "segment", "chainage", "offset"),
    [
        (20, -1.5, 0, 20.0, 1.5),  # going east, south is right
        (20, 1.5, 0, 20.0, -1.5),
        (102, 30, 1, 30.0, 2.0),  # going north, east is right
        (97, 30, 1, 30.0, -3.0),
        (50, 0, 0, 50.0, 0.0),
        (-3, -4, 0, 0.0, 5.0),  # beyond the start, right of it: its whole distance
    ],
)
def test_point(x: float, y: float, segment: int, chainage: float, offset: float) -> None:
    """A point lies at the nearest segment; + is right of the digitised direction."""
    one = only(spot(x, y))
    assert one.segment == segment
    assert one.obstacle_id == "r"
    assert one.row["chainage_m"] == pytest.approx(chainage)
    assert one.row["offset_m"] == pytest.approx(offset)


def test_reversed_segment_turns_the_sign() -> None:
    """Seen from the other direction the same thing lies on the other side."""
    values = {attribute.column: None for attribute in OBSTACLE_ATTRIBUTES}
    thing = Thing("r", ObstacleKind.ROCK, spot(20, -1.5), spot(20, -1.5), "o", "f", dict(values))
    (one,) = attach([thing], objects([shapely.reverse(EAST)]), 15.0, Findings())
    assert one.row["chainage_m"] == pytest.approx(80.0)
    assert one.row["offset_m"] == pytest.approx(-1.5)


def test_surveyed_values_are_kept() -> None:
    """An offset, length or width that was surveyed stands over the geometry."""
    one = only(at((20, -2), (20, 2)), kind="log", offset_m=0.7, length_m=0.3, width_m=5.0)
    assert (one.row["offset_m"], one.row["length_m"], one.row["width_m"]) == (0.7, 0.3, 5.0)


def test_log_across_the_trail() -> None:
    """A line across the trail is as wide as it is long, and has no extent along the trail."""
    one = only(at((20, -1), (20, 3)), kind="log")
    assert one.row["chainage_m"] == pytest.approx(20.0)
    assert one.row["length_m"] == pytest.approx(0.0, abs=1e-6)
    assert one.row["width_m"] == pytest.approx(4.0)
    assert one.row["offset_m"] == pytest.approx(-1.0)


def test_rut_along_the_trail() -> None:
    """A line along the trail is as long as it is, 6 m, and lies at the middle of it."""
    one = only(at((20, -1), (26, -1)), kind="rut")
    assert (one.row["chainage_m"], one.row["length_m"]) == (pytest.approx(23.0), pytest.approx(6.0))
    assert one.row["offset_m"] == pytest.approx(1.0)


def test_polygon_on_the_trail() -> None:
    """A pond that reaches far to the side lies where the trail crosses it."""
    one = only(shapely.box(500_020, 5_399_960, 500_030, 5_400_004), kind="water")
    assert one.row["chainage_m"] == pytest.approx(25.0)
    assert (one.row["length_m"], one.row["width_m"]) == (pytest.approx(10.0), pytest.approx(44.0))


def test_stream_over_several_segments() -> None:
    """A stream has a row at every segment that it crosses."""
    rows, _ = attached(at((80, -20), (120, 20)), kind="water")
    assert [row.obstacle_id for row in rows] == ["r"] if len(rows) == 1 else ["r-1", "r-2"]
    crossing, _ = attached(at((90, -20), (90, 30), (120, 30)), kind="water")
    assert [(row.obstacle_id, row.segment) for row in crossing] == [("r-1", 0), ("r-2", 1)]
    assert crossing[0].row["chainage_m"] == pytest.approx(90.0)
    assert crossing[1].row["chainage_m"] == pytest.approx(30.0)


def test_too_far() -> None:
    """A thing out of reach is attached to none and recorded; a place out of reach is no repair."""
    for kind, repairs in (("rock", ["not attached"]), ("muster", []), ("note", [])):
        (one,), made = attached(spot(50, 40), kind=kind)
        assert one.segment is None
        assert one.row["chainage_m"] is None
        assert made == repairs
    assert only(spot(50, 15.0)).segment == 0


def test_tie_goes_to_the_first_segment() -> None:
    """A thing as near to two segments belongs to the first."""
    assert only(spot(103, -4)).segment == 0
