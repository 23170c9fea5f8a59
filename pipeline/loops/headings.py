"""Which way a vehicle points where it begins and ends a segment, for the turns from one segment into another."""

from collections.abc import Mapping

import geopandas as gpd
import numpy as np
import shapely

__all__ = ["Heading", "end_headings"]

Heading = tuple[float, float]
"""Unit vector, easting and northing."""

LOOK_M = 5.0
"""The heading at an end is that of the chord over this length, about a vehicle: a kink at the end does not turn it."""


def end_headings(segments: gpd.GeoDataFrame) -> Mapping[str, tuple[Heading, Heading]]:
    """Give the headings at the start and at the end of every segment, both in the digitised direction.

    Parameters
    ----------
    segments
        Contract NETWORK.

    Returns
    -------
    mapping
        Segment id → heading at the start, heading at the end.
    """
    lines = segments.geometry.to_numpy()
    length = shapely.length(lines)
    look = np.minimum(LOOK_M, length)
    first = _unit(shapely.line_interpolate_point(lines, 0.0), shapely.line_interpolate_point(lines, look))
    last = _unit(shapely.line_interpolate_point(lines, length - look), shapely.line_interpolate_point(lines, length))
    return dict(zip(segments["segment_id"], zip(first, last, strict=True), strict=True))


def _unit(start: np.ndarray, end: np.ndarray) -> list[Heading]:
    """Give the unit vectors between pairs of points; (0, 0) for a chord that closes on itself."""
    across = np.column_stack((shapely.get_x(end) - shapely.get_x(start), shapely.get_y(end) - shapely.get_y(start)))
    reach = np.hypot(across[:, 0], across[:, 1])
    unit = across / np.where(reach > 0.0, reach, 1.0)[:, None]
    return [(float(x), float(y)) for x, y in unit]
