"""Features cleaned to lines, every change recorded."""

import shapely

from pipeline.survey.findings import Findings
from pipeline.survey.lines import Line, read_lines
from tests.survey.worlds import at, found, layer, repaired, spot


def clean(shape: shapely.Geometry | None, **tags: object) -> tuple[list[Line], Findings]:
    """Clean one feature."""
    findings = Findings()
    return read_lines([layer([shape], [tags])], findings), findings


def test_clean_line_is_left_alone() -> None:
    """A line without a fault comes through as it is, with nothing on the record."""
    shape = at((0, 0), (5, 1), (9, 0))
    (line,), findings = clean(shape, id="A", name="Long lane")
    assert line.shape.equals_exact(shape, 0.0)
    assert (line.own_id, line.row["name"], line.feature) == ("A", "Long lane", "feature 1")
    assert not findings.repairs


def test_multi_part_is_exploded() -> None:
    """Each part becomes a line with the feature's attributes, and that is recorded."""
    shape = shapely.MultiLineString([at((0, 0), (9, 0)), at((0, 5), (9, 5))])
    lines, findings = clean(shape, id="A")
    assert [line.own_id for line in lines] == ["A", "A"]
    assert repaired(findings) == ["exploded"]
    assert findings.repairs[0].geometry is not None


def test_single_multi_part_is_no_change() -> None:
    """A multi-line of one line, as Shapefiles and GeoPackages hold them, is no repair."""
    lines, findings = clean(shapely.MultiLineString([at((0, 0), (9, 0))]))
    assert len(lines) == 1
    assert not findings.repairs


def test_collection_gives_its_lines() -> None:
    """Lines inside a collection are taken out, however deep."""
    inner = shapely.GeometryCollection(
        [at((0, 0), (9, 0)), shapely.GeometryCollection([at((0, 5), (9, 5))]), spot(1, 1)]
    )
    lines, findings = clean(inner)
    assert len(lines) == 2
    assert repaired(findings) == ["exploded"]


def test_empty_and_missing_are_dropped() -> None:
    """Features without a geometry are dropped on the record."""
    for shape in (None, shapely.LineString(), shapely.GeometryCollection()):
        lines, findings = clean(shape)
        assert not lines
        assert repaired(findings) == ["dropped"]


def test_points_and_areas_are_dropped() -> None:
    """What is no line is dropped on the record, with its place."""
    for shape in (spot(1, 1), spot(1, 1).buffer(3)):
        lines, findings = clean(shape)
        assert not lines
        assert findings.repairs[0].geometry is not None
        assert "not a line" in findings.repairs[0].detail


def test_zero_length_is_dropped() -> None:
    """A line all of whose points are in one place is dropped on the record."""
    lines, findings = clean(at((1, 1), (1, 1), (1, 1)))
    assert not lines
    assert repaired(findings) == ["dropped"]
    assert findings.repairs[0].amount_m == 0.0


def test_doubled_vertices_are_removed() -> None:
    """Vertices in one place one after another become one, and their number is recorded."""
    (line,), findings = clean(at((0, 0), (5, 0), (5, 0), (5, 0), (9, 0)))
    assert line.shape.equals_exact(at((0, 0), (5, 0), (9, 0)), 0.0)
    assert repaired(findings) == ["vertices removed"]
    assert "2 doubled vertices" in findings.repairs[0].detail


def test_heights_without_a_survey_are_left_out() -> None:
    """Heights of a handheld do not count: the line is made plane."""
    (line,), _ = clean(at((0, 0, 100), (9, 0, 104)))
    assert not line.shape.has_z


def test_survey_heights_are_kept() -> None:
    """With ``profile = survey`` the heights stay."""
    (line,), findings = clean(at((0, 0, 100), (9, 0, 104)), profile="survey")
    assert [point[2] for point in line.shape.coords] == [100.0, 104.0]
    assert not findings.repairs


def test_survey_without_heights_is_a_fault() -> None:
    """A survey-grade line needs a height at every vertex; 0 is what GDAL puts where a GeoJSON position has none."""
    for shape in (at((0, 0), (9, 0)), at((0, 0, 100), (5, 0, 0), (9, 0, 104)), at((0, 0, 100), (9, 0, float("nan")))):
        lines, findings = clean(shape, profile="survey")
        assert not lines
        assert "vertices have no height" in found(findings)


def test_bent_value_carries_its_place() -> None:
    """A value that was bent is recorded where its line lies."""
    _, findings = clean(at((0, 0), (9, 0)), width="0,6")
    assert repaired(findings) == ["value read"]
    assert findings.repairs[0].geometry is not None


def test_input_is_not_changed() -> None:
    """Cleaning changes nothing it was given."""
    before = at((0, 0), (5, 0), (5, 0), (9, 0))
    given = layer([before], [{"width": "0,6"}])
    read_lines([given], Findings())
    assert given.shapes[0] is before
    assert given.tags == [{"width": "0,6"}]
