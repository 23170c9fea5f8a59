"""Edges of the trail: how far from the middle line tyres and body may stand, from tagged widths and side slopes."""

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.limits import Limits
from pipeline.checks.scene import Scene

__all__ = ["edges_of"]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]


def edges_of(scene: Scene, row: Int64, cross: Float64, limits: Limits) -> tuple[Float64, Float64]:
    """Give the edges of the trail at points of tracks.

    Half of the tagged width is the edge for the tyres; what overhangs it hurts nobody, except where

    - the ground rises beside it by more than the edge slope (a bank): there the whole body stays inside;
    - it falls away by more than that: there the tyres stay the edge margin inside;
    - trees were not surveyed, or a sign or a structure gives the width: nobody knows what stands beyond, and the whole
      body stays inside on both sides.

    Parameters
    ----------
    scene
        Tags of the segments.
    row
        Segment under each point; −1 for none, where no edge is known.
    cross
        Slope across at each point, + ground rises to the right in travel; NaN where it is not known, which counts as
        level: that slopes are not known is told by other checks.
    limits
        Edge slope and edge margin.

    Returns
    -------
    wheel, body
        Distances from the middle line, m, shape (points, 2), columns left and right in travel; inf where no edge is
        known, or for the body where only the tyres must stay inside.
    """
    known = row >= 0
    half = np.where(known, _halves(scene)[np.maximum(row, 0)], np.inf)
    closed = _closed(scene)[np.maximum(row, 0)]
    steep = np.tan(np.radians(limits.edge_slope_deg))
    bank = np.column_stack([cross < -steep, cross > steep])
    drop = bank[:, ::-1]
    wheel = np.where(drop, np.maximum(half[:, None] - limits.edge_margin_m, 0.0), half[:, None])
    body = np.where(bank | closed[:, None], half[:, None], np.inf)
    return wheel, body


def _halves(scene: Scene) -> Float64:
    """Give half of the tagged width of every segment, m; inf without one."""
    width = scene.tags.width_m
    return np.where(np.isnan(width), np.inf, width / 2.0)


def _closed(scene: Scene) -> NDArray[np.bool_]:
    """Tell on which segments something may stand right beside the tagged width."""
    widths = scene.site.network.segments[["width_m", "max_width_m"]].to_numpy(np.float64)
    signed = widths[:, 1] <= np.where(np.isnan(widths[:, 0]), np.inf, widths[:, 0])
    return np.asarray(signed | ~scene.tags.surveyed)
