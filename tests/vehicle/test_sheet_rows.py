"""What the sheet asks: every figure of a vehicle file, with the file's own bounds."""

import pytest

from pipeline.vehicle.model import Vehicle
from pipeline.vehicle.sheet_rows import GROUPS, HARD_POINT, LOAD, Row, bounds
from tests.vehicle.worlds import box

ROWS = [row for group in GROUPS for row in group]
ELSEWHERE = {
    "name",
    "drive",
    "low_range",
    "modified",
    "source",
    "underbody",
    "suspension",
    "loads",
    "overhangs",
    "kerb_mass_kg",
    "cg_left_m",
    "approach_deg",
    "breakover_deg",
    "departure_deg",
    "clearance_m",
}
"""Keys that no single box gives: asked otherwise, worked out, carried over, or replaced by hard points."""


def test_every_key_is_asked_once() -> None:
    """Each figure of the vehicle file has one box, or is known to come from elsewhere."""
    keys = [row.key for row in ROWS if row.key]
    assert len(keys) == len(set(keys))
    assert set(keys) | ELSEWHERE == set(Vehicle.model_fields)
    assert not set(keys) & ELSEWHERE


def test_letters_are_not_mixed_up() -> None:
    """One letter a box, without I and O, which read as 1 and 0."""
    letters = [row.letter for row in ROWS]
    assert len(letters) == len(set(letters))
    assert not {"I", "O"} & set(letters)


@pytest.mark.parametrize("row", [row for row in ROWS if row.key], ids=lambda row: row.key)
def test_bounds_are_those_of_the_file(row: Row) -> None:
    """A box takes exactly what the vehicle file takes, in the unit of the box."""
    schema = Vehicle.model_json_schema()["properties"][row.key]
    parts = schema.get("anyOf", [schema])
    low = next(part["minimum"] for part in parts if "minimum" in part)
    high = next(part["maximum"] for part in parts if "maximum" in part)
    assert bounds(row.key) == (low, high)
    assert row.limits() == pytest.approx((low * row.per, high * row.per))


def test_hard_points_have_the_bounds_of_the_file() -> None:
    """In millimetres what the file bounds in metres; z must be above 20 mm, so from 21."""
    found = Vehicle.model_json_schema()["properties"]["underbody"]["anyOf"][0]["items"]["prefixItems"]
    assert HARD_POINT["x"] == (1000 * found[0]["minimum"], 1000 * found[0]["maximum"])
    assert HARD_POINT["z"] == (1000 * found[1]["exclusiveMinimum"] + 1, 1000 * found[1]["maximum"])


def test_loads_have_the_bounds_of_the_file() -> None:
    """In kilograms and millimetres what the file bounds in metres; a mass and a top must be above 0, so from 1."""
    found = Vehicle.model_json_schema()["$defs"]["Load"]["properties"]
    for axis, item in zip("xyz", found["at_m"]["prefixItems"], strict=True):
        assert LOAD[axis] == (1000 * item["minimum"], 1000 * item["maximum"])
    top = found["top_m"]["anyOf"][0]
    assert (found["mass_kg"]["exclusiveMinimum"], top["exclusiveMinimum"]) == (0, 0)
    assert LOAD["kg"] == (1, found["mass_kg"]["maximum"])
    assert LOAD["top"] == (1, 1000 * top["maximum"])


def test_old_figures_in_the_unit_of_the_box() -> None:
    """Metres of the file are millimetres of the box; the rear axle's mass is what the front one leaves."""
    said = {row.letter: row.said(box()) for row in ROWS}
    assert (said["A"], said["N"], said["S"], said["T"]) == (2800.0, 12.0, 1100.0, 1100.0)
    assert (said["U"], said["W"], said["gvm"]) == (None, None, None)
