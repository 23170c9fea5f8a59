"""The whole chain of checks on four wheels: small worlds worked by hand, left and right, with and against."""

import math
from itertools import pairwise
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from pipeline.checks.run import run_checks
from pipeline.checks.site import CheckSite
from pipeline.terms import Driver
from pipeline.terrain.measure import measure_terrain
from pipeline.terrain.model import TerrainParameters
from pipeline.vehicle.envelope import make_envelope
from pipeline.vehicle.envelope_model import Envelope
from pipeline.vehicle.model import SetUpChoice
from tests.checks.worlds import LIMITS, envelope, ground_of, site_on, straight, with_stations
from tests.vehicle.worlds import EXTRAS, box
from tests.worlds import ORIGIN, Grid, Surface, at, network_of, plane, write_elevation

WAYS = ("with", "against")
STANDING = ("roll", "pitch_over", "articulation")


def checked(site: CheckSite, vehicle: Envelope | None = None) -> pd.DataFrame:
    """Make all checks of one set-up: rows by segment, direction and check."""
    table = run_checks(site, [vehicle or envelope()], LIMITS)
    return table.set_index(["segment_id", "direction", "check"]).sort_index()


def both(table: pd.DataFrame, check: str, column: str = "demand", segment: str = "s") -> list[object]:
    """Give a figure with and against."""
    return [table.loc[(segment, way, check), column] for way in WAYS]


def flat(kind: str, **columns: object) -> CheckSite:
    """Make a level trail with one thing at 30 m."""
    width = columns.pop("trail_m", 3.5)
    row = {"kind": kind, "segment_id": "s", "chainage_m": 30.0, **columns}
    return site_on(straight(obstacles=[row], width_m=width), plane())


def bent(curvature: float, cross: float) -> CheckSite:
    """Make a trail with the same bend all along, + to the left, on ground that rises by *cross* to the right."""
    site = site_on(straight(), plane(north=-cross))
    return with_stations(site, curvature=np.full_like(site.terrain.stations.curvature, curvature))


@pytest.mark.parametrize("side", [1.0, -1.0])
def test_bend_pushes_outwards(side: float) -> None:
    """At 10 km/h in a bend of 12 m 0.0656 g, 3.751°, add to ground that falls outwards and come off the other.

    On a plane straight across the force-angle measure is exact: atan c ± atan(v²κ ÷ g); curve formula as in any text
    on road design. Whatever the side and the direction, and never more than 0.25 g, 14.036°.
    """
    pushed = math.degrees(math.atan((10.0 / 3.6) ** 2 / 12.0 / 9.80665))
    bank = math.degrees(math.atan(0.1))
    assert pushed == pytest.approx(3.751, abs=1e-3)
    for cross, expected in ((0.0, pushed), (-0.1, bank + pushed), (0.1, bank - pushed)):
        table = checked(bent(side / 12.0, side * cross))
        assert both(table, "roll") == pytest.approx([expected] * 2, abs=2e-3)
    tight = checked(bent(side * 0.4, 0.0))
    assert both(tight, "roll") == pytest.approx([math.degrees(math.atan(0.25))] * 2, abs=2e-3)


@pytest.mark.parametrize("side", [1.0, -1.0])
def test_grip_in_a_bend(side: float) -> None:
    """Adverse camber of 0.1 in the same bend: tan(5.711° + 3.751°) = 0.1667, with 0.05 of rolling resistance 0.1740.

    Where the bank leans into the bend standing on it asks most, 0.1.
    """
    outwards, inwards = (checked(bent(side / 12.0, side * cross)) for cross in (-0.1, 0.1))
    assert both(outwards, "slide") == pytest.approx([math.hypot(0.16668, 0.05)] * 2, abs=1e-4)
    assert both(inwards, "slide") == pytest.approx([0.1] * 2, abs=1e-5)


def test_slower_drivers_lean_less() -> None:
    """Sideways force goes with the square of the speed: 6, 8 and 10 km/h."""
    found = [both(checked(bent(1 / 12.0, 0.0), envelope(driver=one)), "roll")[0] for one in Driver]
    tangents = [math.tan(math.radians(float(one))) for one in found]
    assert np.array(tangents) / tangents[-1] == pytest.approx([0.36, 0.64, 1.0], rel=1e-3)


