"""A vehicle on four wheels rolled along two lines: plain twin, and what must hold on any ground."""

import json
import math
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from pipeline.kernels.four_records import (
    DIAGONAL,
    FL,
    FR,
    FRONT_EDGE,
    LEFT_EDGE,
    NO_WHEEL,
    REAR_EDGE,
    RIGHT_EDGE,
    RL,
    ROLL,
    RR,
    TWIST,
    Chassis,
    FourSwept,
    TyreLines,
)
from pipeline.kernels.four_stand import stand
from pipeline.kernels.four_wheel import sweep_four
from tests.kernels.four_twin import sweep_twin
from tests.kernels.four_worlds import (
    CAR,
    EVEN,
    FREE,
    STEP,
    L,
    T,
    mirrored,
    one_run,
    random_lines,
    shaped,
    turned_round,
)

pytestmark = pytest.mark.kernel

ROOT = Path(__file__).parents[2]
SEEDS = [1, 2, 3, 4]
Floats = NDArray[np.float64]


def columns(found: FourSwept) -> Floats:
    """Give all that a sweep says of every measure as one array, last axis field."""
    fields = (found.utilisation, found.demand, found.limit, found.place, found.rear, found.front)
    return np.stack([*fields, found.basis, found.wheel, found.lifted], axis=-1).astype(float)


def worst_of_twin(lines: TyreLines, chassis: Chassis, stride: int) -> Floats:
    """Give what the twin finds, places along the run, shape (runs, 2, 3, 7)."""
    end = (lines.offsets[1] - 1) * lines.step
    table = np.full((lines.offsets.size - 1, 2, 3, 7), math.nan)
    for (run, direction), measures in sweep_twin(lines, chassis, 3.0, stride).items():
        for measure, worst in enumerate(measures):
            places = np.array([worst.place, worst.rear, worst.front])
            table[run, direction, measure, :2] = worst.utilisation, worst.demand
            table[run, direction, measure, 2:5] = places if direction == 0 else end - places
            table[run, direction, measure, 5:] = worst.wheel, worst.lifted
    return table


@pytest.mark.parametrize(("seed", "stride"), [(1, 1), (2, 1), (3, 3), (4, 2)])
def test_is_its_plain_twin(seed: int, stride: int) -> None:
    """On rough ground, wheels in the air and bends included, everything is that of the twin to 1e-9.

    So it is with limits so uneven that what one edge has used up is more than the other can ever ask.
    """
    lines = random_lines(seed, samples=45)
    limits = np.array([0.02, 1.5, 0.03, 1.5])
    for car in (CAR._replace(travel=0.2), CAR._replace(travel=FREE), CAR._replace(travel=0.2, limits=limits)):
        found = sweep_four(lines, car, 3.0, stride)
        twin = worst_of_twin(lines, car, stride)
        assert columns(found)[..., [0, 1, 3, 4, 5, 7, 8]] == pytest.approx(twin, abs=1e-9, nan_ok=True)
        assert found.lifted.any() == (car.travel != FREE)


def test_missing_ground_is_the_twins() -> None:
    """Gaps under the right tyres are passed over by the twin in the same way."""
    lines = random_lines(9, runs=2)
    lines.right[[30, 61, 118]] = math.nan
    found = sweep_four(lines, CAR, 3.0, 1)
    mine = columns(found)[..., [0, 1, 3, 4, 5, 7, 8]]
    assert mine == pytest.approx(worst_of_twin(lines, CAR, 1), abs=1e-9, nan_ok=True)
    assert (found.failed > 0).all()


def results(seed: int) -> list[object]:
    """Sweep random ground for the comparison of compiled and plain runs."""
    found = sweep_four(random_lines(seed, samples=40), CAR, 3.0, 1)
    pose = stand(random_lines(seed), CAR, (0, 1), 6.1, 3.0)
    return [np.nan_to_num(part, nan=-9.0).tolist() for part in (*found, *pose)]


def test_compiled_and_plain_runs_agree() -> None:
    """The same ground gives the same results with the JIT on and off, to 1e-12."""
    switched = "0" if os.environ.get("NUMBA_DISABLE_JIT", "0") == "1" else "1"
    path = str(Path(__file__))
    code = f"import json, runpy; print(json.dumps(runpy.run_path({path!r})['results'](1)))"
    environment = os.environ | {"NUMBA_DISABLE_JIT": switched, "PYTHONPATH": str(ROOT)}
    there = subprocess.run([sys.executable, "-c", code], env=environment, capture_output=True, text=True, check=True)
    for one, other in zip(results(1), json.loads(there.stdout), strict=True):
        assert np.asarray(one) == pytest.approx(np.asarray(other), abs=1e-12)


