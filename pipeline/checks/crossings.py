"""Places where water crosses the trails: what the elevation model shows, matched with what was surveyed and tagged."""

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from pipeline.checks.crossing_words import Place, Surveyed, Wet, reason_of
from pipeline.checks.obstacles import Things, things_of
from pipeline.survey.model import Network
from pipeline.tables import CROSSINGS, empty, validate
from pipeline.terms import ObstacleKind
from pipeline.terrain.drainage_model import Drainage, FlowCrossings
from pipeline.terrain.model import Terrain

__all__ = ["crossings_table"]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]
Flags = NDArray[np.bool_]

MATCH_M = 15.0
"""Surveyed water and water of the elevation model that are no farther apart along the trail are one: a hand-held
receiver under trees and some cells of the model. Assumption, no source."""
_GRAIN_M = 0.001
"""Two rows of a segment at the same chainage are told apart by a millimetre."""


@dataclass(frozen=True, slots=True)
class _Rows:
    """Rows of the table before they are sentences; arrays (rows,)."""

    row: Int64
    at_m: Float64
    place: Int64
    """Which of the places of the drainage; −1 for none."""
    water: Int64
    """Which of the surveyed waters; −1 for none."""


def crossings_table(network: Network, terrain: Terrain) -> gpd.GeoDataFrame:
    """Tell where water crosses the trails, or gathers on them.

    Parameters
    ----------
    network
        The survey: surveyed water, tagged fords.
    terrain
        The terrain, with what the elevation model shows of water.

    Returns
    -------
    GeoDataFrame
        Contract CROSSINGS, by segment, then chainage. What depends on the weather, and the slopes into and out of
        the water, are missing.
    """
    places = _places(terrain.drainage)
    waters = things_of(network).of(ObstacleKind.WATER)
    rows = _laid_out(places, waters, network)
    if not rows.row.size:
        return empty(CROSSINGS, crs=network.crs)
    wets = _wets(rows, (places, waters), network, terrain.drainage)
    data = {
        "segment_id": network.segments["segment_id"].to_numpy(object)[rows.row],
        "at_m": _told_apart(rows),
        "kind": [wet.kind.value for wet in wets],
        "catchment_m2": [np.nan if wet.place is None else wet.place.catchment_m2 for wet in wets],
        "hollow_m": [wet.place.hollow_m if wet.place is not None and wet.place.hollow else np.nan for wet in wets],
        "obstacle_id": [None if wet.water is None else wet.water.id for wet in wets],
        "apart_m": [np.nan if wet.water is None or wet.place is None else wet.water.apart_m for wet in wets],
        "depth_m": [wet.depth_m for wet in wets],
        **dict.fromkeys(("depth_now_m", "flow_now_m_s", "entry_deg", "exit_deg"), np.full(len(wets), np.nan)),
        "reason": [reason_of(wet) for wet in wets],
    }
    kinds = {column.name: column.kind.dtype for column in CROSSINGS.columns}
    frame = pd.DataFrame({name: pd.Series(data[name], dtype=kinds[name]) for name in CROSSINGS.names})
    lines = network.segments.geometry.to_numpy()[rows.row]
    at = shapely.line_interpolate_point(lines, rows.at_m)
    table: gpd.GeoDataFrame = validate(gpd.GeoDataFrame(frame, geometry=at, crs=network.crs), CROSSINGS)
    return table


def _places(drainage: Drainage | None) -> FlowCrossings:
    """Give the places of the drainage; none without one."""
    if drainage is not None:
        return drainage.crossings
    none = np.zeros(0)
    rows, flags = none.astype(np.int64), none.astype(np.bool_)
    return FlowCrossings(rows, none, none, none, none, none, flags, none, flags, none, none)


def _laid_out(places: FlowCrossings, waters: Things, network: Network) -> _Rows:
    """Lay out the rows: every place, with its water where it has one; the other waters; fords without either."""
    water_of = _matched(places, waters)
    alone = np.setdiff1d(np.arange(waters.row.size), water_of)
    fords = np.flatnonzero(network.segments["ford"].to_numpy(np.bool_))
    bare = np.setdiff1d(fords, np.concatenate((places.row[~places.hollow], waters.row)))
    none = np.full(places.row.size + alone.size + bare.size, -1, dtype=np.int64)
    place, water = none.copy(), none.copy()
    place[: places.row.size] = np.arange(places.row.size)
    water[: places.row.size] = water_of
    water[places.row.size : places.row.size + alone.size] = alone
    middle = network.segments["length_m"].to_numpy(np.float64)[bare] / 2.0
    row = np.concatenate((places.row, waters.row[alone], bare))
    at_m = np.concatenate((places.at_m, waters.at_m[alone], middle))
    order = np.lexsort((at_m, row))
    return _Rows(row[order], at_m[order], place[order], water[order])


