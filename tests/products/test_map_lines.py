"""Tight places as the map page carries them, decoded by a plain twin."""

import json
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from pyproj import Transformer
from shapely import LineString

from pipeline.checks.room.plans import Edges, Plans
from pipeline.products.facts import Facts
from pipeline.products.map_codes import LARGE
from pipeline.products.map_lines import EDGE, NOT_ASKED, TOLERANCE_M, outline, plans
from pipeline.products.plan_view import cut
from pipeline.terms import Part
from tests.products.ground_worlds import without_ground
from tests.products.room_worlds import SPOTS, gap_of
from tests.products.worlds import HOSTILE, hostile_facts, make_facts, many_segments

FACTS = make_facts()
CM = 0.0051
"""What rounding to whole centimetres leaves, m."""


def _index(facts: Facts) -> dict[str, int]:
    return {name: row for row, name in enumerate(facts.segments["segment_id"])}


def _coded(facts: Facts = FACTS) -> dict[str, Any]:
    return plans(facts, _index(facts))


def _rows(facts: Facts = FACTS) -> list[list[Any]]:
    """All rows in the order of the table: the world's table goes by segment."""
    return [row for own in _coded(facts)["rows"] for row in own]


def _points(steps: list[int]) -> np.ndarray[Any, Any]:
    return np.cumsum(np.array(steps).reshape(-1, 2), axis=0) / 100


def _held(facts: Facts = FACTS) -> Plans:
    assert facts.plans is not None
    return facts.plans


def test_every_place_comes_back() -> None:
    """Set-up, direction, number, chainage, missing width, reverse and the advice, word for word."""
    coded = _coded()
    assert [len(own) for own in coded["rows"]] == [3, 2, 1, 0, 0]
    for row, spot, told in zip(_rows(), SPOTS, FACTS.lines.itertuples(), strict=True):
        key, number, at, *_, missing, shunt, saying, figures = row
        assert key == 2 * spot.setup + (spot.direction.value == "against")
        assert (number, at / 10, missing / 1000) == (spot.place, spot.at_m, spot.missing_m)
        assert shunt == (NOT_ASKED if spot.shunt is None else int(spot.shunt))
        pieces, values = coded["sayings"][saying], figures.split(" ") if figures else []
        assert "".join(piece + (values[i] if i < len(values) else "") for i, piece in enumerate(pieces)) == told.advice


def test_the_origin_and_the_frame_lead_back_to_the_world() -> None:
    """The way on the map, by the affine of the page, lies within 2 cm of the way of the table."""
    frame = np.array(_coded()["frame"]) / 1e12
    back = Transformer.from_crs("EPSG:4326", FACTS.crs, always_xy=True)
    for row, line in zip(_rows(), FACTS.lines.geometry, strict=True):
        x, y = _points(row[5]).T
        lon, lat = row[3] / 1e7 + x * frame[0] + y * frame[2], row[4] / 1e7 + x * frame[1] + y * frame[3]
        way = LineString(np.column_stack(back.transform(lon, lat)))
        assert way.hausdorff_distance(line) < 0.02 + TOLERANCE_M


def test_poses_come_back() -> None:
    """To a centimetre and a tenth of a degree; the tightest is the origin."""
    for place, row in enumerate(_rows()):
        one = cut(_held(), place, FACTS.envelopes[SPOTS[place].setup])
        found = np.cumsum(np.array(row[6]).reshape(-1, 5), axis=0) / [100, 100, 10, 10, 10]
        assert found[:, :2] == pytest.approx(one.poses[:, :2], abs=CM)
        assert np.cos(np.radians(found[:, 2:])) == pytest.approx(np.cos(one.poses[:, 2:]), abs=1e-3)
        assert found[:, 2:] == pytest.approx(np.degrees(one.poses[:, 2:]), abs=0.051)
        assert row[7] == one.tightest


def test_what_is_nearest_comes_back() -> None:
    """Gap to a millimetre, the part, the thing with its sign and its chainage; the edge of the trail has no name."""
    coded = _coded()
    for row, spot in zip(_rows(), SPOTS, strict=True):
        for side, found in enumerate(row[8]):
            wanted = [beside for beside in spot.besides if beside.side == side]
            assert (found is None) == (not wanted)
            if found is None:
                continue
            gap, part, thing, at = found[5:]
            assert gap / 1000 == pytest.approx(gap_of(spot, wanted[0], FACTS.envelopes[spot.setup]), abs=5.1e-4)
            assert coded["parts"][part] == wanted[0].part
            assert at / 10 == wanted[0].at_m
            name = {"o4": ("R", "rock"), "o5": ("L", "log")}
            assert (thing == EDGE) == (wanted[0].thing is None)
            assert wanted[0].thing is None or coded["things"][thing] == name[wanted[0].thing]


