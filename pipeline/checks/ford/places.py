"""Where water is on the trails, as surveyed, as tagged and as the elevation model lets one expect it, and how deep now.

Nobody knows how wet the ground was on the day of the survey: what was surveyed counts as surveyed after no rain, and
never falls below that. Its catchment is that of the flow path of the elevation model that crosses the trail there;
where there is none, an assumed one. In a hollow it is at least as deep as that fills. A flow path that crosses where
nobody found water was dry that day, and runs after rain, unless a culvert takes it that the model does not show; a
hollow fills as far as it can.
"""

from dataclasses import dataclass, fields
from typing import Self

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.checks.ford.flow import discharge, pool_depth, risen
from pipeline.checks.obstacles import Things
from pipeline.checks.scene import Scene
from pipeline.ground.model import Ground
from pipeline.terms import Basis, ObstacleKind
from pipeline.terrain.drainage_model import FlowCrossings

__all__ = ["EXPECTED", "NOTICED_M", "Waters", "all_expected", "waters_of"]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]
Flags = NDArray[np.bool_]
Texts = NDArray[np.object_]

EXPECTED = ("flow path", "hollow")
"""What water is called that only the elevation model lets one expect."""
APART_M = 15.0
"""Surveyed water and the flow path of the model are one this close along the trail: a hand-held receiver under trees
is good to about 5 m, and so is a flow path over cells of some metres. Assumption, no source."""
NOTICED_M = 0.05
"""Water that is expected counts from this depth on: less is no more than a wet trail. Assumption, no source."""


@dataclass(frozen=True, slots=True)
class Waters:
    """Places with water; arrays of shape (places,)."""

    row: Int64
    """Row of the segment."""
    at_m: Float64
    """Chainage; NaN for a tag, which holds somewhere on the segment, and so for the next two."""
    from_m: Float64
    """Chainage where it begins."""
    to_m: Float64
    """Chainage where it ends."""
    id: Texts
    """``obstacle_id``; ``None`` for what was not surveyed."""
    label: Texts
    """How a person would find it."""
    depth_m: Float64
    """Deepest place as surveyed or tagged; NaN when nobody sounded it, 0 where it was dry."""
    flow_m_s: Float64
    """Speed as surveyed; NaN when nobody timed it."""
    depth_now_m: Float64
    flow_now_m_s: Float64
    """NaN where nobody timed it and nothing more runs through."""
    catchment_m2: Float64
    """Of the flow path or hollow that it belongs to; NaN where it belongs to none."""
    basis: NDArray[np.uint8]
    """``terms.Basis`` of the depth and speed now."""

    def where(self, take: Flags | Int64) -> Self:
        """Take some of the places, by flags or indices."""
        return type(self)(*(getattr(self, one.name)[take] for one in fields(self)))

    @classmethod
    def joined(cls, *parts: Self) -> Self:
        """Put places one after another."""
        return cls(*(np.concatenate([getattr(part, one.name) for part in parts]) for one in fields(cls)))


def waters_of(scene: Scene) -> Waters:
    """Find all water on the trails and say how deep and fast it is now.

    Parameters
    ----------
    scene
        Things, tags, terrain and ground.

    Returns
    -------
    Waters
        Surveyed water first, then tagged fords, then what is expected where there is neither.
    """
    ground, crossings = scene.site.ground, _crossings(scene)
    tagged = np.flatnonzero(scene.tags.ford)
    found, used = _surveyed(scene, crossings)
    tags, meant = _tagged(tagged, scene.tags.depth_m[tagged], ground, crossings)
    used[meant[~np.isin(crossings.row[meant], found.row)]] = True
    return Waters.joined(found, tags, _expected(crossings.of(~used), ground))


def all_expected(scene: Scene) -> Waters:
    """Say what runs or stands after rain at every crossing of the elevation model, as if nobody had looked there.

    Parameters
    ----------
    scene
        Terrain and ground.
    """
    return _expected(_crossings(scene), scene.site.ground)


def _crossings(scene: Scene) -> FlowCrossings:
    """Give the crossings of the elevation model; none without one."""
    drainage = scene.site.terrain.drainage
    if drainage is not None:
        return drainage.crossings
    none, flags = np.zeros(0), np.zeros(0, dtype=np.bool_)
    return FlowCrossings(none.astype(np.int64), none, none, none, none, none, flags, none, flags, none, none)


def _surveyed(scene: Scene, crossings: FlowCrossings) -> tuple[Waters, Flags]:
    """Give surveyed water, and which of the crossings it is; what is seen from several trails is as deep from all."""
    things, ground = scene.things.of(ObstacleKind.WATER), scene.site.ground
    half = np.nan_to_num(things.length_m, nan=0.0) / 2.0
    on = things.row[:, None] == crossings.row[None, :]
    on &= crossings.to_m >= (things.at_m - half - APART_M)[:, None]
    on &= crossings.from_m <= (things.at_m + half + APART_M)[:, None]
    by = on | _round_the_node(things, half, crossings, scene)
    area = _over_copies(np.where(by, crossings.catchment_m2, -1.0).max(axis=1, initial=-1.0), things)
    catchment = np.where(area < 0.0, np.nan, area)
    wide = _over_copies(np.where(things.copied | np.isnan(things.length_m), 0.0, things.length_m), things)
    width = np.where(wide > 0.0, wide, ground.runoff.width_m)
    depth, flow = _now((things.depth_m, things.flow_m_s), width, catchment, ground)
    pool = _over_copies(np.where(by, _pools(crossings, ground), 0.0).max(axis=1, initial=0.0), things)
    depth = np.maximum(depth, pool)
    still = np.isnan(things.flow_m_s) | (depth > things.depth_m)
    return Waters(
        row=things.row,
        at_m=things.at_m,
        from_m=things.at_m - half,
        to_m=things.at_m + half,
        id=things.id,
        label=things.label,
        depth_m=things.depth_m,
        flow_m_s=things.flow_m_s,
        depth_now_m=depth,
        flow_now_m_s=flow,
        catchment_m2=catchment,
        basis=np.where(still, np.uint8(Basis.ASSUMED), np.uint8(Basis.SURVEYED)),
    ), on.any(axis=0)


