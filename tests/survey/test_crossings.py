"""Where lines meet each other and themselves.

Outside check: the crossings of random lines are the nodes that GEOS finds (shapely.node).
"""

import numpy as np
import pytest
import shapely

from pipeline.survey.crossings import Levels, Meetings, crossings, feet, own_feet, self_meetings
from tests.survey.worlds import X, Y, at, objects

SNAP = 2.0


def ground(count: int, apart: tuple[int, ...] = (), layers: dict[int, int] | None = None) -> Levels:
    """All lines on the ground, but for bridges or tunnels, and lines on other layers."""
    rows = np.arange(count)
    return Levels(np.isin(rows, apart), np.array([(layers or {}).get(row, 0) for row in rows]))


def places(meetings: Meetings) -> set[tuple[int, float, float]]:
    """List line, x and y of meetings, counted from the corner, to the millimetre."""
    return {
        (int(line), round(float(x) - X, 3) + 0.0, round(float(y) - Y, 3) + 0.0)
        for line, (x, y) in zip(meetings.line, meetings.xy, strict=True)
    }


CROSS = [at((0, 0), (10, 0)), at((4, -5), (4, 5))]


def test_crossing() -> None:
    """Two lines that cross meet on both, at the chainage where they do."""
    meetings = crossings(objects(CROSS), ground(2))
    assert places(meetings) == {(0, 4.0, 0.0), (1, 4.0, 0.0)}
    assert sorted(meetings.at.tolist()) == [4.0, 5.0]


@pytest.mark.parametrize("levels", [ground(2, apart=(0,)), ground(2, apart=(1,)), ground(2, layers={1: 1})])
def test_bridge_tunnel_or_layer_does_not_cross(levels: Levels) -> None:
    """Nothing meets a bridge, a tunnel or another layer in mid-air."""
    assert places(crossings(objects(CROSS), levels)) == set()


def test_overlap_meets_at_its_ends_only() -> None:
    """Lines that run together for 6 m meet where that begins and ends, not at each vertex on the way."""
    along = at((2, 3), (2, 0), (4, 0), (6, 0), (8, 0), (8, 3))
    meetings = places(crossings(objects([at((0, 0), (5, 0), (10, 0)), along]), ground(2)))
    assert meetings == {(0, 2.0, 0.0), (0, 8.0, 0.0), (1, 2.0, 0.0), (1, 8.0, 0.0)}


def test_shared_ends_are_no_crossing() -> None:
    """Lines that share an end meet there already."""
    assert places(crossings(objects([at((0, 0), (5, 0)), at((5, 0), (9, 4))]), ground(2))) == set()


def test_random_crossings_against_geos() -> None:
    """The crossings of 60 random lines are the new nodes that shapely.node makes of them."""
    rng = np.random.default_rng(5)
    shapes = shapely.linestrings(rng.uniform(0, 100, (60, 2, 2)))
    meetings = crossings(shapes, ground(60))
    parts = shapely.get_parts(shapely.node(shapely.multilinestrings(shapes)))
    ends = shapely.get_coordinates(np.concatenate((shapely.get_point(parts, 0), shapely.get_point(parts, -1))))
    original = {tuple(row) for row in np.round(shapely.get_coordinates(shapes), 6).tolist()}
    nodes = {tuple(row) for row in np.round(ends, 6).tolist()} - original
    assert {tuple(row) for row in np.round(meetings.xy, 6).tolist()} == nodes
    assert len(meetings.line) == 2 * len(nodes)


@pytest.mark.parametrize(("gap", "count"), [(0.0, 1), (1.9, 1), (2.1, 0)])
def test_foot(gap: float, count: int) -> None:
    """An end within the snap distance of another line's inside has its foot there."""
    meetings = feet(objects([at((0, 0), (20, 0)), at((8, gap), (8, 30))]), ground(2), SNAP)
    assert places(meetings) == ({(0, 8.0, 0.0)} if count else set())


def test_foot_beside_an_end_is_left_to_the_end() -> None:
    """An end within the snap distance of another line's end needs no foot beside it."""
    shapes = objects([at((0, 0), (20, 0)), at((0.5, 1), (8, 30))])
    assert places(feet(shapes, ground(2), SNAP)) == set()


@pytest.mark.parametrize(("gap", "count"), [(0.0, 1), (0.5, 0)])
def test_bridge_is_joined_only_by_what_touches_it(gap: float, count: int) -> None:
    """An end near a bridge may lie under it; an end that touches it joins it."""
    shapes = objects([at((0, 0), (20, 0)), at((8, gap), (8, 30))])
    assert len(feet(shapes, ground(2, apart=(0,)), SNAP).line) == count


@pytest.mark.parametrize(("gap", "expected"), [(1.0, {(0, 10.0, 0.0)}), (3.0, set())])
def test_own_foot(gap: float, expected: set[tuple[int, float, float]]) -> None:
    """A line whose end comes back to its own inside meets itself there."""
    lollipop = at((0, 0), (20, 0), (20, 10), (10, 10), (10, gap))
    assert places(own_feet(objects([lollipop]), ground(1), SNAP)) == expected


def test_closed_line_and_hairpin_end_do_not_meet_themselves() -> None:
    """The ends of a closed line meet each other, not their neighbours; so does a nearly closed one."""
    ring = at((0, 0), (20, 0), (20, 10), (0, 10), (0, 0))
    nearly = at((0, 0), (20, 0), (20, 10), (0, 10), (0, 0.5))
    short = at((0, 0), (1, 0), (1.5, 0.5))
    wavy = at((0, 0), (0.5, 1), (1, 0), (20, 0), (20.5, 1), (21, 0))
    assert places(own_feet(objects([ring, nearly, short, wavy]), ground(4), SNAP)) == set()


def test_figure_of_eight() -> None:
    """A line that crosses itself meets itself twice, once on each pass."""
    assert self_meetings(at((0, 0), (10, 10), (10, 0), (0, 10))) == pytest.approx([50**0.5, 200**0.5 + 10 + 50**0.5])


def test_lollipop_that_touches() -> None:
    """A line that ends on its own inside meets itself there once."""
    assert self_meetings(at((0, 0), (20, 0), (20, 10), (10, 10), (10, 0))) == pytest.approx([10.0])


def test_out_and_back() -> None:
    """A line that goes out and comes back the same way is cut at the turn only, however many vertices it has."""
    assert self_meetings(at((0, 0), (10, 0), (20, 5), (30, 0), (20, 5), (10, 0), (0, 0))) == pytest.approx(
        [10.0 + 2 * 125**0.5]
    )


def test_stick_and_loop() -> None:
    """A stick driven twice and a loop once are cut where the loop begins and ends."""
    shape = at((0, 0), (10, 0), (20, 10), (20, -10), (10, 0), (0, 0))
    loop = 2 * 200**0.5 + 20
    assert self_meetings(shape) == pytest.approx([10.0, 10.0 + loop])


def test_simple_line_does_not_meet_itself() -> None:
    """A bend is no meeting."""
    assert self_meetings(at((0, 0), (10, 0), (10, 10), (0, 10))).size == 0
