"""Envelopes of set-ups: what suspension, loads and overhangs change, and what they leave."""

import math

import numpy as np
import pytest

from pipeline.errors import SettingsError
from pipeline.terms import Drive, Driver
from pipeline.vehicle.envelope import choice_faults, kerb_clearances, make_envelope, vehicle_flood_class
from pipeline.vehicle.envelope_model import Envelope
from pipeline.vehicle.geometry import tangent_angle
from pipeline.vehicle.model import SetUpChoice
from tests.vehicle.worlds import EXTRAS, PUBLISHED, box

HITCH = """
[overhangs.hitch]
points = [[-4.05, 0.30]]
[overhangs.winch]
points = [[1.02, 0.52], [0.95, 0.60]]
"""


def envelope(*tables: str, suspension: str = "normal", loads: tuple[str, ...] = (), **changes: object) -> Envelope:
    """Make an envelope of the box vehicle."""
    choice = SetUpChoice("test", suspension, loads, Driver.PRACTISED)
    return make_envelope(box(EXTRAS, *tables, **changes), choice)


def test_kerb_envelope_in_closed_form() -> None:
    """The box vehicle's angles are the cases of 49 CFR 523.2, its tip angles those of its figures."""
    found = envelope()
    assert found.approach_deg == pytest.approx(29.342, abs=0.01)
    assert found.breakover_deg == pytest.approx(20.750, abs=0.01)
    assert found.departure_deg == pytest.approx(18.640, abs=0.01)
    assert found.clearance_m == 0.25
    assert found.roll_limit_deg == pytest.approx(48.013, abs=0.01)
    assert found.climb_tip_deg == found.descent_tip_deg == pytest.approx(62.784, abs=0.01)
    assert found.turning_radius_m == 6.0
    assert found.crawl_grade == pytest.approx(0.8)
    assert found.min_controlled_speed_m_s == pytest.approx(1.0)
    assert (found.drive, found.low_range, found.measured) == (Drive.FOUR_WHEEL, True, True)
    assert (found.setup, found.vehicle, found.driver) == ("test", "Box", Driver.PRACTISED)
    assert (found.fording_depth_m, found.fording_still_m, found.fording_flow_m2_s) == (0.6, 0.5, 0.6)
    assert found.warnings == ()


def test_lift_raises_underbody_and_roof_but_not_the_axles() -> None:
    """Every sprung height rises by the lift, axle clearances stay, and the bumper's angle follows the definition."""
    normal, raised = envelope(), envelope(suspension="raised")
    np.testing.assert_allclose(raised.underbody - normal.underbody, np.tile([0.0, 0.05], (5, 1)), atol=1e-12)
    assert raised.height_m == pytest.approx(normal.height_m + 0.05)
    assert raised.clearance_m == pytest.approx(0.30)
    assert raised.cg_m[2] == pytest.approx(0.77)
    assert raised.approach_deg == pytest.approx(float(tangent_angle(0.9, 0.50, 0.38)))
    assert raised.roll_limit_deg < normal.roll_limit_deg
    assert raised.front_axle_clearance_m == normal.front_axle_clearance_m
    assert raised.rear_axle_clearance_m == normal.rear_axle_clearance_m


def test_lowering_takes_angles_away() -> None:
    """A lowered body has smaller angles and a larger tip angle."""
    normal, low = envelope(), envelope(suspension="low")
    assert low.approach_deg < normal.approach_deg
    assert low.clearance_m == pytest.approx(0.22)
    assert low.roll_limit_deg > normal.roll_limit_deg


def test_roof_load_raises_roof_and_centre() -> None:
    """75 kg at 1.95 m with its top at 2.15 m: SSF 1.05187 (value recomputed), and the top rises with the lift."""
    found = envelope(loads=("roof",))
    assert found.height_m == 2.15
    assert found.cg_m[2] == pytest.approx(0.76055, abs=1e-5)
    assert 0.8 / found.cg_m[2] == pytest.approx(1.051871, abs=1e-5)
    assert envelope(loads=("roof",), suspension="raised").height_m == pytest.approx(2.20)


def test_load_without_a_top_reaches_at_least_its_centre() -> None:
    """A roof load whose top was not measured still raises the vehicle to its centre of gravity."""
    bag = "[loads.bag]\nmass_kg = 20\nat_m = [-1.4, 0.0, 2.05]\n"
    assert envelope(bag, loads=("bag",)).height_m == pytest.approx(2.05)
    assert envelope(loads=("passenger",)).height_m == pytest.approx(1.9)


