"""Roll and pitch-over: the force-angle measure on planes, in bends and on three wheels, and what must hold anywhere."""

import dataclasses
import math
import re

import numpy as np
import pytest
from numpy.typing import NDArray

from pipeline.checks.rolling import run_blocks
from pipeline.checks.site import CheckSite
from pipeline.checks.stability import PitchOver, Roll
from pipeline.spread import serial
from pipeline.survey.model import Network
from pipeline.terms import Driver
from pipeline.terrain.measure import measure_terrain
from pipeline.terrain.model import TerrainParameters
from pipeline.units import GRAVITY
from pipeline.vehicle.envelope_model import Envelope
from tests.checks.worlds import LIMITS, envelope, ground_of, outcome_of, site_on, straight, with_profiles, with_stations
from tests.worlds import ORIGIN, Measured, Surface, at, network_of, plane, surface_terrain

Floats = NDArray[np.float64]

RIGID = LIMITS.merged({"compliance_share": 0.0})


def demands(surface: Surface, vehicle: Envelope | None = None) -> tuple[list[float], list[float]]:
    """Give the demands of roll and pitch-over in both directions, degrees."""
    site = site_on(straight(), surface)
    roll, pitch = (outcome_of(check, site, vehicle) for check in (Roll(), PitchOver()))
    return roll.demand[0].tolist(), pitch.demand[0].tolist()


def waves(seed: int, *, mirrored: bool = False) -> Surface:
    """Make rough ground of twelve waves of 3 to 20 m, up to 0.3 m high, on a side slope; or its image in the trail."""
    rng = np.random.default_rng(seed)
    length, turn = rng.uniform(3.0, 20.0, 12), rng.uniform(0.0, 2.0 * np.pi, 12)
    east, north = 2.0 * np.pi / length * np.sin(turn), 2.0 * np.pi / length * np.cos(turn)
    high, phase = 0.02 * length * rng.uniform(0.0, 1.0, 12), rng.uniform(0.0, 2.0 * np.pi, 12)
    side = -1.0 if mirrored else 1.0

    def height(x: Floats, y: Floats) -> Floats:
        away, up = np.asarray(x - ORIGIN[0])[..., None], side * np.asarray(y - ORIGIN[1])[..., None]
        return 100.0 + 0.1 * up[..., 0] + (high * np.sin(east * away + north * up + phase)).sum(axis=-1)

    return Surface(height=height, gradient=lambda x, y: (np.zeros_like(x), np.zeros_like(y)))


@pytest.mark.parametrize(("track", "height", "degrees"), [(1.6, 0.72, 48.013), (2.34, 1.0, 49.48)])
def test_tips_exactly_at_the_stability_factor(track: float, height: float, degrees: float) -> None:
    """Rigid, on a side slope of tan = SSF utilisation is 1: SSF 1.1111 is 48.013°, NHTSA's 1.17 of 2003 is 49.48°."""
    site = site_on(straight(), plane(north=track / 2.0 / height))
    vehicle = envelope(track_front_m=track, track_rear_m=track, cg_m=(-1.4, 0.0, height))
    found = outcome_of(Roll(), site, vehicle, RIGID)
    assert found.limit == pytest.approx(degrees, abs=0.01)
    assert found.utilisation == pytest.approx(1.0, abs=1e-5)
    assert found.demand == pytest.approx(degrees, abs=0.01)


def test_springs_and_tyres_take_a_tenth_of_the_arm() -> None:
    """Tangent of the limit 0.9 × 0.8/0.72: 45.000°; lengthwise 0.9 × 1.4/0.72: 60.255° (assumption of the settings)."""
    site = site_on(straight(), plane())
    assert outcome_of(Roll(), site).limit[0].tolist() == pytest.approx([45.0, 45.0])
    assert outcome_of(PitchOver(), site).limit[0].tolist() == pytest.approx([60.255] * 2, abs=1e-3)


