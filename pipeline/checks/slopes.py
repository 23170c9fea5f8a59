"""What the checks of slopes share: when slopes are known."""

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.check import Case, unknown_where
from pipeline.checks.scene import Extreme

__all__ = ["both_ways", "slopes_unknown"]

Float64 = NDArray[np.float64]
UInt8 = NDArray[np.uint8]
Texts = NDArray[np.object_]


def slopes_unknown(case: Case) -> Texts:
    """Say on which segments the slopes are not known, or not all along, shape (segments, 1)."""
    scene, coarsest = case.scene, case.limits.max_cell_slope_m
    cells = _listed(
        scene.cell_m, "an elevation cell of {:.1f} m averages slopes away; at most %.1f m shows them", coarsest
    )
    gaps = _listed(scene.missing_m, "{:.1f} m without heights")
    return unknown_where(
        (scene.missing_m >= scene.length_m, "no heights along it"),
        (scene.cell_m > coarsest, cells),
        (scene.missing_m > 0.0, gaps),
    )


def _listed(values: Float64, text: str, *figures: float) -> Texts:
    """Write the same sentence with each of *values*."""
    words = text % figures if figures else text
    return np.array([words.format(value) for value in values.tolist()] or [], dtype=object)


def both_ways(ahead: Extreme, back: Extreme) -> tuple[Float64, Float64, UInt8]:
    """Put the extremes of the two directions side by side: value, chainage and basis, shape (segments, 2)."""
    pair = (ahead, back)
    return (
        np.column_stack([one.value for one in pair]),
        np.column_stack([one.at_m for one in pair]),
        np.column_stack([one.basis for one in pair]),
    )
