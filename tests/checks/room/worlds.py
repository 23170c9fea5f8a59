"""Small trails in plan for the room beside a vehicle: straights, arcs, and what stands beside them."""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.limits import Limits
from pipeline.checks.obstacles import IN_PROFILE
from pipeline.checks.passing.choice import Choice, choose
from pipeline.checks.room.tracks import SiteTracks, make_tracks
from pipeline.checks.scene import Scene, make_scene
from pipeline.checks.site import CheckSite
from pipeline.survey.model import Network
from pipeline.terrain.measure import measure_terrain
from pipeline.terrain.model import TerrainParameters
from pipeline.vehicle.envelope_model import Envelope
from tests.checks.worlds import LIMITS, envelope, ground_of, site_on
from tests.worlds import Surface, at, network_of, plane

Floats = NDArray[np.float64]


def arc(radius: float, angle: float, start: float = 0.0, step: float = 0.5) -> list[tuple[float, float]]:
    """Give points of an arc to the left that begins at (*start*, 0) to the east; *angle* in rad."""
    turned = np.linspace(0.0, angle, int(np.ceil(radius * angle / step)) + 1)
    return list(zip(start + radius * np.sin(turned), radius * (1.0 - np.cos(turned)), strict=True))


def hairpin(radius: float, straight: float = 30.0, step: float = 0.5) -> list[tuple[float, float]]:
    """Give points of a straight to the east, half a circle to the left, and a straight back."""
    return [(0.0, 0.0), *arc(radius, np.pi, straight, step), (0.0, 2.0 * radius)]


def network(lines: Mapping[str, Sequence[tuple[float, float]]], **columns: Any) -> Network:  # noqa: ANN401 - as of network_of
    """Make a network of lines given from the origin; surveyed, 3.5 m wide unless *columns* say otherwise."""
    columns.setdefault("surveyed_on", "2026-04-18")
    columns.setdefault("obstacles_surveyed", True)
    columns.setdefault("width_m", 3.5)
    return network_of({name: at(*points) for name, points in lines.items()}, **columns)


def scene_of(trails: Network, surface: Surface | None = None) -> Scene:
    """Make the scene of a network; without a surface its heights are not known, and its runs go into neighbours."""
    if surface is not None:
        return make_scene(site_on(trails, surface))
    terrain = measure_terrain(trails, TerrainParameters())
    return make_scene(CheckSite(trails, terrain, ground_of(len(trails.segments))))


def straight_scene(
    things: Sequence[Mapping[str, Any]] = (),
    *,
    surface: Surface | None = None,
    **columns: Any,  # noqa: ANN401 - as of network_of
) -> Scene:
    """Make the scene of one straight segment ``s`` of 60 m to the east with things on it."""
    rows = [{"segment_id": "s", "offset_m": 0.0, **thing} for thing in things]
    trails = network({"s": [(0.0, 0.0), (60.0, 0.0)]}, obstacles=rows, **columns)
    return scene_of(trails, surface or plane())


def chosen(scene: Scene, vehicle: Envelope | None = None, limits: Limits = LIMITS) -> Choice:
    """Choose the way of a set-up past everything that it drives over."""
    return choose(scene.things.of(*IN_PROFILE), vehicle or envelope(), limits)


def tracks_of(scene: Scene, limits: Limits = LIMITS) -> SiteTracks:
    """Lay the tracks."""
    return make_tracks(scene, limits)


def points_of(site: SiteTracks, track: int) -> slice:
    """Give the points of one track."""
    return slice(int(site.tracks.offsets[track]), int(site.tracks.offsets[track + 1]))


def own_points(site: SiteTracks, track: int, inside_m: float = 0.0) -> NDArray[np.int64]:
    """Give the points of a track that lie on its own segment, *inside_m* from its ends."""
    where = points_of(site, track)
    along = np.arange(where.stop - where.start) * site.tracks.step
    own = (along >= site.tracks.own_from[track] + inside_m) & (along <= site.tracks.own_to[track] - inside_m)
    return np.flatnonzero(own) + where.start


def wavy(length: float, rms: float, seed: int, every: float = 2.0) -> list[tuple[float, float]]:
    """Give a straight to the east whose vertices are off by random amounts sideways, the ends excepted."""
    x = np.arange(0.0, length + every / 2.0, every)
    y = np.random.default_rng(seed).normal(0.0, rms, x.size)
    y[[0, -1]] = 0.0
    return list(zip(x, y, strict=True))