@pytest.mark.parametrize("degrees", [5.0, 20.0, 40.0])
@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_a_plane_straight_across_takes_its_slope(degrees: float, sign: float) -> None:
    """θ(lateral) + slope = atan(SSF): roll asks for the slope, whichever side falls, both ways, pitch-over for nothing.

    A property that Papadopoulos and Rey's measure has exactly.
    """
    roll, pitch = demands(plane(0.0, sign * math.tan(math.radians(degrees))))
    assert roll == pytest.approx([degrees] * 2, abs=2e-3)
    assert pitch == pytest.approx([0.0] * 2, abs=1e-3)


@pytest.mark.parametrize("degrees", [5.0, 20.0, 40.0])
def test_a_plane_straight_up_takes_its_grade(degrees: float) -> None:
    """Up over the rear edge, down over the front one."""
    roll, pitch = demands(plane(math.tan(math.radians(degrees))))
    assert pitch == pytest.approx([degrees] * 2, abs=2e-3)
    assert roll == pytest.approx([0.0] * 2, abs=1e-3)


@pytest.mark.parametrize(("slope", "sideways", "lengthwise"), [(20.0, 33.580, 48.351), (30.0, 25.805, 40.576)])
def test_a_plane_at_45_degrees_is_the_force_angle(slope: float, sideways: float, lengthwise: float) -> None:
    """What is left of 48.013° and 62.784° on a plane, heading 45° off the fall line measured in it.

    Force-angle values of the rectangle 1.60 × 2.80 m, mass at 0.72 m (Papadopoulos & Rey 2000, recomputed).
    """
    steep = math.radians(slope)
    heading = math.atan2(math.sin(math.pi / 4.0), math.cos(math.pi / 4.0) * math.cos(steep))
    grade, cross = math.tan(steep) * math.cos(heading), math.tan(steep) * math.sin(heading)
    roll, pitch = demands(plane(grade, -cross))
    assert roll == pytest.approx([48.013 - sideways] * 2, abs=3e-3)
    assert pitch == pytest.approx([62.784 - lengthwise] * 2, abs=3e-3)


def test_roll_is_less_than_the_side_slope_while_climbing() -> None:
    """Grade 0.5, cross 0.2: 10.142°, not 11.310° (statics of a plane: atan(cross · cos pitch), recomputed)."""
    roll, _ = demands(plane(0.5, -0.2))
    assert roll == pytest.approx([10.142] * 2, abs=3e-3)


def test_lengthwise_limits_are_those_of_the_edge_it_goes_towards() -> None:
    """Nose-heavy by 0.4 m: uphill the rear edge 1.8 m away counts, downhill the front one 1.0 m away."""
    found = outcome_of(PitchOver(), site_on(straight(), plane(0.5)), envelope(cg_m=(-1.0, 0.0, 0.72)), RIGID)
    assert found.demand[0].tolist() == pytest.approx([26.565] * 2, abs=2e-3)
    assert found.limit[0].tolist() == pytest.approx(np.degrees(np.arctan([1.8 / 0.72, 1.0 / 0.72])).tolist())


def test_a_load_to_one_side_counts_towards_that_side() -> None:
    """0.1 m left of the middle: 0.7 m of arm where the left side is down, 0.9 m where the right one is."""
    vehicle = envelope(cg_m=(-1.4, 0.1, 0.72))
    for north, arms in ((0.3, (0.9, 0.7)), (-0.3, (0.7, 0.9))):
        found = outcome_of(Roll(), site_on(straight(), plane(0.0, north)), vehicle, RIGID)
        assert found.demand[0].tolist() == pytest.approx([math.degrees(math.atan(0.3))] * 2, abs=2e-3)
        assert np.tan(np.radians(found.limit[0])) * 0.72 == pytest.approx(np.array(arms))


