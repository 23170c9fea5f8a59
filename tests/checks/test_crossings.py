"""Water of the elevation model matched with surveyed water and tagged fords."""

from collections.abc import Mapping, Sequence
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

from pipeline.checks.crossings import crossings_table
from pipeline.survey.model import Network
from pipeline.tables import CROSSINGS, validate
from pipeline.terrain.drainage import measure_drainage
from pipeline.terrain.drainage_model import Drainage, FlowCrossings
from pipeline.terrain.model import Terrain, TerrainParameters
from tests.worlds import Grid, Surface, at, network_of, plane, surface_terrain, write_elevation

LINES = {"a": at((0.0, 0.0), (100.0, 0.0)), "b": at((0.0, 50.0), (100.0, 50.0))}
BLANK: dict[str, Any] = {
    "row": 0,
    "at_m": 50.0,
    "from_m": None,
    "to_m": None,
    "x": 0.0,
    "y": 0.0,
    "hollow": False,
    "catchment_m2": 30_000.0,
    "least": False,
    "hollow_m": 0.0,
    "dammed_m": 0.0,
}


def network(waters: Sequence[Mapping[str, Any]] = (), **columns: object) -> Network:
    """Lay two trails, with surveyed water on them."""
    rows = [{"kind": "water", "segment_id": "a", **one} for one in waters]
    return network_of(LINES, obstacles=rows, obstacles_surveyed=True, **columns)


def terrain(over: Network, *places: Mapping[str, Any], known: Sequence[bool] = (True, True)) -> Terrain:
    """Lay places where the elevation model shows water."""
    rows = [{**BLANK, **place} for place in places]
    rows = [{**row, "from_m": row["from_m"] or row["at_m"], "to_m": row["to_m"] or row["at_m"]} for row in rows]
    kinds = {"row": np.int64, "hollow": np.bool_, "least": np.bool_}
    crossings = FlowCrossings(
        *(np.array([row[f.name] for row in rows], dtype=kinds.get(f.name, np.float64)) for f in fields(FlowCrossings))
    )
    twi = np.where(known, 6.0, np.nan)
    return replace(
        surface_terrain(over, plane()), drainage=Drainage(3.0, twi, twi, 5.0, twi * 0.0, twi * 0.0, crossings)
    )


def rows_of(over: Network, *places: Mapping[str, Any], columns: Sequence[str]) -> list[list[Any]]:
    """Give some columns of the table, missing values as ``None``."""
    table = validate(crossings_table(over, terrain(over, *places)), CROSSINGS)
    return [[None if pd.isna(value) else value for value in row] for row in table[list(columns)].to_numpy(object)]


WHAT = ("segment_id", "at_m", "kind", "obstacle_id", "apart_m", "depth_m")


def test_water_near_a_flow_path_is_the_same_water() -> None:
    """Up to 15 m apart along the trail; beyond, they are two."""
    near = network([{"obstacle_id": "o1", "chainage_m": 64.0, "depth_m": 0.3}])
    assert rows_of(near, {}, columns=WHAT) == [["a", 50.0, "flow path", "o1", 14.0, 0.3]]
    far = network([{"obstacle_id": "o1", "chainage_m": 66.0, "depth_m": 0.3}])
    assert rows_of(far, {}, columns=WHAT) == [
        ["a", 50.0, "flow path", None, None, None],
        ["a", 66.0, "surveyed only", "o1", None, 0.3],
    ]


def test_the_length_of_the_water_and_the_stretch_of_the_path_count() -> None:
    """The gap between the two stretches decides, not that between their middles."""
    long = network([{"obstacle_id": "o1", "chainage_m": 90.0, "depth_m": 0.3, "length_m": 20.0}])
    assert rows_of(long, {"to_m": 66.0}, columns=WHAT) == [["a", 50.0, "flow path", "o1", 40.0, 0.3]]
    assert len(rows_of(long, {"to_m": 64.0}, columns=WHAT)) == 2


def test_each_water_is_matched_once_and_the_nearest_first() -> None:
    """Two paths, two waters between them: 3 m apart first, whatever is left then."""
    two = network(
        [{"obstacle_id": "o1", "chainage_m": 53.0}, {"obstacle_id": "o2", "chainage_m": 55.0, "depth_m": 0.2}]
    )
    assert rows_of(two, {"at_m": 50.0}, {"at_m": 60.0}, columns=WHAT) == [
        ["a", 50.0, "flow path", "o1", 3.0, None],
        ["a", 60.0, "flow path", "o2", 5.0, 0.2],
    ]
    one = network([{"obstacle_id": "o1", "chainage_m": 56.0}])
    assert [row[3] for row in rows_of(one, {"at_m": 50.0}, {"at_m": 60.0}, columns=WHAT)] == [None, "o1"]


def test_water_of_another_segment_is_other_water() -> None:
    """The same chainage on another trail."""
    other = network([{"obstacle_id": "o1", "segment_id": "b", "chainage_m": 50.0}])
    assert [row[:4] for row in rows_of(other, {}, columns=WHAT)] == [
        ["a", 50.0, "flow path", None],
        ["b", 50.0, "surveyed only", "o1"],
    ]


