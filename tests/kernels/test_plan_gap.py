"""Gaps of one pose against closed forms and against polygons as shapely measures them."""

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from pipeline.kernels.plan_gap import BODY_X, FAR_M, GAP, PART, SOLID, box_rows, hull_of, solid_rows
from pipeline.kernels.plan_records import LEFT, NOTHING, RIGHT, Boxes, Solids
from tests.kernels.plan_called import least_gap, pose_of, solid_gaps
from tests.kernels.plan_twin import gaps_twin
from tests.kernels.plan_worlds import WAGON, boxes_of, solids_of, trunk, wheels

pytestmark = pytest.mark.kernel

Floats = NDArray[np.float64]
STRAIGHT = (0.0, 0.0, 0.0, 0.0, 0.0)
WHEEL, SILL, MIRROR, ROOF = range(4)


def gaps(boxes: Boxes, solids: Solids, stand: tuple[float, ...] = STRAIGHT) -> Floats:
    """Measure a pose, x, y, heading, steering angle, roll: shape (2, 4)."""
    found = np.full((2, 4), (np.inf, -1.0, np.nan, NOTHING))
    which = np.arange(solids.ax.size)
    solid_gaps(pose_of(*stand), box_rows(boxes), hull_of(boxes), solid_rows(solids), which, found)
    return found


def least(boxes: Boxes, solids: Solids, stand: tuple[float, ...], enough: float) -> float:
    """Measure the smallest gap of a pose."""
    which = np.arange(solids.ax.size)
    return least_gap(pose_of(*stand), box_rows(boxes), hull_of(boxes), solid_rows(solids), which, enough)


def test_trunks_beside_the_doors() -> None:
    """Trees of 0.3 m, 1.6 m left and 1.5 m right of the middle leave 0.5 m and 0.4 m beside doors of 1.9 m."""
    found = gaps(WAGON, solids_of([trunk(1.0, 1.6), trunk(0.5, -1.5)]))
    assert found[:, GAP] == pytest.approx([0.5, 0.4])
    assert list(found[:, PART]) == [SILL, SILL]
    assert found[:, BODY_X] == pytest.approx([1.0, 0.5])
    assert list(found[:, SOLID]) == [0, 1]


def test_mirror_is_nearest_at_its_height_alone() -> None:
    """A tree beside the mirror is 0.2 m nearer than to the door; a low post there and a branch above are not."""
    found = gaps(WAGON, solids_of([trunk(2.2, 1.6)]))
    assert found[LEFT, GAP] == pytest.approx(1.6 - 0.15 - 1.15)
    assert found[LEFT, PART] == MIRROR
    assert found[LEFT, BODY_X] == pytest.approx(2.2)
    post = gaps(WAGON, solids_of([(2.2, 1.6, 2.2, 1.6, 0.15, 0.0, 0.9)]))
    assert (post[LEFT, GAP], post[LEFT, PART]) == (pytest.approx(0.5), SILL)
    branch = gaps(WAGON, solids_of([(1.0, 0.8, 1.0, 3.0, 0.05, 1.6, np.inf)]))
    assert (branch[LEFT, GAP], branch[LEFT, PART]) == (pytest.approx(0.1 - 0.05), ROOF)


def test_rock_under_the_sill_meets_wheels_alone() -> None:
    """A rock 0.2 m high is lower than the sill of 0.25 m: left tyres have a gap to it on either side, right none."""
    rock = (0.0, 0.45, 0.0, 0.45, 0.1, 0.0, 0.2)
    found = gaps(WAGON, solids_of([rock]))
    assert found[LEFT, GAP] == pytest.approx(0.8 - 0.13 - 0.55)
    assert found[LEFT, PART] == WHEEL
    assert found[RIGHT, GAP] == np.inf
    inside = gaps(WAGON, solids_of([(0.0, 0.7, 0.0, 0.7, 0.1, 0.0, 0.2)]))
    assert inside[LEFT, GAP] == pytest.approx(-(0.8 - 0.67))


def test_steered_wheel_swings_out() -> None:
    """At 0.5 rad to the left the front edge of the left front tyre comes out to 0.8 + 0.4 sin δ + 0.13 cos δ."""
    thin = boxes_of(wheels(2.8, 1.6, 0.4, 0.26), 2.8)
    for steer in (0.5, -0.5):
        corner = 0.8 + 0.4 * math.sin(0.5) + 0.13 * math.cos(0.5)
        at = 2.8 + math.copysign(0.4 * math.cos(0.5) - 0.13 * math.sin(0.5), steer)
        found = gaps(thin, solids_of([trunk(at, 2.0, 0.0)]), (0.0, 0.0, 0.0, steer, 0.0))
        assert found[LEFT, GAP] == pytest.approx(2.0 - corner)
        assert found[LEFT, PART] == WHEEL