def _matched(places: FlowCrossings, waters: Things) -> Int64:
    """Give each place the surveyed water that it is; −1 for none. The nearest pair is matched first, each once."""
    place, water = np.nonzero(places.row[:, None] == waters.row[None, :])
    half = np.nan_to_num(waters.length_m[water], nan=0.0) / 2.0
    before, behind = places.from_m[place] - waters.at_m[water], waters.at_m[water] - places.to_m[place]
    between = np.maximum(np.maximum(before, behind) - half, 0.0)
    apart = np.abs(places.at_m[place] - waters.at_m[water])
    of_place, taken = np.full(places.row.size, -1, dtype=np.int64), np.zeros(waters.row.size, dtype=np.bool_)
    for k in np.lexsort((apart, between)):  # as many as waters on segments with water
        if between[k] <= MATCH_M and of_place[place[k]] < 0 and not taken[water[k]]:
            of_place[place[k]], taken[water[k]] = water[k], True
    return of_place


def _told_apart(rows: _Rows) -> Float64:
    """Give the chainages, those of the same segment a millimetre apart where they are equal."""
    same = pd.DataFrame({"row": rows.row, "at_m": rows.at_m}).groupby(["row", "at_m"]).cumcount().to_numpy()
    return np.asarray(rows.at_m + same * _GRAIN_M)


def _wets(rows: _Rows, found: tuple[FlowCrossings, Things], network: Network, drainage: Drainage | None) -> list[Wet]:
    """Gather what is known of every row; *found* are the places and the waters."""
    places, waters = found
    segments = network.segments
    tagged = _tagged(rows, places, segments["ford"].to_numpy(np.bool_))
    walked = segments["surveyed_on"].notna().to_numpy() & network.obstacles_surveyed
    modelled = np.zeros(len(segments), dtype=np.bool_) if drainage is None else ~np.isnan(drainage.twi)
    depths = segments["depth_m"].to_numpy(np.float64)
    each = zip(rows.row.tolist(), rows.place.tolist(), rows.water.tolist(), tagged.tolist(), strict=True)
    return [
        Wet(
            place=_one(places, place),
            water=_surveyed(waters, water, rows.at_m[k]),
            tagged=tag,
            tag_depth_m=float(depths[row]),
            walked=bool(walked[row]),
            modelled=bool(modelled[row]),
        )
        for k, (row, place, water, tag) in enumerate(each)
    ]


def _one(places: FlowCrossings, k: int) -> Place | None:
    """Take one of the places."""
    if k < 0:
        return None
    return Place(**{name: getattr(places, name)[k].item() for name in Place._fields})


def _surveyed(waters: Things, k: int, at_m: float) -> Surveyed | None:
    """Take one of the waters, *at_m* being the chainage of its row."""
    if k < 0:
        return None
    apart_m = float(abs(waters.at_m[k] - at_m))
    return Surveyed(str(waters.id[k]), str(waters.label[k]), apart_m, float(waters.depth_m[k]))


def _tagged(rows: _Rows, places: FlowCrossings, ford: Flags) -> Flags:
    """Tell which rows the tag of a ford means: surveyed water; else the largest flow path; else the segment itself."""
    on_ford = ford[rows.row]
    tagged = on_ford & ((rows.water >= 0) | (rows.place < 0))
    paths = np.flatnonzero(on_ford & (rows.place >= 0) & (rows.water < 0))
    paths = paths[~places.hollow[rows.place[paths]] & ~np.isin(rows.row[paths], rows.row[tagged])]
    paths = paths[np.argsort(-places.catchment_m2[rows.place[paths]], kind="stable")]
    _, first = np.unique(rows.row[paths], return_index=True)
    tagged[paths[first]] = True
    return tagged
