"""One pose in full: it is the pose that the sweep found, and it says when there is none."""

import math

import numpy as np
import pytest

from pipeline.kernels.four_records import DIAGONAL, NO_WHEEL, PITCH, ROLL, TWIST
from pipeline.kernels.four_stand import stand
from pipeline.kernels.four_wheel import sweep_four
from tests.kernels.four_worlds import CAR, EVEN, FREE, L, random_lines, shaped

pytestmark = pytest.mark.kernel


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("travel", [0.2, FREE])
def test_worst_pose_can_be_stood_again(seed: int, travel: float) -> None:
    """Stood where the sweep found its worst, axles, twist, wheel and the worst edge come out the same."""
    lines, car = random_lines(seed), CAR._replace(travel=travel)
    found = sweep_four(lines, car, 3.0, 1)
    level = stand(shaped(lambda x, _: 0.0 * x), car, (0, 0), 3.0, 0.0).edges
    sides = {ROLL: [0, 1, DIAGONAL], PITCH: [2, 3]}
    for run, direction in ((0, 0), (0, 1), (1, 0), (1, 1)):
        for measure in (ROLL, PITCH, TWIST):
            where = (run, direction, measure)
            pose = stand(lines, car, (run, direction), found.rear[where], 3.0)
            assert pose.rear == found.rear[where]
            assert pose.front == pytest.approx(found.front[where], abs=1e-12)
            assert (pose.lifted != NO_WHEEL) == found.lifted[where]
            if measure == TWIST:
                assert abs(pose.twist) == pytest.approx(found.demand[where], abs=1e-12)
                continue
            lost = [
                level[edge if edge < DIAGONAL else (0 if pose.lifted in (0, 2) else 1)] - pose.edges[edge]
                for edge in sides[measure]
            ]
            assert np.min(np.abs(np.array(lost)[~np.isnan(lost)] - found.demand[where])) < 1e-9


def test_level_ground() -> None:
    """On the level nothing leans, the centres stand one radius up, and the angles are arm ÷ height of each edge."""
    pose = stand(shaped(lambda x, _: 0.0 * x), EVEN._replace(cg_x=-1.2, cg_y=0.1), (0, 0), 3.3, 4.0)
    assert (pose.rear, pose.front) == pytest.approx((3.3, 3.3 + L), abs=1e-12)
    assert (pose.pitch, pose.roll, pose.twist, pose.sideways) == pytest.approx((0.0,) * 4, abs=1e-12)
    assert pose.centres == pytest.approx([0.38] * 4)
    assert pose.ground == pytest.approx([0.0] * 4)
    arms = np.array([0.7, 0.9, 1.2, 1.6])
    assert pose.edges[:DIAGONAL] == pytest.approx(np.arctan(arms / 0.72), abs=1e-12)
    assert math.isnan(pose.edges[DIAGONAL])


@pytest.mark.parametrize(("direction", "rear"), [(0, 9.3), (0, -0.2), (0, 12.1), (1, 2.7), (1, 12.2), (1, -0.1)])
def test_no_pose_beyond_the_run(direction: int, rear: float) -> None:
    """With an axle off the run nothing stands: all NaN, no wheel lifted."""
    pose = stand(shaped(lambda x, _: 0.0 * x), EVEN, (0, direction), rear, 1.0)
    assert pose.lifted == NO_WHEEL
    numbers = np.hstack([part for name, part in pose._asdict().items() if name != "lifted"])
    assert np.isnan(numbers).all()


def test_no_pose_on_missing_ground() -> None:
    """With ground missing under a front or rear wheel nothing stands; between the axles it does."""
    lines = shaped(lambda x, _: 0.0 * x)
    lines.right[60] = math.nan
    for rear, stands in (
        (6.0, False),
        (6.0 - L, False),
        (6.1, False),
        (4.6, True),
        (6.5, True),
        (5.5, True),
        (2.7, True),
    ):
        pose = stand(lines, EVEN, (0, 0), rear, 0.0)
        assert math.isnan(pose.pitch) is not stands, rear


def test_no_pose_on_a_face_higher_than_two_wheelbases() -> None:
    """From the middle of a sheer face no place one wheelbase away is found."""
    lines = shaped(lambda x, _: np.where(x > 6.05, 40.0, 0.0))
    assert math.isnan(stand(lines, EVEN._replace(radius=0.001), (0, 0), 6.05, 0.0).pitch)


def test_missing_ground_beyond_the_front_wheels_does_not_count() -> None:
    """On a steep slope the axles are close in plan: ground missing where they would be on the level is not theirs."""
    lines = shaped(lambda x, _: 0.8 * x)
    lines.left[75:] = math.nan
    pose = stand(lines, EVEN, (0, 0), 4.6, 0.0)
    assert pose.front == pytest.approx(4.6 + L / math.hypot(1.0, 0.8), abs=1e-9)


@pytest.mark.parametrize("direction", [0, 1])
def test_ends_of_the_run_can_be_stood_on(direction: int) -> None:
    """The rear axle may stand on the very first sample, the front axle on the very last."""
    lines = shaped(lambda x, y: 0.1 * y + 0.0 * x, 29)
    pose = stand(lines, EVEN, (0, direction), L * direction, 0.0)
    assert pose.front == pytest.approx(L * (1 - direction))
    assert pose.roll == pytest.approx(math.atan(0.1) * (1 - 2 * direction), abs=1e-9)
    assert pose.centres - pose.ground == pytest.approx(np.full(4, 0.38), abs=1e-9)
    assert pose.ground[0] == pytest.approx(0.08 * (1 - 2 * direction), abs=1e-9)
