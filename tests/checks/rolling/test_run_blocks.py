"""Runs in blocks of work, and the worst run of each segment."""

import dataclasses

import numpy as np
import pytest

from pipeline.checks.rolling import run_blocks
from pipeline.checks.rolling.run_blocks import counted, cut_bumps, own_samples, run_spans, stride_of, worst_run
from pipeline.kernels.obstacle_bumps import ELLIPSE, Bumps
from pipeline.kernels.pose_records import CHECKS, Swept
from tests.checks.worlds import joined, profiles_of


@pytest.mark.parametrize(
    ("samples", "spans"),
    [
        ([], [(0, 0)]),
        ([3], [(0, 1)]),
        ([300], [(0, 1)]),
        ([60, 60, 60, 60], [(0, 2), (2, 4)]),
        ([10, 250, 10, 10], [(0, 2), (2, 4)]),
    ],
)
def test_spans_hold_every_run_once(
    monkeypatch: pytest.MonkeyPatch, samples: list[int], spans: list[tuple[int, int]]
) -> None:
    """About a hundred heights a block; a longer run is a block of its own with what came before it."""
    monkeypatch.setattr(run_blocks, "BLOCK_SAMPLES", 100)
    assert run_spans(np.concatenate(([0], np.cumsum(samples))).astype(np.int64)) == spans


def test_cut_things_count_their_runs_from_the_first() -> None:
    """Things on runs 2 and 3 of five, renumbered 0 and 1."""
    run = np.array([0, 2, 3, 3, 4])
    number = np.arange(5.0)
    bumps = Bumps(run, number, number, number, np.full(5, ELLIPSE), np.full(5, 4, dtype=np.uint8), 1.0)
    cut = cut_bumps(bumps, 2, 4)
    assert cut.run.tolist() == [0, 1, 1]
    assert cut.at.tolist() == [1.0, 2.0, 3.0]
    assert bumps.run.tolist() == [0, 2, 3, 3, 4]


@pytest.mark.parametrize(("step", "stride"), [(0.1, 2), (0.05, 4), (0.2, 1), (0.15, 1), (0.5, 1)])
def test_poses_stand_at_most_a_fifth_of_a_metre_apart(step: float, stride: int) -> None:
    """As many samples as fit, at least one."""
    assert stride_of(step) == stride


def test_the_first_of_the_worst_runs_is_found() -> None:
    """By segment, direction and check; a segment without a run has none, NaN is worse than nothing."""
    used = np.zeros((4, 2, 1))
    used[:, 0, 0] = [0.1, 0.7, 0.7, 0.2]
    used[:, 1, 0] = [0.3, 0.2, 0.1, np.nan]
    found = worst_run(used, np.array([0, 0, 0, 2]), 3)
    assert found[:, :, 0].tolist() == [[1, 0], [-1, -1], [3, -1]]


def test_poses_of_all_runs_of_a_segment_are_counted() -> None:
    """Two runs of the first segment, one of the last: sums, and the first that failed in the segment's chainage."""
    profiles = dataclasses.replace(
        joined(*[profiles_of(np.zeros(3))] * 3, segments=[0, 2, 0]), start_m=np.array([0.0, -5.0, -20.0])
    )
    blank = np.zeros((3, 2, CHECKS))
    failed_at = np.array([[4.0, np.nan], [7.0, 6.0], [23.0, np.nan]])
    poses, failed = np.array([[1, 2], [3, 4], [5, 6]]), np.array([[1, 0], [2, 2], [3, 0]])
    found = counted(Swept(*[blank] * 7, poses, failed, failed_at), profiles, 3)
    assert found.poses.tolist() == [[6, 8], [0, 0], [3, 4]]
    assert found.failed.tolist() == [[4, 0], [0, 0], [2, 2]]
    np.testing.assert_array_equal(found.failed_at_m, [[3.0, np.nan], [np.nan, np.nan], [2.0, 1.0]])


def test_samples_know_their_place_and_their_run() -> None:
    """A run that begins 0.2 m before its own part, and one that is left out."""
    both = joined(profiles_of(np.zeros(5)), profiles_of(np.zeros(4)), segments=[0, 1])
    profiles = dataclasses.replace(both, start_m=np.array([-0.2, 0.0]), own_from_m=np.array([0.0, 0.0]))
    run, at, own = own_samples(profiles, 1)
    assert run.tolist() == [0] * 5
    assert at == pytest.approx([-0.2, -0.1, 0.0, 0.1, 0.2])
    assert own.tolist() == [False, False, True, True, True]
    assert own_samples(profiles, 2)[0].tolist() == [0] * 5 + [1] * 4