@pytest.mark.parametrize("seed", SEEDS)
def test_mirror_swaps_left_and_right(seed: int) -> None:
    """With ground, bends and vehicle mirrored everything stays, but for the side of the wheel."""
    lines = random_lines(seed)
    limits = CAR.limits[[1, 0, 2, 3]]
    one, other = (
        sweep_four(lines, CAR, 3.0, 1),
        sweep_four(mirrored(lines), CAR._replace(cg_y=-CAR.cg_y, limits=limits), 3.0, 1),
    )
    kept = columns(other)
    kept[..., 7] = np.where(kept[..., 7] < 0.0, -1.0, np.array([FR, FL, RR, RL])[other.wheel])
    assert kept == pytest.approx(columns(one), abs=1e-9, nan_ok=True)
    poses = [
        stand(ground, car, (0, 0), 4.4, 3.0)
        for ground, car in ((lines, CAR), (mirrored(lines), CAR._replace(cg_y=-CAR.cg_y)))
    ]
    swapped = [RIGHT_EDGE, LEFT_EDGE, FRONT_EDGE, REAR_EDGE, DIAGONAL]
    assert poses[1].edges == pytest.approx(poses[0].edges[swapped], abs=1e-9, nan_ok=True)
    assert (poses[1].roll, poses[1].twist) == pytest.approx((-poses[0].roll, -poses[0].twist), abs=1e-12)


@pytest.mark.parametrize("seed", SEEDS)
def test_direction_is_only_how_the_run_is_written_down(seed: int) -> None:
    """Against a run is along the same run written down backwards."""
    lines = random_lines(seed, runs=1)
    end = (lines.left.size - 1) * lines.step
    one, other = sweep_four(lines, CAR, 3.0, 2), sweep_four(turned_round(lines), CAR, 3.0, 2)
    there = columns(other)[:, ::-1]
    there[..., 3:6] = end - there[..., 3:6]
    assert there == pytest.approx(columns(one), abs=1e-9)
    assert (other.poses[:, ::-1] == one.poses).all()


@pytest.mark.parametrize("seed", SEEDS)
def test_datum_does_not_count(seed: int) -> None:
    """All heights raised by 800 m change nothing."""
    lines = random_lines(seed)
    raised = lines._replace(left=lines.left + 800.0, right=lines.right + 800.0)
    assert columns(sweep_four(raised, CAR, 3.0, 1)) == pytest.approx(columns(sweep_four(lines, CAR, 3.0, 1)), abs=1e-9)


@pytest.mark.parametrize("seed", SEEDS)
def test_scale_does_not_count(seed: int) -> None:
    """All lengths times 3: angles and utilisations stay, twists and places grow by 3; speed grows by √3."""
    lines, s = random_lines(seed), 3.0
    large = lines._replace(
        left=s * lines.left,
        right=s * lines.right,
        bend=lines.bend / s,
        own_from=s * lines.own_from,
        own_to=s * lines.own_to,
        step=s * lines.step,
    )
    truck = Chassis(*(s * part for part in CAR[:-1]), CAR.limits)
    one, other = sweep_four(lines, CAR, 2.0, 1), sweep_four(large, truck, 2.0 * math.sqrt(s), 1)
    assert other.utilisation == pytest.approx(one.utilisation, abs=1e-9)
    assert other.demand[..., :TWIST] == pytest.approx(one.demand[..., :TWIST], abs=1e-9)
    assert other.demand[..., TWIST] == pytest.approx(s * one.demand[..., TWIST], abs=1e-9)
    assert other.place == pytest.approx(s * one.place, abs=1e-6)
    assert (other.wheel == one.wheel).all()


def test_places_are_those_of_the_ground() -> None:
    """The worst of a short bank is found with the vehicle on it, both ways, and the axles one wheelbase apart."""
    bank = one_run(*(sign * np.where(np.abs(np.arange(121) * STEP - 6.0) < 1.6, 0.2, 0.0) for sign in (1.0, -1.0)))
    found = sweep_four(bank, EVEN, 0.0, 1)
    assert found.place[0, :, ROLL] == pytest.approx([6.0] * 2, abs=0.31)
    assert (found.front[0, 0] > found.rear[0, 0])[[ROLL, TWIST]].all()
    assert (found.front[0, 1] < found.rear[0, 1])[[ROLL, TWIST]].all()
    assert abs(found.front[0, :, ROLL] - found.rear[0, :, ROLL]) == pytest.approx([L] * 2, abs=2e-3)
    assert found.place[0, 0, ROLL] == pytest.approx(0.5 * (found.rear + found.front)[0, 0, ROLL])


@pytest.mark.parametrize("middle", [6.0, 6.13, 6.31])
def test_worst_pose_between_the_strides_is_found(middle: float) -> None:
    """A pose every half metre still finds the worst of a short bank, to a thousandth: that of a scan every 20 mm."""
    lines = shaped(lambda x, y: 0.4 * np.sign(y) * np.exp(-(((x - middle) / 1.2) ** 2)))
    found = sweep_four(lines, EVEN, 0.0, 5)
    scan = [stand(lines, EVEN, (0, 0), rear, 0.0) for rear in np.arange(middle - 3.2, middle + 0.4, 0.02)]
    worst = min(pose.edges[RIGHT_EDGE] for pose in scan)
    level = math.atan(0.5 * T / EVEN.cg_z)
    assert found.demand[0, 0, ROLL] == pytest.approx(level - worst, rel=1e-3)
    assert found.demand[0, 1, ROLL] == pytest.approx(level - worst, rel=1e-2)


