"""The inventory as a table."""

import numpy as np
import pandas as pd

from pipeline.tables import TECHNIQUES, validate
from pipeline.technique.inventory import detailed_table, technique_table
from tests.technique.worlds import techniques
from tests.worlds import ORIGIN, at, network_of, plane, ramp, sine_hills, surface_terrain

LINES = {"b": at((0, 0), (60, 0)), "a": at((0, 20), (60, 25))}
ROCK = {"kind": "rock", "segment_id": "a", "chainage_m": 25.0, "height_m": 0.3, "offset_m": 0.1, "name": "Anvil"}


def test_table_fits_its_contract_and_order() -> None:
    """Rows stand in the order of segments, direction and place; the contract holds."""
    network = network_of(LINES, obstacles=[ROCK])
    table = technique_table(network, surface_terrain(network, ramp(ORIGIN[0] + 20, 0.3, 20.0)), techniques())
    validate(table, TECHNIQUES)
    assert list(dict.fromkeys(table["segment_id"])) == ["b", "a"]
    of_a = table[table["segment_id"] == "a"]
    assert list(dict.fromkeys(of_a["direction"])) == ["with", "against"]
    assert of_a[of_a["direction"] == "with"]["from_m"].is_monotonic_increasing
    assert set(table["technique"]) == {"climb", "descent", "crest", "dip", "rock"}


def test_extents_and_intensities_stay_in_range() -> None:
    """On rough hills no chainage leaves its segment and no intensity leaves 0 to 1."""
    network = network_of({"a": at((0, 0), (80, 35)), "b": at((0, 60), (70, 5))})
    table = technique_table(network, surface_terrain(network, sine_hills(25.0, 2.0)), techniques())
    length = table["segment_id"].map(network.segments.set_index("segment_id")["length_m"])
    assert len(table) > 20
    assert (table["from_m"] >= 0.0).all()
    assert (table["to_m"] <= length + 1e-9).all()
    assert (table["from_m"] <= table["to_m"]).all()
    assert table["intensity"].between(0.0, 1.0).all()
    assert (table["amount"] > 0.0).all()


def test_reversed_line_mirrors_the_inventory() -> None:
    """Digitising a segment the other way round swaps the directions and mirrors the chainages."""
    line = at((0, 0), (80, 35))
    tables = []
    for points in (line, line[::-1]):
        network = network_of({"a": points})
        tables.append(technique_table(network, surface_terrain(network, sine_hills(25.0, 2.0)), techniques()))
    length = float(np.hypot(80, 35))
    mirrored = tables[1].assign(
        direction=tables[1]["direction"].map({"with": "against", "against": "with"}),
        from_m=length - tables[1]["to_m"],
        to_m=length - tables[1]["from_m"],
    )
    order = ["direction", "technique", "from_m"]
    first, second = (table.sort_values(order, ignore_index=True) for table in (tables[0], mirrored))
    assert first["technique"].tolist() == second["technique"].tolist()
    columns = ["from_m", "to_m", "intensity", "amount"]
    np.testing.assert_allclose(first[columns], second[columns], atol=1e-4)


def test_flat_ground_exercises_nothing() -> None:
    """A level straight trail without obstacles gives an empty table that still fits its contract."""
    network = network_of(LINES)
    table = technique_table(network, surface_terrain(network, plane()), techniques())
    assert table.empty
    validate(table, TECHNIQUES)


def test_details_carry_what_a_call_needs() -> None:
    """Size, side, key and name stand beside the table's own columns, in the same order of rows."""
    network = network_of(LINES, obstacles=[ROCK])
    terrain = surface_terrain(network, plane())
    details = detailed_table(network, terrain, techniques())
    assert details["name"].tolist() == ["Anvil", "Anvil"]
    assert details["key"].tolist() == ["thing rock"] * 2
    pd.testing.assert_frame_equal(details[list(TECHNIQUES.names)], technique_table(network, terrain, techniques()))
