"""How fast a vehicle is rolled on four wheels, against the plain twin and against whole arrays in the same run."""

import time
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from pytest_benchmark.fixture import BenchmarkFixture

from pipeline.kernels.four_records import Chassis, TyreLines
from pipeline.kernels.four_wheel import sweep_four
from tests.kernels.four_twin import GRAVITY, sweep_twin
from tests.kernels.four_worlds import CAR, FREE

STEP = 0.5
Floats = NDArray[np.float64]


def cpu(work: Callable[[], object], rounds: int = 5) -> float:
    """Median CPU seconds of *work*."""
    spent = []
    for _ in range(rounds):
        begun = time.process_time()
        work()
        spent.append(time.process_time() - begun)
    return float(np.median(spent))


def trails(runs: int, samples: int = 400, step: float = STEP, noise: float = 0.02, seed: int = 1) -> TyreLines:
    """Make runs of stations: waves, cross slopes, roughness and bends."""
    n = runs * samples
    x = np.arange(n) * step
    rng = np.random.default_rng(seed)
    way, lean = 2.0 * np.sin(x / 15.0) + 0.1 * np.sin(x / 2.1), 0.2 * np.sin(x / 7.0)
    left, right = (way + side * lean + rng.normal(0.0, noise, n) for side in (1.0, -1.0))
    own = np.zeros(runs), np.full(runs, (samples - 1) * step)
    offsets = np.arange(runs + 1) * samples
    return TyreLines(offsets, left, right, np.full(n, 3, dtype=np.uint8), 0.05 * np.sin(x / 30.0), *own, step)


def array_paths(z: Floats, radius: float) -> Floats:
    """Centres of a tyre over every sample of many runs, shape (runs, samples): vertices and pieces in reach at once."""
    reach = int(np.ceil(radius / STEP)) + 1
    first, last = z[:, :1], z[:, -1:]
    rise = z[:, 1:2] - first, last - z[:, -2:-1]
    away = np.arange(1, reach + 1)
    padded = np.hstack([first - rise[0] * away[::-1], z, last + rise[1] * away])
    count = z.shape[1]
    best = np.full(z.shape, -np.inf)
    for j in range(-reach, reach + 1):
        ground = padded[:, reach + j : reach + j + count]
        if abs(j) * STEP < radius:
            best = np.maximum(best, ground + np.sqrt(radius**2 - (j * STEP) ** 2))
        if j < reach:
            slope = (padded[:, reach + j + 1 : reach + j + 1 + count] - ground) / STEP
            steep = np.sqrt(1.0 + slope**2)
            touch = radius * slope / steep - j * STEP
            along = ground - slope * j * STEP + radius * steep
            best = np.maximum(best, np.where((touch >= 0.0) & (touch <= STEP), along, -np.inf))
    return best


def array_sweep(lines: TyreLines, chassis: Chassis, speed: float) -> Floats:
    """Worst utilisation, shape (runs, 3), along runs of one length: every pose on four wheels, whole arrays."""
    runs = lines.offsets.size - 1
    left, right = (array_paths(z.reshape(runs, -1), chassis.radius) for z in (lines.left, lines.right))
    middle, bend = (left + right) / 2.0, lines.bend.reshape(runs, -1)
    samples = left.shape[1]
    poses = samples - int(np.ceil(chassis.wheelbase / STEP)) - 1
    rear = np.broadcast_to(np.arange(poses) * STEP, (runs, poses))
    rows = np.arange(runs)[:, None]
    front = rear + 0.98 * chassis.wheelbase
    for _ in range(4):
        k = np.minimum((front / STEP).astype(np.int64), samples - 2)
        slope = (middle[rows, k + 1] - middle[rows, k]) / STEP
        up = middle[rows, k] + (front - k * STEP) * slope - middle[:, :poses]
        across = front - rear
        apart = np.hypot(across, up)
        front = front - (apart - chassis.wheelbase) * apart / (across + up * slope)
    share = front / STEP - k
    ends = [z[rows, k] + share * (z[rows, k + 1] - z[rows, k]) for z in (left, right)]
    place = np.floor((rear + front) / 2.0 / STEP + 0.5).astype(np.int64)
    felt = np.clip(speed**2 * bend[rows, place] / GRAVITY, -0.25, 0.25)
    return array_asks(chassis, [*ends, left[:, :poses], right[:, :poses]], front - rear, felt)


