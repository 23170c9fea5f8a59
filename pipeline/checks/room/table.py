"""The line past every tight place as a table, with its gaps and the driver's words."""

from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from pipeline.checks.prepared import Prepared
from pipeline.checks.room.found import TightPlaces
from pipeline.checks.room.names import Names
from pipeline.checks.room.words import advice_of
from pipeline.kernels.plan_records import LEFT, RIGHT
from pipeline.tables import LINES, empty, validate
from pipeline.terms import Direction, Part
from pipeline.vehicle.envelope_model import Envelope

__all__ = ["lines_table"]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]
Texts = NDArray[np.object_]

_WAYS = np.array([way.value for way in Direction], dtype=object)
_PARTS = np.array([part.word for part in Part] + [None], dtype=object)
"""Words by number; the last one, −1, is none."""


def lines_table(prepared: Prepared) -> gpd.GeoDataFrame:
    """Tell every set-up its line past every tight place.

    Parameters
    ----------
    prepared
        Site and set-ups.

    Returns
    -------
    GeoDataFrame
        Contract LINES; rows by set-up (in the order given), segment, direction, place.
    """
    network, names = prepared.scene.site.network, Names(prepared.scene, prepared.limits)
    each = zip(prepared.rooms, prepared.envelopes, strict=True)
    parts = [_rows(room.places, names, envelope) for room, envelope in each if room.places.row.size]
    if not parts:
        return empty(LINES, crs=network.crs)
    table = gpd.GeoDataFrame(pd.concat(parts, ignore_index=True), geometry="geometry", crs=network.crs)
    return validate(table, LINES)


def _rows(places: TightPlaces, names: Names, envelope: Envelope) -> pd.DataFrame:
    """Lay out the tight places of one set-up."""
    scene = names.scene
    ids = scene.site.network.segments["segment_id"].to_numpy(object)
    plain = ("from_m", "to_m", "at_m", "offset_m", "offtracking_m", "tail_swing_m", "lock_share", "missing_m")
    data: dict[str, Any] = {
        "segment_id": ids[places.row],
        "setup": np.full(places.row.size, envelope.setup, dtype=object),
        "direction": _WAYS[places.direction],
        "place": _numbers(places),
        **{name: getattr(places, name) for name in plain},
        **_side("left", LEFT, places, scene.things.id),
        **_side("right", RIGHT, places, scene.things.id),
        "swept_width_m": places.swept_m,
        "shunt": pd.array([None if one < 0 else one == 1 for one in places.shunt.tolist()], dtype="boolean"),
        "advice": np.array(advice_of(places, names, envelope), dtype=object),
    }
    kinds = {column.name: column.kind.dtype for column in LINES.columns} | {"shunt": "boolean"}
    frame = pd.DataFrame({name: pd.Series(data[name], dtype=kinds[name]) for name in LINES.names})
    return frame.assign(geometry=_ways(places))


def _numbers(places: TightPlaces) -> Int64:
    """Count the places of each segment and direction from 1."""
    track = 2 * places.row + places.direction
    _, first, counts = np.unique(track, return_index=True, return_counts=True)
    numbers: Int64 = np.arange(track.size) - np.repeat(first, counts) + 1
    return numbers


def _side(name: str, side: int, places: TightPlaces, ids: Texts) -> dict[str, Any]:
    """Give the columns of one side."""
    thing = places.thing[:, side]
    named = np.full(thing.size, None, dtype=object)
    named[thing >= 0] = ids[thing[thing >= 0]]
    return {
        f"{name}_m": places.gap_m[:, side],
        f"{name}_part": _PARTS[places.part[:, side]],
        f"{name}_x_m": places.body_x_m[:, side],
        f"{name}_at_m": places.gap_at_m[:, side],
        f"{name}_thing": named,
    }


def _ways(places: TightPlaces) -> Texts:
    """Draw the ways of the middle of the front axle."""
    line = np.repeat(np.arange(places.row.size), np.diff(places.points))
    drawn: Texts = shapely.linestrings(np.column_stack([places.x, places.y]), indices=line)
    return drawn
