"""Soft ground: the tyres against what trail, hollow and soft spot bear."""

from dataclasses import replace

import numpy as np
import pytest

from pipeline.checks.site import CheckSite
from pipeline.checks.soft import Soft
from pipeline.checks.verdict import verdict_codes
from pipeline.ground.model import Bearing
from pipeline.terms import Basis, Verdict, Wetness
from pipeline.vehicle.pressure import ground_pressure_kpa
from tests.checks.worlds import LIMITS, envelope, outcome_of, site_on, straight
from tests.worlds import plane

PRESSURE = ground_pressure_kpa(envelope())
NONE = Bearing(np.array([np.nan]), np.array([np.nan]))


def bears(low: float, typical: float) -> Bearing:
    """Make ground of one segment that bears so much."""
    return Bearing(np.array([low]), np.array([typical]))


def site_of(bearing: Bearing, hollow: Bearing = NONE, spot: Bearing = NONE, **columns: object) -> CheckSite:
    """Make a straight trail whose ground bears so much; a hollow, where there is one, lies at 12 m."""
    site = site_on(straight(**columns), plane())
    at = np.where(np.isnan(hollow.low), np.nan, 12.0)
    ground = replace(
        site.ground,
        bearing=bearing,
        hollow_bearing=hollow,
        spot_bearing=spot,
        lie=replace(site.ground.lie, hollow_m=at),
        wet=(Wetness.WET,),
    )
    return replace(site, ground=ground)


def soft(**columns: object) -> dict[str, object]:
    """Make a soft spot at 40 m."""
    return {"kind": "soft", "segment_id": "s", "chainage_m": 40.0, "name": "Bog", **columns}


def test_firm_trail() -> None:
    """Pressure of the tyres against the low value, the typical beside it, on the ground as it is; from the tag."""
    found = outcome_of(Soft(), site_of(bears(200.0, 300.0)))
    assert found.demand.tolist() == [[PRESSURE, PRESSURE]]
    assert found.limit.tolist() == [[200.0, 200.0]]
    assert found.limit_typical.tolist() == [[300.0, 300.0]]
    assert found.utilisation[0, 0] == pytest.approx(PRESSURE / 200.0)
    assert found.unit[0, 0] == "kPa"
    assert found.more[0, 0] == "on wet earth"
    assert (found.basis == Basis.TAG).all()
    assert np.isnan(found.at_m).all()


def test_surface_that_nobody_tagged_is_an_assumption() -> None:
    """As for grip."""
    site = site_of(bears(200.0, 300.0))
    site = replace(site, ground=replace(site.ground, assumed=np.array([True])))
    assert (outcome_of(Soft(), site).basis == Basis.ASSUMED).all()


def test_ground_that_bears_less_than_the_tyres_press_bars() -> None:
    """Over the low value there is no way, whatever the typical one."""
    found = outcome_of(Soft(), site_of(bears(0.9 * PRESSURE, 3.0 * PRESSURE)))
    assert (verdict_codes(found, found.utilisation, LIMITS) == Verdict.BARRED.rank).all()


def test_hollow_counts_where_it_is_worse() -> None:
    """Told with its place; a hollow that bears more than the rest is not told."""
    found = outcome_of(Soft(), site_of(bears(200.0, 300.0), hollow=bears(100.0, 150.0)))
    assert found.limit[0, 0] == 100.0
    assert found.at_m[0, 0] == 12.0
    assert found.more[0, 0] == "in a hollow of earth"
    assert outcome_of(Soft(), site_of(bears(200.0, 300.0), hollow=bears(250.0, 400.0))).limit[0, 0] == 200.0


def test_soft_spot_counts_where_a_tyre_meets_it() -> None:
    """Right across without a width; beside the tyres it asks nothing; its place and name are told, as surveyed."""
    ground = (bears(200.0, 300.0), NONE, bears(60.0, 125.0))
    found = outcome_of(Soft(), site_of(*ground, obstacles=[soft()]))
    assert (found.limit[0, 0], found.at_m[0, 0]) == (60.0, 40.0)
    assert found.more[0, 0] == "in soft Bog"
    assert (found.basis == Basis.SURVEYED).all()
    beside = outcome_of(Soft(), site_of(*ground, obstacles=[soft(offset_m=2.0, width_m=1.0)]))
    assert beside.limit[0, 0] == 200.0
    under = outcome_of(Soft(), site_of(*ground, obstacles=[soft(offset_m=0.8, width_m=0.5)]))
    assert under.limit[0, 0] == 60.0
    between = outcome_of(Soft(), site_of(*ground, obstacles=[soft(offset_m=0.0, width_m=0.4)]))
    assert between.limit[0, 0] == 200.0


def test_the_first_of_several_soft_spots_is_told() -> None:
    """They bear the same."""
    things = [soft(name="Far", chainage_m=50.0), soft(name="Near", chainage_m=20.0)]
    found = outcome_of(Soft(), site_of(bears(200.0, 300.0), NONE, bears(60.0, 125.0), obstacles=things))
    assert found.at_m[0, 0] == 20.0
