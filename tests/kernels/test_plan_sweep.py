"""Swept bodies against published turns, closed forms of steady turning, walls, and worlds turned over."""

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from pipeline.kernels.plan_records import EDGE, LEFT, NOTHING, RIGHT, Boxes, Tracks
from pipeline.kernels.plan_sweep import drive, sweep
from pipeline.units import FOOT_M
from pipeline.vehicle.turning import offtracking, swept_width, tail_swing
from tests.kernels.plan_worlds import (
    FREE,
    NOTHING_THERE,
    WAGON,
    circle,
    joined,
    mirrored,
    plank,
    solids_of,
    track_of,
    trees_along,
    trunk,
    way,
)

pytestmark = pytest.mark.kernel

Floats = NDArray[np.float64]
WHEEL, SILL, MIRROR, ROOF = range(4)


def test_passenger_car_of_the_green_book() -> None:
    """AASHTO passenger car P on a kerb circle of 24 ft: inner side 14.42 ft, wall 25.5 ft, published, within 0.1 ft."""
    wheelbase, width = 11.0 * FOOT_M, 7.0 * FOOT_M
    middle = math.sqrt((24.0 * FOOT_M) ** 2 - wheelbase**2) - width / 2.0
    line = math.hypot(middle, wheelbase)
    swept = drive(plank(wheelbase, width, 5.0 * FOOT_M, 3.0 * FOOT_M), circle(line, 1.5), NOTHING_THERE, np.inf).swept
    steady = slice(-30, -12)
    inner = line - swept.reach[steady, SILL, LEFT]
    wall, kerb = (line + swept.reach[steady, part, RIGHT] for part in (SILL, WHEEL))
    assert inner / FOOT_M == pytest.approx(np.full(inner.size, 14.42), abs=0.1)
    assert inner / FOOT_M == pytest.approx(np.full(inner.size, 14.331), abs=0.005)
    assert kerb / FOOT_M == pytest.approx(np.full(kerb.size, 24.0), abs=0.005)
    assert wall / FOOT_M == pytest.approx(np.full(wall.size, 25.5), abs=0.1)
    assert wall / FOOT_M == pytest.approx(np.full(wall.size, 25.515), abs=0.005)
    assert swept.tail_swing[steady] / FOOT_M == pytest.approx(np.full(wall.size, 0.578), abs=0.001)


def steady_offtracking(radius: float, wheelbase: float, step: float = 0.5) -> float:
    """Drive round a circle until nothing changes any more."""
    swept = drive(plank(wheelbase, 2.0), circle(radius, 2.0, step), NOTHING_THERE, np.inf).swept
    return float(swept.offtracking[-round((wheelbase + 1.0) / step) - 1])


def test_offtracking_of_the_worked_example() -> None:
    """R 50 ft, wheelbase 20 ft: 4.174 ft, worked example that cites the AASHTO Green Book, within 0.001 ft."""
    assert steady_offtracking(50.0 * FOOT_M, 20.0 * FOOT_M, 0.2) / FOOT_M == pytest.approx(4.174, abs=0.001)


def test_offtracking_of_a_combination() -> None:
    """20 ft and 40 ft one behind the other cut 27.639 ft: the second follows the tractrix of the first's tractrix."""
    radius, step = 50.0 * FOOT_M, 0.2
    first = drive(plank(20.0 * FOOT_M, 2.0), circle(radius, 3.0, step), NOTHING_THERE, np.inf).poses
    steady = slice(round(70.0 / step), -round(10.0 / step))
    x, y, heading = first.x[steady], first.y[steady], first.heading[steady]
    second = track_of(x, y, heading, float(np.hypot(np.diff(x), np.diff(y)).mean()), FREE)
    behind = drive(plank(40.0 * FOOT_M, 2.0), second, NOTHING_THERE, np.inf).poses
    last = -round(20.0 / second.step)
    cut = radius - np.hypot(behind.x[last] - 10.0, behind.y[last] - radius)
    assert cut / FOOT_M == pytest.approx(27.639, abs=0.001)


