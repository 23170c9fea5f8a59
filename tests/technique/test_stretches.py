"""Stretches on ground in closed form."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from pipeline.technique.runs import course_of
from pipeline.technique.stretches import DETAILS, grade_change, intensity, stretches, twist
from pipeline.terrain.model import Terrain
from tests.technique.worlds import curved, techniques
from tests.worlds import (
    ORIGIN,
    Measured,
    Surface,
    at,
    crest,
    network_of,
    plane,
    plane_terrain,
    ramp,
    sine_hills,
    surface_terrain,
)

STRAIGHT = {"a": at((0, 0), (60, 0))}


def found(terrain: Terrain, technique: str, direction: str = "with") -> pd.DataFrame:
    """Find the stretches of one technique in one direction."""
    table = stretches(terrain, techniques())
    return table[(table["technique"] == technique) & (table["direction"] == direction)]


def twisted(rate: float) -> Surface:
    """Ground with z = rate · x · y: cross slope changes along a line to the east, grade is 0 on it."""
    return Surface(
        height=lambda x, y: rate * (x - ORIGIN[0]) * (y - ORIGIN[1]),
        gradient=lambda x, y: (rate * (y - ORIGIN[1]), rate * (x - ORIGIN[0])),
    )


def test_climb_with_is_descent_against() -> None:
    """A ramp of 30 % from 20 m to 40 m: 16.699° up one way and down the other, the same extent both ways."""
    terrain = surface_terrain(network_of(STRAIGHT), ramp(ORIGIN[0] + 20, 0.3, 20.0))
    climb, descent = found(terrain, "climb"), found(terrain, "descent", "against")
    assert len(climb) == len(descent) == 1
    for row in (climb.iloc[0], descent.iloc[0]):
        assert row["from_m"] == pytest.approx(20.0, abs=0.5)
        assert row["to_m"] == pytest.approx(40.0, abs=0.5)
        assert row["size"] == pytest.approx(16.699, abs=1e-3)
        assert row["intensity"] == pytest.approx((16.699 - 10) / 15, abs=1e-3)
        assert row["amount"] == pytest.approx(row["to_m"] - row["from_m"])
    assert found(terrain, "climb", "against").empty
    assert found(terrain, "descent", "with").empty


@pytest.mark.parametrize(("percent", "count"), [(17.0, 0), (18.0, 1)])
def test_threshold_is_that_of_the_settings(percent: float, count: int) -> None:
    """10° is 17.63 % (OpenStreetMap wiki, Key:incline): 17 % is no climb, 18 % is one."""
    assert len(found(plane_terrain(grade=percent / 100.0), "climb")) == count


@pytest.mark.parametrize("cross", [0.3, -0.3])
def test_side_slope_tells_the_rising_side(cross: float) -> None:
    """Ground that rises to the right of ``with`` rises to the left of ``against``; size and extent are the same."""
    terrain = plane_terrain(cross=cross, bearing_deg=37.0)
    (forward,), (back,) = (found(terrain, "side slope", way)["side"].tolist() for way in ("with", "against"))
    assert forward == np.sign(cross)
    assert back == -forward
    row = found(terrain, "side slope").iloc[0]
    assert (row["from_m"], row["to_m"], row["amount"]) == pytest.approx((0.0, 60.0, 60.0))
    assert row["size"] == pytest.approx(16.699, abs=1e-3)


def test_side_slope_that_changes_side_is_two() -> None:
    """Where the ground turns over at once, the stretches stay apart by side, however close."""
    terrain = surface_terrain(network_of(STRAIGHT), twisted(0.02))
    stations = terrain.stations
    flip = np.where(stations.chainage_m < 30.0, 0.3, -0.3).astype(np.float32)
    terrain = replace(terrain, stations=replace(stations, cross=flip))
    sides = found(terrain, "side slope").sort_values("from_m")
    assert sides["side"].tolist() == [1, -1]
    assert sides["to_m"].iloc[0] < sides["from_m"].iloc[1]


def test_crest_and_dip_by_the_change_of_grade() -> None:
    """Over a ridge of 20 % up and 20 % down the ground breaks by 2·atan 0.2 = 22.620°; one crest, no dip."""
    terrain = surface_terrain(network_of(STRAIGHT), crest(ORIGIN[0] + 30.0, 0.2, 0.2))
    for way in ("with", "against"):
        (row,) = found(terrain, "crest", way).to_dict("records")
        assert row["size"] == pytest.approx(22.620, abs=1e-3)
        assert row["from_m"] == pytest.approx(28.0, abs=0.5)
        assert row["to_m"] == pytest.approx(32.0, abs=0.5)
        assert row["amount"] == 1.0
    assert found(terrain, "dip").empty
    valley = surface_terrain(network_of(STRAIGHT), crest(ORIGIN[0] + 30.0, -0.2, -0.2))
    assert found(valley, "dip", "against")["size"].tolist() == pytest.approx([22.620], abs=1e-3)
    assert found(valley, "crest").empty


def test_grade_change_of_a_parabola() -> None:
    """On z = x²/2R the grade's angle changes by what the closed form says across the whole window."""
    bowl = Surface(
        height=lambda x, _y: (x - ORIGIN[0] - 30) ** 2 / 40.0,
        gradient=lambda x, y: ((x - ORIGIN[0] - 30) / 20.0, np.zeros_like(y)),
    )
    terrain = surface_terrain(network_of(STRAIGHT), bowl)
    change = grade_change(terrain.stations, course_of(terrain.stations), 4.0)
    assert change[60] == pytest.approx(np.degrees(2 * np.arctan(2.0 / 20.0)), abs=1e-5)


