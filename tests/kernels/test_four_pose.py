"""How a vehicle stands on four wheels or on three: planes, twisted ground, wheels in the air."""

import math

import numpy as np
import pytest

from pipeline.kernels.four_records import (
    FL,
    FR,
    NO_WHEEL,
    PITCH,
    RIGHT_EDGE,
    RL,
    ROLL,
    RR,
    TWIST,
)
from pipeline.kernels.four_stand import stand
from pipeline.kernels.four_wheel import sweep_four
from tests.kernels.four_worlds import EVEN, FREE, L, block, one_run, random_lines, shaped

pytestmark = pytest.mark.kernel

SEEDS = [1, 2, 3, 4]


@pytest.mark.parametrize(("grade", "across"), [(0.0, 0.2), (0.3, 0.0), (0.40825, 0.40825), (0.5, -0.2), (-0.3, 0.1)])
def test_plane_gives_the_closed_form(grade: float, across: float) -> None:
    """On any plane: pitch atan(g), roll atan(c·cos pitch), no twist; over an edge only the force across it counts.

    Pitch 22.208° and roll 20.705° where g = c = 0.40825, roll 10.142° where g = 0.5 and c = 0.2 (worked by hand).
    """
    lines = shaped(lambda x, y: grade * x + across * y)
    found = sweep_four(lines, EVEN, 0.0, 3)
    pitch = math.atan(grade)
    roll = math.atan(across * math.cos(pitch))
    side = abs(roll)
    # Gravity seen from the plane, and its slope across an edge that runs along or across the vehicle.
    length = math.atan(math.tan(pitch) / math.cos(roll))
    assert found.demand[0, :, ROLL] == pytest.approx([side] * 2, abs=1e-9)
    assert found.demand[0, :, PITCH] == pytest.approx([abs(length)] * 2, abs=1e-9)
    assert found.demand[0, :, TWIST] == pytest.approx([0.0] * 2, abs=1e-9)
    pose = stand(lines, EVEN, (0, 0), 4.03, 0.0)
    assert (pose.pitch, pose.roll, pose.twist) == pytest.approx((pitch, roll, 0.0), abs=1e-9)
    if grade == across:
        assert np.degrees([pose.pitch, pose.roll]) == pytest.approx([22.208, 20.705], abs=1e-3)


@pytest.mark.parametrize("heading_deg", [0.0, 25.0, 45.0, 90.0, 160.0])
def test_heading_on_a_plane_of_twenty_degrees(heading_deg: float) -> None:
    """Turning the way on one plane leaves its slope: sin² of pitch, and of the lean, add up to that of 20°.

    Straight across, 48.013° − 20° = 28.013° are left downhill (worked value of the force-angle measure).
    """
    slope, heading = math.tan(math.radians(20.0)), math.radians(heading_deg)
    lines = shaped(lambda x, y: slope * (x * math.cos(heading) + y * math.sin(heading)))
    pose = stand(lines, EVEN, (0, 0), 5.0, 0.0)
    assert math.cos(pose.pitch) * math.cos(pose.roll) == pytest.approx(math.cos(math.radians(20.0)), abs=1e-12)
    if heading_deg == 90.0:
        assert math.degrees(pose.edges[RIGHT_EDGE]) == pytest.approx(28.013, abs=1e-3)


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("travel", [0.1, FREE])
def test_symmetric_vehicle_turned_round_on_the_spot(seed: int, travel: float) -> None:
    """A vehicle alike at both ends stands in the same wheel marks either way: edges and wheels change places."""
    lines = random_lines(seed, runs=1)
    car = EVEN._replace(travel=travel, cg_y=0.05)
    along = stand(lines, car, (0, 0), 4.17, 2.0)
    back = stand(lines, car._replace(cg_y=-0.05), (0, 1), along.front, 2.0)
    assert back.front == pytest.approx(along.rear, abs=1e-9)
    assert back.edges == pytest.approx(along.edges[[1, 0, 3, 2, 4]], abs=1e-9, nan_ok=True)
    assert back.centres == pytest.approx(along.centres[[RR, RL, FR, FL]], abs=1e-9)
    assert (back.pitch, back.roll, back.twist) == pytest.approx((-along.pitch, -along.roll, along.twist), abs=1e-9)
    assert back.lifted == ([RR, RL, FR, FL][along.lifted] if along.lifted >= 0 else NO_WHEEL)


