"""How fast water is led over land, as ratios against a peer in the same run.

``pytest tests/bench/test_drainage_bench.py --benchmark-enable -s`` prints the ratios of the processor time (medians of
interleaved rounds) and holds them to the goals; the normal run only makes sure that both sides give the same answer.
"""

import time
from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray
from pyflwdir import FlwdirRaster, from_array
from pytest_benchmark.fixture import BenchmarkFixture
from scipy import ndimage

from pipeline.terrain.flow import Flow, accumulate, border_of, fill_in, lead_water
from pipeline.terrain.hollows import find_hollows

Floats = NDArray[np.float64]

SIDE = 250
"""Cells each way in the normal run; the sample site has 110,000 in all."""
LARGE = 1000
NONE = np.zeros(0, dtype=np.int64)
ROUNDS = 5


def land(side: int) -> NDArray[np.float32]:
    """Give hills and noise in steps of 1/1024 m."""
    rng = np.random.default_rng(9)
    z = ndimage.zoom(rng.normal(0.0, 20.0, (side // 25 + 2, side // 25 + 2)), 25.0, order=3)[:side, :side]
    z = z + rng.normal(0.0, 0.05, z.shape) + 200.0
    return (np.round(z * 1024.0) / 1024.0).astype(np.float32)


def compare(bench: BenchmarkFixture, name: str, ours: Callable[[], object], peer: Callable[[], object]) -> float:
    """Give the ratio of processor times, medians of interleaved rounds; NaN in the normal run."""
    bench(ours)
    if not bench.enabled:
        return float("nan")
    times: tuple[list[float], list[float]] = ([], [])
    for _ in range(ROUNDS):
        for side, run in zip(times, (ours, peer), strict=True):
            begun = time.process_time()
            run()
            side.append(time.process_time() - begun)
    ratio = float(np.median(times[0]) / np.median(times[1]))
    print(f"\n{name}: {ratio:.2f} ({np.median(times[0]):.3f} s : {np.median(times[1]):.3f} s)")  # noqa: T201
    return ratio


@pytest.fixture(scope="module")
def heights(request: pytest.FixtureRequest) -> NDArray[np.float32]:
    """Give a million cells where it is timed, fewer in the normal run."""
    timed = request.config.getoption("--benchmark-enable")
    return land(LARGE if timed else SIDE)


def by_pyflwdir(heights: NDArray[np.float32]) -> Floats:
    """Lead water by the library alone: fill, directions, order, areas."""
    _, codes = fill_in(heights, border_of(heights))
    raster: FlwdirRaster = from_array(codes, ftype="d8", check_ftype=False)
    return np.asarray(raster.upstream_area())


def test_catchments_against_the_library(benchmark: BenchmarkFixture, heights: NDArray[np.float32]) -> None:
    """Fill, steepest ways, stages and areas, in about the time in which pyflwdir takes the ways of its flood."""

    def ours() -> Floats:
        return accumulate(lead_water(heights, 1.0, NONE), np.ones(heights.size))

    peer = by_pyflwdir(heights)
    ends = lead_water(heights, 1.0, NONE)
    out = np.flatnonzero(ends.down == np.arange(heights.size))
    assert ours()[out].sum() == heights.size
    assert np.median(np.abs(np.log(ours() / peer.ravel()))) < 1.0
    assert not compare(benchmark, "catchments / pyflwdir", ours, lambda: by_pyflwdir(heights)) > 2.0


def test_hollows_against_the_flood(benchmark: BenchmarkFixture, heights: NDArray[np.float32]) -> None:
    """What they hold and how far the water comes, in about the time that filling them takes."""
    flow: Flow = lead_water(heights, 3.0, NONE)
    area = accumulate(flow, np.full(heights.size, 9.0))

    def ours() -> object:
        return find_hollows(heights, flow, area, 0.05, (3.0, 0.2))

    assert not compare(benchmark, "hollows / flood", ours, lambda: fill_in(heights, border_of(heights))) > 1.5
