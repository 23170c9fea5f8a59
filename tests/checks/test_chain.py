"""The whole chain of checks on worlds whose answers are worked by hand: what a user reads in the table of checks."""

import dataclasses
import math
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from pipeline.checks.run import run_checks
from pipeline.checks.site import CheckSite
from pipeline.survey.model import Network
from pipeline.terms import Basis
from pipeline.terrain.measure import measure_terrain
from pipeline.terrain.model import TerrainParameters
from pipeline.vehicle.envelope import make_envelope
from pipeline.vehicle.envelope_model import Envelope
from pipeline.vehicle.model import SetUpChoice
from tests.checks.worlds import LIMITS, envelope, ground_of, mirrored, site_on, straight, with_profiles, with_stations
from tests.vehicle.worlds import EXTRAS, PUBLISHED, box
from tests.worlds import (
    ORIGIN,
    Grid,
    Measured,
    Surface,
    at,
    crest,
    network_of,
    plane,
    plane_world,
    ramp,
    step,
    surface_terrain,
    write_elevation,
)

CLEARANCES = ["approach", "breakover", "departure", "belly"]
OPEN = {"ample", "watch", "spot"}


def checked(site: CheckSite, vehicle: Envelope | None = None) -> pd.DataFrame:
    """Make all checks of one set-up: rows by segment, direction and check."""
    table = run_checks(site, [vehicle or envelope()], LIMITS)
    return table.set_index(["segment_id", "direction", "check"]).sort_index()


def demands(table: pd.DataFrame, check: str, segment: str = "s") -> list[float]:
    """Give the demand with and against."""
    return [float(table.loc[(segment, way, check), "demand"]) for way in ("with", "against")]


def verdicts(table: pd.DataFrame, check: str, segment: str = "s") -> list[str]:
    """Give the verdict with and against."""
    return [str(table.loc[(segment, way, check), "verdict"]) for way in ("with", "against")]


def thing(kind: str, **columns: object) -> dict[str, object]:
    """Make a thing at 30 m on the centre line."""
    return {"kind": kind, "segment_id": "s", "chainage_m": 30.0, "offset_m": 0.0, **columns}


def flat(*things: dict[str, object], **columns: object) -> CheckSite:
    """Make a level trail with things on it."""
    return site_on(straight(obstacles=things, **columns), plane())


def brow(degrees: float, place: float = 30.0) -> Surface:
    """Make a crest of two planes that meet at an angle, symmetric."""
    slope = math.tan(math.radians(degrees / 2.0))
    return crest(ORIGIN[0] + place, slope, slope)


@pytest.mark.parametrize("bearing", [0.0, 37.0, 135.0, 260.0])
@pytest.mark.parametrize(("grade", "cross"), [(0.0, 0.3), (0.25, 0.0), (-0.25, 0.1), (0.40824829, -0.40824829)])
def test_plane(grade: float, cross: float, bearing: float) -> None:
    """Climb and descent atan g; roll atan(c·cos pitch); tipping atan(sin pitch ÷ cos slope); slide √(g² + c²).

    Driving, rolling resistance of 0.05 is asked lengthwise on top (friction circle). Statics of a plane, derived;
    the last row is the plane of 30° at 45°: pitch 22.208°, roll 20.705° (recomputed).
    """
    network, surface = plane_world(60.0, grade, cross, bearing)
    table = checked(CheckSite(network, surface_terrain(network, surface), ground_of(1)))
    pitch, whole = math.atan(abs(grade)), math.hypot(grade, cross)
    climb = math.degrees(pitch)
    assert demands(table, "climb", "a") == pytest.approx([climb, 0.0] if grade > 0 else [0.0, climb], abs=1e-3)
    assert demands(table, "descent", "a") == pytest.approx([0.0, climb] if grade > 0 else [climb, 0.0], abs=1e-3)
    roll = math.degrees(math.atan(abs(cross) * math.cos(pitch)))
    assert demands(table, "roll", "a") == pytest.approx([roll, roll], abs=1e-3)
    tip = math.degrees(math.atan(math.sin(pitch) / math.cos(math.atan(whole))))
    assert demands(table, "pitch_over", "a") == pytest.approx([tip, tip], abs=1e-3)
    push = math.copysign(math.tan(math.radians(tip)), grade)
    driving = [math.hypot(max(one + 0.05, 0.0), math.tan(math.radians(roll))) for one in (push, -push)]
    assert demands(table, "slide", "a") == pytest.approx([max(whole, one) for one in driving], abs=1e-5)
    if cross == -0.40824829:
        assert (climb, roll) == pytest.approx((22.208, 20.705), abs=1e-3)
    assert all(verdicts(table, check, "a") == ["ample", "ample"] for check in CLEARANCES)


