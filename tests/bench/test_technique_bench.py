"""What finding runs of stations costs, against a walk from station to station in the same run."""

from typing import Any

import numpy as np
import pytest

from pipeline.technique.runs import Course, find_runs

SEGMENTS, STATIONS = 400, 1000


@pytest.fixture(scope="module")
def course() -> Course:
    """Lay out 400 segments of 1000 stations, half a metre apart."""
    row = np.repeat(np.arange(SEGMENTS), STATIONS)
    first = row * STATIONS
    chainage = np.tile(np.arange(STATIONS) * 0.5, SEGMENTS)
    return Course(row, first, first + STATIONS - 1, chainage, np.full(len(row), 0.5))


@pytest.fixture(scope="module")
def mask(course: Course) -> np.ndarray:
    """Hills 40 m long, with a fixed seed: about a third of the stations are steep."""
    phase = np.random.default_rng(7).uniform(0.0, 6.0, SEGMENTS)[course.row]
    return np.asarray(np.sin(course.chainage_m / 40.0 * 2 * np.pi + phase) > 0.5)


def walk(mask: np.ndarray, course: Course) -> int:
    """Peer: count the runs station by station."""
    row, runs, inside, before = course.row.tolist(), 0, False, -1
    for k, holds in enumerate(mask.tolist()):
        if holds and (not inside or row[k] != before):
            runs += 1
        inside, before = holds, row[k]
    return runs


@pytest.mark.benchmark(group="runs of 400 000 stations")
def test_runs_over_all_segments(benchmark: Any, mask: np.ndarray, course: Course) -> None:  # noqa: ANN401 - the plugin's fixture
    """All runs of a large network at once; the same number as the walk counts."""
    runs = benchmark(find_runs, mask, course, 0.0, 0.0)
    assert len(runs.start) == walk(mask, course)


@pytest.mark.benchmark(group="runs of 400 000 stations")
def test_runs_over_all_segments_peer(benchmark: Any, mask: np.ndarray, course: Course) -> None:  # noqa: ANN401 - the plugin's fixture
    """The peer: a plain walk."""
    assert benchmark(walk, mask, course) > SEGMENTS