@pytest.mark.parametrize(
    ("radius", "wheelbase", "cut"), [(6.0, 2.8, 0.6934), (6.0, 3.2, 0.9246), (12.0, 2.8, 0.3312), (25.0, 2.8, 0.1573)]
)
def test_offtracking_in_metres(radius: float, wheelbase: float, cut: float) -> None:
    """The same relation in metres, on ways of the everyday step of half a metre."""
    assert steady_offtracking(radius, wheelbase) == pytest.approx(cut, abs=2e-4)


@pytest.mark.parametrize(("radius", "front", "rear"), [(6.0, 0.9, 1.1), (9.0, 1.2, 0.4), (15.0, 0.4, 1.5)])
def test_transients_come_up_to_the_steady_turn_and_never_over_it(radius: float, front: float, rear: float) -> None:
    """Entering, driving and leaving a circle: off-tracking, swept width and tail swing end at the closed forms."""
    bends = np.zeros(160)
    bends[30:110] = 1.0 / radius
    swept = drive(plank(2.8, 1.8, rear, front), way(bends, half=FREE), NOTHING_THERE, np.inf).swept
    steady = math.sqrt(radius**2 - 2.8**2)
    width = swept.reach[:, SILL].sum(axis=-1)
    for found, closed in (
        (swept.offtracking, float(offtracking(radius, 2.8))),
        (width, float(swept_width(radius, 2.8, 1.8, front))),
        (swept.tail_swing, float(tail_swing(steady + 0.9, rear))),
    ):
        assert found.max() <= closed + 2e-3
        assert found[95] == pytest.approx(closed, abs=2e-3)
        assert found[0] == pytest.approx(1.8 if found is width else 0.0, abs=1e-9)
    assert swept.rear_offset[95] == pytest.approx(steady - radius, abs=1e-3)
    assert np.abs(swept.front_offset).max() < 5e-3


def test_winding_ways_never_sweep_more_than_their_tightest_bend() -> None:
    """Bends of all kinds down to 7 m, on both sides: nothing exceeds the steady values of 7 m."""
    for seed in range(4):
        rng = np.random.default_rng(seed)
        bends = np.convolve(np.repeat(rng.uniform(-1.0, 1.0, 25), 6) / 7.0, np.ones(5) / 5.0, "same")
        swept = drive(plank(2.8, 1.8, 1.1, 0.9), way(bends, half=FREE), NOTHING_THERE, np.inf).swept
        assert swept.offtracking.max() <= float(offtracking(7.0, 2.8)) + 2e-3
        assert swept.reach[:, SILL].sum(axis=-1).max() <= float(swept_width(7.0, 2.8, 1.8, 0.9)) + 2e-3
        assert swept.tail_swing.max() <= float(tail_swing(math.sqrt(49.0 - 2.8**2) + 0.9, 1.1)) + 2e-3


def test_straight_between_edges() -> None:
    """Tyres of 1.86 m over all 1.07 m from edges at 2 m; where the body must stay inside, mirrors of 2.3 m count."""
    tracks = way(np.zeros(30), half=2.0)
    near = drive(WAGON, tracks, NOTHING_THERE, 0.3).swept.near
    assert near.gap == pytest.approx(np.full((31, 2), 2.0 - 0.93))
    assert (near.part == WHEEL).all()
    assert (near.solid == EDGE).all()
    swept = drive(WAGON, tracks._replace(body=np.full((31, 2), 1.5)), NOTHING_THERE, 0.3).swept
    assert swept.near.gap == pytest.approx(np.full((31, 2), 1.5 - 1.15))
    assert (swept.near.part == MIRROR).all()
    assert swept.near.body_x == pytest.approx(np.full((31, 2), 2.2), abs=0.11)
    reach = swept.reach.sum(axis=-1)
    assert reach == pytest.approx(np.tile([1.86, 1.9, 2.3, 1.4], (31, 1)))