def test_driver_on_the_left() -> None:
    """80 kg at 0.35 m left and 0.95 m high on 2200 kg at 0.72 m: centre 0.01228 m left, 0.72807 m high (moments).

    Of an arm of 0.805 m to either side 0.793 and 0.817 m are left; springs and tyres take a tenth.
    """
    loaded = make_envelope(box(EXTRAS), SetUpChoice("l", loads=("passenger",)))
    offset, height = 80.0 * 0.35 / 2280.0, (2200.0 * 0.72 + 80.0 * 0.95) / 2280.0
    assert loaded.cg_m[1:] == pytest.approx((offset, height), abs=1e-5)
    limits = [math.degrees(math.atan(0.9 * (0.805 - one) / height)) for one in (-offset, offset)]
    lean = math.degrees(math.atan(0.3))
    for north, expected in ((0.3, limits), (-0.3, limits[::-1])):  # eastwards the right side is down first
        table = checked(site_on(straight(), plane(north=north)), loaded)
        assert both(table, "roll", "limit") == pytest.approx(expected, abs=0.01)
        assert both(table, "roll") == pytest.approx([lean] * 2, abs=0.01)
        assert both(table, "roll", "utilisation") == pytest.approx([lean / one for one in expected], abs=1e-3)


@pytest.mark.parametrize("side", [1.0, -1.0])
def test_one_wheel_on_a_rock(side: float) -> None:
    """0.16 m under one wheel is a twist of 0.16 m of 0.45 m; each axle takes half: atan(0.16 ÷ 3.20) = 2.862°.

    The nose is up or down by asin(0.08 ÷ 2.80) meanwhile, which takes 1.2 thousandths off the roll.
    """
    table = checked(flat("rock", offset_m=side * 0.9, height_m=0.16, length_m=0.4, width_m=0.5, trail_m=2.8))
    assert both(table, "articulation") == pytest.approx([0.16] * 2, abs=1e-3)
    assert both(table, "articulation", "limit") == [0.45, 0.45]
    assert both(table, "roll") == pytest.approx([math.degrees(math.atan(0.16 / 3.2))] * 2, abs=0.02)
    nose = math.degrees(math.asin(0.08 / 2.8))
    assert both(table, "pitch_over") == pytest.approx([nose] * 2, abs=0.05)


@pytest.mark.parametrize("side", [1.0, -1.0])
def test_wheel_in_the_air_is_named(side: float) -> None:
    """On a rock twice as high as the travel a wheel over the low diagonal hangs: barred for anybody."""
    stiff = envelope(wheel_travel_m=0.08)
    table = checked(flat("rock", offset_m=side * 0.9, height_m=0.16, length_m=0.4, width_m=0.5, trail_m=2.8), stiff)
    assert both(table, "articulation", "verdict") == ["barred", "barred"]
    for way, text in zip(WAYS, both(table, "articulation", "reason"), strict=True):
        on_right = (side > 0.0) == (way == "with")
        lifts = ("front left lifts", "rear right lifts") if on_right else ("front right lifts", "rear left lifts")
        others = ("rear left lifts", "front right lifts") if on_right else ("rear right lifts", "front left lifts")
        assert any(one in str(text) for one in (*lifts, *others))
        assert "0.16 of 0.08 m" in str(text)


@pytest.mark.parametrize("side", [1.0, -1.0])
def test_hole_beside_the_line(side: float) -> None:
    """A hole of 0.15 m that one wheel cannot miss twists by 0.15 m; one that can be straddled twists nothing."""
    hole = {"offset_m": side * 0.8, "height_m": -0.15, "length_m": 1.0, "width_m": 0.6}
    narrow, wide = checked(flat("hole", trail_m=2.4, **hole)), checked(flat("hole", trail_m=4.0, **hole))
    assert both(narrow, "articulation") == pytest.approx([0.15] * 2, abs=1e-3)
    assert both(narrow, "roll") == pytest.approx([math.degrees(math.atan(0.15 / 3.2))] * 2, abs=0.02)
    assert both(wide, "articulation") == pytest.approx([0.0] * 2, abs=1e-6)
    assert both(wide, "roll") == pytest.approx([0.0] * 2, abs=1e-6)


