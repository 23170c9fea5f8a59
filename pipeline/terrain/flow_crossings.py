"""Places where flow paths cross trails, and where hollows lie on them."""

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.terrain.dem_land import Land
from pipeline.terrain.drainage_lines import TrailPoints
from pipeline.terrain.drainage_model import FlowCrossings
from pipeline.terrain.hollows import Hollows

__all__ = ["Streams", "Trails", "find_crossings"]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]
Flags = NDArray[np.bool_]

APART_CELLS = 2.0
"""Places on a trail that are no farther apart than this are one."""
ALONG_CELLS = 3.0
"""Shorter stretches in the cells of a flow path that does not cross the trail are touched by chance."""
DAM_CELLS = 4.0
"""A rim no farther than this from where the water crosses is the trail's own bank."""
DAM_SHARE = 0.5
"""Least share of the water at a crossing that comes out of the hollow behind it."""


@dataclass(frozen=True, slots=True)
class Streams:
    """Flow paths and hollows of the land; arrays (cells,)."""

    land: Land
    down: Int64
    """Cell that the water of each cell goes to."""
    catchment_m2: Float64
    """Area above each cell, its own included, m²; 0 where there is no ground."""
    least: Flags
    """The land ends, or has a void, above."""
    runs: Flags
    """Which cells a flow path leads through."""
    hollows: Hollows


@dataclass(frozen=True, slots=True)
class Trails:
    """The trails that water may cross."""

    lines: NDArray[np.object_]
    """Centre line of every segment."""
    deck: Flags
    """Which segments are carried over or under the ground."""
    points: TrailPoints
    spans: Float64
    """x, y of the ends of bridges, shape (ends, 2)."""


@dataclass(frozen=True, slots=True)
class _Hits:
    """Points of trails that meet water."""

    row: Int64
    at_m: Float64
    x: Float64
    y: Float64
    cell: Int64
    """Cell whose water it is."""
    across: Flags
    """A flow path crosses the line just here; else the point lies in its cell."""
    weight: Float64
    """The place with the most stands for a stretch."""

    def of(self, pick: Flags | Int64) -> "_Hits":
        """Take some of them."""
        return _Hits(*(getattr(self, name)[pick] for name in self.__dataclass_fields__))


def find_crossings(streams: Streams, trails: Trails) -> FlowCrossings:
    """Find where water crosses trails, or gathers on them.

    Parameters
    ----------
    streams
        Flow paths and hollows.
    trails
        The trails. Bridges and tunnels have no crossings, and a flow path just beside the end of a bridge goes under
        it: neither line nor cell is known to the metre.
    """
    cell_m, hollows = streams.land.cell_m, streams.hollows
    paths, pools = _on_paths(streams, trails), _in_cells(trails, hollows.flooded, hollows.depth_m)
    found = [
        _crossing(streams, *_stretches(paths, np.zeros_like(paths.row), cell_m)),
        _hollow(streams, *_stretches(pools, hollows.of_cell[pools.cell], cell_m)),
    ]
    names = FlowCrossings.__dataclass_fields__
    joined = FlowCrossings(*(np.concatenate([getattr(part, name) for part in found]) for name in names))
    return joined.of(np.lexsort((joined.at_m, joined.row)))


def _on_paths(streams: Streams, trails: Trails) -> _Hits:
    """Find the points of trails on flow paths: where a path crosses the line, and where the line lies in its cells."""
    parts = [_meetings(streams, trails), _in_cells(trails, streams.runs, streams.catchment_m2)]
    hits = _Hits(*(np.concatenate([getattr(part, name) for part in parts]) for name in _Hits.__dataclass_fields__))
    hits = hits.of(np.lexsort((hits.at_m, hits.row)))
    dry = ~streams.hollows.flooded[hits.cell] & ~_by_bridge(hits, trails.spans, APART_CELLS * streams.land.cell_m)
    return _without_touches(hits.of(dry), streams.land.cell_m)


def _meetings(streams: Streams, trails: Trails) -> _Hits:
    """Find where flow paths, from the middle of a cell to that of the next, cross the lines of trails."""
    cells = _near(streams, trails.points)
    ends = [np.column_stack(streams.land.middles(place)) for place in (cells, streams.down[cells])]
    paths = shapely.linestrings(np.stack(ends, axis=1))
    rows = np.flatnonzero(~trails.deck)
    line, path = shapely.STRtree(paths).query(trails.lines[rows], predicate="intersects")
    row = rows[line]
    xy, nth = shapely.get_coordinates(shapely.intersection(trails.lines[row], paths[path]), return_index=True)
    row, cell = row[nth], cells[path[nth]]
    at_m = shapely.line_locate_point(trails.lines[row], shapely.points(xy))
    across = np.ones(row.size, dtype=np.bool_)
    return _Hits(row, at_m, xy[:, 0], xy[:, 1], cell, across, streams.catchment_m2[cell])


