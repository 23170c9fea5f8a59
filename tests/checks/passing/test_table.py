"""The table of the ways past things."""

import math

import pytest

from pipeline.checks.passing.table import passings_table
from pipeline.checks.prepared import prepare
from pipeline.tables import PASSINGS, validate
from tests.checks.passing.worlds import thing
from tests.checks.worlds import LIMITS, envelope, site_on, straight
from tests.worlds import plane

THINGS = (
    thing(height_m=0.13, offset_m=0.6, obstacle_id="low"),
    thing(height_m=0.16, offset_m=0.8, width_m=0.4, obstacle_id="side", chainage_m=20.0),
    thing("hole", height_m=-0.4, obstacle_id="pit", chainage_m=40.0),
    thing(height_m=0.6, width_m=2.0, obstacle_id="wall", chainage_m=50.0),
    thing("tree", obstacle_id="tree"),
    thing(offset_m=2.5, obstacle_id="beside"),
)


def table(width_m: float = 3.2) -> object:
    """Make the table of two set-ups."""
    site = site_on(straight(obstacles=THINGS, width_m=width_m), plane())
    prepared = prepare(site, [envelope(), envelope(setup="narrow", width_m=1.2, width_mirrors_m=1.3)], LIMITS)
    return validate(passings_table(prepared), PASSINGS).set_index(["obstacle_id", "setup", "direction"])


def test_a_row_for_what_is_in_the_way_of_each() -> None:
    """Neither a tree nor a rock beside the trail; both set-ups, both directions."""
    found = table()
    assert sorted(set(found.index.get_level_values(0))) == ["low", "pit", "side", "wall"]
    assert len(found) == 2 * 2 * 4


def test_columns_are_those_of_the_driver() -> None:
    """Shift and wheels change sides with the direction; room and speed stand where they mean something."""
    found = table()
    low, back = found.loc[("low", "box", "with")], found.loc[("low", "box", "against")]
    assert (low["passing"], low["shift_m"], back["shift_m"]) == ("straddle", 0.325, -0.325)
    assert low["spare_m"] == pytest.approx(0.07)
    assert low["wheels"] is None or math.isnan(low["wheels"])
    side, other = found.loc[("side", "box", "with")], found.loc[("side", "box", "against")]
    assert (side["passing"], side["wheels"], other["wheels"]) == ("tread", "right", "left")
    assert side["speed_kmh"] > 0.5
    assert 0.05 < side["spare_m"] < 0.2
    assert found.loc[("pit", "box", "with"), "spare_m"] == pytest.approx(1.05 - 0.5)
    wall = found.loc[("wall", "box", "with")]
    assert wall["passing"] == "barred"
    assert wall[["shift_m", "spare_m", "speed_kmh"]].isna().all()


def test_places_and_sentences() -> None:
    """Chainage of the thing, and a sentence that begins with the way past it."""
    found = table()
    assert found["at_m"].loc["side"].tolist() == [20.0] * 4
    for _, row in found.iterrows():
        assert row["reason"].startswith(row["passing"])


def test_nothing_in_the_way_makes_an_empty_table() -> None:
    """It fits its contract, as does that of no set-ups."""
    site = site_on(straight(), plane())
    assert validate(passings_table(prepare(site, [envelope()], LIMITS)), PASSINGS).empty
    assert validate(passings_table(prepare(site, [], LIMITS)), PASSINGS).empty
