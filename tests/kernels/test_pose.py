"""A vehicle in side view rolled along profiles: closed forms, a plain twin, mirror and monotony."""

import math

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import brentq

from pipeline.kernels.pose import sweep
from pipeline.kernels.pose_records import (
    APPROACH,
    BELLY,
    BREAKOVER,
    CHECKS,
    DEPARTURE,
    FIELDS,
    ROWS,
    Body,
    Line,
    Runs,
    Swept,
)
from tests.kernels.called import front_wheel, line_over, make_pose, tyre_centre
from tests.kernels.pose_twin import Plain

pytestmark = pytest.mark.kernel

STEP = 0.1
L, R = 2.8, 0.38
XS = np.array([-3.9, -3.3, -1.4, 0.45, 0.9])
ZS = np.array([0.35, 0.32, 0.25, 0.30, 0.45])
BOX = Body.of(np.column_stack([XS, ZS]), L, R, 0.05, (0.21, 0.20))
MIRROR = Body.of(np.column_stack([-L - XS[::-1], ZS[::-1]]), L, R, 0.05, (0.20, 0.21))
"""The same vehicle back to front."""
X = np.arange(0.0, 40.05, STEP)


def runs(
    z: NDArray[np.float64], under: NDArray[np.float64] | None = None, own: tuple[float, float] | None = None
) -> Runs:
    """Make one run."""
    low, high = own or (0.0, (z.size - 1) * STEP)
    below = z.copy() if under is None else under
    basis = np.full(z.size, 3, dtype=np.uint8)
    return Runs(np.array([0, z.size]), z, below, basis, np.array([low]), np.array([high]), STEP)


def roll(z: NDArray[np.float64], body: Body = BOX, **parts: object) -> Swept:
    """Roll a vehicle over one run."""
    return sweep(runs(z, **parts), body, 2)


def line_of(z: NDArray[np.float64], under: NDArray[np.float64] | None = None) -> Line:
    """Make one run in the direction of travel."""
    return line_over(z, z if under is None else under, STEP, R)


def rough(seed: int, scale: float = 0.02, samples: int = 160) -> NDArray[np.float64]:
    """Make rough ground."""
    return np.random.default_rng(seed).normal(0.0, scale, samples).cumsum()


@pytest.mark.parametrize("grade", [-0.6, -0.2, 0.0, 0.3, 1.0])
def test_a_plane_asks_nothing(grade: float) -> None:
    """On a plane of any grade all four demands are 0, both ways, the ends of the run included."""
    swept = roll(grade * X)
    assert swept.demand == pytest.approx(np.zeros((1, 2, CHECKS)), abs=1e-9)
    assert (swept.poses > 0).all()
    assert (swept.failed == 0).all()


@pytest.mark.parametrize("degrees", [8.0, 12.0, 20.0])
def test_ramp_asks_its_own_angle(degrees: float) -> None:
    """A long ramp from the level asks its own angle, to 0.01°, of the bumper's 29.342° and the tail's 18.640°."""
    swept = roll(np.maximum(X - 20.0, 0.0) * math.tan(math.radians(degrees)))
    assert math.degrees(swept.demand[0, 0, APPROACH]) == pytest.approx(degrees, abs=0.01)
    assert math.degrees(swept.limit[0, 0, APPROACH]) == pytest.approx(29.342, abs=0.01)
    assert math.degrees(swept.demand[0, 0, DEPARTURE]) == pytest.approx(degrees, abs=0.01)
    assert math.degrees(swept.limit[0, 0, DEPARTURE]) == pytest.approx(18.640, abs=0.01)
    assert swept.demand[0, 0, BREAKOVER] == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("degrees", [4.0, 8.0, 14.0])