def _near(streams: Streams, points: TrailPoints) -> Int64:
    """List the cells of flow paths that go on and lie at, or beside, a trail."""
    rows, columns = streams.land.heights.shape
    near = np.zeros((rows + 2, columns + 2), dtype=np.bool_)
    row, column = np.divmod(points.cell[points.cell >= 0], columns)
    for down in range(3):
        for right in range(3):
            near[row + down, column + right] = True
    goes_on = streams.down != np.arange(streams.down.size)
    return np.flatnonzero(near[1:-1, 1:-1].ravel() & streams.runs & goes_on)


def _in_cells(trails: Trails, wanted: Flags, weight: Float64) -> _Hits:
    """Take the points of trails that lie in some of the cells."""
    points = trails.points
    take = (points.cell >= 0) & ~trails.deck[points.row]
    take[take] = wanted[points.cell[take]]
    cell = points.cell[take]
    across = np.zeros(cell.size, dtype=np.bool_)
    return _Hits(points.row[take], points.at_m[take], points.x[take], points.y[take], cell, across, weight[cell])


def _by_bridge(hits: _Hits, spans: Float64, reach_m: float) -> Flags:
    """Tell which places are no farther than *reach_m* from the end of a bridge."""
    by = np.zeros(hits.row.size, dtype=np.bool_)
    if spans.size:
        tree = shapely.STRtree(shapely.points(spans))
        by[tree.query(shapely.points(hits.x, hits.y), predicate="dwithin", distance=reach_m)[0]] = True
    return by


def _numbered(hits: _Hits, group: Int64, cell_m: float) -> Int64:
    """Give the stretch that each of the sorted places is in; one ends at a gap, and where segment or *group* change."""
    if not hits.row.size:
        return np.zeros(0, dtype=np.int64)
    new = (np.diff(hits.row) != 0) | (np.diff(hits.at_m) > APART_CELLS * cell_m) | (np.diff(group) != 0)
    return np.concatenate(([0], np.cumsum(new)))


def _without_touches(hits: _Hits, cell_m: float) -> _Hits:
    """Leave out the stretches that a flow path does not cross, and that are too short to say it runs along them."""
    stretch = _numbered(hits, np.zeros_like(hits.row), cell_m)
    count = int(stretch.max(initial=-1)) + 1
    crossed = np.bincount(stretch, weights=hits.across, minlength=count) > 0
    begin, end = np.full(count, np.inf), np.full(count, -np.inf)
    np.minimum.at(begin, stretch, hits.at_m)
    np.maximum.at(end, stretch, hits.at_m)
    return hits.of((crossed | (end - begin >= ALONG_CELLS * cell_m))[stretch])


def _stretches(hits: _Hits, group: Int64, cell_m: float) -> tuple[_Hits, Float64, Float64]:
    """Join places to stretches: the place that stands for each, chainages of its beginning and end."""
    stretch = _numbered(hits, group, cell_m)
    order = np.lexsort((hits.at_m, -hits.weight, ~hits.across, stretch))
    first = np.flatnonzero(np.diff(stretch[order], prepend=-1))
    begin = np.minimum.reduceat(hits.at_m[order], first) if first.size else np.zeros(0)
    end = np.maximum.reduceat(hits.at_m[order], first) if first.size else np.zeros(0)
    return hits.of(order[first]), begin, end


def _crossing(streams: Streams, place: _Hits, begin: Float64, end: Float64) -> FlowCrossings:
    """Lay out where flow paths cross."""
    none = np.zeros(place.row.size)
    return FlowCrossings(
        row=place.row,
        at_m=place.at_m,
        from_m=begin,
        to_m=end,
        x=place.x,
        y=place.y,
        hollow=none > 0.0,
        catchment_m2=streams.catchment_m2[place.cell],
        least=streams.least[place.cell],
        hollow_m=none,
        dammed_m=_dammed(streams, place),
    )


def _hollow(streams: Streams, place: _Hits, begin: Float64, end: Float64) -> FlowCrossings:
    """Lay out where hollows are."""
    hollow = streams.hollows.of_cell[place.cell]
    return FlowCrossings(
        row=place.row,
        at_m=place.at_m,
        from_m=begin,
        to_m=end,
        x=place.x,
        y=place.y,
        hollow=np.ones(place.row.size, dtype=np.bool_),
        catchment_m2=streams.hollows.catchment_m2[hollow],
        least=streams.least[streams.hollows.exit[hollow]],
        hollow_m=place.weight,
        dammed_m=np.zeros(place.row.size),
    )


def _dammed(streams: Streams, place: _Hits) -> Float64:
    """Find how deep the model lets water stand behind each crossing: the hollow that pours out over the trail there."""
    dammed = np.zeros(place.row.size)
    pours = shapely.points(*streams.land.middles(streams.hollows.exit))
    if place.row.size and pours.size:
        tree, reach_m = shapely.STRtree(pours), DAM_CELLS * streams.land.cell_m
        at, hollow = tree.query(shapely.points(place.x, place.y), predicate="dwithin", distance=reach_m)
        much = streams.hollows.catchment_m2[hollow] >= DAM_SHARE * streams.catchment_m2[place.cell[at]]
        np.maximum.at(dammed, at[much], streams.hollows.deepest_m[hollow[much]])
    return dammed