def _over_copies(values: Float64, things: Things) -> Float64:
    """Give each thing the largest value of those that are the same, seen from other segments."""
    largest = np.full(int(things.number.max(initial=-1)) + 1, -np.inf)
    np.maximum.at(largest, things.number, values)
    return largest[things.number]


def _round_the_node(things: Things, half_m: Float64, crossings: FlowCrossings, scene: Scene) -> Flags:
    """Tell which crossings lie near each thing in plan, on a trail that shares a node with its own."""
    network = scene.site.network
    ends = network.segments[["node_a", "node_b"]].to_numpy(np.int64)
    lines = shapely.force_2d(network.segments.geometry.to_numpy()[things.row])
    x, y = shapely.get_coordinates(shapely.line_interpolate_point(lines, things.at_m)).reshape(-1, 2).T
    away = np.hypot(x[:, None] - crossings.x, y[:, None] - crossings.y)
    thing, place = np.nonzero(away <= APART_M + half_m[:, None])
    meet = (ends[things.row[thing], :, None] == ends[crossings.row[place], None, :]).any(axis=(1, 2))
    near = np.zeros(away.shape, dtype=np.bool_)
    near[thing[meet], place[meet]] = True
    return near


def _tagged(rows: Int64, depth_m: Float64, ground: Ground, crossings: FlowCrossings) -> tuple[Waters, Int64]:
    """Give tagged fords, and which crossing each is: the largest flow path of its segment, and no hollow."""
    unknown = np.full(rows.size, np.nan)
    paths = np.flatnonzero(np.isin(crossings.row, rows) & ~crossings.hollow)
    paths = paths[np.argsort(-crossings.catchment_m2[paths], kind="stable")]
    of_row, first = np.unique(crossings.row[paths], return_index=True)
    meant = paths[first]
    catchment = unknown.copy()
    catchment[np.searchsorted(rows, of_row)] = crossings.catchment_m2[meant]
    depth, flow = _now((depth_m, unknown), np.full(rows.size, ground.runoff.width_m), catchment, ground)
    return Waters(
        row=rows,
        at_m=unknown,
        from_m=unknown,
        to_m=unknown,
        id=np.full(rows.size, None, dtype=object),
        label=np.full(rows.size, "the tagged ford", dtype=object),
        depth_m=depth_m,
        flow_m_s=unknown,
        depth_now_m=depth,
        flow_now_m_s=flow,
        catchment_m2=catchment,
        basis=np.where(depth > depth_m, np.uint8(Basis.ASSUMED), np.uint8(Basis.TAG)),
    ), meant


def _expected(crossings: FlowCrossings, ground: Ground) -> Waters:
    """Give what runs or stands after rain where nobody found water."""
    dry, nobody = np.zeros(crossings.row.size), np.full(crossings.row.size, np.nan)
    width = np.full(crossings.row.size, ground.runoff.width_m)
    depth, flow = _now((dry, nobody), width, crossings.catchment_m2, ground)
    kind = np.where(crossings.hollow, EXPECTED[1], EXPECTED[0]).astype(object)
    return Waters(
        row=crossings.row,
        at_m=crossings.at_m,
        from_m=crossings.from_m,
        to_m=crossings.to_m,
        id=np.full(dry.size, None, dtype=object),
        label=kind,
        depth_m=dry,
        flow_m_s=nobody,
        depth_now_m=np.where(crossings.hollow, _pools(crossings, ground), depth),
        flow_now_m_s=np.where(crossings.hollow, 0.0, flow),
        catchment_m2=crossings.catchment_m2,
        basis=np.full(dry.size, Basis.ASSUMED, dtype=np.uint8),
    )


def _pools(crossings: FlowCrossings, ground: Ground) -> Float64:
    """Give how deep water stands in every hollow after the rain; 0 where flow paths cross."""
    volume = ground.runoff.depth_mm(ground.site_mm) / 1000.0 * crossings.catchment_m2
    pool = pool_depth(volume, crossings.hollow_m, crossings.to_m - crossings.from_m)
    return np.where(crossings.hollow, pool, 0.0)


def _now(
    surveyed: tuple[Float64, Float64], width_m: Float64, catchment_m2: Float64, ground: Ground
) -> tuple[Float64, Float64]:
    """Give depth and speed now of water of surveyed depth and speed."""
    runoff = ground.runoff
    area = np.where(np.isnan(catchment_m2), runoff.catchment_ha * 1e4, catchment_m2)
    more = discharge(runoff.depth_mm(ground.site_mm), runoff.hours, area) / width_m
    return risen(*surveyed, more, float(np.sqrt(runoff.bed_grade)) / runoff.manning_n)
