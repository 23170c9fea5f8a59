"""How fast the sweep in side view is on hilly trails, in poses a second of one core, against plain Python.

A pose is one place of the rear axle in one direction. The trails are fractal with a median slope of 10° and 1.5 cm of
noise a metre, 200 m each: as many heights as 20 km and 200 km of stations 0.5 m apart.
"""

import time
from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray
from pytest_benchmark.fixture import BenchmarkFixture

from pipeline.checks.side_body import body_of
from pipeline.kernels.pose import sweep
from pipeline.kernels.pose_records import CHECKS, Runs
from tests.checks.worlds import LIMITS, envelope
from tests.kernels.pose_twin import Plain

Floats = NDArray[np.float64]

LENGTH_M = 200.0
GOAL_M_PER_S = 3.0
"""Millions of poses a second for station-like ground; 3.9 was reached where this was written."""
TWIN_GOAL = 50.0


def fastest(work: Callable[[], object], rounds: int = 5) -> float:
    """Least CPU seconds of *work*: what it takes when nobody else is in the way."""
    spent = []
    for _ in range(rounds):
        begun = time.process_time()
        work()
        spent.append(time.process_time() - begun)
    return min(spent)


def fractal(samples: int, step: float, seed: int = 1) -> Floats:
    """Make hills: a power spectrum that falls with the 3.4th power of the frequency below waves of 400 m, and noise."""
    rng = np.random.default_rng(seed)
    frequency = np.fft.rfftfreq(samples, step)
    known = frequency > 1.0 / 400.0
    size = np.zeros(frequency.size)
    size[known] = frequency[known] ** -1.7
    z = np.fft.irfft(size * np.exp(2j * np.pi * rng.random(frequency.size)), samples)
    z *= np.tan(np.radians(10.0)) / np.median(np.abs(np.diff(z) / step))
    place = np.arange(samples) * step
    metres = np.arange(0.0, place[-1] + 1.0)
    return z + np.interp(place, metres, rng.normal(0.0, 0.015, metres.size))


def trails(count: int, step: float) -> Runs:
    """Make trails of :data:`LENGTH_M` each."""
    samples = round(LENGTH_M / step) + 1
    z = fractal(samples * count, step)
    ends = np.full(count, (samples - 1) * step)
    basis = np.full(z.size, 3, dtype=np.uint8)
    return Runs(np.arange(count + 1) * samples, z, z.copy(), basis, np.zeros(count), ends, step)


@pytest.mark.parametrize("count", [100, 1000])
@pytest.mark.parametrize(("step", "stride"), [(0.5, 1), (0.1, 2)])
def test_poses_a_second(benchmark: BenchmarkFixture, count: int, step: float, stride: int) -> None:
    """Station-like ground is rolled over at 3 million poses a second or more, all refinement in that time."""
    count = count if step == 0.5 else count // 10
    runs, body = trails(count, step), body_of(envelope(), LIMITS)
    found = benchmark.pedantic(sweep, args=(runs, body, stride), rounds=1, warmup_rounds=1)
    assert (found.failed == 0).all()
    assert 8.0 < np.degrees(np.arctan(np.median(np.abs(np.diff(runs.wheel_z) / step)))) < 13.0
    if benchmark.disabled:
        return
    reached = int(found.poses.sum()) / fastest(lambda: sweep(runs, body, stride)) / 1e6
    print(f"\n{count} trails, heights {step} m, poses {step * stride} m apart: {reached:.2f} M poses/s")  # noqa: T201
    if step == 0.5:
        assert reached >= GOAL_M_PER_S


def test_against_plain_python(benchmark: BenchmarkFixture) -> None:
    """The kernel gives the plain twin's numbers to 1e-9, at least fifty times as fast."""
    runs, body = trails(4, 0.5), body_of(envelope(), LIMITS)
    parts = np.split(runs.wheel_z, 4)

    def twin() -> Floats:
        lines = [line.tolist() for z in parts for line in (z, z[::-1])]
        return np.array([Plain(line, line, 0.5, body).roll(1).worst[:, 0] for line in lines])

    found = benchmark.pedantic(sweep, args=(runs, body, 1), rounds=1, warmup_rounds=1)
    assert found.utilisation.reshape(-1, CHECKS) == pytest.approx(twin(), abs=1e-9)
    if benchmark.disabled:
        return
    times = fastest(twin, 2) / fastest(lambda: sweep(runs, body, 1), 20)
    print(f"\nplain Python ÷ kernel: {times:.0f}")  # noqa: T201
    assert times >= TWIN_GOAL