def test_twist_of_a_hyperbolic_ground() -> None:
    """On z = kxy the cross slope changes by k a metre: over 2.8 m (±3 stations of 0.5 m) by 3.0·k."""
    terrain = surface_terrain(network_of(STRAIGHT), twisted(0.05))
    angle = twist(terrain.stations, course_of(terrain.stations), 2.8)
    assert angle[60] == pytest.approx(np.degrees(np.arctan(0.05 * 3.0)), abs=0.05)


def test_a_plane_has_no_twist_however_the_trail_turns() -> None:
    """On a plane of 27° a square bend changes the cross slope from one side to the other; no wheel lifts."""
    corner = network_of({"a": at((0, 0), (20, 0), (20, 20), (5, 30))})
    terrain = surface_terrain(corner, plane(0.3, -0.4))
    angle = twist(terrain.stations, course_of(terrain.stations), 2.8)
    assert np.abs(np.diff(terrain.stations.cross)).max() > 0.4
    np.testing.assert_allclose(angle, 0.0, atol=1e-4)
    assert found(terrain, "cross-axle").empty


def test_cross_axle_is_found_both_ways() -> None:
    """Ground that twists by 0.06 a metre lifts a wheel over 20 m of trail: one place, the same in both directions."""
    saddle = surface_terrain(network_of({"a": at((-10, 0), (10, 0))}), twisted(0.06))
    (forward,), (back,) = (found(saddle, "cross-axle", way).to_dict("records") for way in ("with", "against"))
    assert forward["size"] == back["size"] == pytest.approx(np.degrees(np.arctan(0.06 * 3.0)), abs=0.1)
    assert forward["amount"] == back["amount"] == 1.0
    assert forward["from_m"] == back["from_m"]


def test_roughness_is_no_cross_axle() -> None:
    """Cross slopes that flip by 0.2 from station to station are rough ground; averaged over a track they go away."""
    terrain = plane_terrain()
    rough = np.where(np.arange(len(terrain.stations.cross)) % 2, 0.1, -0.1).astype(np.float32)
    shaken = replace(terrain, stations=replace(terrain.stations, cross=rough))
    assert found(shaken, "cross-axle").empty


def test_missing_height_takes_the_twist_around_it_away() -> None:
    """Where one of the slopes that make up a twist is missing, none is claimed; farther off it is as before."""
    terrain = surface_terrain(network_of(STRAIGHT), twisted(0.06))
    course = course_of(terrain.stations)
    whole = twist(terrain.stations, course, 2.8)
    cross = terrain.stations.cross.copy()
    cross[60] = np.nan
    holed = twist(replace(terrain.stations, cross=cross), course, 2.8)
    missing = np.flatnonzero(np.isnan(holed))
    assert (missing.min(), missing.max()) == (60 - 3 - 2, 60 + 3 + 2)
    np.testing.assert_allclose(np.delete(holed, missing), np.delete(whole, missing), atol=1e-9)


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_tight_turn_by_radius_and_side(sign: float) -> None:
    """A bend of radius 8 m over 10 m, + to the left: intensity (12 − 8)/(12 − 6), its side mirrored against."""
    terrain = plane_terrain()
    bend = np.where((terrain.stations.chainage_m >= 20) & (terrain.stations.chainage_m <= 30), sign / 8.0, 0.0)
    (forward,) = found(curved(terrain, bend), "tight turn").to_dict("records")
    (back,) = found(curved(terrain, bend), "tight turn", "against").to_dict("records")
    assert forward["size"] == pytest.approx(8.0, rel=1e-6)
    assert forward["intensity"] == pytest.approx(4.0 / 6.0, rel=1e-6)
    assert (forward["from_m"], forward["to_m"], forward["amount"]) == (20.0, 30.0, 1.0)
    assert forward["side"] == -sign
    assert back["side"] == sign