@pytest.mark.parametrize("bend", [0.1, -0.04, 0.5])
@pytest.mark.parametrize("driver", [Driver.FIRST_TIMER, Driver.EXPERT])
def test_a_bend_on_level_ground_leans_by_its_force(bend: float, driver: Driver) -> None:
    """The force leans outwards by atan(v²κ ÷ g), both ways the same, and never by more than atan 0.25 (slows down)."""
    site = site_on(straight(), plane())
    curvature = np.full_like(site.terrain.stations.curvature, bend)
    found = outcome_of(Roll(), with_stations(site, curvature=curvature), envelope(driver=driver))
    speed = {Driver.FIRST_TIMER: 6.0, Driver.EXPERT: 10.0}[driver] / 3.6
    expected = math.degrees(math.atan(min(speed**2 * abs(bend) / GRAVITY, 0.25)))
    assert found.demand[0].tolist() == pytest.approx([expected] * 2, abs=1e-3)


def test_a_bend_leans_to_its_outside() -> None:
    """Turning left on a side slope that falls to the right adds up; turning right takes away. The other way as well."""
    site = site_on(straight(), plane(0.0, 0.2))
    slope = math.degrees(math.atan(0.2))
    lean = math.degrees(math.atan((10.0 / 3.6) ** 2 * 0.1 / GRAVITY))
    for bend in (0.1, -0.1):
        curvature = np.full_like(site.terrain.stations.curvature, bend)
        found = outcome_of(Roll(), with_stations(site, curvature=curvature))
        assert found.demand[0].tolist() == pytest.approx([slope + math.copysign(lean, bend)] * 2, abs=2e-3)


@pytest.mark.parametrize("seed", range(4))
def test_mirrored_ground_swaps_left_and_right(seed: int) -> None:
    """A symmetric vehicle is asked the same on ground mirrored in the trail; one loaded to a side like its mirror."""
    for cg_y in (0.0, 0.12):
        plain, other = (
            outcome_of(Roll(), site_on(straight(), waves(seed, mirrored=flag)), envelope(cg_m=(-1.4, side, 0.72)))
            for flag, side in ((False, cg_y), (True, -cg_y))
        )
        assert plain.demand == pytest.approx(other.demand, abs=1e-4)
        assert plain.utilisation == pytest.approx(other.utilisation, abs=1e-6)
        assert plain.at_m == pytest.approx(other.at_m, abs=1e-6)
    lopsided = outcome_of(Roll(), site_on(straight(), waves(seed, mirrored=True)), envelope(cg_m=(-1.4, 0.12, 0.72)))
    assert lopsided.utilisation != pytest.approx(plain.utilisation, rel=0.01)


@pytest.mark.parametrize("seed", range(4))
def test_the_other_direction_is_the_other_column(seed: int) -> None:
    """The trail digitised the other way: columns change places, chainages count from the other end.

    To within what half a pose spacing makes: poses begin at the end that a run begins with.
    """
    lines = [at((0.0, 0.0), (60.0, 0.0)), at((60.0, 0.0), (0.0, 0.0))]
    networks: list[Network] = [network_of({"s": line}, surveyed_on="2026-04-18") for line in lines]
    sites = [CheckSite(one, surface_terrain(one, waves(seed)), ground_of(1)) for one in networks]
    for check in (Roll(), PitchOver()):
        there, back = (outcome_of(check, site, envelope(cg_m=(-1.2, 0.1, 0.72))) for site in sites)
        assert there.utilisation[0] == pytest.approx(back.utilisation[0, ::-1], rel=0.03)
        assert there.at_m[0] == pytest.approx(60.0 - back.at_m[0, ::-1], abs=0.5)


@pytest.mark.parametrize("seed", range(4))
def test_a_symmetric_vehicle_is_asked_the_same_both_ways(seed: int) -> None:
    """Turned round on the same four spots it leans the same; only front and rear edge change places."""
    for check in (Roll(), PitchOver()):
        found = outcome_of(check, site_on(straight(), waves(seed)))
        assert found.utilisation[0, 0] == pytest.approx(found.utilisation[0, 1], rel=0.03)


