"""Why a check that rolls a vehicle over the profiles cannot be made, or not all along: the reasons they share."""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.check import Case
from pipeline.checks.obstacles import Things

__all__ = ["Reason", "cells_too_coarse", "each", "poses_failed", "survey_too_sparse", "without_height"]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]
Flags = NDArray[np.bool_]
Texts = NDArray[np.object_]

Reason = tuple[Flags, Texts]
"""Segments that it holds for, and its text for each."""


def each(flags: Flags, text: Callable[[int], str]) -> Reason:
    """Write the text of each segment that a flag marks."""
    texts = np.full(flags.size, "", dtype=object)
    for k in np.flatnonzero(flags):
        texts[k] = text(int(k))
    return flags, texts


def cells_too_coarse(case: Case) -> Reason:
    """Find the segments whose elevation model does not show what the vehicle would touch or twist over."""
    coarsest, cell_m = _coarsest(case), case.scene.cell_m

    def told(k: int) -> str:
        size = "unknown size" if np.isinf(cell_m[k]) else f"{cell_m[k]:.1f} m"
        return f"an elevation cell of {size} hides {_felt(case)}; at most {coarsest:.2f} m would show it"

    return each(cell_m > coarsest, told)


def survey_too_sparse(case: Case) -> Reason:
    """Find the segments whose surveyed heights stand too far apart for the same."""
    coarsest, apart_m = _coarsest(case), case.scene.apart_m
    return each(
        apart_m > coarsest,
        lambda k: (
            f"surveyed heights {apart_m[k]:.1f} m apart hide {_felt(case)}; at most {coarsest:.2f} m would show it"
        ),
    )


def poses_failed(poses: Int64, failed: Int64, failed_at_m: Float64) -> Reason:
    """Find the segments with poses that could not be made.

    Parameters
    ----------
    poses, failed
        How many could be made and how many not, shape (segments, 2).
    failed_at_m
        Chainage of the first of these, shape (segments, 2).
    """
    lost = failed.sum(axis=1)
    share = lost / np.maximum(lost + poses.sum(axis=1), 1)
    start = np.fmin(failed_at_m[:, 0], failed_at_m[:, 1])
    return each(lost > 0, lambda k: f"{share[k]:.0%} of the poses lack ground under a wheel, from {start[k]:.1f} m")


def without_height(case: Case, things: Things) -> Reason:
    """Find the first thing of each segment that has no height, among those in the way."""
    unmeasured = things.where(np.isnan(things.height_m))
    texts = np.full(case.scene.length_m.size, "", dtype=object)
    for row, label, at in zip(unmeasured.row[::-1], unmeasured.label[::-1], unmeasured.at_m[::-1], strict=True):
        texts[row] = f"{label} at {at:.1f} m has no height"
    return texts != "", texts


def _coarsest(case: Case) -> float:
    """Coarsest spacing of heights that shows what the vehicle feels, m."""
    return case.limits.max_cell_of_wheelbase * case.envelope.wheelbase_m


def _felt(case: Case) -> str:
    """Say what coarse heights hide."""
    return f"what a wheelbase of {case.envelope.wheelbase_m:.2f} m feels"
