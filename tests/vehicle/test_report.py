"""The table and the JSON of `loopwright vehicle`."""

import json
import math
from pathlib import Path

import pytest

from pipeline.vehicle.model import Vehicle
from pipeline.vehicle.report import CAUTION, SCHEMA, vehicle_choices, vehicle_json, vehicle_text
from tests.vehicle.worlds import EXTRAS, PUBLISHED, WORKING, box

GOLDEN = Path(__file__).parent / "golden"
MANY = "".join(f"[loads.l{k}]\nmass_kg = {10 * k + 10}\nat_m = [-1.0, 0.0, 1.0]\n" for k in range(9))


@pytest.mark.parametrize("vehicle", [box(), box(EXTRAS), box(PUBLISHED, EXTRAS), box(MANY)])
def test_table_fits_a_hundred_columns(vehicle: Vehicle) -> None:
    """However many loads there are, no line is longer, and none ends in a blank."""
    for line in vehicle_text(vehicle, WORKING).splitlines():
        assert len(line) <= 100
        assert line == line.rstrip()


def test_every_set_up_is_shown() -> None:
    """Each suspension with nothing, each load alone, and all loads; one load alone is all loads already."""
    titles = [choice.name for choice in vehicle_choices(box(EXTRAS))]
    assert len(titles) == len(set(titles)) == 3 * 5
    assert titles[:5] == ["normal", "normal + roof", "normal + passenger", "normal + tank", "normal + all loads"]
    one = box("[loads.roof]\nmass_kg = 75\nat_m = [-1.4, 0.0, 1.95]\n")
    assert [choice.loads for choice in vehicle_choices(one)] == [(), ("roof",)]
    assert [choice.name for choice in vehicle_choices(box())] == ["normal"]


def test_table_carries_figures_with_units_and_the_caution() -> None:
    """Angles, tip angles, turning, fording and classes are printed, and nothing calls a vehicle or ford safe."""
    text = vehicle_text(box(EXTRAS), WORKING)
    row = next(line for line in text.splitlines() if line.startswith("approach angle, °"))
    assert row.split()[-5:] == ["29.3"] * 5
    assert "kerb to kerb 12.00 m, wall to wall 13.19 m" in text
    assert "3.04 m wide, radii 3.56 to 6.59 m" in text
    assert "0.80 m, rear axle inside the front axle" in text
    assert "0.60 m, maker's limit" in text
    assert "49 CFR 523.5(b): met, 4 of 5 criteria" in text
    assert "departure angle\n  18.64 of 20°" in text
    assert "class large 4WD: still water 0.50 m" in text
    assert " ".join(CAUTION.split()) in " ".join(text.split())
    assert "safe" not in text.lower()


def test_columns_stand_under_their_heads() -> None:
    """The last cell of every row ends where the last head ends."""
    lines = vehicle_text(box(EXTRAS), WORKING).splitlines()
    head = next(k for k, line in enumerate(lines) if line.endswith("all loads"))
    assert {len(lines[head + k]) for k in range(1, 8)} == {len(lines[head])}


def test_what_is_not_known_is_said() -> None:
    """No fording depth, no low range, maker's figures, modified: each in words; the warning stands in the text."""
    text = vehicle_text(box(fording_depth_m=None, low_range=False, source="maker", modified=True), WORKING)
    assert "fording depth                not stated" in text
    assert "no low range" in text
    assert "the maker's figures, modified" in text
    assert text.splitlines()[1].startswith("Warning: Box was modified but its figures are the maker's: measure it")
    found = vehicle_json(box(source="maker", modified=True), WORKING)
    assert found["warnings"] == ["Box was modified but its figures are the maker's: measure it as it stands."]
    assert found["setups"][0]["warnings"] == found["warnings"]
    assert vehicle_json(box(modified=True), WORKING)["warnings"] == []


def test_json_is_plain_and_versioned() -> None:
    """The dictionary survives a round trip through strict JSON and says what it is."""
    found = vehicle_json(box(EXTRAS), WORKING)
    assert json.loads(json.dumps(found, allow_nan=False)) == found
    assert (found["schema"], found["version"]) == (SCHEMA, 1)
    assert found["caution"] == CAUTION
    assert len(found["setups"]) == 15


def test_json_holds_the_envelope() -> None:
    """Figures of a set-up stand under the envelope's own names, with the underbody as pairs."""
    found = vehicle_json(box(EXTRAS), WORKING)["setups"][1]
    assert (found["setup"], found["suspension"], found["loads"]) == ("normal + roof", "normal", ["roof"])
    assert found["approach_deg"] == pytest.approx(29.342, abs=0.01)
    assert found["stability_factor"] == pytest.approx(1.051871, abs=1e-5)
    assert found["underbody"][0] == [0.9, 0.45]
    assert "driver" not in found
    across = math.degrees(math.atan((1.60 + 1.62) / 4 / 0.760550))  # centre of gravity midway between the axles
    assert found["static_deg"]["across"] == pytest.approx(across, abs=0.001)
    assert found["weaker_side"] == "even"
    working = 0.5 * math.degrees(math.atan(0.9 * math.tan(math.radians(across))))
    assert found["working_deg"]["first-timer"]["across"] == pytest.approx(working, abs=0.001)
    assert found["effect"].startswith("roof: centre of gravity 0.041 m higher: 1.6° less across")
    assert vehicle_json(box(EXTRAS), WORKING)["setups"][0]["effect"] is None


def test_cross_axle_stands_in_both() -> None:
    """Twist at which a wheel lifts, and the ramp travel index it comes to: 1000 · 0.45 ÷ (2.8 · sin 20°)."""
    found = vehicle_json(box(), WORKING)["cross_axle"]
    assert found == {"twist_at_lift_m": 0.45, "ramp_deg": 20.0, "ramp_travel_index": pytest.approx(469.90, abs=0.01)}
    assert "a wheel lifts at a twist of 0.45 m; ramp travel index 470 at 20°" in vehicle_text(box(), WORKING)


def test_json_holds_the_classes() -> None:
    """Each criterion with value, limit, unit and whether it is met."""
    found = vehicle_json(box(), WORKING)
    classifier = found["off_highway_49_cfr_523_5"]
    assert classifier["passes"]
    assert [criterion["met"] for criterion in classifier["criteria"]] == [True, True, False, True, True]
    assert found["flood_class"]["name"] == "large 4WD"
    assert found["off_road_eu_geometry"]["needed"] == 5


@pytest.mark.parametrize("name", ["hard_points", "published"])
def test_printed_table_is_the_golden_one(name: str) -> None:
    """What a user sees, character by character; the golden file is changed by hand after reading the difference."""
    vehicle = box(EXTRAS) if name == "hard_points" else box(PUBLISHED, modified=True, source="maker")
    assert vehicle_text(vehicle, WORKING) + "\n" == (GOLDEN / f"{name}.txt").read_text(encoding="utf-8")
