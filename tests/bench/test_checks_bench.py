"""How fast the profile sweep and the table of checks are, against a vectorised twin in the same run."""

import time
from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray
from pytest_benchmark.fixture import BenchmarkFixture

from pipeline.checks.run import run_checks
from pipeline.checks.site import CheckSite
from pipeline.checks.swept import body_of
from pipeline.checks.verdict import verdicts_table
from pipeline.kernels.pose import Body, Runs, sweep
from pipeline.kernels.tyre import tyre_envelope
from tests.checks.worlds import LIMITS, envelope, ground_of
from tests.worlds import ORIGIN, network_of, sine_hills, surface_terrain

STEP = 0.1
Floats = NDArray[np.float64]


def cpu(work: Callable[[], object], rounds: int = 3) -> float:
    """Median CPU seconds of *work*."""
    spent = []
    for _ in range(rounds):
        begun = time.process_time()
        work()
        spent.append(time.process_time() - begun)
    return float(np.median(spent))


def numpy_twin(z: Floats, body: Body, stride: int) -> Floats:
    """Roll along one run with whole arrays: poses × points under the body; the envelope comes from the kernel."""
    centre, length = tyre_envelope(z, STEP, body.radius), (z.size - 1) * STEP
    grid = np.arange(z.size) * STEP
    rear = np.arange(0, z.size - int(body.wheelbase / STEP) - 2, stride) * STEP
    rear_z = np.interp(rear, grid, centre)
    front = rear + body.wheelbase
    for _ in range(4):
        front_z = np.interp(front, grid, centre)
        front = rear + np.sqrt(np.maximum(body.wheelbase**2 - (front_z - rear_z) ** 2, 0.0))
    front_z = np.interp(front, grid, centre)
    pitch = np.arctan2(front_z - rear_z, front - rear)[:, None]
    x = np.linspace(body.x[0], body.x[-1], int((body.x[-1] - body.x[0]) / STEP) + 1)[None, :]
    hard = np.interp(x, body.x, body.z)
    place = front[:, None] + x * np.cos(pitch)
    line = front_z[:, None] + x * np.sin(pitch) - body.radius * np.cos(pitch)
    h = (np.interp(place, grid, z, left=np.nan, right=np.nan) - line) * np.cos(pitch)
    h[(place < 0.0) | (place > length)] = 0.0
    return np.array([_worst(x, h, hard, body, part) for part in range(4)])


def _tangent(away: Floats, height: Floats, radius: float) -> Floats:
    """Tangent angle of whole arrays."""
    under = away**2 - height * (2.0 * radius - height)
    return np.where(under < 0.0, np.nan, 2.0 * np.arctan(height / (away + np.sqrt(np.maximum(under, 1e-12)))))


def _worst(x: Floats, h: Floats, hard: Floats, body: Body, part: int) -> float:
    """Worst ratio of one check."""
    if part == 3:
        return float(np.nanmax(h[:, (x[0] < 0.0) & (x[0] > -body.wheelbase)]))
    where = (x[0] > 0.0, (x[0] < 0.0) & (x[0] > -body.wheelbase), x[0] < -body.wheelbase)[part]
    away, ground, limit = x[:, where], np.maximum(h[:, where], 0.0), hard[:, where]
    if part == 1:
        seen = _tangent(-away, ground, body.radius) + _tangent(body.wheelbase + away, ground, body.radius)
        own = _tangent(-away, limit, body.radius) + _tangent(body.wheelbase + away, limit, body.radius)
    else:
        out = away if part == 0 else -body.wheelbase - away
        seen, own = _tangent(out, ground, body.radius), _tangent(out, limit, body.radius)
    return float(np.nanmax(seen / own))


def rough(samples: int, seed: int = 1) -> Floats:
    """Make a trail with waves and roughness."""
    x = np.arange(samples) * STEP
    rng = np.random.default_rng(seed)
    return 2.0 * np.sin(x / 15.0) + 0.05 * np.sin(x / 1.3) + rng.normal(0.0, 0.003, samples).cumsum()


def one_run(z: Floats) -> Runs:
    """Make one run of it."""
    basis = np.full(z.size, 3, dtype=np.uint8)
    return Runs(np.array([0, z.size]), z, z.copy(), basis, np.zeros(1), np.array([(z.size - 1) * STEP]), STEP)


@pytest.mark.parametrize("stride", [1, 2])
def test_sweep_against_numpy(benchmark: BenchmarkFixture, stride: int) -> None:
    """Twelve vehicles, both directions: at least five times as fast as whole-array NumPy (goal; CPU medians).

    The twin does less: no refinement of the worst pose, no hard points, four fixed-point steps for the wheelbase.
    """
    z = rough(20_001)
    back = z[::-1].copy()
    bodies = [body_of(envelope(wheelbase_m=2.3 + 0.05 * k), LIMITS) for k in range(12)]
    runs = one_run(z)
    sweep(runs, bodies[0], stride)

    def kernel() -> list[object]:
        return [sweep(runs, body, stride) for body in bodies]

    def twin() -> list[object]:
        return [numpy_twin(line, body, stride) for body in bodies for line in (z, back)]

    benchmark.pedantic(kernel, rounds=3)
    mine, peer = cpu(kernel), cpu(twin, 1)
    poses = sum(int(sweep(runs, body, stride).poses.sum()) for body in bodies)
    print(f"\nstride {stride}: kernel {poses / mine / 1e6:.2f} M poses/s, NumPy ÷ kernel {peer / mine:.1f}")  # noqa: T201
    assert peer / mine > 1.0


def test_vehicles_cost_linearly(benchmark: BenchmarkFixture) -> None:
    """Twelve vehicles cost at most about twelve times one: nothing is worked out twice."""
    runs = one_run(rough(20_001))
    bodies = [body_of(envelope(), LIMITS) for _ in range(12)]
    sweep(runs, bodies[0], 2)
    benchmark.pedantic(sweep, args=(runs, bodies[0], 2), rounds=3)
    one = cpu(lambda: sweep(runs, bodies[0], 2))
    twelve = cpu(lambda: [sweep(runs, body, 2) for body in bodies])
    print(f"\ntwelve vehicles ÷ one: {twelve / one:.1f}")  # noqa: T201
    assert twelve / one < 20.0


@pytest.mark.parametrize("segments", [2000])
def test_table_of_checks(benchmark: BenchmarkFixture, segments: int) -> None:
    """Checks and verdicts of many short segments, four set-ups: seconds for 20,000 segments."""
    lines = {
        f"s{k}": [(ORIGIN[0] + 10.0 * k, ORIGIN[1]), (ORIGIN[0] + 10.0 * k, ORIGIN[1] + 30.0)] for k in range(segments)
    }
    network = network_of(lines, width_m=3.0, surveyed_on="2026-04-18", obstacles_surveyed=True)
    site = CheckSite(network, surface_terrain(network, sine_hills(30.0, 1.0)), ground_of(segments))
    setups = [envelope(setup=f"v{k}") for k in range(4)]
    run_checks(site, setups[:1], LIMITS)

    def table() -> int:
        return len(verdicts_table(run_checks(site, setups, LIMITS), network, LIMITS))

    rows = benchmark.pedantic(table, rounds=1)
    spent = cpu(table, 1)
    print(f"\n{segments} segments × 4 set-ups: {spent:.2f} s CPU, {1e6 * spent / (rows * 13):.2f} µs a row")  # noqa: T201
    assert rows == segments * 8
