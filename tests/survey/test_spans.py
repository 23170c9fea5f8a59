"""Stretches between nodes, and loops that are none."""

import numpy as np
import pytest
import shapely

from pipeline.survey.cluster import Nodes
from pipeline.survey.crossings import END, Levels, Meetings
from pipeline.survey.spans import spans_of, tips
from pipeline.survey.topology import join_lines
from tests.survey.worlds import CORNER, at, objects

SNAP = 2.0


def spans(shape: shapely.LineString, *stops: tuple[float, int]) -> tuple[list[list[float]], list[list[float]]]:
    """List the stretches of one line between stops (chainage, node), and the tips of its narrow loops."""
    places, numbers = np.array([stop[0] for stop in stops]), np.array([stop[1] for stop in stops])
    xy = shapely.get_coordinates(shapely.line_interpolate_point(shape, places))
    nodes = Nodes(numbers, xy[np.unique(numbers, return_index=True)[1]])
    line = np.zeros(len(places), dtype=np.int64)
    found = spans_of(objects([shape]), Meetings(line, places, xy, line + END), nodes, SNAP)
    stretches = np.column_stack((found.low, found.high)).tolist()
    return stretches, [(tip.xy - CORNER).tolist() for tip in tips(objects([shape]), found, nodes.xy, SNAP)]


def test_stretches_between_neighbours() -> None:
    """Stops in any order give the stretches between neighbours."""
    assert spans(at((0, 0), (10, 0)), (10.0, 2), (0.0, 0), (4.0, 1))[0] == [[0.0, 4.0], [4.0, 10.0]]


def test_stretch_inside_a_node_is_left_out() -> None:
    """Between two stops of one node within twice the snap distance there is no trail."""
    assert spans(at((0, 0), (10, 0)), (0.0, 0), (3.0, 0), (10.0, 1))[0] == [[3.0, 10.0]]


@pytest.mark.parametrize(("width", "count"), [(0.5, 1), (1.9, 1), (12.0, 0)])
def test_narrow_loop_has_a_tip(width: float, count: int) -> None:
    """A loop out and back within the snap distance has its tip at the far end; a wide one is a loop."""
    shape = at((0, 0), (40, 0), (40, width), (0, width))
    found = spans(shape, (0.0, 0), (80.0 + width, 0))[1]
    assert len(found) == count
    assert not count or found[0][0] == 40.0


def test_scribble_is_left_out() -> None:
    """A track that moves about within the snap distance of its node, as a handheld does at rest, is no trail."""
    scribble = at((0, 0), (1, 0), (0, 1), (-1, 0), (0, -1), (1, 0), (0, 0))
    assert spans(scribble, (0.0, 0), (scribble.length, 0))[0] == []


@pytest.mark.parametrize("width", [0.5, 1.5])
def test_hairpin_over_a_trail_is_a_stub(width: float) -> None:
    """A bend whose legs cross a trail side by side leaves no loop that would let a vehicle turn round."""
    hairpin = at((20, -30), (20, 30), (20 + width, 30), (20 + width, -30))
    lines = objects([at((0, 0), (50, 0)), hairpin])
    parts = join_lines(lines, Levels(np.zeros(2, dtype=bool), np.zeros(2, dtype=np.int64)), (), SNAP)
    assert not (parts.nodes[:, 0] == parts.nodes[:, 1]).any()