def test_crest_of_two_planes_asks_the_angle_between_them(degrees: float) -> None:
    """Where two planes of ±α meet in a crest the breakover demand is 2α, held against the belly's 20.750°."""
    swept = roll(-np.abs(X - 20.0) * math.tan(math.radians(degrees)))
    assert np.degrees(swept.demand[0, :, BREAKOVER]) == pytest.approx([2.0 * degrees] * 2, abs=0.01)
    assert np.degrees(swept.limit[0, :, BREAKOVER]) == pytest.approx([20.750] * 2, abs=0.01)
    assert swept.place[0, :, BREAKOVER] == pytest.approx([20.0] * 2, abs=1e-6)
    assert swept.demand[0, :, APPROACH] == pytest.approx([0.0] * 2, abs=1e-9)


@pytest.mark.parametrize("degrees", [8.0, 14.0])
def test_axles_of_the_worst_pose_on_a_crest(degrees: float) -> None:
    """Astride a crest of ±α, level, the axles stand half a wheelbase to both sides, the rear one behind in travel.

    The belly's lowest point lies midway, so that the worst pose is the symmetric one; worked by hand.
    """
    swept = roll(-np.abs(X - 20.0) * math.tan(math.radians(degrees)))
    assert swept.rear[0, :, BREAKOVER] == pytest.approx([20.0 - L / 2.0, 20.0 + L / 2.0], abs=1e-3)
    assert swept.front[0, :, BREAKOVER] == pytest.approx([20.0 + L / 2.0, 20.0 - L / 2.0], abs=1e-3)


@pytest.mark.parametrize("degrees", [12.0, 20.0])
def test_axles_of_the_worst_pose_at_a_ramp(degrees: float) -> None:
    """The bumper is closest to a ramp when the front tyre meets it: centre r·tan(α/2) before the foot (by hand).

    Against the run the vehicle comes down the ramp, and its tail is closest when the rear tyre is about to leave it.
    """
    swept = roll(np.maximum(X - 20.0, 0.0) * math.tan(math.radians(degrees)))
    meets = 20.0 - R * math.tan(math.radians(degrees / 2.0))
    assert swept.front[0, 0, APPROACH] == pytest.approx(meets, abs=1e-3)
    assert swept.rear[0, 0, APPROACH] == pytest.approx(meets - L, abs=1e-3)
    assert swept.rear[0, 1, DEPARTURE] == pytest.approx(meets, abs=1e-3)
    assert swept.front[0, 1, DEPARTURE] == pytest.approx(meets - L, abs=1e-3)


def test_no_axles_where_nothing_is_asked() -> None:
    """Where the ground asks nothing no pose is the worst, and none is handed out."""
    swept = roll(np.zeros(20))
    assert np.isnan(swept.rear).all()
    assert np.isnan(swept.front).all()


def test_crest_touches_the_belly_at_its_breakover_angle() -> None:
    """Just below its breakover angle the belly clears the crest, just above it touches (gap 0): 49 CFR 523.2."""
    bare = BOX._replace(gap=0.0, front_axle=0.5, rear_axle=0.5)
    for off, touches in ((-0.05, False), (0.05, True)):
        slope = math.tan(math.radians((20.750 + off) / 2.0))
        swept = roll(-np.abs(X - 20.0) * slope, bare)
        assert bool(swept.utilisation[0, 0, BREAKOVER] > 1.0) is touches
        assert bool(swept.utilisation[0, 0, BELLY] > 1.0) is touches


def test_pebble_does_not_cry_wolf() -> None:
    """A pebble of 3 cm is no trouble for bumper or tail, however steep it is seen from close to the tyre."""
    z = np.zeros(X.size)
    z[200] = 0.03
    swept = roll(z)
    assert (swept.utilisation[0, :, [APPROACH, DEPARTURE]] < 0.35).all()
    assert (swept.utilisation[0, :, BELLY] < 0.25).all()