def array_asks(chassis: Chassis, heights: list[Floats], across: Floats, felt: Floats) -> Floats:
    """Worst utilisation of roll, pitch and twist of whole arrays of poses on four wheels."""
    fl, fr, rl, rr = heights
    up = (fl + fr - rl - rr) / 2.0
    apart = np.hypot(across, up)
    cosine, sine = across / apart, up / apart
    scale = cosine * 2.0 / (chassis.track_front + chassis.track_rear)
    turns = np.arctan((fl - fr) * scale), np.arctan((rl - rr) * scale)
    roll = np.arctan((np.tan(turns[0]) + np.tan(turns[1])) / 2.0)
    zero = np.zeros_like(up)

    def foot(x: float, turn: Floats, y: float) -> Floats:
        return np.stack([zero + x, y * np.cos(turn), y * np.sin(turn)], axis=-1)

    half = chassis.track_front / 2.0, chassis.track_rear / 2.0
    feet = [foot(0.0, turns[0], half[0]), foot(0.0, turns[0], -half[0])]
    feet += [foot(-chassis.wheelbase, turns[1], half[1]), foot(-chassis.wheelbase, turns[1], -half[1])]
    lateral = chassis.cg_y * np.cos(roll) - chassis.cg_z * np.sin(roll)
    cg = np.stack([zero + chassis.cg_x, lateral, chassis.cg_y * np.sin(roll) + chassis.cg_z * np.cos(roll)], axis=-1)
    force = np.stack([-sine, -felt, -cosine], axis=-1)
    half_mean = (half[0] + half[1]) / 2.0
    arms = [half_mean - chassis.cg_y, half_mean + chassis.cg_y, -chassis.cg_x, chassis.wheelbase + chassis.cg_x]
    used = []
    for edge, (begin, end) in enumerate(((2, 0), (1, 3), (0, 1), (3, 2))):
        a = feet[end] - feet[begin]
        a /= np.linalg.norm(a, axis=-1, keepdims=True)
        arm, push = feet[end] - cg, force
        turn = np.einsum("...i,...i", np.cross(push, arm), a)
        flat = np.einsum("...i,...i", arm, push) - np.einsum("...i,...i", arm, a) * np.einsum("...i,...i", push, a)
        used.append((np.arctan(arms[edge] / chassis.cg_z) - np.arctan2(turn, flat)) / chassis.limits[edge])
    twist = np.abs((fl - fr) - (rl - rr)) / chassis.travel
    worst: Any = [np.maximum(used[0], used[1]), np.maximum(used[2], used[3]), twist]
    return np.stack([np.maximum(one, 0.0).max(axis=1) for one in worst], axis=-1)


def test_sweep_against_plain_and_arrays(benchmark: BenchmarkFixture) -> None:
    """Stations of 0.5 m, both directions: 5 million poses a second and core, 50 times the plain twin (goals).

    The whole-array form does less: one direction, no wheel in the air, no refinement, nothing but the worst ratio.
    """
    car = CAR._replace(track_front=1.6, track_rear=1.6, travel=FREE)
    many, few = trails(500), trails(1)
    found = benchmark.pedantic(sweep_four, args=(many, car, 2.0, 1), rounds=3, warmup_rounds=1)
    arrays = array_sweep(many, car, 2.0)
    assert (found.utilisation[:, 0] >= arrays - 1e-9).all()
    assert found.utilisation[:, 0] == pytest.approx(arrays, rel=0.1)
    if benchmark.disabled:
        return
    poses = int(found.poses.sum())
    mine, whole = cpu(lambda: sweep_four(many, car, 2.0, 1)), cpu(lambda: array_sweep(many, car, 2.0), 3)
    plain = cpu(lambda: sweep_twin(few, car, 2.0, 1), 1)
    each = plain / int(sweep_four(few, car, 2.0, 1).poses.sum())
    print(  # noqa: T201
        f"\nfour wheels, 0.5 m: {poses / mine / 1e6:.2f} M poses/s; plain twin ÷ kernel {each * poses / mine:.0f}; "
        f"NumPy ÷ kernel {2.0 * whole / mine:.1f}"
    )
    assert poses / mine > 2.5e6
    assert each * poses / mine > 50.0
    assert 2.0 * whole / mine > 2.5


def test_profiles_of_a_tenth_of_a_metre(benchmark: BenchmarkFixture) -> None:
    """Profiles of 0.1 m, a pose every 0.2 m, wheels in the air: what a build does."""
    lines = trails(100, 2000, 0.1, 0.003)
    car = CAR._replace(travel=0.12)
    found = benchmark.pedantic(sweep_four, args=(lines, car, 2.0, 2), rounds=3, warmup_rounds=1)
    assert found.lifted.any()
    if benchmark.disabled:
        return
    spent, poses = cpu(lambda: sweep_four(lines, car, 2.0, 2)), int(found.poses.sum())
    print(f"\nfour wheels, 0.1 m: {poses / spent / 1e6:.2f} M poses/s, {1e9 * spent / 200_000:.0f} ns a height")  # noqa: T201