def test_shapes_and_edges_come_back() -> None:
    """Ends, radius and lowest point to a centimetre; an edge a known side."""
    held = _held()
    for place, (row, spot) in enumerate(zip(_rows(), SPOTS, strict=True)):
        one = cut(held, place, FACTS.envelopes[spot.setup])
        for shape, coded in zip(one.shapes, row[9], strict=True):
            own = held.shapes
            ends = np.array([own.ax[shape], own.ay[shape], own.bx[shape], own.by[shape]]) - np.tile(one.origin, 2)
            assert np.array(coded[:6]) / 100 == pytest.approx([*ends, own.radius[shape], own.low[shape]], abs=CM)
        known = [side for side in (0, 1) if np.isfinite(spot.half_m[side])]
        assert [side for side, _, _ in row[10]] == known
        assert all(whole == int(spot.whole) for _, whole, _ in row[10])
        for side, _, steps in row[10]:
            assert LineString(_points(steps)).hausdorff_distance(LineString(one.edges[side])) < 2 * CM + TOLERANCE_M


def test_an_edge_that_is_not_known_everywhere_is_cut() -> None:
    """Nothing is drawn across the gap, and a single point makes no stretch."""
    held = _held()
    x = held.edges.x.copy()
    x[20:23, 0] = np.nan
    x[:44, 1] = np.nan
    x[20, 1] = held.edges.x[20, 1]
    torn = replace(held, edges=Edges(x, held.edges.y, held.edges.whole))
    rows = _rows(replace(FACTS, plans=torn))
    assert [side for side, _, _ in rows[0][10]] == [0, 0, 1]


def test_headings_do_not_jump_at_the_full_turn() -> None:
    """From 179° to −179° is a step of 2°."""
    held = _held()
    heading = held.ways.heading.copy()
    own = slice(held.ways.offsets[0], held.ways.offsets[1])
    swing = np.linspace(-0.2, 0.2, own.stop - own.start) + np.pi
    heading[own] = np.arctan2(np.sin(swing), np.cos(swing))
    rows = _rows(replace(FACTS, plans=replace(held, ways=replace(held.ways, heading=heading))))
    turns = np.array(rows[0][6]).reshape(-1, 5)[1:, 2]
    assert np.abs(turns).max() < 30


def test_outlines_are_the_parts_in_millimetres() -> None:
    """Wheels first, in the order of the kernels; the body as wide and as long as the envelope says."""
    for own in FACTS.envelopes:
        boxes = outline(own)
        assert [box[0] for box in boxes[:4]] == [Part.WHEEL] * 4
        body = next(box for box in boxes if box[0] == Part.SILL)
        assert body[1:5] == [
            round(-1000 * own.length_rear_m),
            round(1000 * (own.wheelbase_m + own.length_front_m)),
            round(-500 * own.width_m),
            round(500 * own.width_m),
        ]
        mirrors = [box for box in boxes if box[0] == Part.MIRROR]
        assert max(box[4] for box in mirrors) == pytest.approx(500 * own.width_mirrors_m, abs=1)


def test_a_place_takes_less_than_half_a_kilobyte() -> None:
    """What a page can afford for every tight place of every set-up."""
    sizes = [len(json.dumps(row, separators=(",", ":"))) for row in _rows()]
    assert max(sizes) < 600
    assert np.mean(sizes) < 500


def test_large_networks_leave_plans_out_and_say_so() -> None:
    """One sentence instead."""
    facts = many_segments(LARGE + 1)
    coded = plans(facts, _index(facts))
    assert not any(coded["rows"])
    assert "lines.parquet" in coded["note"]
    assert _coded()["note"] == ""


def test_a_build_without_plans_carries_none() -> None:
    """And no note: nothing was left out. A site without segments has no frame to speak of."""
    coded = _coded(without_ground(FACTS))
    assert not any(coded["rows"])
    assert coded["note"] == ""
    empty = replace(without_ground(FACTS), segments=FACTS.segments.iloc[:0])
    assert plans(empty, {})["frame"] == [0, 0, 0, 0]


def test_hostile_names_are_cleaned() -> None:
    """Names of things and the advice come as text for the page."""
    facts = hostile_facts()
    coded = _coded(facts)
    assert all("\x07" not in name and "\u2028" not in name for _, name in coded["things"])
    assert any("log" in name for _, name in coded["things"])
    assert len(_rows(facts)) == len(SPOTS)
    assert HOSTILE[1][5:] in "".join(coded["sayings"][0])