@pytest.mark.parametrize("roll", [0.2, -0.2])
def test_roof_leans_over_to_the_low_side(roll: float) -> None:
    """Leaning by 0.2 rad, the roof of 2.1 m comes 2.1 sin 0.2 nearer to a tree on the low side; tyres stay."""
    found = gaps(WAGON, solids_of([trunk(1.0, 1.8, 0.1), trunk(1.0, -1.8, 0.1)]), (0.0, 0.0, 0.0, 0.0, roll))
    shift = math.sin(0.2)
    low, high = (RIGHT, LEFT) if roll > 0.0 else (LEFT, RIGHT)
    assert found[low, GAP] == pytest.approx(1.7 - max(0.95 + 1.5 * shift, 0.7 + 2.1 * shift))
    assert found[high, GAP] == pytest.approx(1.7 - (0.95 - 0.25 * shift))
    post = gaps(WAGON, solids_of([(1.0, -1.8, 1.0, -1.8, 0.1, 0.0, 0.8)]), (0.0, 0.0, 0.0, 0.0, 0.2))
    assert post[RIGHT, GAP] == pytest.approx(1.7 - (0.95 + 0.8 * shift))
    stones = gaps(WAGON, solids_of([(0.0, -1.2, 0.0, -1.2, 0.1, 0.0, 0.2)]), (0.0, 0.0, 0.0, 0.0, 0.2))
    assert stones[RIGHT, GAP] == pytest.approx(1.1 - 0.93)


def test_lean_counts_before_anything_is_left_out() -> None:
    """A tree that the level body clears by 0.34 m stands 0.05 m beside the roof line that leans by 0.2 rad."""
    tree = solids_of([trunk(1.0, -(0.95 + 1.5 * math.sin(0.2) + 0.2))])
    assert least(WAGON, tree, STRAIGHT, 0.1) == 0.1
    assert least(WAGON, tree, (0.0, 0.0, 0.0, 0.0, 0.2), 0.1) == pytest.approx(0.05)


def test_overlap_is_how_far_to_move_sideways() -> None:
    """A tree in the left wing is cleared by moving right; its x beyond the bumper counts only as far as it overlaps."""
    found = gaps(WAGON, solids_of([trunk(0.5, 0.8)]))
    assert found[LEFT, GAP] == pytest.approx(-(0.95 - 0.65))
    assert found[RIGHT, GAP] == np.inf
    bumper = gaps(WAGON, solids_of([trunk(3.8, 0.9, 0.2)]))
    assert bumper[LEFT, GAP] == pytest.approx(-(0.95 - (0.9 - math.sqrt(0.2**2 - 0.1**2))))
    assert bumper[LEFT, BODY_X] == pytest.approx(3.7)


def test_mirror_cannot_come_free_inwards() -> None:
    """A thin pole between door and outer end of the mirror is cleared by the outer end, though the inner is nearer."""
    found = gaps(WAGON, solids_of([trunk(2.2, 0.97, 0.005)]))
    assert found[LEFT, GAP] == pytest.approx(-(1.15 - 0.965))
    right = gaps(WAGON, solids_of([trunk(2.2, -0.97, 0.005)]))
    assert right[RIGHT, GAP] == pytest.approx(-(1.15 - 0.965))
    assert right[LEFT, GAP] == np.inf


def test_branch_across_the_whole_way_is_cleared_past_its_nearer_end() -> None:
    """A bough from 3 m right to 1 m left of the middle asks for 1.0 + 0.7 + 0.05 m to the right of the roof."""
    found = gaps(WAGON, solids_of([(1.0, -3.0, 1.0, 1.0, 0.05, 1.6, np.inf)]))
    assert found[RIGHT, GAP] == pytest.approx(-(1.0 + 0.7 + 0.05))
    assert found[RIGHT, PART] == ROOF


def test_nothing_near_is_no_gap() -> None:
    """What stands farther off than 3 m is not told; what *enough* leaves is not measured."""
    solids = solids_of([trunk(-0.6, 0.95 + 0.15 + FAR_M + 0.001), trunk(-8.0, 0.0)])
    found = gaps(WAGON, solids)
    assert np.isinf(found[:, GAP]).all()
    assert list(found[:, SOLID]) == [NOTHING, NOTHING]
    assert least(WAGON, solids, STRAIGHT, 0.5) == 0.5