@pytest.mark.parametrize("seed", range(4))
def test_a_raised_centre_of_gravity_uses_more_everywhere(seed: int) -> None:
    """8 cm up: more of the limit of roll and of pitch-over on every segment, in both directions.

    On all four wheels, that is. Balanced on the diagonal the height counts little: the limit is nearly used up anyway.
    """
    lines = {f"s{k}": at((2.0, 4.0 * k), (50.0, 4.0 * k + 3.0)) for k in range(6)}
    network = network_of(lines, surveyed_on="2026-04-18")
    site = CheckSite(network, surface_terrain(network, waves(seed)), ground_of(6))
    for check in (Roll(), PitchOver()):
        low, high = (outcome_of(check, site, envelope(cg_m=(-1.4, 0.0, z), wheel_travel_m=1.5)) for z in (0.72, 0.80))
        assert (high.utilisation > low.utilisation).all()


def test_angles_do_not_depend_on_the_unit_of_length(monkeypatch: pytest.MonkeyPatch) -> None:
    """Ground, vehicle, steps and footprint twice as large: the same angles."""
    once = straight()
    ground = waves(5)
    twice = Surface(
        height=lambda x, y: (
            100.0 + 2.0 * (ground.height(ORIGIN[0] + (x - ORIGIN[0]) / 2.0, ORIGIN[1] + (y - ORIGIN[1]) / 2.0) - 100.0)
        ),
        gradient=ground.gradient,
    )
    small, large = site_on(once, ground), site_on(straight(120.0), twice, Measured(step_m=0.2, spacing_m=1.0))
    strip = small.terrain.profiles.strip
    large = with_profiles(
        large, strip=dataclasses.replace(strip, across_m=2.0 * strip.across_m, rise_m=2.0 * strip.rise_m)
    )
    lengths = ("wheelbase_m", "track_front_m", "track_rear_m", "tyre_radius_m", "tyre_width_m", "wheel_travel_m")
    vehicle = envelope()
    giant = envelope(**{name: 2.0 * getattr(vehicle, name) for name in lengths}, cg_m=(-2.8, 0.0, 1.44))
    found = [outcome_of(check, small, vehicle) for check in (Roll(), PitchOver())]
    monkeypatch.setattr(run_blocks, "POSE_EVERY_M", 0.4)
    limits = LIMITS.merged({"footprint_m": 0.4})
    for one, check in zip(found, (Roll(), PitchOver()), strict=True):
        other = outcome_of(check, large, giant, limits)
        assert one.demand == pytest.approx(other.demand, rel=1e-4)
        assert one.limit == pytest.approx(other.limit)
        assert 2.0 * one.at_m == pytest.approx(other.at_m, abs=0.01)


def test_on_three_wheels_the_balance_is_nearly_gone() -> None:
    """A block of twice the travel under one wheel: the diagonal counts, near its limit, and the sentence says so."""
    site = site_on(straight(), plane())
    rise = site.terrain.profiles.strip.rise_m.copy()
    rise[58:63, :5] = 0.4
    site = with_profiles(site, strip=dataclasses.replace(site.terrain.profiles.strip, rise_m=rise))
    found = outcome_of(Roll(), site, envelope(wheel_travel_m=0.2))
    assert found.more[0, 0].startswith("on three wheels, ")
    assert found.more[0, 0].endswith(" right in the air") or found.more[0, 0].endswith(" left in the air")
    assert found.utilisation[0].tolist() == pytest.approx([1.0, 1.0], abs=0.15)
    gentle = outcome_of(Roll(), site_on(straight(), plane(0.0, 0.2)))
    assert gentle.more.tolist() == [["", ""]]


