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

Layers = Sequence[Sequence[str]]
"""Surface classes: a list with one class of each segment, further ones where segments have more."""
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

    A list of words is ground of all their classes: it is as wet as the slowest of them to drain and dry, grips, rolls
    and bears as the worst of them at that. So ground is never better when wetter, whatever is tagged.

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
    count = len(network.segments)
    lie = open_lie(count) if lie is None else lie
    day = weather, drying_share(weather.date, latitude_of(network)) if weather.wetness is None else 0.0
    site_mm = float(_index([[surfaces.default]], np.zeros(1), surfaces, day)[0])
    tagged, assumed = surface_classes(network, surfaces)
    layers, spots = _layers(tagged), [[surfaces.soft_spot] * count]
    index_mm = _index(layers, gathering(lie.over_land, lie.hollow, surfaces.drying), surfaces, day)
    wet = _words(index_mm, surfaces)
    in_hollow = _words(_index(layers, np.ones(count), surfaces, day), surfaces)
    in_spot = _words(_index(spots, np.ones(count), surfaces, day), surfaces)
    softest, bearing = _bearing(surfaces, layers, wet)
    _, sunk = _bearing(surfaces, layers, in_hollow)
    _, spot = _bearing(surfaces, spots, in_spot)
    names, adhesion, rolling = _grip(surfaces, layers, wet)
    return Ground(
        wetness=_words(np.array([site_mm]), surfaces)[0],
        site_mm=site_mm,
        surface=names,
        softest=softest,
        assumed=np.array(assumed, dtype=np.bool_),
        wet=wet,
        index_mm=index_mm,
        lie=lie,
        mu_low=adhesion[:, 0].copy(),
        mu_typical=adhesion[:, 1].copy(),
        mu_high=adhesion[:, 2].copy(),
        rolling=rolling[:, 1].copy(),
        rolling_low=rolling[:, 0].copy(),
        bearing=bearing,
        hollow_bearing=Bearing(*(np.where(np.isnan(lie.hollow_m), np.nan, kpa) for kpa in sunk)),
        spot_bearing=Bearing(*(np.minimum(one, other) for one, other in zip(spot, sunk, strict=True))),
        runoff=surfaces.runoff,
    )


def _layers(tagged: Sequence[tuple[str, ...]]) -> list[list[str]]:
    """Lay out the classes of segments as lists with one class of each; one with fewer repeats its last."""
    deepest = max(map(len, tagged), default=1)
    return [[classes[min(k, len(classes) - 1)] for classes in tagged] for k in range(deepest)]


def _index(layers: Layers, gathered: Float64, surfaces: Surfaces, day: tuple[Weather, float]) -> Float64:
    """Give the rain index of ground; of several classes that of the one slowest to get rid of water.

    *day* is the weather and how fast the sun dries the ground.
    """
    model, (weather, drying) = surfaces.drying, day
    more = 1.0 + (model.hollow_gathers - 1.0) * gathered
    if weather.wetness is not None:
        return model.index_of(weather.wetness) * more
    slower = 1.0 + (model.hollow_drains - 1.0) * gathered
    each = []
    for names in layers:
        classes = [surfaces.classes[name] for name in names]
        drains = np.array([one.drains_days for one in classes], dtype=np.float64) * slower
        dries = np.array([one.dries_days for one in classes], dtype=np.float64)
        each.append(rain_index(weather.rain_mm, kept_per_day(drains, dries, drying)) * more)
    return np.asarray(np.max(each, axis=0), dtype=np.float64)


def _words(index_mm: Float64, surfaces: Surfaces) -> tuple[Wetness, ...]:
    """Give the words for some indices."""
    return tuple(_WORDS[rank] for rank in wetness_at(index_mm, surfaces.drying))


def _grip(surfaces: Surfaces, layers: Layers, wet: Sequence[Wetness]) -> tuple[tuple[str, ...], Float64, Float64]:
    """Give the class that grips least; the least adhesion of all, shape (segments, 3); the span of their rolling."""
    grips = [[surfaces.classes[name].at(word) for name, word in zip(names, wet, strict=True)] for names in layers]
    adhesion = np.array([[one.adhesion for one in layer] for layer in grips], dtype=np.float64)
    rolling = np.array([[one.rolling for one in layer] for layer in grips], dtype=np.float64)
    adhesion, rolling = adhesion.reshape(len(layers), -1, 3), rolling.reshape(len(layers), -1, 2)
    span = np.column_stack([rolling[:, :, 0].min(axis=0), rolling[:, :, 1].max(axis=0)])
    return _named(layers, adhesion[:, :, 1]), adhesion.min(axis=0), span


def _bearing(surfaces: Surfaces, layers: Layers, wet: Sequence[Wetness]) -> tuple[tuple[str, ...], Bearing]:
    """Give the class that bears least, and what ground of some classes bears where it bears least."""
    pairs = [
        [surfaces.classes[name].bearing_kpa.at(word) for name, word in zip(names, wet, strict=True)] for names in layers
    ]
    kpa = np.array(pairs, dtype=np.float64).reshape(len(layers), -1, 2)
    low, typical = kpa.min(axis=0).T
    return _named(layers, kpa[:, :, 0]), Bearing(low.copy(), typical.copy())


def _named(layers: Layers, values: Float64) -> tuple[str, ...]:
    """Name the class of each segment with the least value, shape (layers, segments); the first of equals."""
    return tuple(layers[k][row] for row, k in enumerate(values.argmin(axis=0)))


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