def test_ramp_foot_and_top() -> None:
    """A ramp of 12°: 12° of the bumper's 29.342° and of the tail's 18.640°, and over its top 12° of 20.750°."""
    table = checked(site_on(straight(), ramp(ORIGIN[0] + 20.0, math.tan(math.radians(12.0)), 15.0)))
    for check, limit in (("approach", 29.342), ("departure", 18.640), ("breakover", 20.750)):
        assert demands(table, check) == pytest.approx([12.0, 12.0], abs=0.03)
        assert table.loc[("s", "with", check), "limit"] == pytest.approx(limit, abs=0.01)
    assert table.loc[("s", "with", "approach"), "at_m"] == pytest.approx(20.0, abs=1.5)
    assert table.loc[("s", "with", "breakover"), "at_m"] == pytest.approx(35.0, abs=0.2)


@pytest.mark.parametrize(("degrees", "verdict"), [(12.0, "ample"), (16.0, "watch"), (19.0, "spot"), (21.0, "barred")])
def test_symmetric_crest(degrees: float, verdict: str) -> None:
    """The angle between the planes of 20.750° (49 CFR 523.2): up to 0.6 ample, 0.85 watch, 1 spot, then barred."""
    table = checked(site_on(straight(), brow(degrees)))
    assert demands(table, "breakover") == pytest.approx([degrees] * 2, abs=0.03)
    assert verdicts(table, "breakover") == [verdict] * 2


def test_ditch_of_two_planes() -> None:
    """Down at 6° and up at 6°: bumper and tail meet 12°, nothing is under the belly."""
    table = checked(site_on(straight(), brow(-12.0)))
    assert demands(table, "approach") == pytest.approx([12.0] * 2, abs=0.05)
    assert demands(table, "departure") == pytest.approx([12.0] * 2, abs=0.05)
    assert demands(table, "breakover") == pytest.approx([0.0] * 2, abs=0.05)


def test_step_up_both_ways() -> None:
    """A step of 0.5 m stops the bumper (0.45 m) going up, and the tail (0.35 m) when it is dropped off."""
    table = checked(site_on(straight(), step(ORIGIN[0] + 30.0, 0.5)))
    assert verdicts(table, "approach")[0] == "barred"
    assert verdicts(table, "departure")[1] == "barred"
    assert verdicts(table, "belly") == ["barred", "barred"]


@pytest.mark.parametrize(("height", "verdict"), [(0.08, "ample"), (0.12, "watch"), (0.15, "spot"), (0.16, "barred")])
def test_rock_straddled(height: float, verdict: str) -> None:
    """A rock between the wheels, h of the lower axle housing's 0.20 m less 0.05 m of air, on a trail without room."""
    table = checked(flat(thing("rock", height_m=height, length_m=0.4, width_m=0.5), width_m=2.4))
    assert demands(table, "belly") == pytest.approx([height] * 2, abs=1e-6)
    assert table.loc[("s", "with", "belly"), "limit"] == pytest.approx(0.15)
    assert verdicts(table, "belly") == [verdict] * 2


def test_rock_too_high_to_straddle_is_trodden_on_where_there_is_room() -> None:
    """On a trail of 3.5 m a wheel is put on a rock of 0.16 m, and the belly clears it: 0.16 m of 0.20 m."""
    table = checked(flat(thing("rock", height_m=0.16, length_m=0.4, width_m=0.5)))
    assert demands(table, "belly") == pytest.approx([0.16] * 2, abs=1e-6)
    assert verdicts(table, "belly") == ["watch"] * 2


