"""Places along segments and loops."""

from itertools import pairwise

import numpy as np
import pytest
from pyproj import CRS
from shapely import LineString

from pipeline.products.lines import Leg, Profile, Profiles, legs_of, lon_lat, rows
from pipeline.terms import Direction
from tests.products.worlds import make_facts

FACTS = make_facts()


def _leg(direction: Direction) -> Leg:
    """Build a straight leg of 30 m that rises 1 m in 10, 100 m into its loop."""
    chainage = np.linspace(0, 30, 61)
    profile = Profile(chainage, 5 + chainage / 10, np.full(61, 5.71), np.zeros(61))
    return Leg(2, "a", "A", direction, 100.0, 30.0, "", LineString([(0, 0), (0, 10), (0, 30)]), profile)


def test_each_segment_gets_its_own_stations() -> None:
    """The flat table is cut where the segment changes, and nothing is lost."""
    profiles = Profiles(FACTS.stations)
    for segment_id, own in FACTS.stations.groupby("segment_id"):
        assert np.array_equal(profiles[segment_id].chainage_m, own["chainage_m"])
        assert np.array_equal(profiles[segment_id].z_m, own["z_m"].astype(float), equal_nan=True)


def test_a_segment_without_stations_has_an_empty_profile() -> None:
    """No stations is not an error: there was no elevation model."""
    profiles = Profiles(FACTS.stations.iloc[:0])
    assert len(profiles["s1"].chainage_m) == 0
    assert len(profiles["s1"].thinned(2.0).z_m) == 0


def test_thinning_keeps_both_ends_and_the_step() -> None:
    """Every fourth of the stations 0.5 m apart gives 2 m; the last one stays whatever the remainder."""
    chainage = np.arange(0, 10.6, 0.5)
    thin = Profile(chainage, chainage, chainage, chainage).thinned(2.0)
    assert thin.chainage_m.tolist() == [0, 2, 4, 6, 8, 10, 10.5]


def test_a_leg_driven_against_turns_points_and_heights_round() -> None:
    """Driven against, the leg starts at its far, high end."""
    ahead, back = _leg(Direction.WITH), _leg(Direction.AGAINST)
    assert np.array_equal(back.points(5.0), ahead.points(5.0)[::-1])
    at, z = back.along
    assert (at[0], z[0], at[-1], z[-1]) == (100.0, 8.0, 130.0, 5.0)
    assert np.all(np.diff(at) > 0)


def test_points_are_dense_enough_and_carry_heights() -> None:
    """No step is longer than asked for; heights follow the chainage, 1 m in 10."""
    points = _leg(Direction.WITH).points(4.0)
    steps = np.hypot(*np.diff(points[:, :2], axis=0).T)
    assert steps.max() <= 4.0 + 1e-9
    assert np.allclose(points[:, 2], 5 + points[:, 1] / 10)


def test_unknown_heights_stay_unknown() -> None:
    """A point between stations without heights has none either."""
    profile = Profile(np.array([0.0, 15.0, 30.0]), np.array([1.0, np.nan, np.nan]), np.zeros(3), np.zeros(3))
    leg = Leg(1, "a", "", Direction.WITH, 0.0, 30.0, "", LineString([(0, 0), (0, 30)]), profile)
    assert np.isnan(leg.points(5.0)[-1, 2])


def test_legs_come_in_driving_order_and_chain() -> None:
    """Each leg starts where the one before it ends, on the ground and along the loop."""
    for rank in (1, 2):
        legs = list(legs_of(FACTS, "Hill round", rank, Profiles(FACTS.stations)))
        for before, after in pairwise(legs):
            assert np.allclose(before.points(50)[-1, :2], after.points(50)[0, :2])
            assert after.start_m == pytest.approx(before.start_m + before.length_m)


def test_lon_lat_against_a_point_worked_elsewhere() -> None:
    """UTM 32N at its central meridian: E 500000, N 0 is 9° E, 0° N (definition of the projection)."""
    assert np.allclose(lon_lat(np.array([[500_000.0, 0.0]]), CRS.from_epsg(32632)), [[9.0, 0.0]], atol=1e-9)


def test_rows_give_columns_as_attributes() -> None:
    """Row access without the index, so that a column named Index cannot collide."""
    first = next(rows(FACTS.loops))
    assert (first.loop, first.rank) == ("Hill round", 1)
