"""The terrain as tables: one row a segment, one row a station."""

from collections.abc import Sequence
from typing import NamedTuple

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from pipeline.kernels.terrain_climb import climbs
from pipeline.survey.model import Network
from pipeline.tables import SEGMENTS, STATIONS, validate
from pipeline.terrain.error_slopes import slope_errors
from pipeline.terrain.model import Stations, Terrain, TerrainParameters
from pipeline.units import grade_to_degrees

__all__ = ["Soil", "segments_table", "stations_table"]

Float64 = NDArray[np.float64]
Float32 = NDArray[np.float32]

DEAD_BAND_M = 0.2
"""Smallest reversal of height that counts as a climb or a descent (common practice, no source: about twice the
vertical error of good lidar)."""


class Soil(NamedTuple):
    """What the ground of every segment is like, for the table: in the order of the segments."""

    surface: Sequence[str]
    """Surface class, as used for grip."""
    wetness: Sequence[str]
    """Word of ``terms.Wetness``."""
    wetness_mm: Float64
    """Rain index that it comes from, mm."""
    twi: Float64
    """Topographic wetness index; NaN where it is not known."""


def segments_table(network: Network, terrain: Terrain, soil: Soil) -> gpd.GeoDataFrame:
    """Summarise the terrain by segment.

    Parameters
    ----------
    network
        The trail network.
    terrain
        Its stations.
    soil
        What the ground is like.

    Returns
    -------
    GeoDataFrame
        Contract SEGMENTS, rows in the order of the network. Where only part of a segment has heights, extremes,
        climbs and percentiles are of that part, stretches without a height count by their plan length, and
        ``height_coverage`` says how much is known.
    """
    stations, table = terrain.stations, network.segments
    kept = ("segment_id", "name", "source", "surveyed_on", "status")
    columns: dict[str, object] = {name: table[name] for name in kept}
    columns |= {"surface": pd.Series(list(soil.surface), index=table.index, dtype="str")}
    columns |= {name: table[name] for name in ("width_m", "node_a", "node_b", "length_m")}
    columns |= _heights(stations) | _slopes(stations)
    columns |= {
        "radius_min_m": _radius(np.maximum.reduceat(np.abs(stations.curvature), stations.offsets[:-1])),
        "height_coverage": np.add.reduceat(~np.isnan(stations.z), stations.offsets[:-1], dtype=np.float64)
        / np.diff(stations.offsets),
        "dem_cell_m": np.fmax.reduceat(stations.cell_m, stations.offsets[:-1]).astype(np.float64),
        "wetness": pd.Series(list(soil.wetness), index=table.index, dtype="str"),
        "wetness_mm": soil.wetness_mm,
        "twi": soil.twi,
    }
    flat = shapely.force_2d(table.geometry.to_numpy())
    return validate(gpd.GeoDataFrame(columns, geometry=flat, crs=table.crs), SEGMENTS)


def stations_table(network: Network, terrain: Terrain, parameters: TerrainParameters) -> pd.DataFrame:
    """Give all stations as a table.

    Parameters
    ----------
    network
        The trail network.
    terrain
        Its stations.
    parameters
        The errors of heights and lines.

    Returns
    -------
    DataFrame
        Contract STATIONS. Standard deviations are those of :func:`.error_slopes.slope_errors`: from the error of the
        heights and, where it was given, that of the line's position.
    """
    s = terrain.stations
    sd = slope_errors(network, terrain, parameters)
    ids = network.segments["segment_id"].repeat(np.diff(s.offsets)).reset_index(drop=True)
    frame = pd.DataFrame(
        {
            "segment_id": ids,
            "chainage_m": s.chainage_m,
            "x": s.x,
            "y": s.y,
            "z_m": s.z,
            "bearing_deg": np.degrees(s.bearing_rad),
            "grade_deg": _single(grade_to_degrees(s.grade)),
            "side_slope_deg": _single(grade_to_degrees(s.cross)),
            "radius_m": _single(_radius(np.abs(s.curvature))),
            "grade_sd_deg": _single(_sd_degrees(sd.grade, s.grade)),
            "side_slope_sd_deg": _single(_sd_degrees(sd.cross, s.cross)),
        }
    )
    return validate(frame, STATIONS)


def _heights(stations: Stations) -> dict[str, Float64]:
    """Summarise heights by segment."""
    first, last = stations.offsets[:-1], stations.offsets[1:] - 1
    z = stations.z.astype(np.float64)
    rise, fall = climbs(stations.z, stations.offsets, DEAD_BAND_M)
    run = stations.chainage_m[last] - stations.chainage_m[first]
    known = ~np.isnan(np.fmax.reduceat(z, first))
    return {
        "ground_length_m": np.where(known, _ground_length(stations, z), np.nan),
        "elevation_min_m": np.fmin.reduceat(z, first),
        "elevation_max_m": np.fmax.reduceat(z, first),
        "rise_m": rise,
        "fall_m": fall,
        "grade_mean_deg": grade_to_degrees((z[last] - z[first]) / run),
    }


def _ground_length(stations: Stations, z: Float64) -> Float64:
    """Give the length along the ground by segment; steps without a height count by their plan length."""
    climb = np.nan_to_num(np.diff(z, append=np.nan))
    along = np.diff(stations.chainage_m, append=np.nan)
    step = np.hypot(along, climb)
    step[stations.offsets[1:] - 1] = 0.0
    return np.asarray(np.add.reduceat(step, stations.offsets[:-1]))


def _slopes(stations: Stations) -> dict[str, Float64]:
    """Summarise grades and side slopes by segment."""
    first = stations.offsets[:-1]
    side = np.abs(stations.cross.astype(np.float64))
    return {
        "grade_max_deg": grade_to_degrees(np.fmax.reduceat(stations.grade, first)),
        "grade_min_deg": grade_to_degrees(np.fmin.reduceat(stations.grade, first)),
        "side_slope_max_deg": grade_to_degrees(np.fmax.reduceat(side, first)),
        "side_slope_p95_deg": grade_to_degrees(_percentile(side, stations, 0.95)),
    }


def _percentile(values: Float64, stations: Stations, share: float) -> Float64:
    """Give the percentile of the known values by segment, linear between ranks (as numpy's default); NaN if none."""
    counts = np.diff(stations.offsets)
    segment = np.repeat(np.arange(counts.size), counts)
    ordered = values[np.lexsort((values, segment))]  # NaN sorts last
    known = np.add.reduceat(~np.isnan(values), stations.offsets[:-1], dtype=np.int64)
    place = share * np.maximum(known - 1, 0)
    low = np.floor(place).astype(np.int64)
    high = np.minimum(low + 1, np.maximum(known - 1, 0))
    a, b = ordered[stations.offsets[:-1] + low], ordered[stations.offsets[:-1] + high]
    return np.asarray(a + (place - low) * (b - a))


def _radius(curvature: NDArray[np.floating]) -> Float64:
    """Turn unsigned curvature into a radius; inf where straight."""
    bend = curvature.astype(np.float64)
    radius = np.full(bend.shape, np.inf)
    np.divide(1.0, bend, out=radius, where=bend > 0.0)
    return radius


def _sd_degrees(sd: Float64, slope: Float32) -> Float64:
    """Turn the standard deviation of a slope into one of its angle: d(atan g) = dg ÷ (1 + g²)."""
    return np.asarray(np.degrees(sd / (1.0 + slope.astype(np.float64) ** 2)))


def _single(values: Float64) -> Float32:
    """Store in single precision."""
    return np.asarray(values, dtype=np.float32)
