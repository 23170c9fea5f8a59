"""Makes the tables of the survey from the joined network."""

from collections.abc import Mapping, Sequence

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from pyproj import CRS

from pipeline.survey.attach import Attached
from pipeline.survey.findings import Repair
from pipeline.survey.joining import Joined
from pipeline.survey.layer import Shapes
from pipeline.survey.places import TURNING_KINDS, Thing, near_places
from pipeline.tables import NETWORK, NODES, OBSTACLES, REPAIRS, Kind, Table, validate

__all__ = ["NodeNumbers", "network_table", "nodes_table", "obstacles_table", "repairs_table"]

Ints = NDArray[np.int64]


def frame(table: Table, data: Mapping[str, Sequence[object]], shapes: Shapes, crs: CRS) -> gpd.GeoDataFrame:
    """Make a frame that fits *table* from plain columns; ``None`` stands for a missing value."""
    columns = {column.name: _column(data[column.name], column.kind) for column in table.columns}
    return validate(gpd.GeoDataFrame(columns, geometry=gpd.GeoSeries(shapes, crs=crs)), table)


def _column(values: Sequence[object], kind: Kind) -> pd.Series:
    """Make one column of a kind."""
    if kind is Kind.FLOAT:
        return pd.Series([np.nan if value is None else value for value in values], dtype="float64")
    return pd.Series(list(values), dtype=kind.dtype)


class NodeNumbers:
    """Numbers the nodes in use by x, then y.

    Parameters
    ----------
    joined
        The joined network.
    """

    def __init__(self, joined: Joined) -> None:
        used = np.unique(joined.parts.nodes)
        xy = joined.parts.xy[used]
        self.order: Ints = used[np.lexsort((xy[:, 1], xy[:, 0]))]
        """Old numbers in the order of the new ones."""
        self.xy: NDArray[np.float64] = joined.parts.xy[self.order]
        """Where each node stands, m."""
        self._new = np.full(len(joined.parts.xy), -1, dtype=np.int64)
        self._new[self.order] = np.arange(len(used))

    def of(self, old: Ints) -> Ints:
        """Give the new numbers of nodes; −1 for one that is in no use."""
        return np.asarray(self._new[old])


def network_table(joined: Joined, ids: Sequence[str], numbers: NodeNumbers, crs: CRS) -> gpd.GeoDataFrame:
    """Make the table of segments."""
    rows = [joined.lines[line] for line in joined.parts.line.tolist()]
    ends = numbers.of(joined.parts.nodes)
    data: dict[str, Sequence[object]] = {key: [line.row[key] for line in rows] for key in rows[0].row if key != "layer"}
    data |= {
        "segment_id": ids,
        "source": [line.source for line in rows],
        "node_a": ends[:, 0].tolist(),
        "node_b": ends[:, 1].tolist(),
        "length_m": shapely.length(joined.parts.shapes).tolist(),
    }
    return frame(NETWORK, data, joined.parts.shapes, crs)


def nodes_table(
    joined: Joined, numbers: NodeNumbers, things: Sequence[Thing], turning: Sequence[int], snap_m: float, crs: CRS
) -> gpd.GeoDataFrame:
    """Make the table of nodes.

    Parameters
    ----------
    joined
        The joined network.
    numbers
        The numbers of its nodes.
    things
        Obstacles and places; a place within *snap_m* of a node gives it its name.
    turning
        Nodes (new numbers) of the places where a vehicle can turn round.
    snap_m
        Snap distance, m.
    crs
        Working CRS.
    """
    count = len(numbers.xy)
    names: list[str | None] = [None] * count
    turns = np.zeros(count, dtype=bool)
    turns[list(turning)] = True
    for node, thing in near_places(things, numbers.xy, snap_m):
        names[node] = names[node] or thing.name
        turns[node] |= thing.kind in TURNING_KINDS
    data: dict[str, Sequence[object]] = {
        "node_id": range(count),
        "degree": np.bincount(numbers.of(joined.parts.nodes).reshape(-1), minlength=count).tolist(),
        "turn_round": turns.tolist(),
        "name": names,
    }
    return frame(NODES, data, shapely.points(numbers.xy), crs)


def obstacles_table(attached: Sequence[Attached], ids: Sequence[str], crs: CRS) -> gpd.GeoDataFrame:
    """Make the table of obstacles."""
    given = {"obstacle_id", "segment_id", "source"}
    data: dict[str, Sequence[object]] = {
        column.name: [one.row[column.name] for one in attached] for column in OBSTACLES.columns if column.name not in given
    }
    data |= {
        "obstacle_id": [one.obstacle_id for one in attached],
        "segment_id": [None if one.segment is None else ids[one.segment] for one in attached],
        "source": [one.thing.source for one in attached],
    }
    points = np.empty(len(attached), dtype=object)
    points[:] = [one.thing.point for one in attached]
    return frame(OBSTACLES, data, points, crs)


def repairs_table(repairs: Sequence[Repair], joined: Joined, ids: Sequence[str], crs: CRS) -> gpd.GeoDataFrame:
    """Make the table of repairs; one without a place of its own stands for the whole network."""
    whole = shapely.box(*shapely.total_bounds(joined.parts.shapes))
    shapes = np.empty(len(repairs), dtype=object)
    shapes[:] = [shapely.force_2d(whole if one.geometry is None else one.geometry) for one in repairs]
    first = dict(zip(joined.parts.line[::-1].tolist(), range(len(ids) - 1, -1, -1), strict=True))
    count = np.bincount(joined.parts.line, minlength=len(joined.lines))
    data: dict[str, Sequence[object]] = {
        "repair": [one.repair for one in repairs],
        "source": [one.source for one in repairs],
        "feature": [one.feature for one in repairs],
        "segment_id": [
            _carrier(one, shape, joined, first, count, ids) for one, shape in zip(repairs, shapes, strict=True)
        ],
        "amount_m": [one.amount_m for one in repairs],
        "detail": [one.detail for one in repairs],
    }
    return frame(REPAIRS, data, shapes, crs)


def _carrier(
    repair: Repair, shape: shapely.Geometry, joined: Joined, first: Mapping[int, int], count: Ints, ids: Sequence[str]
) -> str | None:
    """Find the segment that carries a repair: of the parts of its line the nearest."""
    if repair.line is None or repair.line not in first:
        return None
    start, number = first[repair.line], int(count[repair.line])
    if number == 1:
        return ids[start]
    return ids[start + int(shapely.distance(joined.parts.shapes[start : start + number], shape).argmin())]
