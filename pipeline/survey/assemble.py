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
        column.name: [one.row[column.name] for one in attached]
        for column in OBSTACLES.columns
        if column.name not in given
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
    """Make the table of repairs; one without a place stands where its feature is, or for the whole network."""
    carriers = _Carriers(joined)
    whole = shapely.box(*shapely.total_bounds(joined.parts.shapes))
    shapes = np.empty(len(repairs), dtype=object)
    rows: list[int | None] = []
    for number, repair in enumerate(repairs):
        row = carriers.row(repair)
        there = whole if row is None else joined.parts.shapes[row]
        shapes[number] = shapely.force_2d(there if repair.geometry is None else repair.geometry)
        rows.append(row)
    data: dict[str, Sequence[object]] = {
        "repair": [one.repair for one in repairs],
        "source": [one.source for one in repairs],
        "feature": [one.feature for one in repairs],
        "segment_id": [None if row is None else ids[row] for row in rows],
        "amount_m": [one.amount_m for one in repairs],
        "detail": [one.detail for one in repairs],
    }
    return frame(REPAIRS, data, shapes, crs)


class _Carriers:
    """Finds the segment that carries a repair.

    Parameters
    ----------
    joined
        The joined network.
    """

    def __init__(self, joined: Joined) -> None:
        self._shapes = joined.parts.shapes
        self._of_line: dict[int, list[int]] = {}
        self._of_feature: dict[tuple[str, str], list[int]] = {}
        for row, number in enumerate(joined.parts.line.tolist()):
            line = joined.lines[number]
            self._of_line.setdefault(number, []).append(row)
            self._of_feature.setdefault((line.source, line.feature), []).append(row)

    def row(self, repair: Repair) -> int | None:
        """Give the row of the segment: of the parts of the repaired line, else of its feature, the nearest."""
        if repair.line is not None:
            rows = self._of_line.get(repair.line, [])
        elif repair.repair == "dropped":
            rows = []
        else:
            rows = self._of_feature.get((repair.source, repair.feature), [])
        if len(rows) < 2 or repair.geometry is None:
            return rows[0] if rows else None
        return rows[int(shapely.distance(self._shapes[rows], repair.geometry).argmin())]