def test_level_ground_asks_nothing_of_the_worse_side() -> None:
    """No demand, the smaller of the limits, the worth of the stations' heights."""
    found = outcome_of(Roll(), site_on(straight(), plane()), envelope(cg_m=(-1.4, 0.1, 0.72)), RIGID)
    assert (found.demand[0].tolist(), found.utilisation[0].tolist()) == ([0.0, 0.0], [0.0, 0.0])
    assert found.limit[0].tolist() == pytest.approx([math.degrees(math.atan(0.7 / 0.72))] * 2)
    assert found.basis[0].tolist() == [3, 3]


@pytest.mark.parametrize(("check", "size", "what"), [(Roll(), 1.6, "lean"), (PitchOver(), 2.8, "pitch")])
def test_cells_larger_than_what_leans_hide_it(check: Roll | PitchOver, size: float, what: str) -> None:
    """A cell of the track (of the wheelbase) shows how a vehicle leans; one a little larger leaves it open."""
    fine = outcome_of(check, site_on(straight(), plane(north=0.1), Measured(cell_m=size)))
    coarse = outcome_of(check, site_on(straight(), plane(north=0.1), Measured(cell_m=size + 0.1)))
    assert fine.unknown.tolist() == [[""] * 2]
    hidden = f"an elevation cell of {size + 0.1:.1f} m hides a {what} over a "
    assert all(text.startswith(hidden) for text in coarse.unknown[0])
    assert coarse.unknown[0, 0].endswith(f"of {size:.2f} m; at most {size:.2f} m shows it")


def test_coarse_cells_average_slopes_away() -> None:
    """A cell above the limit for slopes leaves roll and pitch-over open, with the cell in the reason."""
    found = outcome_of(Roll(), site_on(straight(), plane(north=0.1), Measured(cell_m=10.0)))
    assert "10.0 m averages slopes away; at most 5.0 m" in found.unknown[0, 0]


def test_ground_missing_beside_the_line_is_told() -> None:
    """Heights on the line all along and a void 0.9 m right of it: which share of the poses, and from where."""
    site = site_on(straight(), plane())
    rise = site.terrain.profiles.strip.rise_m.copy()
    rise[60, 8] = np.nan
    site = with_profiles(site, strip=dataclasses.replace(site.terrain.profiles.strip, rise_m=rise))
    text = outcome_of(Roll(), site).unknown[0, 0]
    assert re.fullmatch(r"\d+% of the poses lack ground under a wheel, from 2[78]\.\d m", text)
    assert outcome_of(PitchOver(), site).unknown[0, 0] == text


def test_a_surveyed_line_alone_says_nothing_of_the_ground_beside_it() -> None:
    """Survey-grade heights and no elevation model: lean is not known anywhere."""
    network = network_of({"s": [(*p, 7.0) for p in at((10, 30), (50, 30))]}, profile="survey")
    site = CheckSite(network, measure_terrain(network, TerrainParameters(), serial), ground_of(1))
    for check in (Roll(), PitchOver()):
        found = outcome_of(check, site)
        assert found.unknown[0, 0] == "no heights beside it"
        assert not (found.utilisation > 0.0).any()


def test_an_unmeasured_rock_under_a_wheel_is_told() -> None:
    """Nobody measured it, so nobody knows the lean there; one between the wheels tilts nothing."""
    rock = {"kind": "rock", "obstacle_id": "r", "segment_id": "s", "chainage_m": 30.0, "width_m": 0.3}
    met, missed = (site_on(straight(obstacles=[{**rock, "offset_m": where}]), plane()) for where in (0.8, 0.0))
    assert outcome_of(Roll(), met).unknown[0, 0] == "rock r at 30.0 m has no height"
    assert outcome_of(Roll(), missed).unknown[0, 0] == ""


def test_a_trail_shorter_than_the_vehicle_is_told() -> None:
    """2 m of trail and nothing before or behind it."""
    found = outcome_of(Roll(), site_on(straight(2.0), plane()))
    assert found.unknown[0, 0] == "shorter than the wheelbase of 2.80 m"