def test_only_water_is_matched() -> None:
    """A rock beside the stream is no ford."""
    rock = network([{"obstacle_id": "o1", "chainage_m": 50.0, "kind": "rock"}])
    assert rows_of(rock, {}, columns=WHAT) == [["a", 50.0, "flow path", None, None, None]]


def test_the_tag_of_a_ford_means_the_surveyed_water() -> None:
    """It gives the depth that nobody measured; the other path on the segment stays what it is."""
    tagged = network([{"obstacle_id": "o1", "chainage_m": 52.0}], ford={"a": True}, depth_m={"a": 0.4})
    got = rows_of(tagged, {}, {"at_m": 90.0, "catchment_m2": 90_000.0}, columns=(*WHAT, "reason"))
    assert [row[:6] for row in got] == [
        ["a", 50.0, "flow path", "o1", 2.0, 0.4],
        ["a", 90.0, "flow path", None, None, None],
    ]
    assert "by the tag" in got[0][6]


def test_without_surveyed_water_it_means_the_largest_flow_path() -> None:
    """Not a hollow, however large; only on its own segment."""
    tagged = network(ford={"a": True}, depth_m={"a": 0.4})
    places = (
        {"at_m": 20.0},
        {"at_m": 40.0, "catchment_m2": 50_000.0},
        {"at_m": 70.0, "catchment_m2": 90_000.0, "hollow": True, "hollow_m": 0.5},
        {"row": 1, "at_m": 10.0, "catchment_m2": 99_000.0},
    )
    got = rows_of(tagged, *places, columns=("segment_id", "at_m", "kind", "depth_m", "hollow_m"))
    assert got == [
        ["a", 20.0, "flow path", None, None],
        ["a", 40.0, "flow path", 0.4, None],
        ["a", 70.0, "hollow", None, 0.5],
        ["b", 10.0, "flow path", None, None],
    ]


def test_a_tagged_ford_that_the_model_does_not_show_has_a_row() -> None:
    """In the middle of the segment: nobody says where it is."""
    tagged = network(ford={"b": True}, depth_m={"b": 0.4})
    assert rows_of(tagged, columns=WHAT) == [["b", 50.0, "surveyed only", None, None, 0.4]]
    pool = {"row": 1, "at_m": 70.0, "hollow": True, "hollow_m": 0.5}
    assert [row[1:3] for row in rows_of(tagged, pool, columns=WHAT)] == [[50.0, "surveyed only"], [70.0, "hollow"]]


def test_two_waters_at_one_chainage_are_two_rows() -> None:
    """A millimetre apart, so that the key holds."""
    twice = network([{"obstacle_id": "o1", "chainage_m": 80.0}, {"obstacle_id": "o2", "chainage_m": 80.0}])
    assert [row[1] for row in rows_of(twice, columns=WHAT)] == [80.0, pytest.approx(80.001)]


def test_rows_lie_on_the_trail() -> None:
    """The geometry is the point of the line at the chainage."""
    over = network([{"obstacle_id": "o1", "chainage_m": 80.0}])
    table = crossings_table(over, terrain(over, {"row": 1, "at_m": 30.0}))
    points = [(x, y) for x, y in zip(table.geometry.x, table.geometry.y, strict=True)]
    assert points == at((80.0, 0.0), (30.0, 50.0))
    assert table.crs == over.crs


def test_nothing_at_all_is_an_empty_table() -> None:
    """No model, no water, no tag."""
    over = network()
    assert len(validate(crossings_table(over, surface_terrain(over, plane())), CROSSINGS)) == 0


def test_without_an_elevation_model_the_survey_still_stands() -> None:
    """And the sentence says that no model has heights there."""
    over = network([{"obstacle_id": "o1", "chainage_m": 80.0, "depth_m": 0.2}])
    table = crossings_table(over, surface_terrain(over, plane()))
    assert table["kind"].tolist() == ["surveyed only"]
    assert table["reason"].tolist() == ["surveyed as water o1, 0.20 m deep; no elevation model has heights there"]
    unknown = crossings_table(over, terrain(over, known=(False, True)))
    assert unknown["reason"].tolist() == table["reason"].tolist()


def test_from_the_file_to_the_sentence(tmp_path: Path) -> None:
    """A valley of 0.7 ha above a tagged and surveyed ford."""
    valley = Surface(
        height=lambda x, y: 100.0 + 0.1 * np.abs(x - 500_060.0) + 0.02 * (y - 5_400_000.0), gradient=plane().gradient
    )
    path = write_elevation(tmp_path / "valley.tif", valley, Grid(width=120, height=120))
    over = network_of(
        {"a": at((10.0, 60.0), (110.0, 60.0))},
        obstacles=[{"obstacle_id": "o1", "kind": "water", "segment_id": "a", "chainage_m": 52.0, "depth_m": 0.25}],
        surveyed_on="2026-04-01",
    )
    parameters = TerrainParameters(elevation=(path,), stream_catchment_m2=2000.0)
    table = crossings_table(over, measure_drainage(over, surface_terrain(over, plane()), parameters))
    assert table["obstacle_id"].tolist() == ["o1"]
    assert table["apart_m"][0] == pytest.approx(2.0, abs=3.0)
    assert table["reason"][0].startswith("a flow path of at least 0.7")