def test_wall_stops_every_vehicle() -> None:
    """A face higher than the bumper is over the approach limit going up, over the departure limit going down."""
    swept = roll(np.where(X >= 20.0, 0.6, 0.0))
    assert swept.utilisation[0, 0, APPROACH] > 1.0
    assert swept.utilisation[0, 1, DEPARTURE] > 1.0


def test_rock_between_the_wheels_presses_on_the_belly() -> None:
    """A rock of 0.2 m that only the body passes over is held against the lowest housing less the gap, 0.15 m."""
    under = np.zeros(X.size)
    under[200] = 0.2
    swept = roll(np.zeros(X.size), under=under)
    assert swept.demand[0, :, BELLY] == pytest.approx([0.2, 0.2])
    assert swept.limit[0, :, BELLY] == pytest.approx([0.15, 0.15])
    assert swept.place[0, :, BELLY] == pytest.approx([20.0, 20.0])


def test_ground_hidden_by_the_tyre_still_presses_on_the_body() -> None:
    """A rock that the tyre hides from the side is held against the body above it as belly: no contact is untold."""
    low = Body.of(np.array([[-3.9, 0.35], [-1.4, 0.30], [0.3, 0.18], [0.9, 0.45]]), L, R, 0.05, (1.0, 1.0))
    under = np.zeros(X.size)
    under[200] = 0.2
    swept = roll(np.zeros(X.size), low, under=under)
    assert swept.utilisation[0, 0, BELLY] > 1.0


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_reversed_profile_swaps_the_ends_of_a_mirrored_vehicle(seed: int) -> None:
    """A vehicle back to front against the profile meets with its tail what the vehicle meets with its bumper.

    The poses of the two stand in different places, so that they agree to what the refinement reaches.
    """
    z = rough(seed, 0.01)
    plain, turned = roll(z), roll(z, MIRROR)
    swapped = [DEPARTURE, BREAKOVER, APPROACH, BELLY]
    for direction in (0, 1):
        found, other = plain.utilisation[0, direction], turned.utilisation[0, 1 - direction][swapped]
        assert found == pytest.approx(other, rel=0.08, abs=0.03)


def test_against_is_the_reversed_profile() -> None:
    """Rolling against a profile is rolling along the reversed one; places count along the run."""
    z = rough(5)
    forward, reverse = roll(z), roll(z[::-1].copy())
    end = (z.size - 1) * STEP
    assert forward.utilisation[0, 1] == pytest.approx(reverse.utilisation[0, 0], abs=1e-12)
    assert forward.place[0, 1] == pytest.approx(end - reverse.place[0, 0])


@pytest.mark.parametrize("seed", range(5))
def test_higher_bump_asks_more(seed: int) -> None:
    """Raising the ground between the wheels never lowers a demand of the belly, nor the breakover's utilisation."""
    z = rough(seed, 0.005)
    before = roll(z, under=z.copy())
    raised = z.copy()
    raised[80] += 0.1
    after = roll(z, under=raised)
    assert (after.utilisation[0] >= before.utilisation[0] - 1e-9).all()


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_front_wheel_is_where_brentq_puts_it(seed: int) -> None:
    """The front wheel stands one wheelbase away to 1e-9 m; where there is one such place, scipy's brentq finds it."""
    z = rough(seed)
    line = line_of(z)
    for rear in np.random.default_rng(seed).uniform(0.0, 12.0, 20):
        rear_z = tyre_centre(z, STEP, R, rear)[0]

        def off(x: float, rear: float = rear, rear_z: float = rear_z) -> float:
            return math.hypot(x - rear, tyre_centre(z, STEP, R, x)[0] - rear_z) - L

        front, front_z = front_wheel(line, BOX, rear, rear_z)
        assert math.hypot(front - rear, front_z - rear_z) == pytest.approx(L, abs=1e-9)
        assert front == pytest.approx(brentq(off, front - 0.05, min(rear + L, 15.9), xtol=1e-12), abs=1e-9)


