"""What the checks of slopes share: when slopes are known."""

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.check import Case, unknown_where

__all__ = ["slopes_unknown", "without_heights"]

Texts = NDArray[np.object_]


def slopes_unknown(case: Case) -> Texts:
    """Say on which segments the slopes are not known, or not all along, shape (segments, 1)."""
    scene, coarsest = case.scene, case.limits.max_cell_slope_m
    cells = [_cell_text(cell, coarsest) for cell in scene.cell_m.tolist()]
    apart = [
        f"surveyed heights {one:.1f} m apart average slopes away; at most {coarsest:.1f} m shows them"
        for one in scene.apart_m.tolist()
    ]
    spaced = [f"stations {one:.1f} m apart miss slopes; at most {coarsest:.1f} m" for one in scene.spacing_m.tolist()]
    gaps = [f"{gap:.1f} m without heights" for gap in scene.missing_m.tolist()]
    return unknown_where(
        without_heights(case),
        (scene.cell_m > coarsest, np.array(cells, dtype=object)),
        (scene.apart_m > coarsest, np.array(apart, dtype=object)),
        (scene.spacing_m > coarsest, np.array(spaced, dtype=object)),
        (scene.missing_m > 0.0, np.array(gaps, dtype=object)),
    )


def without_heights(case: Case) -> tuple[NDArray[np.bool_], Texts]:
    """Find the segments without a slope lengthwise and across anywhere, and say where heights are missing.

    A survey-grade line without an elevation model has heights along it and none beside it.
    """
    scene, slopes = case.scene, case.scene.slopes
    along = np.bincount(slopes.row, weights=~np.isnan(slopes.grade), minlength=scene.length_m.size) > 0
    texts = np.where(along, "no heights beside it", "no heights along it").astype(object)
    return scene.missing_m >= scene.length_m, texts


def _cell_text(cell: float, coarsest: float) -> str:
    """Say why the elevation model does not show the slopes."""
    what = "an elevation cell of unknown size" if np.isinf(cell) else f"an elevation cell of {cell:.1f} m"
    return f"{what} averages slopes away; at most {coarsest:.1f} m shows them"
