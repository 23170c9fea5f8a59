"""How long noding takes, beside GEOS noding of the same lines (which loses ids, direction, levels and heights)."""

from time import perf_counter

import numpy as np
import pytest
import shapely
from pytest_benchmark.fixture import BenchmarkFixture

from pipeline.survey.crossings import Levels
from pipeline.survey.topology import Topology, join_lines

COUNT = 1_000


@pytest.fixture(scope="module")
def lines() -> np.ndarray:
    """Draw 1,000 random lines of 60 m in a square of 1 km."""
    rng = np.random.default_rng(7)
    start = rng.uniform(0.0, 1_000.0, (COUNT, 2))
    angle = rng.uniform(0.0, 2.0 * np.pi, COUNT)
    end = start + 60.0 * np.column_stack((np.cos(angle), np.sin(angle)))
    return shapely.linestrings(np.stack((start, end), axis=1))


def ours(lines: np.ndarray) -> Topology:
    """Node with attributes' bookkeeping, next to no snapping."""
    return join_lines(lines, Levels(np.zeros(COUNT, dtype=bool), np.zeros(COUNT, dtype=np.int64)), (), 1e-5)


def test_noding_of_a_thousand_lines(benchmark: BenchmarkFixture, lines: np.ndarray) -> None:
    """Noding 1,000 lines gives GEOS's parts; the ratio to GEOS's time is printed."""
    parts = benchmark(ours, lines)
    begin = perf_counter()
    geos = shapely.get_parts(shapely.node(shapely.multilinestrings(lines)))
    peer = perf_counter() - begin
    assert shapely.length(parts.shapes).sum() == pytest.approx(shapely.length(geos).sum(), abs=0.1)
    if benchmark.stats is not None:
        ratio = benchmark.stats.stats.min / peer
        print(f"\n{len(geos)} parts: {ratio:.1f} times shapely.node ({1e3 * peer:.0f} ms)")  # noqa: T201 — the figure wanted