def test_side_load_counts_towards_the_worse_side() -> None:
    """A passenger on the left brings the tip angle down on both readings of left."""
    found = envelope(loads=("passenger",))
    y, z = found.cg_m[1:]
    assert y == pytest.approx(80 * 0.35 / 2280)
    assert found.roll_limit_deg == pytest.approx(math.degrees(math.atan((0.8 - y) / z)))


def test_overhangs_are_always_fitted() -> None:
    """A hitch takes departure away and lengthens the tail; a winch above the bumper lengthens the nose."""
    bare, fitted = envelope(), envelope(HITCH)
    assert fitted.departure_deg == pytest.approx(float(tangent_angle(1.25, 0.30, 0.38)))
    assert fitted.departure_deg < bare.departure_deg
    assert fitted.length_rear_m == pytest.approx(1.25)
    assert fitted.length_front_m == pytest.approx(1.02)
    assert fitted.breakover_deg == bare.breakover_deg


def test_published_figures_come_out_again() -> None:
    """A file with published angles alone has these angles, and its underbody shows them to a sweep."""
    found = envelope(PUBLISHED)
    assert found.approach_deg == pytest.approx(30.0)
    assert found.breakover_deg == pytest.approx(22.0)
    assert found.departure_deg == pytest.approx(24.0)
    assert found.clearance_m == pytest.approx(0.21)
    assert np.all(np.diff(found.underbody[:, 0]) <= 0.0)
    assert envelope(PUBLISHED, suspension="raised").approach_deg > 30.0


def test_underbody_is_ordered_from_front_to_rear() -> None:
    """The order of the points in the file does not matter."""
    shuffled = envelope(underbody=[[-1.4, 0.25], [-3.9, 0.35], [0.9, 0.45], [-3.3, 0.32], [0.45, 0.30]])
    np.testing.assert_array_equal(shuffled.underbody, envelope().underbody)


def test_flood_class_is_that_of_the_bare_vehicle() -> None:
    """Raised springs and roof loads make no larger class; published clearance below 0.22 m makes a smaller one."""
    assert vehicle_flood_class(box()).name == "large 4WD"
    assert envelope(PUBLISHED, suspension="raised").fording_still_m == 0.4


def test_off_highway_facts_see_the_lowest_point_anywhere() -> None:
    """The running clearance of 49 CFR 523.2 is the lowest point of the whole vehicle, overhangs included."""
    points = [[0.9, 0.22], [-1.4, 0.25], [-3.9, 0.35]]
    assert kerb_clearances(box(underbody=points)).running_m == 0.22
    assert envelope(underbody=points).clearance_m > 0.22


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"modified": True, "source": "maker"}, "measure it as it stands"),
        ({"cg_height_m": 0.45}, "static stability factor of 1.78"),
        ({"gvm_kg": 2250.0}, "overloaded: 2275 kg against a rated 2250 kg"),
        ({"approach_deg": 35.0}, "published are 35.0°"),
    ],
)
def test_warnings_that_every_product_repeats(changes: dict[str, object], said: str) -> None:
    """Maker's figures on a modified vehicle, an odd stability factor, too much load, figures that disagree."""
    loads = () if "cg_height_m" in changes else ("roof",)
    warnings = envelope(loads=loads, **changes).warnings
    assert len(warnings) == 1
    assert said in warnings[0]


def test_no_warning_without_its_cause() -> None:
    """A modified vehicle that was measured needs none, nor a maker's unmodified one, nor angles that agree."""
    assert envelope(modified=True).warnings == ()
    assert envelope(source="maker").warnings == ()
    assert envelope(gvm_kg=2800.0, loads=("roof",)).warnings == ()
    assert envelope(approach_deg=30.0).warnings == ()


def test_unknown_names_are_all_told() -> None:
    """Suspension and loads that the file does not have are faults, each with the nearest name."""
    choice = SetUpChoice("test", "rased", ("rof", "tank", "tank"))
    faults = choice_faults(box(EXTRAS), choice, "site.toml", "12")
    assert [(str(fault.file), fault.place) for fault in faults] == [("site.toml", "12")] * 3
    assert 'did you mean "raised"?' in str(faults[0])
    assert 'did you mean "roof"?' in str(faults[1])
    assert "listed 2 times" in str(faults[2])
    with pytest.raises(SettingsError, match="rased"):
        make_envelope(box(EXTRAS), choice)


def test_vehicle_without_loads_says_so() -> None:
    """A load asked of a file that lists none gets a message that says it lists none."""
    (fault,) = choice_faults(box(), SetUpChoice("test", loads=("roof",)), "site.toml", "12")
    assert "the vehicle file lists none" in str(fault)
    assert choice_faults(box(), SetUpChoice("test"), "site.toml", "12") == []