def test_edges_count_where_the_corner_is() -> None:
    """An edge that draws in for two points is felt by the front tyre first, by the rear tyre a wheelbase later."""
    tracks = way(np.zeros(40), half=2.0)
    tracks.wheel[20:22, RIGHT] = 1.0
    near = drive(WAGON, tracks, NOTHING_THERE, 0.3).swept.near
    tight = np.flatnonzero(near.gap[:, RIGHT] < 0.5)
    assert near.gap[tight, RIGHT] == pytest.approx(np.full(tight.size, 0.07))
    assert near.gap[:, LEFT] == pytest.approx(np.full(41, 1.07))
    assert near.body_x[tight[0], RIGHT] == pytest.approx(3.2)
    assert near.body_x[tight[-1], RIGHT] == pytest.approx(-0.4)
    assert set(tight) == {14, 15, 16, 19, 20, 21, 22}


def test_nothing_known_is_no_gap() -> None:
    """Without edges and solids there is nothing to be near to."""
    near = drive(WAGON, way(np.zeros(10), half=FREE), NOTHING_THERE, 0.3).swept.near
    assert np.isinf(near.gap).all()
    assert (near.part == -1).all()
    assert np.isnan(near.body_x).all()
    assert (near.solid == NOTHING).all()


@pytest.mark.parametrize("roll", [0.15, -0.15])
def test_lean_reaches_over_the_low_edge(roll: float) -> None:
    """Leaning by 0.15 rad, the roof line of 1.5 m comes 1.5 sin 0.15 nearer to the low edge; tyres do not."""
    tracks = way(np.zeros(20), half=2.0, roll=roll)._replace(body=np.full((21, 2), 2.0))
    swept = drive(WAGON, tracks, NOTHING_THERE, 0.3).swept
    low, high = (RIGHT, LEFT) if roll > 0.0 else (LEFT, RIGHT)
    shift = math.sin(0.15)
    assert swept.reach[10, SILL, low] == pytest.approx(0.95 + 1.5 * shift)
    assert swept.reach[10, SILL, high] == pytest.approx(0.95 - 0.25 * shift)
    assert swept.near.gap[10, low] == pytest.approx(2.0 - 1.15 - 1.35 * shift)
    assert swept.reach[10, WHEEL] == pytest.approx([0.93, 0.93])


def test_two_walls_leave_their_clear_width() -> None:
    """Between two fences 2.6 m apart, the width across of the part that is nearest and twice the gap are 2.6 m."""
    walls = [(-5.0, side * 1.4, 30.0, side * 1.4, 0.1, 0.0, np.inf) for side in (1.0, -1.0)]
    for boxes in (WAGON, plank(2.8, 1.9, 1.1, 0.9)):
        swept = drive(boxes, way(np.zeros(40), half=FREE), solids_of(walls), 0.3).swept
        part = swept.near.part[20, LEFT]
        width = swept.reach[20, part].sum()
        assert width + 2.0 * swept.near.gap[20].min() == pytest.approx(2.6)
        assert list(swept.near.solid[20]) == [0, 1]


def test_rear_corner_cuts_in_on_the_inner_side() -> None:
    """In a left turn a tree inside is nearest to the side at the rear axle, one outside to the front corner.

    Both gaps are those of the circles that the body draws.
    """
    tracks = circle(7.0, 0.6, half=FREE)
    angle = 1.6
    inner, outer = (complex(10.0, 7.0) + r * complex(math.sin(angle), -math.cos(angle)) for r in (4.6, 9.2))
    solids = solids_of([trunk(inner.real, inner.imag, 0.2), trunk(outer.real, outer.imag, 0.2)])
    body = plank(2.8, 1.8, 1.1, 0.9)
    near = drive(body, tracks, solids, np.inf).swept.near
    rear = math.sqrt(49.0 - 2.8**2)
    left, right = near.gap[:, LEFT].argmin(), near.gap[:, RIGHT].argmin()
    assert near.gap[left, LEFT] == pytest.approx(rear - 0.9 - 4.8, abs=0.02)
    assert near.gap[right, RIGHT] == pytest.approx(9.0 - math.hypot(rear + 0.9, 3.7), abs=0.02)
    assert abs(near.body_x[left, LEFT]) < 0.6
    assert near.body_x[right, RIGHT] == pytest.approx(3.7)
    assert (near.solid[left, LEFT], near.solid[right, RIGHT]) == (0, 1)


