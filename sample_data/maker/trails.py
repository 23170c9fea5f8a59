"""The trails as drawn: waypoints to smooth lines, lines to edges between junctions."""

import csv
import tomllib
from collections import defaultdict
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import shapely
import shapely.ops

from maker.grid import Floats

__all__ = ["Edge", "Trail", "cut_edges", "read_trails"]

STEP_M = 1.0
"""Spacing of the vertices of a drawn line."""


@dataclass(frozen=True, slots=True)
class Trail:
    """One trail as drawn and as it will be surveyed."""

    id: str
    attributes: dict[str, Any]
    """What the survey says of it: name, surface, width_m, status, oneway and so on."""
    shape: dict[str, Any]
    """How it is built, as ``trails.toml`` explains: ``crests``, ``off_camber``, ``bed_m``, ``even``."""
    line: shapely.LineString


@dataclass(frozen=True, slots=True)
class Edge:
    """A piece of a trail between two junctions or ends."""

    trail: Trail
    start_m: float
    """Chainage of its start along the trail."""
    points: Floats
    """Vertices, shape (n, 2)."""


def read_trails(folder: Path) -> list[Trail]:
    """Read ``trails.toml`` and ``waypoints.csv`` and draw the lines."""
    waypoints: dict[str, list[tuple[float, float]]] = defaultdict(list)
    with (folder / "waypoints.csv").open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            waypoints[row["trail"]].append((float(row["x_m"]), float(row["y_m"])))
    with (folder / "trails.toml").open("rb") as file:
        table = tomllib.load(file)["trail"]
    return [_trail(entry, waypoints[entry["id"]]) for entry in table]


def _trail(entry: dict[str, Any], waypoints: list[tuple[float, float]]) -> Trail:
    """Draw one trail."""
    shape_keys = ("crests", "off_camber", "bed_m", "even")
    return Trail(
        id=entry["id"],
        attributes={key: value for key, value in entry.items() if key not in {"id", *shape_keys}},
        shape={key: entry[key] for key in shape_keys if key in entry},
        line=shapely.LineString(_spline(np.array(waypoints))),
    )


def _spline(waypoints: Floats) -> Floats:
    """Lay a centripetal Catmull–Rom spline through *waypoints*, a vertex about every metre, waypoints kept."""
    if len(waypoints) == 2:
        steps = max(int(np.hypot(*(waypoints[1] - waypoints[0])) // STEP_M), 1)
        share = np.linspace(0.0, 1.0, steps + 1)[:, None]
        return np.asarray(np.round(waypoints[0] + share * (waypoints[1] - waypoints[0]), 3), dtype=np.float64)
    padded = np.vstack([2.0 * waypoints[0] - waypoints[1], waypoints, 2.0 * waypoints[-1] - waypoints[-2]])
    knots = np.concatenate([[0.0], np.cumsum(np.sqrt(np.hypot(*np.diff(padded, axis=0).T)))])
    pieces = []
    for i in range(1, len(padded) - 2):
        steps = max(round(float(np.hypot(*(padded[i + 1] - padded[i]))) / STEP_M), 1)
        t = (knots[i] + (knots[i + 1] - knots[i]) * np.arange(steps) / steps)[:, None]
        pieces.append(_catmull_rom(padded[i - 1 : i + 3], knots[i - 1 : i + 3], t))
    return np.asarray(np.round(np.vstack([*pieces, waypoints[-1:]]), 3), dtype=np.float64)


def _catmull_rom(p: Floats, k: Floats, t: Floats) -> Floats:
    """Evaluate one span by the pyramid of Barry and Goldman (1988)."""
    a = [((k[i + 1] - t) * p[i] + (t - k[i]) * p[i + 1]) / (k[i + 1] - k[i]) for i in range(3)]
    b = [((k[i + 2] - t) * a[i] + (t - k[i]) * a[i + 1]) / (k[i + 2] - k[i]) for i in range(2)]
    return np.asarray(((k[2] - t) * b[0] + (t - k[1]) * b[1]) / (k[2] - k[1]), dtype=np.float64)


def cut_edges(trails: list[Trail]) -> list[Edge]:
    """Cut the trails at their junctions; a bridge crosses without one."""
    grounded = [trail for trail in trails if not trail.attributes.get("bridge")]
    noded = shapely.get_parts(shapely.union_all([trail.line for trail in grounded]))
    ends = shapely.MultiPoint([point for piece in noded for point in (piece.coords[0], piece.coords[-1])])
    tree = shapely.STRtree(list(ends.geoms))
    edges = []
    for trail in trails:
        near = tree.query(trail.line, predicate="dwithin", distance=0.01)
        at = sorted({round(trail.line.project(ends.geoms[i]), 2) for i in near} | {0.0, round(trail.line.length, 2)})
        if trail.attributes.get("bridge"):
            at = [at[0], at[-1]]
        stops = [at[0], *(b for a, b in pairwise(at) if b - a > 0.5)]
        stops[-1] = trail.line.length
        for start, end in pairwise(stops):
            piece = shapely.ops.substring(trail.line, start, end)
            edges.append(Edge(trail=trail, start_m=start, points=np.array(piece.coords)))
    return edges
