"""Narrow places of the trail: surveyed gaps, pairs of trees or posts beside the line, and single ones in it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.obstacles import Things
from pipeline.checks.scene import Scene
from pipeline.terms import ObstacleKind

__all__ = ["Narrows", "narrows_of", "stems_in_the_way"]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]
Texts = NDArray[np.object_]


STEMS = (ObstacleKind.TREE, ObstacleKind.POST)
"""Kinds that stand beside a trail, or in it."""


@dataclass(frozen=True, slots=True)
class Narrows:
    """Narrow places; arrays of shape (places,) unless said otherwise."""

    row: Int64
    """Row of the segment."""
    at_m: Float64
    width_m: Float64
    """Free width."""
    curvature: Float64
    """Unsigned plan curvature there, 1/m."""
    unknown: Texts
    """Gaps without a width, one text a segment, shape (segments,); empty where there is none."""


def narrows_of(scene: Scene, pair_within_m: float) -> Narrows:
    """List the narrow places of all segments.

    Parameters
    ----------
    scene
        The site.
    pair_within_m
        Trees or posts left and right at most this far apart along the trail make a gap, m.
    """
    gaps = scene.things.of(ObstacleKind.GAP)
    unknown = np.full(scene.length_m.size, "", dtype=object)
    open_gaps = gaps.where(np.isnan(gaps.clear_width_m))
    for row, label, at in zip(open_gaps.row[::-1], open_gaps.label[::-1], open_gaps.at_m[::-1], strict=True):
        unknown[row] = f"{label} at {at:.1f} m has no clear width"
    gaps = gaps.where(~np.isnan(gaps.clear_width_m))
    stems = scene.things.of(*STEMS)
    found = ((gaps.row, gaps.at_m, gaps.clear_width_m), _pairs(stems, pair_within_m), _single(stems, scene))
    row, at_m, width = (np.concatenate(column) for column in zip(*found, strict=True))
    return Narrows(row, at_m, width, _curvature_at(scene, row, at_m), unknown)


def stems_in_the_way(scene: Scene, half_m: float) -> Texts:
    """Name the first tree or post of each segment that stands within *half_m* of the centre line, shape (segments,)."""
    stems = scene.things.of(*STEMS)
    stems = stems.where(_edge(stems) < half_m)
    named = np.full(scene.length_m.size, "", dtype=object)
    for row, label, at in zip(stems.row[::-1], stems.label[::-1], stems.at_m[::-1], strict=True):
        named[row] = f"{label} at {at:.1f} m stands in the way and no width is tagged"
    return named


def _edge(stems: Things) -> Float64:
    """Distance of the nearer edge of every stem from the centre line; negative where the line goes through it."""
    edge: Float64 = np.abs(np.nan_to_num(stems.offset_m, nan=0.0)) - np.nan_to_num(stems.width_m, nan=0.0) / 2.0
    return edge


def _single(stems: Things, scene: Scene) -> tuple[Int64, Float64, Float64]:
    """Find the stems that stand within the tagged width: segment, chainage, width left on the wider side of each."""
    half = scene.tags.width_m[stems.row] / 2.0
    inner = _edge(stems)
    inside = inner < half
    return stems.row[inside], stems.at_m[inside], np.maximum(half + inner, 0.0)[inside]


def _pairs(stems: Things, within_m: float) -> tuple[Int64, Float64, Float64]:
    """Pair stems left of the line with stems right of it: segment, chainage between them, free width."""
    left, right = stems.where(stems.offset_m < 0.0), stems.where(stems.offset_m > 0.0)
    pairs = [
        (i, j) for i in range(left.row.size) for j in _near(right, int(left.row[i]), float(left.at_m[i]), within_m)
    ]
    i, j = np.array(pairs, dtype=np.int64).reshape(-1, 2).T
    inner_left = left.offset_m[i] + np.nan_to_num(left.width_m[i], nan=0.0) / 2.0
    inner_right = right.offset_m[j] - np.nan_to_num(right.width_m[j], nan=0.0) / 2.0
    width = np.maximum(inner_right - inner_left, 0.0)
    return left.row[i], (left.at_m[i] + right.at_m[j]) / 2.0, width


def _near(stems: Things, row: int, at_m: float, within_m: float) -> range:
    """Find the stems of one segment near a chainage; stems are sorted by segment, then chainage."""
    first = int(np.searchsorted(stems.row, row, side="left"))
    last = int(np.searchsorted(stems.row, row, side="right"))
    low = first + int(np.searchsorted(stems.at_m[first:last], at_m - within_m, side="left"))
    high = first + int(np.searchsorted(stems.at_m[first:last], at_m + within_m, side="right"))
    return range(low, high)


def _curvature_at(scene: Scene, row: Int64, at_m: Float64) -> Float64:
    """Curvature of the line at the nearest station, unsigned, 1/m."""
    stations = scene.site.terrain.stations
    first, last = stations.offsets[row], stations.offsets[row + 1]
    length = np.maximum(scene.length_m[row], 1e-9)
    nth = np.rint(at_m / length * (last - first - 1)).astype(np.int64)
    station = np.clip(first + nth, first, np.maximum(last - 1, first))
    if stations.curvature.size == 0:
        return np.zeros(row.size)
    nearest = stations.curvature[np.minimum(station, stations.curvature.size - 1)]
    return np.asarray(np.abs(nearest), dtype=np.float64)
