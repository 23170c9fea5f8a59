"""Headings at the ends of segments, and the corners that they forbid."""

from dataclasses import replace

import geopandas as gpd
import numpy as np
import pytest
from shapely import LineString

from pipeline.loops.headings import end_headings
from pipeline.loops.request import LoopRequest
from pipeline.loops.search import find_loops
from pipeline.loops.settings import LoopSettings
from pipeline.terms import Objective
from tests.loops.worlds import METRIC, SETUPS, Trail, World

SQUARE = World([Trail(0, 1), Trail(1, 8), Trail(8, 7), Trail(7, 0)])
"""Four sides of 100 m with right angles."""
PARALLEL = World([Trail(0, 1), Trail(0, 1)])
"""Two trails side by side: the way back is a hairpin of 180° at node 1."""


def lines(**shapes: list[tuple[float, float]]) -> gpd.GeoDataFrame:
    """Make segments of lines by id."""
    return gpd.GeoDataFrame(
        {"segment_id": list(shapes)}, geometry=[LineString(points) for points in shapes.values()], crs=METRIC
    )


def found(world: World, settings: LoopSettings, sharpest_deg: float, longest_m: float = 500.0) -> tuple[bool, str]:
    """Tell whether *world* has a loop when corners up to *sharpest_deg* may be driven, and what the note says."""
    request = LoopRequest(
        name="round", objective=Objective.SAFEST, length_m=(150.0, longest_m), time_min=None, setups=SETUPS, must=(),
        avoid=(), max_redriven=1.0,
    )  # fmt: skip
    inputs = world.inputs(settings.model_copy(update={"sharpest_turn_deg": sharpest_deg}))
    place = inputs.network.nodes.set_index("node_id").geometry
    ends = inputs.network.segments[["node_a", "node_b"]].itertuples(index=False)
    straight = inputs.network.segments.set_geometry([LineString([place[a], place[b]]) for a, b in ends], crs=METRIC)
    inputs = replace(inputs, network=replace(inputs.network, segments=straight))
    answer = find_loops(inputs, [request])
    return len(answer.loops) == 1, answer.notes[0].text


def test_a_straight_line_keeps_its_heading() -> None:
    """East at both ends, as a unit vector."""
    assert end_headings(lines(a=[(0, 0), (30, 0), (90, 0)]))["a"] == ((1.0, 0.0), (1.0, 0.0))


def test_a_bend_turns_the_end() -> None:
    """East at the start, north at the end."""
    (first, last) = end_headings(lines(a=[(0, 0), (50, 0), (50, 50)]))["a"]
    np.testing.assert_allclose((*first, *last), (1.0, 0.0, 0.0, 1.0), atol=1e-12)


def test_a_kink_at_the_very_end_turns_little() -> None:
    """An end that was snapped half a metre aside turns the heading by about 6°, not by 90°."""
    (_, last) = end_headings(lines(a=[(0, 0), (50, 0), (50, 0.5)]))["a"]
    assert np.degrees(np.arctan2(last[1], last[0])) == pytest.approx(np.degrees(np.arctan2(0.5, 4.5)))


def test_lines_shorter_than_the_look_and_rings() -> None:
    """A stub gives its own direction; a tiny ring whose chord closes gives none."""
    table = end_headings(lines(stub=[(0, 0), (0, 2)], ring=[(0, 0), (1, 0), (1, 1), (0, 0)]))
    assert table["stub"] == ((0.0, 1.0), (0.0, 1.0))
    assert table["ring"][0] == (0.0, 0.0)


def test_the_corner_of_the_settings_may_just_be_driven(settings: LoopSettings) -> None:
    """A square is driven where right angles are allowed, and not where they are too sharp."""
    assert found(SQUARE, settings, 90.0)[0]
    assert not found(SQUARE, settings, 89.0)[0]


def test_a_hairpin_between_parallel_trails_needs_room(settings: LoopSettings) -> None:
    """Where the way on turns by 180°, the vehicle would have to shunt: no loop, and the reason is told."""
    assert found(PARALLEL, settings, 180.0)[0]
    ok, text = found(PARALLEL, settings, 135.0)
    assert not ok
    assert "round a sharp corner where there is no room" in text
    assert found(World(PARALLEL.trails, turn_round={1}), settings, 135.0)[0]


def test_what_ships_forbids_shunting(shipped: LoopSettings) -> None:
    """The settings that come with the package know a sharpest corner, well below turning back."""
    assert 90.0 <= shipped.sharpest_turn_deg <= 150.0
