"""A check is made anew where it finds something else; else what is known of it is kept."""

import numpy as np
import pytest

from pipeline.checks.clearance import CLEARANCE_CHECKS
from pipeline.checks.grip.traction import Climb
from pipeline.checks.made import alike, make
from pipeline.checks.prepared import prepare, prepare_again
from pipeline.terms import Driver
from pipeline.vehicle.envelope_model import Envelope
from tests.checks.worlds import LIMITS, envelope, ground_of, site_on
from tests.worlds import at, network_of, sine_hills

HILLS = site_on(network_of({"s": at((0.0, 3.0), (60.0, 3.0))}, width_m=3.5), sine_hills(12.0, 1.1))
"""A trail along the crests of hills 12 m apart."""
PREPARED = prepare(HILLS, [envelope()], LIMITS)
(CASE,) = PREPARED.cases()
APPROACH = CLEARANCE_CHECKS[0]


@pytest.mark.parametrize(
    ("vehicle", "same"),
    [
        (envelope(setup="another", driver=Driver.EXPERT, warnings=("measure it",)), True),
        (envelope(mass_kg=2300.0), False),
        (envelope(fording_depth_m=None), False),
        (envelope(underbody=envelope().underbody * [1.0, 1.1]), False),
        (envelope(loads=("roof_rack",)), False),
    ],
)
def test_vehicles_are_alike_in_all_but_name_driver_and_warnings(vehicle: Envelope, *, same: bool) -> None:
    """Every other figure counts, whether a sweep asks for it or not."""
    (other,) = prepare_again(PREPARED, [vehicle]).cases()
    assert alike(CASE, other) is same


def test_what_was_rolled_otherwise_is_not_alike() -> None:
    """The same vehicle rolled anew is another case: nobody can tell that its sweeps agree without comparing them."""
    (other,) = prepare(CASE.scene.site, [envelope()], LIMITS).cases()
    assert not alike(CASE, other)


def test_the_same_finding_is_kept_whole() -> None:
    """The approach does not ask for grip; the climb does."""
    (wet,) = prepare_again(PREPARED, [envelope()], ground_of(1, mu_low=0.3)).cases()
    approach, climb = make(APPROACH, CASE), make(Climb(), CASE)
    assert make(APPROACH, wet, approach) is approach
    other = make(Climb(), wet, climb)
    assert other is not climb
    assert (other.columns["limit"] < climb.columns["limit"]).all()


def test_another_driver_keeps_the_doubt_and_not_the_verdict() -> None:
    """What is found is the same, what the driver may use is not."""
    (guest,) = prepare_again(PREPARED, [envelope(driver=Driver.FIRST_TIMER)]).cases()
    expert = make(APPROACH, CASE)
    made = make(APPROACH, guest, expert)
    assert made.sd is expert.sd
    np.testing.assert_array_equal(made.columns["utilisation"], expert.columns["utilisation"])
    assert (made.columns["reason"] != expert.columns["reason"]).any()
    anew = make(APPROACH, guest)
    for name, column in anew.columns.items():
        np.testing.assert_array_equal(made.columns[name], column)