def random_solids(rng: np.random.Generator, count: int) -> Solids:
    """Strew trunks, logs and branches, some without width, round a vehicle."""
    a = rng.uniform((-3.0, -3.5), (6.0, 3.5), (count, 2))
    b = np.where(rng.random((count, 1)) < 0.5, a, a + rng.normal(0.0, 1.0, (count, 2)))
    b[::5, 0], b[1::7, 1] = a[::5, 0] + 1e-4, a[1::7, 1] - 1e-4
    radius = np.where(rng.random(count) < 0.2, 0.0, rng.uniform(0.02, 0.5, count))
    low = np.where(rng.random(count) < 0.4, rng.uniform(0.5, 2.0, count), 0.0)
    return solids_of(np.column_stack([a, b, radius, low, low + rng.uniform(0.1, 2.0, count)]))


def test_random_poses_as_polygons_measure_them() -> None:
    """Gaps left and right of 60 solids in 6 poses, one by one, equal those of turned and moved polygons."""
    rng = np.random.default_rng(5)
    for _ in range(6):
        stand = (*rng.uniform(-1.0, 1.0, 2), rng.uniform(-3.0, 3.0), rng.uniform(-0.6, 0.6), rng.uniform(-0.2, 0.2))
        solids = random_solids(rng, 60)
        turn = complex(math.cos(stand[2]), math.sin(stand[2]))
        for ends in ((solids.ax, solids.ay), (solids.bx, solids.by)):
            world = (ends[0] + 1j * ends[1]) * turn + complex(*stand[:2])
            ends[0][:], ends[1][:] = world.real, world.imag
        for k in range(solids.ax.size):
            one = solids_of([[float(column[k]) for column in solids[1:8]]])
            expected, numbers = gaps_twin(WAGON, one, stand)
            found = gaps(WAGON, one, stand)
            assert found[:, GAP] == pytest.approx(expected, abs=1e-6)
            assert list(found[:, SOLID]) == numbers
            best = min(expected)
            assert least(WAGON, one, stand, FAR_M) == pytest.approx(min(best, FAR_M), abs=1e-6)
            if best < FAR_M:
                assert least(WAGON, one, stand, best - 0.01) == best - 0.01
        together = gaps(WAGON, solids, stand)
        assert together[:, GAP] == pytest.approx(gaps_twin(WAGON, solids, stand)[0], abs=1e-6)
        assert least(WAGON, solids, stand, 0.5) == pytest.approx(min(0.5, together[:, GAP].min()), abs=1e-9)


def test_turned_over_worlds_swap_sides() -> None:
    """With left and right turned over, heading, steering and roll reversed, both sides swap to the last digit."""
    rng = np.random.default_rng(8)
    solids = random_solids(rng, 40)
    stand = (0.2, -0.1, 0.3, 0.4, 0.1)
    over = solids._replace(ay=-solids.ay, by=-solids.by)
    found, turned = gaps(WAGON, solids, stand), gaps(WAGON, over, (0.2, 0.1, -0.3, -0.4, -0.1))
    assert found[:, GAP] == pytest.approx(turned[::-1, GAP], abs=1e-12)
    assert found[:, SOLID] == pytest.approx(turned[::-1, SOLID])


def test_scaled_worlds_scale_gaps() -> None:
    """All lengths doubled, all gaps within reach double."""
    rng = np.random.default_rng(9)
    solids = random_solids(rng, 30)
    large = Boxes(*(2.0 * face for face in WAGON[:6]), WAGON.part, 2.0 * WAGON.wheelbase, WAGON.lock)
    far = Solids(solids.offsets, *(2.0 * column for column in solids[1:10]), solids.thing)
    stand = (0.1, 0.2, 0.3, 0.4, 0.1)
    found, scaled = gaps(WAGON, solids, stand), gaps(large, far, (0.2, 0.4, 0.3, 0.4, 0.1))
    assert scaled[:, GAP] == pytest.approx(2.0 * found[:, GAP])


def test_hull_holds_all_boxes() -> None:
    """The hull of the wagon: bumpers, mirrors, roof; front wheels by the circle round them."""
    hull = hull_of(WAGON)
    turned = 0.8 + math.hypot(0.4, 0.13)
    assert hull[:5] == pytest.approx((-1.1, 3.7, -turned, turned, 2.1))
    assert hull.radius == pytest.approx(math.hypot(3.7, 0.95))
    turning = hull_of(boxes_of(wheels(2.8, 1.6, 0.4, 0.26), 2.8))
    assert turning.front == pytest.approx(2.8 + math.hypot(0.4, 0.13))
    assert turning.left == pytest.approx(0.8 + math.hypot(0.4, 0.13))