def test_a_wide_bend_and_a_kink_are_no_tight_turns() -> None:
    """A radius of 13 m is too wide, an arc of 2 m too short; a straight trail has none."""
    terrain = plane_terrain()
    chainage = terrain.stations.chainage_m
    assert found(curved(terrain, np.full(len(chainage), 1 / 13.0)), "tight turn").empty
    assert found(curved(terrain, np.where(np.abs(chainage - 30) <= 1.0, 1 / 7.0, 0.0)), "tight turn").empty
    assert found(terrain, "tight turn").empty


def test_short_rests_do_not_cut_a_climb() -> None:
    """A ledge of 2.5 m joins the climb on both sides of it; one of 4 m does not."""
    terrain = plane_terrain(grade=0.3)
    chainage = terrain.stations.chainage_m

    def climbs(ledge: float) -> int:
        grade = np.where(np.abs(chainage - 30) < ledge / 2, 0.0, 0.3).astype(np.float32)
        return len(found(replace(terrain, stations=replace(terrain.stations, grade=grade)), "climb"))

    assert climbs(2.5) == 1
    assert climbs(4.0) == 2


def test_nothing_is_claimed_where_heights_are_missing() -> None:
    """Without heights no slope is found, and no warning of a missing number is raised."""
    terrain = plane_terrain(grade=0.3, cross=0.3)
    hole = np.full(len(terrain.stations.grade), np.nan, dtype=np.float32)
    empty = replace(terrain, stations=replace(terrain.stations, grade=hole, cross=hole))
    table = stretches(empty, techniques())
    assert table.empty
    assert tuple(table.columns) == DETAILS


def test_intensity_runs_either_way() -> None:
    """0 at the first size, 1 at the second, clipped; the second may be the smaller."""
    np.testing.assert_allclose(intensity(np.array([5.0, 10.0, 17.5, 25.0, 40.0]), 10.0, 25.0), [0, 0, 0.5, 1, 1])
    np.testing.assert_allclose(intensity(np.array([15.0, 12.0, 9.0, 6.0, 3.0]), 12.0, 6.0), [0, 0, 0.5, 1, 1])


def test_climbed_metres_agree_with_numpy() -> None:
    """On hills the extents add up to what counting steep steps gives, within two steps a run."""
    network = network_of({"a": at((0, 5), (60, 30))})
    terrain = surface_terrain(network, sine_hills(25.0, 2.0))
    climbs = found(terrain, "climb")
    steep = np.degrees(np.arctan(terrain.stations.grade)) >= 10.0
    step = terrain.stations.chainage_m[1]
    assert len(climbs) >= 2
    assert climbs["amount"].sum() == pytest.approx((steep.sum() - len(climbs)) * step, abs=2 * step * len(climbs))
    for row in climbs.to_dict("records"):
        inside = (terrain.stations.chainage_m >= row["from_m"]) & (terrain.stations.chainage_m <= row["to_m"])
        peak = np.degrees(np.arctan(terrain.stations.grade[inside].astype(np.float64))).max()
        assert row["size"] == pytest.approx(peak)


@pytest.mark.parametrize("spacing", [0.25, 0.5, 1.0])
def test_station_spacing_matters_little(spacing: float) -> None:
    """A ramp is found where it is whatever the spacing, within one step; a crest's size does not depend on it."""
    network = network_of(STRAIGHT)
    terrain = surface_terrain(network, crest(ORIGIN[0] + 30.0, 0.2, 0.2), Measured(spacing_m=spacing))
    (climb,), (brow,) = (found(terrain, name).to_dict("records") for name in ("climb", "crest"))
    assert climb["to_m"] == pytest.approx(30.0, abs=spacing)
    assert brow["size"] == pytest.approx(22.620, abs=1e-3)
    assert brow["to_m"] - brow["from_m"] == pytest.approx(4.0, abs=1.5 * spacing)