def winding(seed: int = 11, half: float = 1.6) -> Tracks:
    """Make a way with bends and lean, its edges drawn in on and off."""
    rng = np.random.default_rng(seed)
    tracks = way(np.convolve(np.repeat(rng.uniform(-0.12, 0.12, 20), 6), np.ones(5) / 5.0, "same"), half=half)
    lean = 0.1 * np.sin(np.arange(tracks.x.size) / 9.0)
    return tracks._replace(roll=lean, body=np.where(rng.random(tracks.wheel.shape) < 0.2, 1.7, np.inf))


def test_mirrored_trails_swap_sides() -> None:
    """Way, edges, lean and trees turned over: left and right change places."""
    tracks = winding()
    solids = trees_along(tracks, 5.0, 1.7)
    over = solids._replace(ay=-solids.ay, by=-solids.by)
    swept, turned = drive(WAGON, tracks, solids, 0.3).swept, drive(WAGON, mirrored(tracks), over, 0.3).swept
    assert turned.near.gap[:, ::-1] == pytest.approx(swept.near.gap, abs=1e-9)
    assert turned.near.part[:, ::-1] == pytest.approx(swept.near.part)
    assert turned.reach[..., ::-1] == pytest.approx(swept.reach, abs=1e-9)
    assert turned.rear_offset == pytest.approx(-swept.rear_offset, abs=1e-9)
    assert turned.offtracking == pytest.approx(swept.offtracking, abs=1e-9)
    assert turned.tail_swing == pytest.approx(swept.tail_swing, abs=1e-9)


def test_scaled_vehicles_on_scaled_trails_scale() -> None:
    """All lengths times 1.2: gaps, reach and off-tracking times 1.2."""
    tracks = winding()
    solids = trees_along(tracks, 5.0, 1.7)
    large = Boxes(*(1.2 * face for face in WAGON[:6]), WAGON.part, 1.2 * WAGON.wheelbase, WAGON.lock)
    lengths = {name: 1.2 * getattr(tracks, name) for name in ("x", "y", "wheel", "body", "step")}
    far = solids_of(np.column_stack([1.2 * np.array(solids[1:8]).T]))
    swept = drive(WAGON, tracks, solids, 0.3).swept
    scaled = drive(large, tracks._replace(**lengths), far, 0.25).swept
    assert scaled.near.gap == pytest.approx(1.2 * swept.near.gap)
    assert scaled.reach[..., 0] == pytest.approx(1.2 * swept.reach[..., 0])
    assert scaled.offtracking == pytest.approx(1.2 * swept.offtracking, abs=1e-9)


def test_reversed_direction_is_another_drive_of_the_same_bend() -> None:
    """Driven the other way round, a bend of the same tightness asks for the same room, with sides exchanged."""
    bends = np.zeros(120)
    bends[40:80] = 1.0 / 8.0
    there = way(bends, half=FREE)
    back = track_of(there.x[::-1].copy(), there.y[::-1].copy(), there.heading[::-1] + math.pi, 0.5, FREE)
    one, other = (drive(WAGON, tracks, NOTHING_THERE, np.inf).swept for tracks in (there, back))
    assert one.reach[:, SILL, LEFT].max() == pytest.approx(other.reach[:, SILL, RIGHT].max(), abs=1e-4)
    assert one.offtracking.max() == pytest.approx(other.offtracking.max(), abs=1e-6)
    again = drive(WAGON, mirrored(back), NOTHING_THERE, np.inf).swept
    assert again.near.gap == pytest.approx(other.near.gap[:, ::-1])
    assert again.offtracking == pytest.approx(one.offtracking, abs=1e-6)


