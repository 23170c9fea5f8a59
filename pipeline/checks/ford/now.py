"""The water of the day in the table of crossings: depth and speed now, and the slopes into it and out of it."""

from collections.abc import Hashable, Mapping
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd

from pipeline.checks.crossing_words import Shown
from pipeline.checks.ford.bed import banks
from pipeline.checks.ford.places import EXPECTED, Waters, all_expected, waters_of
from pipeline.checks.scene import Scene
from pipeline.tables import CROSSINGS, validate

__all__ = ["with_water_now"]

SAME_M = 0.05
"""Rows of the table stand at the chainage of their place, give or take what tells equal ones apart."""


def with_water_now(table: gpd.GeoDataFrame, scene: Scene) -> gpd.GeoDataFrame:
    """Fill in what the weather and the shape of the ground say of every crossing.

    Parameters
    ----------
    table
        Contract CROSSINGS, without depth and speed now and without slopes.
    scene
        The site under the weather of the day, beds of surveyed water in its profiles.

    Returns
    -------
    GeoDataFrame
        The same rows, filled in: surveyed water by its id, tagged fords by their segment, the rest as what may be
        expected there. Slopes are those with the digitised direction; a tagged ford that nobody places has none.
    """
    if table.empty:
        return table
    waters = Waters.joined(waters_of(scene), all_expected(scene))
    rows = pd.Index(scene.site.network.segments["segment_id"]).get_indexer(pd.Index(table["segment_id"]))
    which = np.array(
        [_water_of(int(row), one, waters, scene) for row, one in zip(rows, table.to_dict("records"), strict=True)]
    )
    at = table["at_m"].to_numpy(np.float64)
    begin, end = (np.where(which < 0, np.nan, column[which]) for column in (waters.from_m, waters.to_m))
    reaches = zip(rows, np.fmin(begin, at), np.fmax(end, at), strict=True)
    slopes = np.array([banks(scene.site.terrain.profiles, int(row), (low, high)) for row, low, high in reaches])
    nowhere = (table["kind"] == Shown.SURVEYED_ONLY.value) & table["obstacle_id"].isna()
    slopes[nowhere.to_numpy()] = np.nan
    filled = table.assign(
        depth_now_m=np.where(which < 0, np.nan, waters.depth_now_m[which]),
        flow_now_m_s=np.where(which < 0, np.nan, waters.flow_now_m_s[which]),
        entry_deg=slopes[:, 0],
        exit_deg=slopes[:, 1],
    )
    return validate(filled, CROSSINGS)


def _water_of(row: int, one: Mapping[Hashable, Any], waters: Waters, scene: Scene) -> int:
    """Find the water of a row of the table, by its id, its tag, or its place; −1 where it has none that is known."""
    here = waters.row == row
    nameless = np.array([name is None for name in waters.id], dtype=np.bool_)
    if isinstance(one["obstacle_id"], str):
        found = waters.id == one["obstacle_id"]
        found = found & here if (found & here).any() else found
    elif scene.tags.ford[row] and one["kind"] != EXPECTED[1]:
        found = here & nameless & np.isnan(waters.at_m) & (not np.isnan(float(one["depth_m"])))
    else:
        found = here & nameless & (np.abs(waters.at_m - float(one["at_m"])) <= SAME_M)
    return int(np.flatnonzero(found)[0]) if found.any() else -1
