"""How fast bodies are swept along ways, against whole arrays in the same run."""

import time
from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray
from pytest_benchmark.fixture import BenchmarkFixture

from pipeline.kernels.plan_gap import box_rows, hull_of
from pipeline.kernels.plan_outline import ARM_X, ARM_Y, FEELER_X, FEELER_Y, HIGH, LONG, LOW, OUT, feelers_of
from pipeline.kernels.plan_records import Solids, Tracks
from pipeline.kernels.plan_sweep import drive, sweep
from pipeline.kernels.plan_way import BEND, BODY, COS, SIN, WHEEL, X, Y, near_solids, way_rows
from pipeline.kernels.steering import follow
from tests.kernels.plan_worlds import NOTHING_THERE, WAGON, joined, trees_along, way

Floats = NDArray[np.float64]
Poses = tuple[Floats, Floats, Floats, Floats]


def cpu(work: Callable[[], object], rounds: int = 9) -> float:
    """Least CPU seconds of *work*: what else the machine does only adds."""
    spent = []
    for _ in range(rounds):
        begun = time.process_time()
        work()
        spent.append(time.process_time() - begun)
    return min(spent)


def trails(count: int, seed: int = 1) -> Tracks:
    """Make trails of 172 m with bends down to 10 m."""
    rng = np.random.default_rng(seed)
    bends = (np.repeat(rng.uniform(-0.1, 0.1, 43), 8) for _ in range(count))
    return joined([way(np.convolve(bend, np.ones(5) / 5.0, "same")) for bend in bends])


def empty(tracks: Tracks) -> Solids:
    """Plant nothing."""
    return NOTHING_THERE._replace(offsets=np.zeros(tracks.offsets.size, dtype=np.int64))


def poses_of(tracks: Tracks) -> Poses:
    """Drive the wagon."""
    driven = follow(WAGON, tracks, 0.3)
    return driven.x, driven.y, driven.heading, driven.steer


def array_edges(tracks: Tracks, poses: Poses) -> Floats:
    """Least room to the edges, shape (points, 2), with whole arrays: the same feelers, one after another."""
    x, y, heading, steer = poses
    rows, lean = way_rows(tracks), np.sin(tracks.roll)
    least = np.full((x.size, 2), np.inf)
    first = np.repeat(tracks.offsets[:-1], np.diff(tracks.offsets))
    last = np.repeat(tracks.offsets[1:] - 1, np.diff(tracks.offsets))
    cos, sin, c, s = np.cos(heading), np.sin(heading), np.cos(steer), np.sin(steer)
    for feeler in feelers_of(WAGON):
        shift = feeler[OUT] * np.maximum(feeler[OUT] * lean * feeler[LOW], feeler[OUT] * lean * feeler[HIGH])
        ahead = feeler[FEELER_X] + c * feeler[ARM_X] - s * feeler[ARM_Y]
        left = feeler[FEELER_Y] + s * feeler[ARM_X] + c * feeler[ARM_Y] - shift
        j = np.clip(np.arange(x.size) + int(np.floor(feeler[LONG] / tracks.step + 0.5)), first, last)
        dx, dy = x + cos * ahead - sin * left - rows[j, X], y + sin * ahead + cos * left - rows[j, Y]
        on, off = rows[j, COS] * dx + rows[j, SIN] * dy, rows[j, SIN] * dx - rows[j, COS] * dy
        off = off + 0.5 * rows[j, BEND] * on * on / np.maximum(1.0 + rows[j, BEND] * off, 0.2)
        side = int(feeler[OUT] > 0.0)
        limit = rows[j, (WHEEL if feeler[HIGH] == 0.0 else BODY) + side]
        least[:, side] = np.minimum(least[:, side], limit - feeler[OUT] * off)
    return least


def test_driving_and_sweeping_trails(benchmark: BenchmarkFixture) -> None:
    """Drive and sweep 10 km without trees; print million poses a second and the ratio to whole arrays."""
    tracks = trails(58)
    solids, poses, count = empty(tracks), poses_of(tracks), tracks.x.size
    found = benchmark(drive, WAGON, tracks, solids, 0.3)
    assert found.swept.near.gap == pytest.approx(array_edges(tracks, poses), abs=1e-9)
    ours, alone = cpu(lambda: drive(WAGON, tracks, solids, 0.3)), cpu(lambda: follow(WAGON, tracks, 0.3))
    arrays = cpu(lambda: array_edges(tracks, poses), 3)
    driven, ratio = count / alone / 1e6, arrays / (ours - alone)
    print(f"\n{count / ours / 1e6:.2f} M poses/s driven and swept, {driven:.2f} M driven alone")  # noqa: T201
    print(f"whole arrays ÷ sweep: {ratio:.1f}, with the edges alone against all that is swept")  # noqa: T201
    assert ratio > 2.0


def test_sweeping_past_trees(benchmark: BenchmarkFixture) -> None:
    """Sweep a trail with a tree every 2 m on both sides; print ns for a box and a tree that are near each other."""
    tracks = trails(4)
    poses, solids = poses_of(tracks), trees_along(tracks, 2.0, 1.7)
    found = benchmark(sweep, WAGON, tracks, solids, poses)
    assert np.isfinite(found.near.gap).all()
    with_trees = cpu(lambda: sweep(WAGON, tracks, solids, poses))
    without = cpu(lambda: sweep(WAGON, tracks, empty(tracks), poses))
    radius = hull_of(WAGON).radius + 3.0
    listing = cpu(lambda: near_solids(tracks, solids, radius))
    pairs = near_solids(tracks, solids, radius)[1].size * box_rows(WAGON).shape[0]
    each = (with_trees - without - listing) / pairs * 1e9
    print(f"\n{each:.1f} ns a box and a tree, {pairs / tracks.x.size:.0f} pairs a pose")  # noqa: T201
    print(f"{tracks.x.size / with_trees / 1e6:.2f} M poses/s, listing what is near included")  # noqa: T201
    assert each < 25.0