def test_ditch_right_across() -> None:
    """Both wheels of an axle go down at once: nothing twists, nothing leans, the nose goes down by asin(0.1 ÷ 2.8)."""
    table = checked(flat("ditch", height_m=-0.1, length_m=2.0))
    assert both(table, "articulation") == pytest.approx([0.0] * 2, abs=1e-6)
    assert both(table, "roll") == pytest.approx([0.0] * 2, abs=1e-6)
    assert both(table, "pitch_over") == pytest.approx([math.degrees(math.asin(0.1 / 2.8))] * 2, abs=0.02)


def measured(folder: Path, surface: Surface, cuts: tuple[float, ...], **columns: object) -> CheckSite:
    """Measure a trail to the east, cut at some places, on an elevation model of 1 m."""
    ways = {f"s{k}": at((begin, 30.0), (end, 30.0)) for k, (begin, end) in enumerate(pairwise(cuts))}
    network = network_of(ways, surveyed_on="2026-04-18", width_m=3.5, obstacles_surveyed=True, **columns)
    path = write_elevation(folder / "ground.tif", surface, Grid(60, 60))
    terrain = measure_terrain(network, TerrainParameters(elevation=(path,)))
    return CheckSite(network, terrain, ground_of(len(ways)))


def test_segments_shorter_than_the_wheelbase(tmp_path: Path) -> None:
    """On a bank of 0.3 a trail of 2 m between others leans as they do, 16.699°; alone it cannot be stood on."""
    lean = math.degrees(math.atan(0.3))
    table = checked(measured(tmp_path, plane(north=0.3), (10.0, 29.0, 31.0, 50.0)))
    for segment in ("s0", "s1", "s2"):
        assert both(table, "roll", segment=segment) == pytest.approx([lean] * 2, abs=0.01)
        assert both(table, "articulation", segment=segment) == pytest.approx([0.0] * 2, abs=1e-3)
    alone = checked(measured(tmp_path, plane(north=0.3), (29.0, 31.0)))
    for check in STANDING:
        assert both(alone, check, "verdict", "s0") == ["unsurveyed"] * 2
        assert "shorter than the wheelbase" in str(both(alone, check, "reason", "s0")[0])


def test_bridges_do_not_stand_on_the_ground_below(tmp_path: Path) -> None:
    """Under a deck the ground says nothing: neither roll nor twist is known on it, and its ends lean nobody over."""
    gully = Surface(
        height=lambda x, y: 100.0 - (6.0 + 0.5 * (y - ORIGIN[1] - 30.0)) * (np.abs(x - ORIGIN[0] - 30.0) < 4.0),
        gradient=lambda x, _y: (np.zeros_like(x), np.zeros_like(x)),
    )
    table = checked(measured(tmp_path, gully, (5.0, 25.0, 35.0, 55.0), bridge={"s1": True}))
    for check in STANDING:
        assert both(table, check, "verdict", "s1") == ["unsurveyed"] * 2
        for segment in ("s0", "s2"):
            assert both(table, check, "verdict", segment) != ["barred"] * 2


def test_survey_grade_lines_alone_say_nothing_across() -> None:
    """Heights on the line alone carry the side view; what leans or needs grip waits for ground beside it."""
    points = [(ORIGIN[0] + x, ORIGIN[1], 100.0 + 0.2 * x) for x in np.linspace(0.0, 60.0, 121)]
    network = network_of({"s": points}, profile="survey", surveyed_on="2026-04-18", obstacles_surveyed=True)
    table = checked(CheckSite(network, measure_terrain(network, TerrainParameters()), ground_of(1)))
    for check in ("approach", "breakover", "departure", "belly"):
        assert both(table, check, "verdict") == ["ample"] * 2
    for check in (*STANDING, "slide", "climb", "descent"):
        assert both(table, check, "verdict") == ["unsurveyed"] * 2
        assert str(both(table, check, "reason")[0]).endswith("not known: no heights beside it")
