"""How fast the profile sweep and the table of checks are, against a vectorised twin in the same run."""

import time
from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray
from pytest_benchmark.fixture import BenchmarkFixture

from pipeline.checks.run import run_checks
from pipeline.checks.side_body import body_of
from pipeline.checks.site import CheckSite
from pipeline.checks.verdict import verdicts_table
from pipeline.kernels.pose import sweep
from pipeline.kernels.pose_records import Body, Runs
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


def numpy_centre(z: Floats, radius: float, at: Floats) -> tuple[Floats, Floats]:
    """Centre of a tyre and slope of its path at many places: whole arrays over the vertices within reach."""
    reach = int(np.ceil(radius / STEP))
    k = np.floor(at / STEP).astype(np.int64)[:, None] + np.arange(-reach, reach + 2)[None, :]
    k = np.clip(k, 0, z.size - 1)
    away = k * STEP - at[:, None]
    under = radius**2 - away**2
    root = np.sqrt(np.maximum(under, 0.0))
    over = np.where(under > 0.0, z[k] + root, -np.inf)
    slope = np.diff(z[k], axis=1) / STEP
    steep = np.sqrt(1.0 + slope**2)
    touch = slope * radius / steep - away[:, :-1]
    along = np.where((touch > 0.0) & (touch < STEP), z[k][:, :-1] - slope * away[:, :-1] + radius * steep, -np.inf)
    heights = np.concatenate([over, along], axis=1)
    slopes = np.concatenate([away / np.maximum(root, 1e-9), slope], axis=1)
    best = np.argmax(heights, axis=1)
    rows = np.arange(at.size)
    return heights[rows, best], slopes[rows, best]


def numpy_twin(z: Floats, body: Body, stride: int) -> Floats:
    """Roll along one run with whole arrays: the same model, poses × ground vertices, without refinement."""
    rear = np.arange(0, z.size - int(body.wheelbase / STEP) - 2, stride) * STEP
    rear_z, _ = numpy_centre(z, body.radius, rear)
    front = rear + 0.98 * body.wheelbase
    for _ in range(4):
        front_z, rise = numpy_centre(z, body.radius, front)
        across, up = front - rear, front_z - rear_z
        apart = np.hypot(across, up)
        front = front - (apart - body.wheelbase) * apart / (across + up * rise)
    front_z, _ = numpy_centre(z, body.radius, front)
    cosine, sine = ((front - rear) / body.wheelbase)[:, None], ((front_z - rear_z) / body.wheelbase)[:, None]
    points = int((body.x[-1] - body.x[0]) / STEP) + 16
    k = np.floor((rear + body.wheelbase + body.x[0]) / STEP).astype(np.int64)[:, None] - 7 + np.arange(points)[None, :]
    on = (k >= 0) & (k < z.size)
    k = np.clip(k, 0, z.size - 1)
    across, up = k * STEP - front[:, None], z[k] - front_z[:, None]
    x, h = across * cosine + up * sine, up * cosine - across * sine + body.radius
    hard = np.interp(x, body.x, body.z)
    h = np.where(on & (x >= body.x[0]) & (x <= body.x[-1]), np.maximum(h, 0.0), 0.0)
    return _worst_ratios(x, h, hard, body)


def _tangent(away: Floats, height: Floats, radius: float) -> Floats:
    """Tangent angle of whole arrays; NaN where the tyre hides the point."""
    with np.errstate(invalid="ignore", divide="ignore"):
        return 2.0 * np.arctan(height / (away + np.sqrt(away**2 - height * (2.0 * radius - height))))


def _worst_ratios(x: Floats, h: Floats, hard: Floats, body: Body) -> Floats:
    """Worst ratios of approach, breakover, departure and belly."""
    ahead, behind = x > 0.0, x < -body.wheelbase
    between = ~(ahead | behind)
    near, far = np.abs(x), np.abs(x + body.wheelbase)
    seen = _tangent(near, h, body.radius), _tangent(far, h, body.radius)
    own = _tangent(near, hard, body.radius), _tangent(far, hard, body.radius)
    with np.errstate(invalid="ignore", divide="ignore"):
        ratios = seen[0] / own[0], (seen[0] + seen[1]) / (own[0] + own[1]), seen[1] / own[1]
        clear = h / np.maximum(hard - body.gap, 1e-3)
    hidden = np.isnan(np.where(ahead, ratios[0], ratios[2])) & ~between
    parts = ((ratios[0], ahead), (ratios[1], between), (ratios[2], behind), (clear, between | hidden))
    return np.array([np.nanmax(np.where(where, ratio, np.nan)) for ratio, where in parts])


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

    The twin does less: no refinement of the worst poses, no hard points, no housings, nothing but the worst ratio.
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

    found = benchmark.pedantic(sweep, args=(runs, bodies[0], stride), rounds=3).utilisation[0, 0]
    rough_twin = numpy_twin(z, bodies[0], stride)
    assert (found >= rough_twin - 1e-6).all()
    assert found == pytest.approx(rough_twin, rel=0.15)
    if benchmark.disabled:
        return
    mine, peer = cpu(kernel), cpu(twin, 1)
    poses = sum(int(sweep(runs, body, stride).poses.sum()) for body in bodies)
    print(f"\nstride {stride}: kernel {poses / mine / 1e6:.2f} M poses/s, NumPy ÷ kernel {peer / mine:.1f}")  # noqa: T201
    assert peer / mine > 2.0


def test_vehicles_cost_linearly(benchmark: BenchmarkFixture) -> None:
    """Twelve vehicles cost at most about twelve times one: nothing is worked out twice."""
    runs = one_run(rough(20_001))
    bodies = [body_of(envelope(), LIMITS) for _ in range(12)]
    sweep(runs, bodies[0], 2)
    benchmark.pedantic(sweep, args=(runs, bodies[0], 2), rounds=3)
    if benchmark.disabled:
        return
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
    assert rows == segments * 8
    if benchmark.disabled:
        return
    spent = cpu(table, 1)
    print(f"\n{segments} segments × 4 set-ups: {spent:.2f} s CPU, {1e6 * spent / (rows * 13):.2f} µs a row")  # noqa: T201
