"""Runs of stations against a plain loop."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import ndimage

from pipeline.technique.runs import Course, Runs, course_of, find_runs, peak, window
from tests.worlds import at, network_of, plane, surface_terrain


def course(*counts: int, step: float = 1.0) -> Course:
    """Lay out segments with so many stations each, *step* apart."""
    offsets = np.concatenate([[0], np.cumsum(counts)])
    row = np.repeat(np.arange(len(counts)), counts)
    chainage = np.concatenate([np.arange(count) * step for count in counts])
    return Course(row, offsets[:-1][row], offsets[1:][row] - 1, chainage, np.full(len(row), step))


def plain_runs(mask: np.ndarray, where: Course, join: float, shortest: float) -> list[tuple[int, int]]:
    """Slow twin: walk the stations one by one."""
    found: list[list[int]] = []
    for k in np.flatnonzero(mask):
        last = found[-1][1] if found else None
        same = last is not None and where.row[last] == where.row[k]
        touching = same and k == last + 1
        near = same and where.chainage_m[k] - where.chainage_m[last] <= join + 1e-6
        if touching or near:
            found[-1][1] = int(k)
        else:
            found.append([int(k), int(k)])
    return [(a, b) for a, b in found if where.chainage_m[b] - where.chainage_m[a] >= shortest - 1e-6]


@settings(derandomize=True, deadline=None)
@given(
    st.lists(st.booleans(), min_size=1, max_size=60),
    st.integers(1, 6),
    st.sampled_from([0.0, 1.0, 2.0, 3.5]),
    st.sampled_from([0.0, 1.0, 4.0]),
)
def test_runs_equal_a_walk(flags: list[bool], segments: int, join: float, shortest: float) -> None:
    """Whatever the mask and the segments, the vectorised runs are those of a walk from station to station."""
    parts = [len(part) for part in np.array_split(np.arange(len(flags)), segments) if len(part)]
    where, mask = course(*parts), np.array(flags)
    runs = find_runs(mask, where, join, shortest)
    assert list(zip(runs.start.tolist(), runs.stop.tolist(), strict=True)) == plain_runs(mask, where, join, shortest)


def test_runs_stop_at_the_end_of_a_segment() -> None:
    """A run over the border of two segments is two runs, and no gap is joined across it."""
    runs = find_runs(np.ones(8, dtype=bool), course(5, 3), 10.0, 0.0)
    np.testing.assert_array_equal(runs.start, [0, 5])
    np.testing.assert_array_equal(runs.stop, [4, 7])


def test_nothing_found_is_empty() -> None:
    """No station, no run, no peak."""
    runs = find_runs(np.zeros(4, dtype=bool), course(4), 1.0, 0.0)
    assert runs.start.size == runs.stop.size == 0
    assert peak(np.arange(4.0), runs).size == 0


def test_peak_ignores_missing_values_and_takes_the_last_station_in() -> None:
    """The largest known value between first and last station, both included."""
    values = np.array([9.0, 1.0, np.nan, 3.0, 2.0, 7.0])
    runs = Runs(np.array([1, 5]), np.array([4, 5]))
    np.testing.assert_array_equal(peak(values, runs), [3.0, 7.0])


def test_window_stays_on_its_segment() -> None:
    """Half a window to either side, cut at the segment's ends; at least one station."""
    behind, ahead = window(course(5, 3), 4.0)
    np.testing.assert_array_equal(behind, [0, 0, 0, 1, 2, 5, 5, 5])
    np.testing.assert_array_equal(ahead, [2, 3, 4, 4, 4, 7, 7, 7])
    behind, ahead = window(course(4, step=30.0), 4.0)
    np.testing.assert_array_equal(ahead - behind, [1, 2, 2, 1])


def test_course_of_a_measured_network() -> None:
    """Rows, ends and steps of two segments of different length."""
    network = network_of({"a": at((0, 0), (10, 0)), "b": at((0, 5), (4.9, 5))})
    where = course_of(surface_terrain(network, plane()).stations)
    assert np.bincount(where.row).tolist() == [21, 11]
    assert where.step_m[0] == pytest.approx(0.5)
    assert where.step_m[-1] == pytest.approx(0.49)
    assert (where.first[-1], where.last[-1]) == (21, 31)


def test_runs_are_the_labels_of_scipy() -> None:
    """On one segment without joining, the runs are the connected labels that scipy finds, with the same maxima."""
    rng = np.random.default_rng(5)
    mask, values = rng.random(400) < 0.4, rng.normal(size=400)
    runs = find_runs(mask, course(400), 0.0, 0.0)
    labels, count = ndimage.label(mask)
    slices = [found[0] for found in ndimage.find_objects(labels)]
    assert runs.start.tolist() == [part.start for part in slices]
    assert runs.stop.tolist() == [part.stop - 1 for part in slices]
    np.testing.assert_allclose(peak(values, runs), ndimage.maximum(values, labels, np.arange(1, count + 1)))
