"""The survey of the ground: trails and obstacles as features, with the small faults a real survey has."""

import csv
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
import shapely.ops

from maker.grid import CRS, EAST_M, NORTH_M
from maker.terraces import Bed
from maker.trails import Trail

__all__ = ["obstacles_layer", "trails_layer"]

TOLERANCE_M = 0.04
"""How far a surveyed line strays from the drawn one."""
PULLED_BACK_M = 0.8
"""Gap left at the end of one trail."""
NUMBERS = (
    "height_m", "length_m", "width_m", "clear_width_m", "clear_height_m", "depth_m", "flow_m_s",
)  # fmt: skip


def _placed(geometry: shapely.Geometry) -> shapely.Geometry:
    """Move a drawing to its place on the map, rounded to the centimetre."""
    return shapely.transform(geometry, lambda xy: np.round(np.add(xy, (EAST_M, NORTH_M)), 2))


def trails_layer(trails: list[Trail], beds: list[Bed], blemishes: dict[str, str]) -> gpd.GeoDataFrame:
    """Survey the trails.

    Parameters
    ----------
    trails
        As drawn.
    beds
        Their beds, for the lines surveyed with heights.
    blemishes
        Trail id of each deliberate fault: ``gap`` (its end stops short of the junction), ``twice`` (surveyed a
        second time, in the other direction), ``parts`` (recorded in two parts).
    """
    rows = [_surveyed(trail, beds) for trail in trails]
    by_id = {row["id"]: row for row in rows}
    short = by_id[blemishes["gap"]]
    short["geometry"] = shapely.ops.substring(short["geometry"], 0.0, short["geometry"].length - PULLED_BACK_M)
    parts = by_id[blemishes["parts"]]
    half = parts["geometry"].length / 2.0
    parts["geometry"] = shapely.MultiLineString(
        [shapely.ops.substring(parts["geometry"], a, b) for a, b in ((0.0, half), (half, 2.0 * half))]
    )
    twice = by_id[blemishes["twice"]]
    rows.append({**twice, "id": f"{twice['id']}-again", "geometry": shapely.reverse(twice["geometry"])})
    for row in rows:
        row["geometry"] = _flat_or_placed(row["geometry"])
    frame = gpd.GeoDataFrame(pd.DataFrame(rows), geometry="geometry", crs=CRS)
    return frame.astype({"oneway": "Int64", "ford": "boolean", "bridge": "boolean"})


def _flat_or_placed(geometry: shapely.Geometry) -> shapely.Geometry:
    """Place a line with or without heights."""
    if not geometry.has_z:
        return _placed(geometry)
    moved = np.add(shapely.get_coordinates(geometry, include_z=True), (EAST_M, NORTH_M, 0.0))
    return shapely.LineString(np.round(moved, 2))


def _surveyed(trail: Trail, beds: list[Bed]) -> dict[str, Any]:
    """Give one feature, still in metres from the south-west corner."""
    row: dict[str, Any] = {"id": trail.id}
    for key in ("name", "surface", "width_m", "status", "oneway", "ford", "bridge", "profile", "max_height"):
        row[key.replace("max_height", "maxheight")] = trail.attributes.get(key)
    row["status"] = row["status"] or "open"
    row["surveyed_on"] = trail.attributes.get("surveyed_on")
    if row["profile"] == "survey":
        row["geometry"] = _with_heights(trail, beds)
    else:
        row["geometry"] = trail.line.simplify(TOLERANCE_M)
    return row


def _with_heights(trail: Trail, beds: list[Bed]) -> shapely.LineString:
    """Level a line: heights of its beds every half metre; a bridge runs straight from end to end."""
    own = [bed for bed in beds if bed.edge.trail.id == trail.id]
    at = np.concatenate([bed.at + bed.edge.start_m for bed in own])
    z = np.concatenate([bed.z for bed in own])
    if trail.attributes.get("bridge"):
        z = np.interp(at, [at[0], at[-1]], [z[0], z[-1]])
    xy = np.concatenate([np.stack([bed.x, bed.y], axis=1) for bed in own])
    return shapely.LineString(np.column_stack([xy, z]))


def obstacles_layer(trails: list[Trail], folder: Path) -> gpd.GeoDataFrame:
    """Place the obstacles of ``obstacles.csv`` along their trails, + to the right."""
    lines = {trail.id: trail.line for trail in trails}
    rows: list[dict[str, Any]] = []
    with (folder / "obstacles.csv").open(encoding="utf-8", newline="") as file:
        for entry in csv.DictReader(file):
            row: dict[str, Any] = {key: entry[key] or None for key in ("id", "kind", "name")}
            row |= {key: float(entry[key]) if entry[key] else np.nan for key in NUMBERS}
            row |= {key: entry[key] or None for key in ("surveyed_on", "note")}
            row["geometry"] = _beside(lines[entry["trail"]], float(entry["at_m"]), float(entry["offset_m"]))
            rows.append(row)
    return gpd.GeoDataFrame(pd.DataFrame(rows), geometry="geometry", crs=CRS)


def _beside(line: shapely.LineString, at_m: float, offset_m: float) -> shapely.Point:
    """Give the place *offset_m* to the right of *line* at a chainage."""
    here = line.interpolate(at_m)
    before, after = line.interpolate(max(at_m - 0.5, 0.0)), line.interpolate(min(at_m + 0.5, line.length))
    dx, dy = after.x - before.x, after.y - before.y
    length = float(np.hypot(dx, dy))
    return _placed(shapely.Point(here.x + offset_m * dy / length, here.y - offset_m * dx / length))
