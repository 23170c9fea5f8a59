"""The balance as tables: what stands in them, and that they can be read."""

import pytest

from pipeline.terms import Driver
from pipeline.vehicle.balance import static_angles, working_angles
from pipeline.vehicle.balance_report import balance_json, balance_lines, travel_json, travel_text
from pipeline.vehicle.envelope import make_envelope
from pipeline.vehicle.envelope_model import Envelope
from pipeline.vehicle.model import Vehicle
from pipeline.vehicle.report import vehicle_choices
from tests.vehicle.worlds import EXTRAS, PUBLISHED, WORKING, box

SEATED = "[loads.guest]\nmass_kg = 90\nat_m = [-1.4, -0.3, 0.6]\npeople = true\n"
LONG = '[loads."a load with a name that is far too long for its column"]\nmass_kg = 75\nat_m = [-1.4, 0.0, 1.0]\n'


def envelopes(vehicle: Vehicle) -> list[Envelope]:
    """Make every set-up that is shown."""
    return [make_envelope(vehicle, choice) for choice in vehicle_choices(vehicle)]


def lines(vehicle: Vehicle) -> list[str]:
    """Give the lines of the balance."""
    return list(balance_lines(vehicle, envelopes(vehicle), WORKING))


def cells(found: list[str], name: str) -> list[list[str]]:
    """Give what stands after *name* in every row of that name."""
    return [line[len(name) :].split() for line in found if line.startswith(f"{name}  ")]


def test_a_row_holds_the_set_up() -> None:
    """Mass, centre of gravity, factor, angles and weaker side in the first table, drivers' limits in the second."""
    balance, working = cells(lines(box(SEATED)), "normal + guest")
    assert balance == ["2290", "1.40", "-0.012", "0.715", "1.12", "48.8", "48.0", "62.9", "62.9", "right"]
    found = static_angles(envelopes(box(SEATED))[1])
    limits = [working_angles(found, WORKING, driver) for driver in Driver]
    assert working == [f"{value:.1f}" for limit in limits for value in (limit.across, limit.up, limit.down)]


def test_every_set_up_has_a_row_in_both_tables() -> None:
    """Three suspensions with five sets of loads: fifteen rows each."""
    found = lines(box(EXTRAS))
    for choice in vehicle_choices(box(EXTRAS)):
        assert len(cells(found, choice.name)) == 2


def test_effects_are_told_once_a_load_and_suspension() -> None:
    """Each load and all together on normal suspension, each other suspension bare; nothing for a bare vehicle."""
    found = [line for line in lines(box(EXTRAS)) if line.startswith("- ")]
    assert [line[2:].split(":")[0] for line in found] == [
        "roof",
        "passenger",
        "tank",
        "roof + passenger + tank",
        "raised",
        "low",
    ]
    assert not any(line.startswith("- ") or "What each does" in line for line in lines(box()))


def test_the_saying_stands_only_with_people() -> None:
    """What people do is explained where a load is people; the seated guest lowers the centre of gravity."""
    text = " ".join(lines(box(SEATED)))
    assert "guest: centre of gravity 0.005 m lower, 0.012 m to the right" in text
    assert "people seated 0.120 m below" in " ".join(text.split())
    assert "People lower the centre of gravity only where they sit lower" in text
    assert "People lower" not in " ".join(lines(box(EXTRAS)))


@pytest.mark.parametrize(
    "vehicle", [box(), box(EXTRAS), box(LONG), box(SEATED, kerb_mass_kg=14000, front_axle_mass_kg=7000)]
)
def test_no_line_is_too_long(vehicle: Vehicle) -> None:
    """At most 100 columns; figures of all rows end under their heads."""
    found = lines(vehicle)
    assert max(map(len, found)) <= 100


def test_long_names_take_more_lines() -> None:
    """The figures stand on the last line of a name that is broken."""
    found = lines(box(LONG))
    first = next(k for k, line in enumerate(found) if line.startswith("normal + a load"))
    assert found[first + 1].strip() == "name that is far too"
    assert found[first + 2].startswith("long for its column")
    assert found[first + 2].split()[-1] == "even"


def test_json_holds_the_numbers_unrounded() -> None:
    """Static and working angles by side and driver, the effect in words, None for the bare vehicle."""
    vehicle = box(EXTRAS)
    found = balance_json(vehicle, envelopes(vehicle), WORKING)
    angles = static_angles(envelopes(vehicle)[2])
    assert found[2]["static_deg"] == {"across": angles.across, **angles._asdict()}
    assert found[2]["working_deg"]["expert"]["up"] == working_angles(angles, WORKING, Driver.EXPERT).up
    assert found[2]["weaker_side"] == "left"
    assert [one["effect"] is None for one in found] == [k == 0 for k in range(15)]
    assert found[6]["effect"].startswith("roof: centre of gravity 0.041 m higher: 1.5° less across")


def test_travel_in_words_and_numbers() -> None:
    """The crossover's 0.16 m at 2.66 m is an index of 176."""
    vehicle = box(PUBLISHED, wheel_travel_m=0.16, wheelbase_m=2.66)
    assert travel_text(vehicle) == "a wheel lifts at a twist of 0.16 m; ramp travel index 176 at 20°"
    assert travel_json(vehicle)["ramp_travel_index"] == pytest.approx(175.87, abs=0.01)
