"""Techniques of surveyed things."""

import numpy as np
import pandas as pd
import pytest

from pipeline.survey.model import Network
from pipeline.technique.settings import Techniques
from pipeline.technique.things import things
from tests.technique.worlds import techniques
from tests.worlds import at, network_of

Row = dict[str, object]


def world(*obstacles: Row, **columns: object) -> Network:
    """Two segments of 60 m; obstacles lie on ``a`` at 30 m unless they say otherwise."""
    blank: Row = {"segment_id": "a", "chainage_m": 30.0, "offset_m": 0.0}
    lines = {"a": at((0, 0), (60, 0)), "b": at((0, 20), (60, 20))}
    return network_of(lines, obstacles=[{**blank, **row} for row in obstacles], **columns)


def forward(network: Network, settings: Techniques | None = None) -> pd.DataFrame:
    """Find the things in the with direction."""
    found = things(network, settings or techniques())
    return found[found["direction"] == "with"].reset_index(drop=True)


@pytest.mark.parametrize(
    ("obstacle", "technique", "size", "intensity"),
    [
        ({"kind": "rock", "height_m": 0.25}, "rock", 0.25, 0.5),
        ({"kind": "log", "height_m": 0.40}, "log", 0.40, 1.0),
        ({"kind": "step", "height_m": -0.25}, "rock", 0.25, 0.5),
        ({"kind": "hole", "height_m": -0.45}, "cross-axle", 0.45, 1.0),
        ({"kind": "ditch", "height_m": -0.30}, "dip", 0.30, 0.5),
        ({"kind": "rut", "height_m": -0.225}, "ruts", 0.225, 0.5),
        ({"kind": "gap", "clear_width_m": 2.65}, "gap", 2.65, 0.5),
        ({"kind": "branch", "clear_height_m": 2.4}, "overhead", 2.4, 0.5),
        ({"kind": "water", "depth_m": 0.275}, "water", 0.275, 0.5),
        ({"kind": "soft", "length_m": 16.5}, "soft ground", 16.5, 0.5),
    ],
)
def test_kind_size_and_intensity(obstacle: Row, technique: str, size: float, intensity: float) -> None:
    """Each kind has its technique, its size from its own column, and an intensity linear between the thresholds."""
    (row,) = forward(world(obstacle)).to_dict("records")
    assert (row["technique"], row["key"]) == (technique, f"thing {obstacle['kind']}")
    assert row["size"] == pytest.approx(size)
    assert row["intensity"] == pytest.approx(intensity)


def test_things_keep_their_ids() -> None:
    """A surveyed thing can be found again; a gap between two trunks or a tagged ford is none."""
    trunks = [{"kind": "tree", "offset_m": side, "width_m": 0.3} for side in (-1.2, 1.2)]
    found = forward(world({"kind": "rock", "height_m": 0.3, "obstacle_id": "R7"}, *trunks, ford=True))
    named = dict(zip(found["key"], found["thing"], strict=True))
    assert named["thing rock"] == "R7"
    assert pd.isna(named["thing gap"])
    assert pd.isna(named["thing water"])


def test_thing_counts_the_same_both_ways() -> None:
    """Two rows a thing, equal but for the direction; a step up is a step down the other way."""
    found = things(world({"kind": "rock", "height_m": 0.3}, {"kind": "step", "height_m": 0.2}), techniques())
    assert sorted(found["direction"]) == ["against", "against", "with", "with"]
    steps = found[found["key"] == "thing step"].set_index("direction")["side"]
    assert steps.to_dict() == {"with": 1, "against": -1}
    assert found[found["key"] == "thing rock"]["side"].tolist() == [0, 0]


@pytest.mark.parametrize(
    "obstacle",
    [
        {"kind": "rock", "height_m": 0.05},
        {"kind": "gap", "clear_width_m": 3.5},
        {"kind": "branch", "clear_height_m": 3.0},
        {"kind": "water", "depth_m": 0.02},
        {"kind": "rock", "height_m": 0.5, "offset_m": 3.0},
        {"kind": "rock", "height_m": 0.5, "offset_m": -3.0, "width_m": 1.0},
        {"kind": "tree"},
        {"kind": "trailhead"},
        {"kind": "note"},
    ],
)
def test_what_exercises_nothing(obstacle: Row) -> None:
    """Small things, wide gaps, things beside the trail, lone trees and places are no techniques."""
    assert forward(world(obstacle)).empty


def test_edge_decides_what_lies_beside_the_trail() -> None:
    """A rock of 2.4 m across whose middle is 3 m off still reaches the wheels; water is always across."""
    assert len(forward(world({"kind": "rock", "height_m": 0.3, "offset_m": 3.0, "width_m": 2.4}))) == 1
    assert len(forward(world({"kind": "water", "depth_m": 0.3, "offset_m": 3.0}))) == 1
    assert len(forward(world({"kind": "rock", "height_m": 0.3, "offset_m": None}))) == 1