def test_given_poses_are_swept_as_they_stand() -> None:
    """A vehicle 0.3 m to the right of a straight, steering straight on: gaps and offsets show it."""
    tracks = way(np.zeros(20), half=2.0)
    count = tracks.x.size
    swept = sweep(WAGON, tracks, NOTHING_THERE, (tracks.x, np.full(count, -0.3), np.zeros(count), np.zeros(count)))
    assert swept.near.gap == pytest.approx(np.tile([1.37, 0.77], (count, 1)))
    assert swept.rear_offset == pytest.approx(np.full(count, 0.3))
    assert swept.front_offset == pytest.approx(np.full(count, 0.3))
    assert swept.offtracking == pytest.approx(np.zeros(count), abs=1e-12)


def test_steered_tyre_is_nearest_with_its_front_edge() -> None:
    """Standing with wheels turned by 0.5 rad, the outer front edge of the left tyre leaves the least on the left."""
    tracks = way(np.zeros(20), half=2.0)
    count = tracks.x.size
    swept = sweep(WAGON, tracks, NOTHING_THERE, (tracks.x, np.zeros(count), np.zeros(count), np.full(count, 0.5)))
    corner = 0.8 + 0.4 * math.sin(0.5) + 0.13 * math.cos(0.5)
    assert swept.near.gap[:-8, LEFT] == pytest.approx(np.full(count - 8, 2.0 - corner))
    along = 2.8 + 0.4 * math.cos(0.5) - 0.13 * math.sin(0.5)
    assert swept.near.body_x[:-8, LEFT] == pytest.approx(np.full(count - 8, along))
    assert swept.near.body_x[:-8, RIGHT] == pytest.approx(np.full(count - 8, 5.6 - along))


def test_trees_count_where_the_pose_is() -> None:
    """A vehicle that stands 12 m beside its way, for whatever reason, is near to the tree there."""
    tracks, lost = way(np.zeros(20), half=FREE), np.zeros(21)
    lost[9:] = 12.0
    solids = solids_of([trunk(8.0, 13.5), trunk(8.0, 1.5)])
    swept = sweep(WAGON, tracks, solids, (tracks.x, lost, np.zeros(21), np.zeros(21)))
    assert swept.near.gap[14, LEFT] == pytest.approx(1.5 - 0.95 - 0.15)
    assert swept.near.solid[14, LEFT] == 0
    assert swept.near.solid[8, LEFT] == 1


def test_body_without_a_tail() -> None:
    """A body that ends at the rear axle swings no tail."""
    assert not drive(plank(2.8, 1.8), circle(6.0, 0.5), NOTHING_THERE, np.inf).swept.tail_swing.any()


def test_tracks_and_their_solids_are_kept_apart() -> None:
    """Two ways swept together as each alone; a tree of the other way is no neighbour."""
    one, two = winding(1), winding(2)
    first, second = trees_along(one, 6.0, 1.8), trees_along(two, 4.0, 1.7)
    rows = np.column_stack([np.concatenate(pair) for pair in zip(first[1:8], second[1:8], strict=True)])
    count = first.ax.size
    both = drive(WAGON, joined([one, two]), solids_of(rows, [0, count, count + second.ax.size]), 0.3).swept
    alone = [drive(WAGON, *world, 0.3).swept for world in ((one, first), (two, second))]
    assert np.array_equal(both.near.gap, np.concatenate([swept.near.gap for swept in alone]))
    assert np.array_equal(both.reach, np.concatenate([swept.reach for swept in alone]))
    beyond = both.near.solid[one.x.size :]
    assert (beyond[beyond >= 0] >= count).all()
