"""How long the search for a line takes: 300 m with trees all along."""

import sys
import time

import numpy as np
from pytest_benchmark.fixture import BenchmarkFixture

from pipeline.kernels.line_room import Asked, Middle, find_lines
from pipeline.kernels.plan_sweep import drive
from tests.kernels.line_worlds import straight, trees, vehicle

ASKED = Asked(rate=0.3, comfort=0.65, enough=0.15, slack=0.1, reverse=4.0)


def test_line_of_300_m(benchmark: BenchmarkFixture) -> None:
    """A line through 198 trunks on 300 m, searched in under 50 ms on one core."""
    rng = np.random.default_rng(1)
    boxes, tracks = vehicle(), straight(300.0)
    at = np.repeat(np.arange(3.0, 298.0, 3.0), 2)
    offset = np.tile([-1.0, 1.0], at.size // 2) * (1.35 + 0.25 * rng.random(at.size)) + 0.3 * np.sin(at / 9.0)
    solids = trees(tracks, *zip(at, offset, np.full(at.size, 0.15), strict=True))
    driven = drive(boxes, tracks, solids, ASKED.rate).swept
    gap, flags = np.array([driven.near.gap.min()]), np.ones((1, 2), dtype=np.bool_)
    middle = Middle(driven.rear_offset, gap, flags[:, 0], flags)
    find_lines(boxes, tracks, solids, middle, ASKED)
    benchmark(find_lines, boxes, tracks, solids, middle, ASKED)
    start = time.process_time()
    for _ in range(5):
        find_lines(boxes, tracks, solids, middle, ASKED)
    cpu_s = (time.process_time() - start) / 5.0
    sys.stdout.write(f"line of 300 m with {at.size} trunks: {cpu_s * 1e3:.1f} ms of processor time\n")
    assert cpu_s < 0.05
