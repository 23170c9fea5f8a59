"""Approach, breakover, departure, belly: numbers out of the sweep, and when they are not known."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.checks.clearance import CLEARANCE_CHECKS, Clearance
from pipeline.checks.site import CheckSite
from pipeline.checks.stability import Roll
from pipeline.checks.verdict import verdict_codes
from pipeline.survey.model import Network
from pipeline.terms import Basis, CheckName, Verdict
from tests.checks.worlds import LIMITS, envelope, mirrored, outcome_of, site_on, straight, with_profiles
from tests.worlds import ORIGIN, Measured, crest, network_of, plane, ramp

BREAKOVER, APPROACH, DEPARTURE, BELLY = (
    Clearance(name) for name in (CheckName.BREAKOVER, CheckName.APPROACH, CheckName.DEPARTURE, CheckName.BELLY)
)


def brow(degrees: float, measured: Measured | None = None) -> CheckSite:
    """Make a trail over a brow of two planes at 30 m."""
    slope = float(np.tan(np.radians(degrees / 2.0)))
    return site_on(straight(), crest(ORIGIN[0] + 30.0, slope, slope), measured)


def test_brow_asks_its_angle() -> None:
    """16° between the planes, 20.750° of the vehicle (tangent rule of 49 CFR 523.2), at 30 m, from the model."""
    found = outcome_of(BREAKOVER, brow(16.0))
    assert found.demand[0].tolist() == pytest.approx([16.0, 16.0], abs=0.02)
    assert found.limit[0].tolist() == pytest.approx([20.750, 20.750], abs=0.01)
    assert found.at_m[0].tolist() == pytest.approx([30.0, 30.0], abs=0.01)
    assert (found.basis == Basis.DEM).all()
    assert found.unit[0, 0] == "°"


@pytest.mark.parametrize("check", CLEARANCE_CHECKS, ids=lambda check: check.name)
def test_plane_asks_nothing_of_the_whole_limit(check: Clearance) -> None:
    """On a plane the demand is 0 and the limit the set-up's own figure, or close to it where noise has a place."""
    found = outcome_of(check, site_on(straight(), plane(east=0.2)))
    assert found.utilisation == pytest.approx(0.0, abs=5e-3)
    assert found.unknown.tolist() == [["", ""]]
    assert (found.limit > 0.0).all()


def test_reversed_ramp_swaps_approach_and_departure() -> None:
    """Up a ramp the bumper is asked what the tail of the mirrored vehicle is asked backing up the same ramp."""
    site = site_on(straight(), ramp(ORIGIN[0] + 30.0, 0.3, 25.0))
    ahead = outcome_of(APPROACH, site)
    behind = outcome_of(DEPARTURE, site, mirrored(envelope()))
    assert ahead.utilisation[0].tolist() == pytest.approx(behind.utilisation[0, ::-1].tolist(), rel=5e-3, abs=2e-3)


@settings(deadline=None, max_examples=15)
@given(cell=st.floats(1.41, 90.0), degrees=st.floats(0.0, 19.0))
def test_coarse_model_is_never_a_pass(cell: float, degrees: float) -> None:
    """Above half a wheelbase of cell no clearance check ever gives a verdict that may be driven."""
    site = brow(degrees, Measured(cell_m=cell))
    for check in CLEARANCE_CHECKS:
        found = outcome_of(check, site)
        codes = verdict_codes(found, found.utilisation, LIMITS)
        assert (codes >= Verdict.UNSURVEYED.rank).all()
        assert "wheelbase of 2.80 m" in found.unknown[0, 0]


def test_overrun_in_a_coarse_model_is_still_barred() -> None:
    """What even a coarse model shows to be over the limit is barred, not unsurveyed."""
    found = outcome_of(BREAKOVER, brow(40.0, Measured(cell_m=5.0)))
    assert (verdict_codes(found, found.utilisation, LIMITS) == Verdict.BARRED.rank).all()


def dense(length_m: float, apart_m: float) -> Network:
    """Make a straight trail with a vertex every so often."""
    x = np.arange(0.0, length_m + 1e-9, apart_m)
    return network_of({"s": [(ORIGIN[0] + one, ORIGIN[1]) for one in x]}, surveyed_on="2026-04-18", width_m=3.5)


def surveyed_brow(apart_m: float, degrees: float = 10.0) -> CheckSite:
    """Make a brow at 30 m on a line with surveyed heights."""
    slope = float(np.tan(np.radians(degrees / 2.0)))
    surface = crest(ORIGIN[0] + 30.0, slope, slope)
    return site_on(dense(60.0, apart_m), surface, Measured(cell_m=30.0, basis=Basis.SURVEYED))


def test_surveyed_profile_has_no_cell() -> None:
    """Heights of a line surveyed point by point are not held back by a cell."""
    found = outcome_of(BREAKOVER, surveyed_brow(1.0))
    assert found.unknown.tolist() == [["", ""]]
    assert (found.basis == Basis.SURVEYED).all()


def test_sparse_survey_is_never_a_pass() -> None:
    """A line with a height every 6 m shows a brow of a vehicle's length no better than a cell of 6 m."""
    site = surveyed_brow(6.0)
    for check in (*CLEARANCE_CHECKS, Roll()):
        found = outcome_of(check, site)
        assert (verdict_codes(found, found.utilisation, LIMITS) == Verdict.UNSURVEYED.rank).all()
        assert "surveyed heights 6.0 m apart" in found.unknown[0, 0]
    over = outcome_of(BREAKOVER, surveyed_brow(6.0, 40.0))
    assert (verdict_codes(over, over.utilisation, LIMITS) == Verdict.BARRED.rank).all()


def test_gap_in_the_heights_is_told_with_its_place() -> None:
    """Missing heights leave the check open: how many metres, from where."""
    site = site_on(straight(), plane())
    z = site.terrain.profiles.z.copy()
    z[400:420] = np.nan
    found = outcome_of(BELLY, with_profiles(site, z=z))
    assert found.unknown[0, 0] == "2.0 m without heights, from 40.0 m"
    nothing = outcome_of(BELLY, with_profiles(site, z=np.full_like(z, np.nan)))
    assert nothing.unknown[0, 0] == "no heights along it"


def test_ground_missing_beyond_the_segment_is_told() -> None:
    """Poses that lack ground under a wheel beyond the segment's own part leave the check open too."""
    site = site_on(straight(), plane())
    z = site.terrain.profiles.z.copy()
    z[:20] = np.nan
    found = outcome_of(APPROACH, with_profiles(site, z=z, own_from_m=np.array([2.5])))
    assert "of the poses lack ground under a wheel, from 2.5 m" in found.unknown[0, 0]


def test_trail_shorter_than_the_vehicle() -> None:
    """An isolated trail on which no pose can be made says so."""
    found = outcome_of(BREAKOVER, site_on(straight(2.0), plane()))
    assert found.unknown[0, 0] == "shorter than the wheelbase of 2.80 m"


def test_rock_without_height_is_told() -> None:
    """A rock in the way that nobody measured leaves all four open; one beside the trail does not."""
    rock = {"kind": "rock", "segment_id": "s", "chainage_m": 12.0, "name": "Toad", "width_m": 0.5}
    for check in CLEARANCE_CHECKS:
        found = outcome_of(check, site_on(straight(obstacles=[rock]), plane()))
        assert found.unknown[0, 0] == "rock Toad at 12.0 m has no height"
    beside = site_on(straight(obstacles=[{**rock, "offset_m": 3.0}]), plane())
    assert outcome_of(BELLY, beside).unknown.tolist() == [["", ""]]
