"""Published instances that take the solver longer than the normal tests may: value reached, published value, CPU time.

Run with ``pytest tests/bench/test_published_bench.py --benchmark-enable -s``.

Orienteering: OPLib (repository bcamath-ds/OPLib) gives TSPLIB's networks scores and a limit of half the shortest tour.
Score rules of its generations: 1 each; 1 + (7141 (i − 1) + 73) mod 100; 1 + ⌊99 d(1, i) / max d(1, j)⌋ with nothing for
node 1. The values are those proven by the branch and cut of repository alberto-santini/orienteering-alns. The
distances of gr48 and hk48 break the triangle inequality: a model that bounds the way home by the direct way proves 1745
for gr48 of the second generation, and an evolutionary search reached 1749.

Postman tours: the trails and the figures of the Python package postman_problems 0.3 and its tests.
"""

import time

import numpy as np
import pytest
from numpy.typing import NDArray
from pytest_benchmark.fixture import BenchmarkFixture

from pipeline.loops.graph import subset
from pipeline.loops.solve.exact import solve
from pipeline.loops.solve.model import Goal, Problem
from pipeline.loops.solve.rules import breaches
from pipeline.loops.solve.turns import prune
from tests.loops.published.nets import Orienteering, effort, matrix, most_score, points
from tests.loops.published.postman import euler_walk, problem_of, read_trails, rural

Floats = NDArray[np.float64]
TRAP_VALUES = (1745, 1749)
PATIENT = {"nodes": 1_000_000, "interrupts": 1_000_000}
"""Work limits that do not stop before the proof: complete graphs are none that the shipped limits are made for."""


def distances(name: str) -> Floats:
    """Give the distances of a TSPLIB network; those of coordinates are rounded (EUC_2D)."""
    if name != "eil51":
        return matrix(name, 48)
    place = points(name)
    return np.rint(np.hypot(*(place[:, None] - place[None]).transpose(2, 0, 1)))


def scores(generation: int, distance: Floats) -> NDArray[np.int64]:
    """Give the scores of a generation."""
    node = np.arange(len(distance))
    if generation == 1:
        return np.ones(len(distance), dtype=np.int64)
    if generation == 2:
        return 1 + (7141 * node + 73) % 100
    return np.where(node > 0, 1 + np.floor(99 * distance[0] / distance[0].max()), 0).astype(np.int64)


@pytest.mark.minutes
@pytest.mark.parametrize(
    ("name", "limit", "generation", "published"),
    [
        ("hk48", 5731, 1, 30),
        ("hk48", 5731, 2, 1614),
        ("hk48", 5731, 3, 1764),
        ("eil51", 213, 1, 29),
        ("eil51", 213, 2, 1674),
        ("eil51", 213, 3, 1399),
        ("gr48", 2523, 1, 31),
        ("gr48", 2523, 2, 1761),
        ("gr48", 2523, 3, 1480),
    ],
)
def test_orienteering(benchmark: BenchmarkFixture, name: str, limit: int, generation: int, published: int) -> None:
    """The published value must be reached and proven."""
    distance = distances(name)
    task = Orienteering(distance, scores(generation, distance), limit)
    start = time.process_time()
    value, bound, nodes = benchmark.pedantic(
        most_score, args=(task, effort().model_copy(update=PATIENT)), rounds=1, iterations=1
    )
    cpu = time.process_time() - start
    print(f"\n{name} gen{generation}: {value} (published {published}), bound {bound}, {cpu:.1f} s CPU")  # noqa: T201
    assert value == published
    assert bound == published
    assert value not in TRAP_VALUES
    assert nodes[0] == 0


@pytest.mark.minutes
@pytest.mark.open_data
@pytest.mark.parametrize(("problem", "published"), [("chinese", 3325), ("rural", 3212)])
def test_postman(benchmark: BenchmarkFixture, problem: str, published: int) -> None:
    """From the tour that matching gives, the solver must end with the published one and a bound below; gap printed."""
    trails = read_trails()
    rural_one = problem == "rural"
    chosen = rural(trails) if rural_one else trails.required
    numbers = euler_walk(trails.streets, chosen, trails.start)
    arcs, rules = problem_of(trails.streets, trails.required, trails.start)
    if not rural_one:
        arcs = subset(arcs, np.isin(arcs.number // 2, list(trails.required)))
    kept, turns = prune(arcs, rules)
    hint = np.searchsorted(kept.number, numbers)
    given = int(kept.length_dm[hint].sum())
    start = time.process_time()
    task = Problem(kept, turns, rules, Goal(cost=kept.length_dm, shorter=False))
    # Counted interrupts stop it: it is the bound that takes long, and it is not promised on open parks.
    work = effort().model_copy(update={"interrupts": 3000})
    solved = benchmark.pedantic(solve, args=(task, work, hint), rounds=1, iterations=1)
    cpu = time.process_time() - start
    assert solved.walk is not None
    assert solved.bound is not None
    gap = (solved.value - solved.bound) / solved.value
    print(  # noqa: T201  # a benchmark reports
        f"\n{problem} postman: {solved.value / 100} miles (published {published / 100}, matching gave {given / 100}), "
        f"bound {solved.bound / 100}, gap {gap:.2%}, {cpu:.1f} s CPU"
    )
    assert solved.bound <= published
    assert solved.value == published
    assert breaches(kept, solved.walk.tolist(), rules) == []
