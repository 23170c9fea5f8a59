"""The site worked out once for all set-ups: extremes along every segment, obstacles by segment."""

from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.checks.ford.bed import with_beds
from pipeline.checks.grip.station_slopes import Slopes, slopes_of
from pipeline.checks.near_nodes import with_neighbours
from pipeline.checks.obstacles import Things, on_ground, standing_on, things_of
from pipeline.checks.site import CheckSite
from pipeline.ground.model import Ground
from pipeline.kernels.check_worst import first_largest
from pipeline.terms import Basis
from pipeline.terrain.model import Stations

__all__ = ["Scene", "Tags", "make_scene"]

Float64 = NDArray[np.float64]
UInt8 = NDArray[np.uint8]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Tags:
    """What the network says about each segment; arrays of shape (segments,)."""

    width_m: Float64
    """Tagged width, the narrower of width and maximum width; NaN when not tagged."""
    max_height_m: Float64
    ford: Flags
    depth_m: Float64
    surveyed: Flags
    """Walked for obstacles: obstacle files were given, and the date of the survey."""


@dataclass(frozen=True, slots=True)
class Scene:
    """A site made ready for the checks."""

    site: CheckSite
    """The site, with the beds of surveyed water in its profiles."""
    things: Things
    tags: Tags
    length_m: Float64
    slopes: Slopes
    """Slopes at every station, for the checks of grip."""
    missing_m: Float64
    """Length without heights, m."""
    cell_m: Float64
    """Coarsest cell of the elevation model used, m; 0 where all heights were surveyed."""
    apart_m: Float64
    """Largest distance between the vertices of a line whose surveyed heights are used, m; 0 where none are."""
    spacing_m: Float64
    """Distance between the stations, m."""
    stations_basis: UInt8
    """Worst basis of the stations that have heights; ``NONE`` where none has."""

    def on_ground(self, ground: Ground) -> "Scene":
        """Take the same site with its ground in another state."""
        return replace(self, site=replace(self.site, ground=ground), things=on_ground(self.things, ground))


def make_scene(site: CheckSite) -> Scene:
    """Work out everything that does not depend on the set-up."""
    surveyed = with_neighbours(things_of(site.network), site.network)
    site = replace(site, terrain=with_beds(site.terrain, surveyed))
    stations = site.terrain.stations
    unknown = np.isnan(stations.grade) | np.isnan(stations.cross)
    return Scene(
        site=site,
        things=standing_on(surveyed, site),
        tags=_tags(site),
        length_m=site.network.segments["length_m"].to_numpy(np.float64),
        slopes=slopes_of(stations),
        missing_m=_missing(unknown, stations, site),
        cell_m=_coarsest(stations),
        apart_m=_apart(stations, site),
        spacing_m=site.network.segments["length_m"].to_numpy(np.float64) / np.maximum(np.diff(stations.offsets) - 1, 1),
        stations_basis=_worst_basis(unknown, stations),
    )


def _largest(values: Float64, stations: Stations) -> Float64:
    """Find the largest value of every segment; NaN without any."""
    at = first_largest(values, stations.offsets)
    if values.size == 0:
        return np.full(at.size, np.nan)
    return np.where(at >= 0, values[np.maximum(at, 0)], np.nan)


def _missing(missing: Flags, stations: Stations, site: CheckSite) -> Float64:
    """Length of each segment without heights, m."""
    counts = np.maximum(np.diff(stations.offsets), 1)
    totals = np.concatenate(([0], np.cumsum(missing)))
    share = (totals[stations.offsets[1:]] - totals[stations.offsets[:-1]]) / counts
    length: Float64 = share * site.network.segments["length_m"].to_numpy(np.float64)
    return length


def _coarsest(stations: Stations) -> Float64:
    """Coarsest cell under the stations whose height is the elevation model's; inf where its cell is not known."""
    from_model = stations.basis == Basis.DEM
    cell = np.where(np.isnan(stations.cell_m), np.inf, stations.cell_m.astype(np.float64))
    worst = _largest(np.where(from_model, cell, np.nan), stations)
    return np.nan_to_num(worst, nan=0.0, posinf=np.inf)


def _apart(stations: Stations, site: CheckSite) -> Float64:
    """Largest distance between vertices of the segments with surveyed heights."""
    lines = site.network.segments.geometry.to_numpy()
    xy, line = shapely.get_coordinates(lines, return_index=True)
    step = np.where(np.diff(line) == 0, np.hypot(*np.diff(xy, axis=0).T), 0.0)
    apart = np.zeros(len(lines))
    np.maximum.at(apart, line[1:], step)
    surveyed = _largest(np.where(stations.basis == Basis.SURVEYED, 1.0, np.nan), stations)
    return np.where(np.isnan(surveyed), 0.0, apart)


def _worst_basis(missing: Flags, stations: Stations) -> UInt8:
    """Worst basis of the stations with heights."""
    least = _largest(np.where(missing, np.nan, -stations.basis.astype(np.float64)), stations)
    return np.asarray(-np.nan_to_num(least, nan=0.0), dtype=np.uint8)


def _tags(site: CheckSite) -> Tags:
    """Take the tags that the checks read out of the network."""
    segments = site.network.segments
    widths = segments[["width_m", "max_width_m"]].to_numpy(np.float64)
    return Tags(
        width_m=np.fmin(widths[:, 0], widths[:, 1]),
        max_height_m=segments["max_height_m"].to_numpy(np.float64),
        ford=segments["ford"].to_numpy(np.bool_),
        depth_m=segments["depth_m"].to_numpy(np.float64),
        surveyed=segments["surveyed_on"].notna().to_numpy() & site.network.obstacles_surveyed,
    )
