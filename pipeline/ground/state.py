"""The ground of every segment under a weather: how wet it is, how it grips and rolls, and what it bears."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from pyproj import Transformer

from pipeline.ground.model import Bearing, Ground, Lie
from pipeline.ground.season import drying_share
from pipeline.ground.surface import Surfaces, surface_classes
from pipeline.ground.weather import Weather
from pipeline.ground.wetness import gathering, kept_per_day, rain_index, wetness_at
from pipeline.survey.model import Network
from pipeline.terms import Wetness

__all__ = ["ground_state", "latitude_of", "open_lie"]

Float64 = NDArray[np.float64]

_WORDS = tuple(Wetness)


def open_lie(segments: int) -> Lie:
    """Give the lie of ground that no elevation model tells of: open, without hollows.

    Parameters
    ----------
    segments
        Number of segments.
    """
    unknown = np.full(segments, np.nan)
    return Lie(twi=unknown, over_land=unknown, hollow=np.zeros(segments, dtype=np.bool_), hollow_m=unknown)


def ground_state(network: Network, surfaces: Surfaces, weather: Weather, lie: Lie | None = None) -> Ground:
    """Give wetness, grip, rolling resistance and bearing capacity of every segment under a weather.

    Rain: every surface drains and dries in its own time, low ground gathers water and keeps it longer. A wetness that
    is given instead holds on all open ground, whatever its surface; hollows are wetter than that, unless it is dry.

    Parameters
    ----------
    network
        Segments with surface, tracktype and smoothness as tagged; its place on the globe decides the season.
    surfaces
        The surfaces file.
    weather
        Rain, or how wet the ground is, and the day.
    lie
        How the segments lie to running water; all open without it.
    """
    lie = open_lie(len(network.segments)) if lie is None else lie
    drying = drying_share(weather.date, latitude_of(network)) if weather.wetness is None else 0.0
    site_mm = float(_index([surfaces.default], np.zeros(1), surfaces, (weather, drying))[0])
    site = _WORDS[int(wetness_at(site_mm, surfaces.drying))]
    names, assumed = surface_classes(network, surfaces, site)

    def wetted(classes: Sequence[str], gathered: Float64) -> tuple[Float64, list[Wetness]]:
        """Wet ground of the given classes: its rain index, and the word for it."""
        index = _index(classes, gathered, surfaces, (weather, drying))
        return index, [_WORDS[rank] for rank in wetness_at(index, surfaces.drying)]

    index_mm, wet = wetted(names, gathering(lie.over_land, lie.hollow, surfaces.drying))
    sunk = _bearing(surfaces, names, wetted(names, np.ones(len(names)))[1])
    spots = [surfaces.soft_spot] * len(names)
    spot = _bearing(surfaces, spots, wetted(spots, np.ones(len(names)))[1])
    grips = [surfaces.classes[name].at(word) for name, word in zip(names, wet, strict=True)]
    adhesion = np.array([grip.adhesion for grip in grips], dtype=np.float64).reshape(-1, 3)
    rolling = np.array([grip.rolling for grip in grips], dtype=np.float64).reshape(-1, 2)
    return Ground(
        wetness=site,
        site_mm=site_mm,
        surface=tuple(names),
        assumed=np.array(assumed, dtype=np.bool_),
        wet=tuple(wet),
        index_mm=index_mm,
        lie=lie,
        mu_low=adhesion[:, 0].copy(),
        mu_typical=adhesion[:, 1].copy(),
        mu_high=adhesion[:, 2].copy(),
        rolling=rolling[:, 1].copy(),
        rolling_low=rolling[:, 0].copy(),
        bearing=_bearing(surfaces, names, wet),
        hollow_bearing=Bearing(*(np.where(np.isnan(lie.hollow_m), np.nan, kpa) for kpa in sunk)),
        spot_bearing=Bearing(*(np.minimum(one, other) for one, other in zip(spot, sunk, strict=True))),
        runoff=surfaces.runoff,
    )


def _index(names: Sequence[str], gathered: Float64, surfaces: Surfaces, day: tuple[Weather, float]) -> Float64:
    """Give the rain index of ground of some classes; *day* is the weather and how fast the sun dries the ground."""
    model, (weather, drying) = surfaces.drying, day
    more = 1.0 + (model.hollow_gathers - 1.0) * gathered
    if weather.wetness is not None:
        return model.index_of(weather.wetness) * more
    slower = 1.0 + (model.hollow_drains - 1.0) * gathered
    classes = [surfaces.classes[name] for name in names]
    drains = np.array([one.drains_days for one in classes], dtype=np.float64) * slower
    dries = np.array([one.dries_days for one in classes], dtype=np.float64)
    return rain_index(weather.rain_mm, kept_per_day(drains, dries, drying)) * more


def _bearing(surfaces: Surfaces, names: Sequence[str], wet: Sequence[Wetness]) -> Bearing:
    """Give what ground of some classes bears."""
    pairs = [surfaces.classes[name].bearing_kpa.at(word) for name, word in zip(names, wet, strict=True)]
    low, typical = np.array(pairs, dtype=np.float64).reshape(-1, 2).T
    return Bearing(low.copy(), typical.copy())


def latitude_of(network: Network) -> float:
    """Give the latitude of the middle of a network, degrees, + north; 0 of a network without segments.

    Parameters
    ----------
    network
        Segments with their lines.
    """
    if network.segments.empty:
        return 0.0
    west, south, east, north = network.segments.total_bounds
    to_globe = Transformer.from_crs(network.crs, 4326, always_xy=True)
    return float(to_globe.transform((west + east) / 2.0, (south + north) / 2.0)[1])