def test_rock_at_the_wheels() -> None:
    """A rock that a tyre meets lifts the axle over itself: 0.15 m of the belly's 0.20 m; one between them does not.

    One that begins 0.15 m beside the body (0.95 m) is nothing. Where the trail is wide enough to shift the line, all of
    them are straddled: 0.15 m of the housing's 0.15 m.
    """
    rock = thing("rock", height_m=0.15, length_m=0.8, width_m=0.3)
    for offset, narrow in ((0.0, 1.0), (0.8, 0.75), (0.6, 0.75), (-0.6, 0.75), (1.3, 0.0)):
        table = checked(flat({**rock, "offset_m": offset}, width_m=2.4))
        assert table.loc[("s", "with", "belly"), "utilisation"] == pytest.approx(narrow, abs=1e-6)
    for offset in (0.8, 0.6, -0.6):
        table = checked(flat({**rock, "offset_m": offset}, width_m=3.5))
        assert table.loc[("s", "with", "belly"), "utilisation"] == pytest.approx(1.0, abs=1e-6)


def test_rut_and_log() -> None:
    """Ruts 0.12 m deep bring the ridge up by 0.12 m, a log of 0.12 m across stands 0.12 m over the line."""
    rut = checked(flat(thing("rut", height_m=-0.12, length_m=12.0)))
    log = checked(flat(thing("log", height_m=0.12, length_m=0.3)))
    assert demands(rut, "belly") == pytest.approx([0.12] * 2, abs=0.006)
    assert demands(log, "belly") == pytest.approx([0.12] * 2, abs=0.006)


def test_mirrored_vehicle_the_other_way() -> None:
    """A vehicle turned round and driven the other way meets with its tail what it met with its bumper."""
    site = site_on(straight(), crest(ORIGIN[0] + 30.0, 0.05, 0.25))
    plain, turned = checked(site), checked(site, mirrored(envelope()))
    swapped = {"approach": "departure", "departure": "approach", "breakover": "breakover", "belly": "belly"}
    for check, other in swapped.items():
        found = [plain.loc[("s", way, check), "utilisation"] for way in ("with", "against")]
        twin = [turned.loc[("s", way, other), "utilisation"] for way in ("against", "with")]
        assert found == pytest.approx(twin, rel=0.02, abs=0.01)


def test_raised_suspension() -> None:
    """5 cm more: belly 0.30 m by the tangent rule; the roof rises by as much, the tip angle falls."""
    vehicle = box(EXTRAS)
    normal = make_envelope(vehicle, SetUpChoice("n"))
    raised = make_envelope(vehicle, SetUpChoice("r", suspension="raised"))
    site = site_on(straight(obstacles=[thing("branch", clear_height_m=2.02)]), brow(16.0))
    before, after = checked(site, normal), checked(site, raised)
    b = math.degrees(math.asin(0.38 / math.hypot(1.4, 0.08)) - math.atan(0.08 / 1.4))
    assert after.loc[("s", "with", "breakover"), "limit"] == pytest.approx(2.0 * b, abs=0.01)
    assert before.loc[("s", "with", "breakover"), "limit"] == pytest.approx(20.750, abs=0.01)
    assert (verdicts(before, "height")[0], verdicts(after, "height")[0]) == ("spot", "barred")
    assert after.loc[("s", "with", "roll"), "limit"] < before.loc[("s", "with", "roll"), "limit"]


def test_roof_load() -> None:
    """75 kg at 1.95 m on 2200 kg at 0.72 m: cg at 0.76055 m, 0.805 m from the edge (tracks of 1.60 and 1.62 m).

    NHTSA's definition (SSF, recomputed), of whose arm springs and tyres take a tenth: atan(0.9 · 1.05845) = 43.609°.
    """
    loaded = make_envelope(box(EXTRAS), SetUpChoice("l", loads=("roof",)))
    site = site_on(straight(obstacles=[thing("branch", clear_height_m=2.2)]), plane(north=0.3))
    table = checked(site, loaded)
    assert table.loc[("s", "with", "roll"), "limit"] == pytest.approx(43.609, abs=0.01)
    assert demands(table, "height") == pytest.approx([2.25, 2.25])  # top of the load 2.15 m and 0.10 m of room
    assert verdicts(table, "height") == ["barred", "barred"]