def test_unknown_size_counts_with_the_intensity_of_the_settings() -> None:
    """A thing whose size was not surveyed is not left out."""
    (row,) = forward(world({"kind": "water"})).to_dict("records")
    assert np.isnan(row["size"])
    assert row["intensity"] == 0.5


def test_extent_along_the_trail() -> None:
    """Length is laid around the chainage and cut at the segment's ends; soft ground and ruts count by the metre."""
    found = forward(
        world(
            {"kind": "soft", "length_m": 20.0, "chainage_m": 5.0},
            {"kind": "rut", "height_m": -0.2, "length_m": 12.0},
            {"kind": "rut", "height_m": -0.2, "chainage_m": 50.0},
            {"kind": "log", "height_m": 0.2, "length_m": 0.4},
        )
    )
    assert found[["from_m", "to_m", "amount"]].to_numpy().tolist() == [
        [0.0, 15.0, 15.0],
        [24.0, 36.0, 12.0],
        [50.0, 50.0, 1.0],
        [29.8, 30.2, 1.0],
    ]


def trunk(offset: float, chainage: float, width: float = 0.4, kind: str = "tree", segment: str = "a") -> Row:
    """Make a tree or post."""
    return {"kind": kind, "offset_m": offset, "chainage_m": chainage, "width_m": width, "segment_id": segment}


def test_trunks_left_and_right_make_a_gap() -> None:
    """Two trunks 2.6 m apart across, each 0.4 m thick, leave 2.2 m, between their chainages."""
    (row,) = forward(world(trunk(-1.4, 30.0), trunk(1.2, 31.0, kind="post"))).to_dict("records")
    assert row["technique"] == "gap"
    assert row["size"] == pytest.approx(1.4 + 1.2 - 0.4)
    assert (row["from_m"], row["to_m"]) == (30.0, 31.0)
    assert row["intensity"] == pytest.approx((3.2 - 2.2) / (3.2 - 2.1))


@pytest.mark.parametrize(
    "trunks",
    [
        (trunk(-1.2, 30.0), trunk(-1.4, 30.5)),
        (trunk(-1.2, 30.0), trunk(1.2, 32.5)),
        (trunk(-1.2, 30.0), trunk(1.2, 30.0, segment="b")),
        (trunk(-2.2, 30.0), trunk(2.2, 30.0)),
        ({"kind": "tree", "offset_m": None}, trunk(1.2, 30.0)),
    ],
)
def test_trunks_that_make_no_gap(trunks: tuple[Row, ...]) -> None:
    """Same side, too far along the trail, on another segment, wide apart, or without a side."""
    assert forward(world(*trunks)).empty


def test_each_trunk_pairs_with_the_nearest_one() -> None:
    """Of three posts on the right the one nearest along the trail makes the gap."""
    found = forward(world(trunk(-1.0, 30.0), trunk(1.0, 28.6), trunk(1.3, 30.2), trunk(1.0, 31.9)))
    assert found["size"].tolist() == pytest.approx([1.0 + 1.3 - 0.4])


def test_tagged_ford_is_water_over_its_segment() -> None:
    """A ford known by its tag alone is one crossing of the tagged depth, unless the water was surveyed."""
    network = world(ford={"a": True, "b": True}, depth_m={"b": 0.5})
    found = forward(network)
    assert found[["row", "from_m", "to_m", "amount"]].to_numpy().tolist() == [[0, 0.0, 60.0, 1.0], [1, 0.0, 60.0, 1.0]]
    assert found["intensity"].tolist() == [0.5, 1.0]
    surveyed = forward(world({"kind": "water", "depth_m": 0.3}, ford={"a": True}))
    assert surveyed["from_m"].tolist() == [30.0]


def test_things_without_a_place_on_a_segment_are_left_out() -> None:
    """An obstacle that lies on no segment exercises nothing; no obstacles at all is no fault."""
    lost = world({"kind": "rock", "height_m": 0.3})
    obstacles = lost.obstacles.assign(segment_id=pd.Series([None], dtype="str"))
    assert things(
        Network(lost.segments, lost.nodes, obstacles, lost.repairs, lost.crs, 0, obstacles_surveyed=True), techniques()
    ).empty
    assert things(world(), techniques()).empty


def test_kinds_that_the_settings_leave_out_exercise_nothing() -> None:
    """Without gaps in the settings trunks make none."""
    settings = techniques()
    fewer = settings.model_copy(update={"things": {k: v for k, v in settings.things.items() if k != "gap"}})
    assert forward(world(trunk(-1.2, 30.0), trunk(1.2, 30.0)), fewer).empty
