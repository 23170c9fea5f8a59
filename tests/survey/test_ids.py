"""Names of segments that last over rebuilds."""

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from pipeline.survey.findings import Findings
from pipeline.survey.ids import GRID_SNAPS, segment_ids, shape_hash
from pipeline.survey.lines import Line
from tests.survey.worlds import at, line, repaired

SNAP = 2.0
SHAPE = at((15, 5), (55, 25), (95, 5))


def named(lines: list[Line], parts: list[int]) -> tuple[list[str], list[str]]:
    """Name parts, and list the repairs."""
    findings = Findings()
    return segment_ids(lines, np.array(parts), SNAP, findings), repaired(findings)


def test_own_id_of_an_unsplit_feature() -> None:
    """A feature that was not split keeps its id as it is."""
    assert named([line(SHAPE, "A"), line(at((0, 9), (9, 9)), "B")], [0, 1]) == (["A", "B"], [])


def test_parts_are_numbered_along_the_line() -> None:
    """Parts of a split feature are numbered from 1 along the digitised direction."""
    assert named([line(SHAPE, "A"), line(at((0, 9), (9, 9)), "B")], [0, 0, 1]) == (["A-1", "A-2", "B"], [])


def test_shared_id_in_one_file() -> None:
    """Two features of one file with one id are numbered on, and that is recorded for both."""
    ids, repairs = named([line(SHAPE, "A"), line(at((0, 9), (9, 9)), "A")], [0, 1])
    assert ids == ["A-1", "A-2"]
    assert repairs == ["id changed", "id changed"]


def test_clash_between_files() -> None:
    """The first file keeps its id; the second puts its name before it, and that is recorded."""
    lines = [line(SHAPE, "7", "north.gpkg"), line(at((0, 9), (9, 9)), "7", "south.gpkg")]
    ids, repairs = named(lines, [0, 1])
    assert ids == ["7", "south:7"]
    assert repairs == ["id changed"]


def test_number_that_is_anothers_id() -> None:
    """A part's number steps over one that another feature has as its own id."""
    ids, _ = named([line(SHAPE, "A"), line(at((0, 9), (9, 9)), "A-1")], [0, 0, 1])
    assert ids == ["A-2", "A-3", "A-1"]


def test_files_of_one_name_in_two_folders() -> None:
    """Ids stay unique even when the file names are the same but for their ending."""
    lines = [line(SHAPE, "7", name) for name in ("a.gpkg", "b.gpkg", "b.geojson")]
    ids, _ = named(lines, [0, 1, 2])
    assert len(set(ids)) == 3


def test_hash_of_an_anonymous_line() -> None:
    """Without an id the name comes from the shape: the same for the reversed line, other for another line."""
    name = shape_hash(SHAPE, SNAP)
    assert named([line(SHAPE)], [0]) == ([name], [])
    assert shape_hash(shapely.reverse(SHAPE), SNAP) == name
    assert shape_hash(at((15, 5), (55, -25), (95, 5)), SNAP) != name
    assert len(name) == 9


@given(st.floats(-1.9, 1.9), st.floats(-1.9, 1.9))
def test_hash_stays_inside_its_grid(dx: float, dy: float) -> None:
    """A resurvey that moves ends and middle by less than the snap distance inside their cells keeps the name."""
    middle = shapely.line_interpolate_point(SHAPE, 0.5, normalized=True)
    cell = GRID_SNAPS * SNAP
    for point in (*SHAPE.coords[::2], middle.coords[0]):
        assert all(SNAP <= value % cell <= cell - SNAP for value in point)
    assert shape_hash(shapely.transform(SHAPE, lambda xy: xy + np.array([dx, dy])), SNAP) == shape_hash(SHAPE, SNAP)


@pytest.mark.parametrize("seed", [1, 2])
def test_share_of_names_lost_in_a_resurvey(seed: int) -> None:
    """A resurvey that differs by a tenth of the snap distance loses about one anonymous name in ten, as documented."""
    rng = np.random.default_rng(seed)
    shapes = [shapely.LineString(rng.uniform(0, 1000, (3, 2))) for _ in range(400)]
    again = [shapely.transform(shape, lambda xy: xy + rng.normal(0, 0.1 * SNAP, xy.shape)) for shape in shapes]
    lost = np.mean([shape_hash(a, SNAP) != shape_hash(b, SNAP) for a, b in zip(shapes, again, strict=True)])
    assert 0.02 < lost < 0.16