def test_front_wheel_on_a_plane() -> None:
    """On a plane of grade g the front wheel stands L·cos(atan g) further along."""
    line = line_of(0.5 * X)
    front, _ = front_wheel(line, BOX, 10.03, tyre_centre(0.5 * X, STEP, R, 10.03)[0])
    assert front == pytest.approx(10.03 + L / math.hypot(1.0, 0.5), abs=1e-8)


def twin(z: NDArray[np.float64], under: NDArray[np.float64], rear: float, fine: int = 1) -> NDArray[np.float64]:
    """Work one pose plainly: brentq, and the arc-sine form of the tangent angle; worst ratio of each check.

    The body is looked at over every ground vertex (*fine* of them a step) and at its hard points.
    """
    rear_z = tyre_centre(z, STEP, R, rear)[0]
    front = brentq(
        lambda x: math.hypot(x - rear, tyre_centre(z, STEP, R, x)[0] - rear_z) - L,
        rear + 0.8 * L,
        rear + L + 1e-9,
        xtol=1e-12,
    )
    front_z = tyre_centre(z, STEP, R, front)[0]
    pitch = math.atan2(front_z - rear_z, front - rear)
    place = np.linspace(0.0, (z.size - 1) * STEP, (z.size - 1) * fine + 1)
    dx, dz = place - front, np.interp(place, np.arange(z.size) * STEP, under) - front_z
    x, h = dx * math.cos(pitch) + dz * math.sin(pitch), dz * math.cos(pitch) - dx * math.sin(pitch) + R
    at = np.concatenate([x[(x >= XS[0]) & (x <= XS[-1])], XS])
    best = np.zeros(CHECKS)
    for one, ground, body in zip(at, np.interp(at, x, h), np.interp(at, XS, ZS), strict=True):
        if ground > 0.0:
            judge(best, float(one), float(ground), float(body))
    return best


def judge(best: NDArray[np.float64], x: float, ground: float, body: float) -> None:
    """Hold one point of ground against the body above it."""
    between = -L <= x <= 0.0
    if between:
        seen, limit = (arc_sine(-x, t) + arc_sine(L + x, t) for t in (ground, body))
    else:
        seen, limit = (arc_sine(max(x, -L - x), t) for t in (ground, body))
    check = BREAKOVER if between else APPROACH if x > 0.0 else DEPARTURE
    if between or math.isnan(seen + limit):
        best[BELLY] = max(best[BELLY], ground / (body - BOX.gap))
    if not math.isnan(seen + limit):
        best[check] = max(best[check], seen / limit)


def arc_sine(away: float, height: float) -> float:
    """Tangent angle in its other form: asin(r / √(a² + (r − h)²)) − atan((r − h) / a)."""
    distance = math.hypot(away, R - height)
    return math.nan if distance < R else math.asin(R / distance) - math.atan2(R - height, away)


@pytest.mark.parametrize("seed", [11, 12, 13, 14])
def test_single_poses_agree_with_a_plain_twin(seed: int) -> None:
    """Every ratio of a pose on rough ground is that of plain code at the same points.

    Looking at the ground between its vertices too finds no angle that is worse by more than a few per cent.
    """
    z = rough(seed, 0.015)
    under = z + np.where(np.arange(z.size) % 40 == 20, 0.05, 0.0)
    bare = BOX._replace(front_axle=5.0, rear_axle=5.0)
    for rear in (2.0, 4.7, 7.33):
        best = np.zeros((ROWS, FIELDS))
        assert make_pose(best, line_of(z, under), bare, rear, tyre_centre(z, STEP, R, rear)[0]) == 1
        assert best[:CHECKS, 0] == pytest.approx(twin(z, under, rear), abs=1e-9)
        angles = [APPROACH, BREAKOVER, DEPARTURE]
        assert (twin(z, under, rear, fine=50)[angles] <= best[angles, 0] * 1.05 + 0.02).all()