def test_load_to_one_side_counts_towards_that_side() -> None:
    """A centre of gravity 0.1 m left of the middle: 0.7 m of arm where the left side is down, 0.9 m where the right is.

    Eastward the right side is down where the ground rises to the north. Of the arm springs and tyres take a tenth.
    """
    vehicle = envelope(cg_m=(-1.4, 0.1, 0.72))
    for north, arms in ((0.5, (0.9, 0.7)), (-0.5, (0.7, 0.9))):
        table = checked(site_on(straight(), plane(north=north)), vehicle)
        found = [table.loc[("s", way, "roll"), "utilisation"] for way in ("with", "against")]
        assert found == pytest.approx([math.atan(0.5) / math.atan(0.9 * arm / 0.72) for arm in arms], abs=1e-4)


def lines_over(surface: Surface, *ways: tuple[str, float, float]) -> Network:
    """Make survey-grade trails to the east, end to end, with a vertex every 0.5 m."""
    lines = {}
    for name, begin, end in ways:
        x = np.linspace(begin, end, round(abs(end - begin) / 0.5) + 1)
        xy = np.array(at(*((one, 0.0) for one in x)))
        lines[name] = np.column_stack([xy, surface.height(xy[:, 0], xy[:, 1])]).tolist()
    return network_of(lines, profile="survey", surveyed_on="2026-04-18", obstacles_surveyed=True, width_m=3.5)


def surveyed(network: Network) -> CheckSite:
    """Measure survey-grade trails without any elevation model."""
    return CheckSite(network, measure_terrain(network, TerrainParameters()), ground_of(len(network.segments)))


@pytest.mark.parametrize("turned", [False, True])
def test_brow_at_a_junction_is_seen_from_both_trails(*, turned: bool) -> None:
    """A brow of 24° on the very node where two trails meet bars both of them, whichever way they were digitised."""
    second = ("b", 60.0, 30.0) if turned else ("b", 30.0, 60.0)
    table = checked(surveyed(lines_over(brow(24.0), ("a", 0.0, 30.0), second)))
    for segment in ("a", "b"):
        assert demands(table, "breakover", segment) == pytest.approx([24.0] * 2, abs=0.05)
        assert verdicts(table, "breakover", segment) == ["barred"] * 2


def test_dead_end() -> None:
    """A step 0.4 m before a dead end still stands in front of the bumper; ground beyond the end is not made up."""
    network = lines_over(plane(), ("s", 0.0, 30.0))
    blocked = dataclasses.replace(network, obstacles=flat(thing("step", height_m=0.5)).network.obstacles.copy())
    blocked.obstacles["chainage_m"] = 29.6
    assert verdicts(checked(surveyed(blocked)), "approach")[0] == "barred"
    assert all(verdicts(checked(surveyed(network)), check) == ["ample", "ample"] for check in CLEARANCES)


def junction(tmp_path: Path, *things: dict[str, object]) -> pd.DataFrame:
    """Check three trails that meet in one node on level ground."""
    lines = {"s": at((5, 30), (30, 30)), "b": at((30, 30), (55, 35)), "c": at((30, 30), (50, 12))}
    network = network_of(lines, surveyed_on="2026-04-18", width_m=3.5, obstacles=things, obstacles_surveyed=True)
    elevation = write_elevation(tmp_path / "ground.tif", plane(), Grid(height=60))
    terrain = measure_terrain(network, TerrainParameters(elevation=(elevation,)))
    return checked(CheckSite(network, terrain, ground_of(3)))


@pytest.mark.parametrize("home", ["s", "b", "c"])
def test_obstacle_on_a_node_bars_every_trail_there(tmp_path: Path, home: str) -> None:
    """A rock, a low branch and a narrow gate on a node count for all three trails, whichever the survey put them on."""
    place = {"segment_id": home, "chainage_m": 25.0 if home == "s" else 0.0}
    table = junction(
        tmp_path,
        {**thing("rock", height_m=0.3, length_m=0.5, width_m=0.5), **place},
        {**thing("branch", clear_height_m=1.5), **place},
        {**thing("gap", clear_width_m=1.8), **place},
    )
    for segment in ("s", "b", "c"):
        for check in ("belly", "height", "width"):
            assert verdicts(table, check, segment) == ["barred"] * 2


def test_unmeasured_rock_on_a_node_leaves_every_trail_open(tmp_path: Path) -> None:
    """Nobody measured it: none of the trails that meet there passes."""
    table = junction(tmp_path, {**thing("rock", width_m=0.5), "segment_id": "b", "chainage_m": 0.0})
    for segment in ("s", "b", "c"):
        assert verdicts(table, "belly", segment) == ["unsurveyed"] * 2


