"""Runs in blocks of work, and the worst run of each segment: what all sweeps over the profiles share."""

from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.four_records import FourSwept
from pipeline.kernels.obstacle_bumps import Bumps
from pipeline.kernels.pose_records import Swept
from pipeline.terrain.model import Profiles

__all__ = ["BLOCK_SAMPLES", "Counted", "counted", "cut_bumps", "own_samples", "run_spans", "stride_of", "worst_run"]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]
Flags = NDArray[np.bool_]

POSE_EVERY_M = 0.2
"""Largest distance between poses: a sixth of the smallest distance between an axle and a bumper."""
BLOCK_SAMPLES = 2_000_000
"""Heights in one block of work: seconds of work, and little to send."""


class Counted(NamedTuple):
    """Poses of each segment; arrays of shape (segments, 2)."""

    poses: Int64
    """Poses made."""
    failed: Int64
    """Poses that could not be made."""
    failed_at_m: Float64
    """Chainage of the first of them; NaN when there are none."""


def run_spans(offsets: Int64) -> list[tuple[int, int]]:
    """Cut the runs into stretches of about :data:`BLOCK_SAMPLES` heights: first run and the one after the last."""
    runs = offsets.size - 1
    marks = np.searchsorted(offsets, np.arange(BLOCK_SAMPLES, int(offsets[-1]), BLOCK_SAMPLES))
    cuts = sorted({0, *(int(mark) for mark in marks), runs}) if runs else [0, 0]
    return list(pairwise(cuts))


def cut_bumps(bumps: Bumps, low: int, high: int) -> Bumps:
    """Take the bumps on the runs from *low* up to *high*."""
    taken = bumps.take((bumps.run >= low) & (bumps.run < high))
    return taken._replace(run=taken.run - low)


def stride_of(step_m: float) -> int:
    """Give how many samples there are from pose to pose."""
    return max(int(POSE_EVERY_M / step_m + 1e-9), 1)


def worst_run(utilisation: Float64, owner: Int64, segments: int) -> Int64:
    """Find the run with the largest utilisation of each segment, direction and check; the first of equal ones.

    Parameters
    ----------
    utilisation
        Shape (runs, 2, checks).
    owner
        Segment of every run.
    segments
        How many there are.

    Returns
    -------
    ndarray
        Shape (segments, 2, checks); −1 for a segment without a run.
    """
    worst = np.full((segments, *utilisation.shape[1:]), -np.inf)
    np.maximum.at(worst, owner, utilisation)
    runs = np.arange(owner.size)[:, None, None]
    candidates = np.where(utilisation == worst[owner], runs, owner.size)
    first = np.full(worst.shape, owner.size, dtype=np.int64)
    np.minimum.at(first, owner, candidates)
    return np.where(first == owner.size, -1, first)


def counted(found: Swept | FourSwept, profiles: Profiles, segments: int) -> Counted:
    """Sum the poses of all runs of each segment, and find where the first of those that failed stands."""
    owner = profiles.segment
    poses, failed = np.zeros((segments, 2), dtype=np.int64), np.zeros((segments, 2), dtype=np.int64)
    np.add.at(poses, owner, found.poses)
    np.add.at(failed, owner, found.failed)
    first = np.full((segments, 2), np.inf)
    np.fmin.at(first, owner, found.failed_at + profiles.start_m[:, None])
    return Counted(poses, failed, np.where(np.isinf(first), np.nan, first))


def own_samples(profiles: Profiles, runs: int) -> tuple[Int64, Float64, Flags]:
    """Tell of every sample of the first *runs* its run, its place and whether it lies in the run's own part."""
    run = np.repeat(np.arange(runs), np.diff(profiles.offsets)[:runs])
    at = profiles.start_m[run] + (np.arange(run.size) - profiles.offsets[run]) * profiles.step_m
    return run, at, (at >= profiles.own_from_m[run] - 1e-9) & (at <= profiles.own_to_m[run] + 1e-9)
