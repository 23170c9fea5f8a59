"""The line past every tight place as a table."""

import dataclasses

import numpy as np
import pandas as pd

from pipeline.checks.prepared import Prepared, prepare
from pipeline.checks.room.found import TightPlaces
from pipeline.checks.room.table import lines_table
from pipeline.kernels.plan_records import EDGE, NOTHING
from pipeline.tables import LINES, validate
from pipeline.terms import Part
from tests.checks.room.hand_made import places_of, room_of, straight_line
from tests.checks.worlds import LIMITS, envelope, site_on, straight
from tests.worlds import at, network_of, plane

OAK = {"kind": "tree", "obstacle_id": "oak", "segment_id": "s", "chainage_m": 20.0, "offset_m": -1.3}


def prepared_with(*places: TightPlaces) -> Prepared:
    """Prepare as many set-ups as there are rooms, on a straight trail with a tree, and put the rooms in."""
    site = site_on(straight(obstacles=[OAK]), plane())
    setups = [envelope(setup=f"box {k}") for k in range(len(places))]
    rooms = tuple(room_of(places=one) for one in places)
    return dataclasses.replace(prepare(site, setups, LIMITS), rooms=rooms)


def test_a_row_says_what_the_place_says() -> None:
    """Sides by name, parts in words, things by id, an edge without one; the words of the driver."""
    place = {
        "thing": (0, EDGE),
        "gap_m": (0.2, 0.3),
        "part": (Part.ROOF, Part.WHEEL),
        "body_x_m": (-1.2, -2.8),
        "offset_m": 0.25,
        "gap_at_m": (20.0, 23.0),
        "swept_m": 2.2,
        "offtracking_m": 0.1,
        "tail_swing_m": 0.02,
        "lock_share": 0.6,
    }
    table = validate(lines_table(prepared_with(places_of(place))), LINES)
    (row,) = table.to_dict("records")
    assert (row["segment_id"], row["setup"], row["direction"], row["place"]) == ("s", "box 0", "with", 1)
    assert (row["from_m"], row["to_m"], row["at_m"], row["offset_m"]) == (14.0, 26.0, 20.0, 0.25)
    assert (row["left_m"], row["left_part"], row["left_x_m"], row["left_at_m"]) == (0.2, "roof", -1.2, 20.0)
    assert (row["right_m"], row["right_part"], row["right_x_m"], row["right_at_m"]) == (0.3, "wheel", -2.8, 23.0)
    assert row["left_thing"] == "oak"
    assert pd.isna(row["right_thing"])
    assert (row["swept_width_m"], row["offtracking_m"], row["tail_swing_m"]) == (2.2, 0.1, 0.02)
    assert (row["lock_share"], row["missing_m"]) == (0.6, 0.0)
    assert pd.isna(row["shunt"])
    assert row["advice"].startswith("hold the right edge past tree oak on the left: 0.20 m at the left of the roof, ")


def test_the_way_is_that_of_the_front_axle_in_travel() -> None:
    """From where it begins to where it ends, also against the digitised direction; coordinates to the millimetre."""
    against = {"direction": 1, "line": straight_line(first_m=26.0, way=1)}
    table = lines_table(prepared_with(places_of({}, against)))
    there, back = (np.array(line.coords) for line in table.geometry)
    assert there[[0, -1], 0].tolist() == [500_016.8, 500_028.8]
    assert np.allclose(back[[0, -1], 0], [500_023.2, 500_011.2], rtol=0.0, atol=1e-3)
    assert table["direction"].tolist() == ["with", "against"]


def test_a_side_without_anything_is_missing() -> None:
    """No gap, no part, no place."""
    blank = (np.nan, 0.2)
    place = {"thing": (NOTHING, 0), "gap_m": blank, "part": (-1, 0), "body_x_m": blank, "gap_at_m": (np.nan, 20.0)}
    (row,) = lines_table(prepared_with(places_of(place))).to_dict("records")
    assert all(pd.isna(row[f"left_{name}"]) for name in ("m", "part", "x_m", "at_m", "thing"))
    assert row["right_thing"] == "oak"


def test_places_are_counted_by_segment_and_direction() -> None:
    """From 1 in the order of travel."""
    network = network_of({name: at((0, y), (60, y)) for name, y in (("a", 0.0), ("b", 9.0))}, width_m=3.0)
    prepared = prepare(site_on(network, plane()), [envelope()], LIMITS)
    rows = [{"row": row, "direction": way} for row, way in ((0, 0), (0, 0), (0, 1), (1, 0), (1, 1), (1, 1), (1, 1))]
    room = room_of(2, places=places_of(*rows))
    table = lines_table(dataclasses.replace(prepared, rooms=(room,)))
    assert table["place"].tolist() == [1, 2, 1, 1, 1, 2, 3]
    assert table["segment_id"].tolist() == ["a", "a", "a", "b", "b", "b", "b"]


def test_set_ups_in_order_and_shunts_as_asked() -> None:
    """Missing where it passes, else whether one reverse would do it; a set-up without a tight place has no row."""
    short = [{"missing_m": 0.3, "gap_m": (0.0, 0.0), "shunt": shunt} for shunt in (1, 0)]
    table = lines_table(prepared_with(places_of({}, *short), places_of(), places_of({})))
    assert table["setup"].tolist() == ["box 0"] * 3 + ["box 2"]
    assert [None if pd.isna(one) else bool(one) for one in table["shunt"]] == [None, True, False, None]


def test_no_tight_place_is_an_empty_table() -> None:
    """With the columns of the contract and the CRS of the network."""
    table = validate(lines_table(prepared_with(places_of())), LINES)
    assert table.empty
    assert table.crs == site_on(straight(), plane()).network.crs
    nobody = prepare(site_on(straight(), plane()), [], LIMITS)
    assert lines_table(nobody).empty