def test_only_poses_over_the_own_part_count() -> None:
    """A pose counts when the middle between the axles lies in the run's own part, ends included."""
    lines = shaped(lambda x, _: 0.0 * x, own=(4.0, 5.0))
    assert sweep_four(lines, EVEN, 0.0, 1).poses.tolist() == [[11, 11]]
    hump = shaped(lambda x, y: np.where((x > 8.0) & (y > 0.0), 0.2, 0.0), own=(2.0, 5.0))
    assert sweep_four(hump, EVEN, 0.0, 1).utilisation == pytest.approx(np.zeros((1, 2, 3)), abs=1e-9)
    assert sweep_four(hump._replace(own_to=np.array([7.0])), EVEN, 0.0, 1).utilisation[0, 0, TWIST] > 0.0


def test_short_own_part_is_not_strided_over() -> None:
    """An own part that falls between two poses of the stride is looked at every sample."""
    lines = shaped(lambda x, y: 0.5 * x + 0.1 * y, own=(4.0, 4.3))
    found = sweep_four(lines, EVEN, 0.0, 5)
    assert found.poses.tolist() == [[3, 3]]
    assert (found.utilisation[..., ROLL] > 0.0).all()


@pytest.mark.parametrize("samples", [5, 28])
def test_run_shorter_than_the_wheelbase_has_no_pose(samples: int) -> None:
    """Nothing can stand there; nothing is asked and nothing failed."""
    found = sweep_four(shaped(lambda x, y: 0.1 * y + 0.0 * x, samples), EVEN, 0.0, 1)
    assert (found.poses == 0).all()
    assert (found.failed == 0).all()
    assert (found.utilisation == 0.0).all()
    assert np.isnan(found.limit).all()
    assert np.isnan([found.place, found.rear, found.front, found.limit]).all()
    assert (found.basis == 255).all()
    assert (found.wheel == NO_WHEEL).all()


def test_missing_ground_fails_poses() -> None:
    """A gap under one side fails the poses that stand on it, counted both ways, the first place noted."""
    lines = shaped(lambda x, y: 0.1 * y + 0.0 * x)
    whole = sweep_four(lines, EVEN, 0.0, 1)
    lines.left[60] = math.nan
    found = sweep_four(lines, EVEN, 0.0, 1)
    # With a radius of 0.38 m nine paths of the centre need the height: nine rear places, ten pieces under the front.
    assert found.failed.tolist() == [[19, 19]]
    assert (found.poses + found.failed == whole.poses).all()
    assert found.failed_at[0] == pytest.approx([5.6 - L / 2.0, 6.4 + L / 2.0], abs=1e-9)
    assert (found.utilisation[..., ROLL] > 0.0).all()


def test_gap_between_the_wheels_does_not_count() -> None:
    """Ground missing under the middle of the vehicle only is no fault."""
    lines = shaped(lambda x, _: 0.0 * x, own=(6.0, 6.0))
    lines.left[60] = math.nan
    found = sweep_four(lines, EVEN, 0.0, 1)
    assert found.poses.tolist() == [[1, 1]]
    assert found.failed.tolist() == [[0, 0]]
    assert np.isnan(found.failed_at).all()


def test_nothing_but_missing_ground() -> None:
    """A run without heights fails everywhere and asks nothing."""
    found = sweep_four(one_run(np.full(80, math.nan), np.zeros(80)), EVEN, 0.0, 1)
    assert (found.poses == 0).all()
    assert (found.failed > 0).all()
    assert (found.utilisation == 0.0).all()


def test_basis_is_the_worst_under_the_wheels() -> None:
    """Guessed ground under one axle is told, guessed ground between the axles is not."""
    lines = shaped(lambda x, y: 0.1 * y + 0.0 * x, own=(6.0, 6.0))
    for at, told in ((46, 1), (74, 1), (60, 3), (40, 3)):
        basis = np.full(121, 3, dtype=np.uint8)
        basis[at] = 1
        found = sweep_four(lines._replace(basis=basis), EVEN, 0.0, 1)
        assert found.basis[0, :, ROLL].tolist() == [told, told], at


def test_runs_are_apart() -> None:
    """Each of several runs gives what it gives alone."""
    lines = random_lines(5, runs=3)
    found = columns(sweep_four(lines, CAR, 2.0, 2))
    for run in range(3):
        part = slice(lines.offsets[run], lines.offsets[run + 1])
        alone = TyreLines(
            np.array([0, 60]),
            *(column[part].copy() for column in lines[1:5]),
            lines.own_from[run : run + 1],
            lines.own_to[run : run + 1],
            lines.step,
        )
        assert columns(sweep_four(alone, CAR, 2.0, 2))[0] == pytest.approx(found[run], abs=1e-12)


def test_arguments_stay_as_they_were() -> None:
    """A sweep changes none of its arguments."""
    lines, twin = random_lines(6), random_lines(6)
    sweep_four(lines, CAR, 2.0, 1)
    for one, other in zip(lines, twin, strict=True):
        assert np.array_equal(one, other)