def broken(seed: int, step: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Make hilly ground with a gap and a ledge, and things that only the body passes over."""
    rng = np.random.default_rng(seed)
    x = np.arange(0.0, 60.0, step)
    z = 1.2 * np.sin(x / 6.0 + seed) + 0.15 * np.sin(x / 1.1) + rng.normal(0.0, 0.02 * math.sqrt(step / 0.1), x.size)
    z[x > 41.0] += 0.25
    z[(x > 30.0) & (x < 30.0 + 2.5 * step)] = np.nan
    return z, z + np.where(rng.random(x.size) < 0.05 * step / 0.1, rng.uniform(0.0, 0.15, x.size), 0.0)


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize(("step", "stride"), [(0.5, 1), (0.1, 2)])
def test_sweep_is_that_of_a_plain_twin(seed: int, step: float, stride: int) -> None:
    """Both ways, refinement and all: every number of the sweep is the plain twin's, to 1e-9."""
    z, under = broken(seed, step)
    plain = runs(z, under=under)._replace(step=step, own_to=np.array([(z.size - 1) * step]))
    swept = sweep(plain, BOX, stride)
    end = (z.size - 1) * step
    for direction in (0, 1):
        line = (z, under) if direction == 0 else (z[::-1], under[::-1])
        found = Plain(line[0].tolist(), line[1].tolist(), step, BOX).roll(stride)
        assert (swept.poses[0, direction], swept.failed[0, direction]) == (found.made, found.failed)
        assert found.failed > 0
        ratio, demand, limit, *places = found.worst.T
        assert (ratio > 0.2).all()
        assert swept.utilisation[0, direction] == pytest.approx(ratio, abs=1e-9)
        assert swept.demand[0, direction] == pytest.approx(demand, abs=1e-9)
        assert swept.limit[0, direction] == pytest.approx(limit, abs=1e-9)
        for mine, theirs in zip((swept.place, swept.rear, swept.front), places, strict=True):
            expected = theirs if direction == 0 else end - theirs
            assert mine[0, direction] == pytest.approx(expected, abs=1e-9)


def test_missing_ground_is_counted_and_dead_ends_are_not() -> None:
    """A gap in the heights leaves poses that cannot be made, told with their first place; the end of a run is none."""
    z = np.zeros(X.size)
    z[200:203] = np.nan
    swept = roll(z)
    assert (swept.failed > 0).all()
    assert swept.failed_at[0, 0] == pytest.approx(20.0 - L - 0.4, abs=0.3)
    assert swept.failed_at[0, 1] > 20.2
    assert (roll(np.zeros(X.size)).failed == 0).all()
    assert np.isnan(roll(np.zeros(X.size)).failed_at).all()


def test_run_shorter_than_the_wheelbase_has_no_pose() -> None:
    """A run on which the vehicle does not fit has no poses and no demand."""
    swept = roll(np.zeros(20))
    assert (swept.poses == 0).all()
    assert np.isnan(swept.limit).all()


def test_only_own_ground_counts() -> None:
    """A bump outside the run's own part asks nothing, however the wheels stand."""
    under = np.zeros(X.size)
    under[200] = 0.2
    outside = roll(np.zeros(X.size), under=under, own=(0.0, 19.0))
    inside = roll(np.zeros(X.size), under=under, own=(19.0, 21.0))
    assert outside.utilisation.max() == pytest.approx(0.0, abs=1e-12)
    assert inside.utilisation[0, 0, BELLY] > 1.0


def test_basis_is_the_worst_of_ground_and_wheels() -> None:
    """The basis told is the worst under the ground point and both wheels."""
    z = -np.abs(X - 20.0) * 0.1
    plain = runs(z)
    basis = plain.basis.copy()
    basis[195:206] = 1
    swept = sweep(plain._replace(basis=basis), BOX, 2)
    assert swept.basis[0, :, BREAKOVER].tolist() == [1, 1]


def test_steep_step_takes_the_farthest_place_and_always_ends() -> None:
    """On ground of steep saw teeth the wheelbase is met, or the pose is not made; the search never hangs."""
    z = np.where((np.arange(160) // 4) % 2 == 0, 0.0, 0.7)
    line = line_of(z)
    for rear in np.arange(0.0, 10.0, 0.37):
        rear_z = tyre_centre(z, STEP, R, rear)[0]
        front, front_z = front_wheel(line, BOX, rear, rear_z)
        assert math.hypot(front - rear, front_z - rear_z) == pytest.approx(L, abs=1e-9)


@pytest.mark.parametrize(("seed", "scale"), [(2, 0.6), (6, 0.6), (18, 0.6), (3, 1.2), (100, 1.2)])
def test_wheelbase_is_met_on_broken_ground(seed: int, scale: float) -> None:
    """Where Newton's step leaves the piece that holds the answer, halving takes over and still meets 1e-9 m."""
    z = np.random.default_rng(seed).normal(0.0, scale, 80)
    line = line_of(z)
    for rear in np.arange(0.0, 4.5, 0.1183):
        rear_z = tyre_centre(z, STEP, R, rear)[0]
        front, front_z = front_wheel(line, BOX, rear, rear_z)
        assert front > rear
        assert math.hypot(front - rear, front_z - rear_z) == pytest.approx(L, abs=1e-9)


def test_cliff_higher_than_the_wheelbase_gives_no_pose() -> None:
    """Half way down a cliff of 10 m the front wheel has no place: no number is made up, and no pose counted."""
    z = np.where(np.arange(80) < 30, 10.0, 0.0)
    line = line_of(z)
    rear_z = tyre_centre(z, STEP, R, 3.334)[0]
    assert np.isnan(front_wheel(line, BOX, 3.334, rear_z)).all()
    best = np.zeros((ROWS, FIELDS))
    assert make_pose(best, line, BOX, 3.334, rear_z) == -1
    assert (best == 0.0).all()


@pytest.mark.parametrize("spot", [198, 199, 200, 201])
def test_axle_housing_meets_a_short_rock_wherever_the_poses_stand(spot: int) -> None:
    """A rock one height long is under the housing in some pose whether or not a pose stands exactly over it."""
    under = np.zeros(X.size)
    under[spot] = 0.19
    body = Body.of(np.column_stack([XS, np.full(5, 0.5)]), L, R, 0.05, (0.21, 0.20))
    for direction in (0, 1):
        found = roll(np.zeros(X.size), body, under=under)
        assert found.demand[0, direction, BELLY] == pytest.approx(0.19)
        assert found.limit[0, direction, BELLY] == pytest.approx(0.15)


def test_axle_housing_meets_a_rock_of_a_coarse_profile() -> None:
    """With heights 0.5 m apart no rock slips past the housings either, whichever height it stands on."""
    body = Body.of(np.column_stack([XS, np.full(5, 0.5)]), L, R, 0.05, (0.21, 0.20))
    for spot in range(30, 36):
        z, under = np.zeros(80), np.zeros(80)
        under[spot] = 0.19
        found = sweep(runs(z, under=under)._replace(step=0.5, own_to=np.array([39.5])), body, 1)
        assert found.demand[0, :, BELLY] == pytest.approx([0.19, 0.19])


def test_brow_on_the_very_end_of_the_own_part_counts() -> None:
    """A brow at a node counts on both sides of it though the chainages of both are a binary digit off."""
    z = -np.abs(X - 20.0) * 0.12
    below, above = roll(z, own=(0.0, 20.0 - 1e-9)), roll(z, own=(20.0 + 1e-9, 40.0))
    expected = math.degrees(2.0 * math.atan(0.12))
    for found in (below, above):
        assert np.degrees(found.demand[0, :, BREAKOVER]) == pytest.approx([expected] * 2, abs=0.01)