def test_warped_ground_twists_by_its_size() -> None:
    """Ground z = k·x·y twists by k·wheelbase·track: 0.05 × 2.8 × 1.6 = 0.224 m (worked by hand), each axle half."""
    lines = shaped(lambda x, y: 0.05 * (x - 6.0) * y)
    found = sweep_four(lines, EVEN, 0.0, 1)
    assert found.demand[0, :, TWIST] == pytest.approx([0.224] * 2, abs=1e-9)
    pose = stand(lines, EVEN, (0, 0), 6.0 - L / 2.0, 0.0)
    assert pose.twist == pytest.approx(0.224, abs=1e-9)
    assert pose.roll == pytest.approx(0.0, abs=1e-9)
    assert pose.axle_rolls == pytest.approx([math.atan(0.07), -math.atan(0.07)], abs=1e-9)


@pytest.mark.parametrize(("cg_x", "wheel", "sign"), [(-1.3, RR, 1.0), (-1.5, FL, -1.0)])
def test_wheel_lifts_beyond_the_travel(cg_x: float, wheel: int, sign: float) -> None:
    """Front right on a block of 0.30 m with a travel of 0.20 m: the light wheel of the low diagonal hangs 0.10 m up.

    The axles' rolls then differ by the travel only, and the body leans away from the wheel in the air.
    """
    lines, car = shaped(block), EVEN._replace(travel=0.2, cg_x=cg_x)
    pose = stand(lines, car, (0, 0), 6.5 - 2.78, 0.0)
    assert pose.twist == pytest.approx(-0.3, abs=1e-9)
    assert pose.lifted == wheel
    gaps = pose.centres - pose.ground - car.radius
    assert gaps == pytest.approx(np.where(np.arange(4) == wheel, 0.1, 0.0), abs=1e-9)
    held = (pose.centres[FL] - pose.centres[FR]) - (pose.centres[RL] - pose.centres[RR])
    assert held == pytest.approx(-0.2, abs=1e-9)
    balanced = stand(lines, car._replace(travel=FREE), (0, 0), 6.5 - 2.78, 0.0)
    assert (pose.roll - balanced.roll) * sign < -0.01
    assert pose.pitch < balanced.pitch if wheel == RR else pose.pitch > balanced.pitch


@pytest.mark.parametrize(("ramp", "wheelbase", "index"), [(62.0, 94.0, 659.57), (1500.0, 2500.0, 600.0)])
def test_ramp_travel_index(ramp: float, wheelbase: float, index: float) -> None:
    """Up a ramp of 20° with a front wheel until a tyre leaves the ground: 1000 × height gained ÷ (wheelbase × sin 20°).

    62 in of ramp and a wheelbase of 94 in give 659.57, 1,500 mm and 2,500 mm give 600 (published and worked examples).
    The tyre that leaves the ground is the rear one of the same side.
    """
    base, sine, step = 2.5, math.sin(math.radians(20.0)), 0.05
    x = np.arange(140) * step
    rise = np.maximum(x - 3.0, 0.0) * math.tan(math.radians(20.0))
    car = EVEN._replace(wheelbase=base, travel=ramp / wheelbase * base * sine, cg_x=-1.2)
    lines = one_run(rise, np.zeros(140), step)
    low, high = 0.5, 4.0
    for _ in range(20):
        rear = 0.5 * (low + high)
        pose = stand(lines, car, (0, 0), rear, 0.0)
        low, high = (low, rear) if pose.lifted >= 0 else (rear, high)
    first = stand(lines, car, (0, 0), high, 0.0)
    up = (first.centres[FL] - first.centres[FR]) / sine
    assert 1000.0 * up / base == pytest.approx(index, abs=0.5)
    assert first.lifted == RL


def test_cliff_higher_than_the_wheelbase_is_straddled_at_its_top() -> None:
    """Beyond a cliff as high as the wheelbase the front axle hangs on its face: the pose is steep, not missing."""
    lines = shaped(lambda x, _: np.where(x > 6.05, 4.0, 0.0))
    pose = stand(lines, EVEN._replace(radius=0.05), (0, 0), 5.9, 0.0)
    assert math.degrees(pose.pitch) > 85.0
    assert pose.front < 6.1