def test_obstacle_on_a_neighbour_is_rolled_over_from_here(tmp_path: Path) -> None:
    """A rock under the front wheels, 1 m into the next trail, tilts the vehicle whose tail is still on this one."""
    rock = {**thing("rock", height_m=0.3, length_m=0.8, width_m=3.0), "segment_id": "b", "chainage_m": 1.5}
    table = junction(tmp_path, rock)
    assert demands(table, "departure", "s")[0] > 3.0
    assert verdicts(table, "belly", "b") == ["barred"] * 2


@pytest.mark.parametrize("cell", [1.5, 5.0, 30.0])
def test_coarse_model_is_never_a_pass(cell: float) -> None:
    """Above half a wheelbase of cell no angle or clearance passes, above the track no lean, above 5 m no slope."""
    table = checked(site_on(straight(), brow(4.0), Measured(cell_m=cell)))
    for check in CLEARANCES:
        assert verdicts(table, check) == ["unsurveyed"] * 2
    for check, coarsest in (("roll", 1.6), ("pitch_over", 2.8), ("slide", 5.0)):
        assert verdicts(table, check) == ["unsurveyed" if cell > coarsest else "ample"] * 2


def test_coarse_stretch_is_not_hidden_by_a_fine_one() -> None:
    """One station in a coarse model opens the whole segment."""
    site = site_on(straight(), plane())
    cell = site.terrain.stations.cell_m.copy()
    cell[60] = 10.0
    table = checked(with_stations(site, cell_m=cell))
    assert all(verdicts(table, check) == ["unsurveyed"] * 2 for check in (*CLEARANCES, "roll", "slide", "climb"))


def test_one_missing_height_is_told() -> None:
    """A height missing between the wheels, or a side slope missing at one station, is not a pass."""
    site = site_on(straight(), plane())
    z = site.terrain.profiles.z.copy()
    z[300] = np.nan
    table = checked(with_profiles(site, z=z))
    assert all(verdicts(table, check) == ["unsurveyed"] * 2 for check in CLEARANCES)
    cross = site.terrain.stations.cross.copy()
    cross[60] = np.nan
    table = checked(with_stations(site, cross=cross))
    assert all(verdicts(table, check) == ["unsurveyed"] * 2 for check in ("roll", "pitch_over", "slide"))


@pytest.mark.parametrize(
    "surface",
    [brow(15.0), brow(-14.0), ramp(ORIGIN[0] + 20.0, 0.2, 15.0), step(ORIGIN[0] + 30.0, 0.15)],
    ids=["crest", "ditch", "ramp", "step"],
)
def test_published_angles_are_never_quietly_better(surface: Surface) -> None:
    """The lowest body with the published figures is asked at least what a body with hard points of these figures is."""
    figures = {"approach_deg": 29.342, "breakover_deg": 20.750, "departure_deg": 18.640, "clearance_m": 0.25}
    known = checked(site_on(straight(), surface), make_envelope(box(), SetUpChoice("k")))
    stated = checked(site_on(straight(), surface), make_envelope(box(PUBLISHED, **figures), SetUpChoice("p")))
    for check in CLEARANCES:
        for way in ("with", "against"):
            pair = [table.loc[("s", way, check), "utilisation"] for table in (known, stated)]
            assert pair[1] >= pair[0] * 0.99 - 0.005


def test_grip_decides_on_a_descent() -> None:
    """Down 0.25 on μ 0.20 is over what brakes can hold, though the engine could; up it, μ − f is 0.15."""
    table = checked(site_on(straight(), plane(east=-0.25), mu_low=0.2))
    assert verdicts(table, "descent") == ["barred", "ample"]
    assert verdicts(table, "climb") == ["ample", "barred"]
    assert table.loc[("s", "with", "descent"), "limit"] == pytest.approx(math.degrees(math.atan(0.2)))
    assert table.loc[("s", "against", "climb"), "limit"] == pytest.approx(math.degrees(math.atan(0.15)))


