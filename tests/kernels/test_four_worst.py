"""What the poses of a vehicle on four wheels ask, and of which limit."""

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from pipeline.kernels.four_records import (
    DIAGONAL,
    FL,
    FR,
    LEFT_EDGE,
    RIGHT_EDGE,
    RL,
    ROLL,
    RR,
    TWIST,
    Chassis,
)
from pipeline.kernels.four_stand import stand
from pipeline.kernels.four_wheel import sweep_four
from tests.kernels.four_worlds import CAR, EVEN, FREE, L, block, random_lines, shaped

pytestmark = pytest.mark.kernel

SEEDS = [1, 2, 3, 4]
Floats = NDArray[np.float64]


def limits_of(chassis: Chassis, share: float = 0.1) -> Chassis:
    """Set the limits to atan((1 − share)·tan) of the angles standing level."""
    half = 0.5 * (chassis.track_front + chassis.track_rear)
    arms = np.array([half / 2.0 - chassis.cg_y, half / 2.0 + chassis.cg_y, -chassis.cg_x, L + chassis.cg_x])
    return chassis._replace(limits=np.arctan((1.0 - share) * arms / chassis.cg_z))


@pytest.mark.parametrize("seed", SEEDS)
def test_higher_centre_is_never_better(seed: int) -> None:
    """With the centre of gravity raised every edge angle falls, and no utilisation does, limits following."""
    lines = random_lines(seed, noise=0.01)
    cars = [limits_of(CAR._replace(cg_z=z, travel=FREE)) for z in (0.6, 0.75, 0.95)]
    for rear in (2.0, 3.7, 5.3, 6.6):
        angles = [stand(lines, car, (1, 0), rear, 2.0).edges[:DIAGONAL] for car in cars]
        assert (np.diff(angles, axis=0) < 0.0).all()
    used = [sweep_four(lines, car, 2.0, 1).utilisation for car in cars]
    assert (np.diff(used, axis=0)[..., :TWIST] > 0.0).all()
    assert used[0][..., TWIST] == pytest.approx(used[2][..., TWIST])


def test_one_wheel_on_a_block_twists_by_its_height() -> None:
    """A wheel on a block of 0.30 m twists by 0.30 m; a wheel of the lighter end is the first that would lift."""
    lines = shaped(block)
    for cg_x, light in ((-1.3, {RL, RR}), (-1.5, {FL, FR})):
        found = sweep_four(lines, EVEN._replace(travel=0.5, cg_x=cg_x), 0.0, 1)
        assert found.demand[0, :, TWIST] == pytest.approx([0.3] * 2, abs=1e-9)
        assert found.utilisation[0, :, TWIST] == pytest.approx([0.6] * 2, abs=1e-9)
        assert set(found.wheel[0, :, TWIST].tolist()) <= light
        assert not found.lifted.any()
        pose = stand(lines, EVEN._replace(travel=0.5, cg_x=cg_x), (0, 0), found.rear[0, 0, TWIST], 0.0)
        assert abs(pose.twist) == pytest.approx(0.3, abs=1e-9)


@pytest.mark.parametrize(
    ("wheel", "gone"), [(FL, (0, 2)), (FR, (1, 2)), (RL, (0, 3)), (RR, (1, 3))], ids=["FL", "FR", "RL", "RR"]
)
def test_three_wheels_stand_on_a_triangle(wheel: int, gone: tuple[int, int]) -> None:
    """With a wheel over a hole its two edges are gone, and the diagonal is near its balance but on the right side."""
    front, left = wheel in (FL, FR), wheel in (FL, RL)
    hole = (5.95, 7.05) if front else (2.95, 4.05)

    def ground(x: Floats, y: float) -> Floats:
        return np.where((x > hole[0]) & (x < hole[1]) & ((y > 0.0) is left), -0.3, 0.0)

    car = EVEN._replace(travel=0.15, cg_x=-1.7 if front else -1.1)
    pose = stand(shaped(ground), car, (0, 0), 3.7, 0.0)
    assert pose.lifted == wheel
    assert np.flatnonzero(np.isnan(pose.edges)).tolist() == list(gone)
    assert 0.0 < math.degrees(pose.edges[DIAGONAL]) < 15.0
    # Beside the sweep: the diagonal asks what the side that it falls towards has lost, of that side's limit.
    limits = np.radians([41.0, 42.0, 59.0, 60.0])
    found = sweep_four(shaped(ground, own=(5.0, 5.2)), car._replace(limits=limits), 0.0, 1)
    assert found.lifted[0, 0, ROLL]
    assert found.wheel[0, 0, [ROLL, TWIST]].tolist() == [wheel, wheel]
    assert found.limit[0, 0, ROLL] == limits[LEFT_EDGE if left else RIGHT_EDGE]
    worst = stand(shaped(ground), car, (0, 0), found.rear[0, 0, ROLL], 0.0)
    level = math.atan(0.8 / 0.72)
    assert found.demand[0, 0, ROLL] == pytest.approx(level - worst.edges[DIAGONAL], abs=1e-9)