def test_gap_against_its_tag() -> None:
    """A tag of 3.5 m does not hide a gate of 2.2 m, nor a tree in the middle, nor two trees."""
    cases = (
        [thing("gap", clear_width_m=2.2)],
        [thing("tree", width_m=0.4)],
        [thing("tree", offset_m=-1.2, width_m=0.3), thing("tree", offset_m=1.2, width_m=0.3, chainage_m=31.0)],
    )
    for things in cases:
        assert verdicts(checked(flat(*things)), "width") == ["barred"] * 2
    assert verdicts(checked(flat()), "width")[0] in OPEN


def test_branch_whose_end_reaches_the_body() -> None:
    """A branch centred 2 m beside the line and 2 m wide ends 1 m from it, over the mirror; one of 1 m does not.

    On a trail of 3.5 m there is room to go round it, on one of 2.5 m there is none; the shorter one is in nobody's way.
    """
    low = thing("branch", clear_height_m=1.2, offset_m=2.0)
    found = {
        (width, trail): checked(flat({**low, "width_m": width}, width_m=trail))
        for width in (2.0, 1.0)
        for trail in (2.3, 3.5)
    }
    assert verdicts(found[2.0, 2.3], "height") == ["barred"] * 2
    assert verdicts(found[2.0, 3.5], "height") == ["ample"] * 2
    for key in ((1.0, 2.3), (1.0, 3.5)):
        assert verdicts(found[key], "height") == ["ample"] * 2
    assert "leads round" in found[2.0, 3.5].loc[("s", "with", "height"), "reason"]


def test_bend_at_the_very_end() -> None:
    """A hairpin of 3 m at the end of a trail as narrow as the vehicle counts, against a turning circle of 6 m."""
    angle = np.linspace(0.0, np.pi, 21)[1:]
    arc = np.column_stack([27.0 + 3.0 * np.sin(angle), 30.0 + 3.0 * (1.0 - np.cos(angle))])
    network = network_of(
        {"s": at((0, 30), (27, 30), *arc.tolist())},
        surveyed_on="2026-04-18",
        width_m=2.2,
        obstacles_surveyed=True,
    )
    table = checked(site_on(network, plane()))
    assert verdicts(table, "turn") == ["barred"] * 2
    for way in ("with", "against"):
        assert table.loc[("s", way, "turn"), "at_m"] > 25.0


def test_smooth_ground_cries_no_wolf() -> None:
    """A pebble of 3 cm, 5 mm of survey noise every half metre, a level bridge deck with its own heights: ample."""
    pebble = checked(flat(thing("rock", height_m=0.03, length_m=0.1, width_m=0.1, offset_m=0.8)))
    noise = np.random.default_rng(7).normal(0.0, 0.005, 200)
    rough = Surface(
        height=lambda x, _y: 100.0 + noise[np.rint((x - ORIGIN[0]) * 2.0).astype(int)],
        gradient=lambda x, _y: (np.zeros_like(x), np.zeros_like(x)),
    )
    line = checked(surveyed(lines_over(rough, ("s", 0.0, 60.0))))
    deck = checked(surveyed(lines_over(plane(), ("a", 0.0, 20.0), ("s", 20.0, 40.0), ("b", 40.0, 60.0))))
    for table in (pebble, line, deck):
        assert all(verdicts(table, check) == ["ample"] * 2 for check in CLEARANCES)


def test_bridge_without_heights_is_open_not_barred(tmp_path: Path) -> None:
    """The ground under a bridge says nothing about its deck: open for want of heights, neither a pass nor a cliff."""
    ways = {"a": at((5, 30), (25, 30)), "s": at((25, 30), (35, 30)), "b": at((35, 30), (55, 30))}
    network = network_of(ways, bridge={"s": True}, surveyed_on="2026-04-18", width_m=3.5, obstacles_surveyed=True)
    valley = Surface(
        height=lambda x, _y: 100.0 - 6.0 * np.exp(-(((x - ORIGIN[0] - 30.0) / 2.0) ** 2)),
        gradient=lambda x, _y: (np.zeros_like(x), np.zeros_like(x)),
    )
    elevation = write_elevation(tmp_path / "ground.tif", valley)
    terrain = measure_terrain(network, TerrainParameters(elevation=(elevation,)))
    table = checked(CheckSite(network, terrain, ground_of(3)))
    assert all(verdicts(table, check, "s") == ["unsurveyed"] * 2 for check in CLEARANCES)
    assert (terrain.stations.basis[terrain.stations.offsets[1] + 2] == Basis.NONE).all()
