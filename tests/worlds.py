"""Tiny worlds with answers worked by hand: surfaces in closed form, elevation files of them, small networks.

Everything lies round :data:`ORIGIN` in UTM zone 32 N unless a test says otherwise, far enough from 0 that a
single-precision coordinate would show.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import rasterio
import shapely
from numpy.typing import NDArray
from pyproj import CRS
from rasterio.transform import Affine

from pipeline.survey.model import Network
from pipeline.tables import NETWORK, NODES, OBSTACLES, REPAIRS, Table, empty, validate
from pipeline.terms import Basis
from pipeline.terrain.model import Profiles, Stations, Strip, Terrain, TerrainParameters
from pipeline.terrain.summary import Soil

Floats = NDArray[np.float64]

UTM = "EPSG:32632"
"""Working CRS of the tiny worlds."""
ORIGIN = (500_000.0, 5_400_000.0)
"""South-west corner of the tiny worlds, easting and northing in m."""


@dataclass(frozen=True)
class Surface:
    """Ground in closed form: height and its gradient at any easting and northing."""

    height: Callable[[Floats, Floats], Floats]
    gradient: Callable[[Floats, Floats], tuple[Floats, Floats]]
    """∂z/∂x (to the east) and ∂z/∂y (to the north)."""


def plane(east: float = 0.0, north: float = 0.0, base: float = 100.0) -> Surface:
    """Tilted plane: rises by *east* per metre to the east, by *north* per metre to the north."""
    return Surface(
        height=lambda x, y: base + east * (x - ORIGIN[0]) + north * (y - ORIGIN[1]),
        gradient=lambda x, y: (np.full_like(x, east), np.full_like(y, north)),
    )


def cone(x0: float, y0: float, slope: float, top: float = 150.0) -> Surface:
    """Cone with its top at (x0, y0), falling by *slope* per metre in every direction."""

    def gradient(x: Floats, y: Floats) -> tuple[Floats, Floats]:
        away = np.hypot(x - x0, y - y0)
        return -slope * (x - x0) / away, -slope * (y - y0) / away

    return Surface(height=lambda x, y: top - slope * np.hypot(x - x0, y - y0), gradient=gradient)


def bowl(x0: float, y0: float, bend: float, bottom: float = 100.0) -> Surface:
    """Paraboloid with vertical second derivative *bend* (1/m): a bowl when positive, a dome when negative."""
    return Surface(
        height=lambda x, y: bottom + 0.5 * bend * ((x - x0) ** 2 + (y - y0) ** 2),
        gradient=lambda x, y: (bend * (x - x0), bend * (y - y0)),
    )


def crest(x0: float, up: float, down: float, base: float = 100.0) -> Surface:
    """Sharp ridge along the meridian x0: grade *up* to the west of it, falls by *down* to the east (an edge)."""
    return Surface(
        height=lambda x, _y: base + np.where(x < x0, up * (x - x0), -down * (x - x0)),
        gradient=lambda x, y: (np.where(x < x0, up, -down), np.zeros_like(y)),
    )


def ramp(x0: float, grade: float, run: float, base: float = 100.0) -> Surface:
    """Flat to the west of x0, a ramp of *grade* over *run* metres, flat again."""

    def gradient(x: Floats, y: Floats) -> tuple[Floats, Floats]:
        return np.where((x >= x0) & (x < x0 + run), grade, 0.0), np.zeros_like(y)

    return Surface(height=lambda x, _y: base + grade * np.clip(x - x0, 0.0, run), gradient=gradient)


def step(x0: float, rise: float, base: float = 100.0) -> Surface:
    """Vertical step up of *rise* metres along the meridian x0."""
    return Surface(
        height=lambda x, _y: base + np.where(x >= x0, rise, 0.0),
        gradient=lambda x, y: (np.zeros_like(x), np.zeros_like(y)),
    )


def sine_hills(wavelength: float, amplitude: float, base: float = 100.0) -> Surface:
    """Egg-box hills: amplitude · sin(kx) · sin(ky)."""
    k = 2.0 * np.pi / wavelength

    def gradient(x: Floats, y: Floats) -> tuple[Floats, Floats]:
        u, v = k * (x - ORIGIN[0]), k * (y - ORIGIN[1])
        return amplitude * k * np.cos(u) * np.sin(v), amplitude * k * np.sin(u) * np.cos(v)

    return Surface(
        height=lambda x, y: base + amplitude * np.sin(k * (x - ORIGIN[0])) * np.sin(k * (y - ORIGIN[1])),
        gradient=gradient,
    )


@dataclass(frozen=True)
class Grid:
    """How an elevation file of a tiny world is laid out and written."""

    width: int = 60
    height: int = 60
    cell: float = 1.0
    corner: tuple[float, float] = ORIGIN
    """South-west corner of the south-west cell."""
    crs: str | None = UTM
    dtype: str = "float32"
    nodata: float | None = None
    scale: float | None = None
    """Heights are stored divided by this."""
    offset: float = 0.0
    """Heights are stored less this."""
    area_or_point: str = "Area"
    unit: str | None = None
    """Unit of the heights as the file names it."""
    transform: Affine | None = None
    """Takes the place of corner and cell (rotated grids)."""
    options: Mapping[str, Any] = field(default_factory=dict)
    """Further creation options."""

    @property
    def affine(self) -> Affine:
        """Pixel to map."""
        west, south = self.corner
        return self.transform or Affine(self.cell, 0.0, west, 0.0, -self.cell, south + self.height * self.cell)

    def centres(self) -> tuple[Floats, Floats]:
        """Coordinates of the cell centres, each of shape (height, width)."""
        rows, cols = np.mgrid[0 : self.height, 0 : self.width] + 0.5
        a = self.affine
        return a.a * cols + a.b * rows + a.c, a.d * cols + a.e * rows + a.f


def write_elevation(path: Path, surface: Surface | Floats, grid: Grid | None = None) -> Path:
    """Write an elevation file of *surface* (or of an array of heights; NaN becomes nodata) and return its path."""
    grid = grid or Grid()
    z = surface.height(*grid.centres()) if isinstance(surface, Surface) else np.asarray(surface, dtype=np.float64)
    stored = (z - grid.offset) / (grid.scale or 1.0)
    if grid.nodata is not None:
        stored = np.where(np.isnan(stored), grid.nodata, stored)
    if np.issubdtype(np.dtype(grid.dtype), np.integer):
        stored = np.rint(stored)
    profile = {"driver": "GTiff", "width": grid.width, "height": grid.height, "count": 1, "dtype": grid.dtype}
    profile |= {"transform": grid.affine, "nodata": grid.nodata, **grid.options}
    if grid.crs is not None:
        profile["crs"] = grid.crs
    with rasterio.open(path, "w", **profile) as out:
        out.update_tags(AREA_OR_POINT=grid.area_or_point)
        out.write(stored.astype(grid.dtype), 1)
        if grid.scale is not None:
            out.scales, out.offsets = (grid.scale,), (grid.offset,)
        if grid.unit is not None:
            out.units = (grid.unit,)
    return path


def at(*points: tuple[float, float]) -> list[tuple[float, float]]:
    """Shift points given in metres from :data:`ORIGIN` to map coordinates."""
    return [(ORIGIN[0] + x, ORIGIN[1] + y) for x, y in points]


def soil_of(*surface: str) -> Soil:
    """Give damp ground of the given surfaces, one a segment, whose lie is not known."""
    count = len(surface)
    return Soil(surface, ["damp"] * count, np.full(count, 4.0), np.full(count, np.nan))


def network_of(
    lines: Mapping[str, Sequence[Sequence[float]]],
    *,
    crs: str = UTM,
    obstacles: Sequence[Mapping[str, Any]] = (),
    obstacles_surveyed: bool | None = None,
    trailhead: tuple[float, float] | None = None,
    **columns: object,
) -> Network:
    """Build a valid network from named lines.

    Parameters
    ----------
    lines
        Coordinates (x, y) or (x, y, z) of each segment, by segment id; equal ends become one node.
    crs
        Working CRS.
    obstacles
        Rows of OBSTACLES; missing columns are filled, ``segment_id``, ``chainage_m`` and ``offset_m`` place it.
    obstacles_surveyed
        Whether obstacle files were given; by default, whether there are obstacles.
    trailhead
        Coordinates of the trailhead's node; the start of the first segment by default.
    columns
        Values of NETWORK columns: one for all segments, or a mapping by segment id.
    """
    shapes = {name: shapely.LineString(points) for name, points in lines.items()}
    ends = [(tuple(line.coords[0][:2]), tuple(line.coords[-1][:2])) for line in shapes.values()]
    number = {place: k for k, place in enumerate(sorted({place for pair in ends for place in pair}))}
    segments = _segments(shapes, [(number[a], number[b]) for a, b in ends], columns, crs)
    degree = np.bincount([number[place] for pair in ends for place in pair], minlength=len(number))
    nodes = gpd.GeoDataFrame(
        {
            "node_id": np.arange(len(number), dtype=np.int64),
            "degree": degree.astype(np.int64),
            "turn_round": np.zeros(len(number), dtype=bool),
            "name": pd.Series([None] * len(number), dtype="str"),
        },
        geometry=shapely.points(list(number)),
        crs=crs,
    )
    return Network(
        segments=validate(segments, NETWORK),
        nodes=validate(nodes, NODES),
        obstacles=validate(_obstacles(obstacles, shapes, crs), OBSTACLES),
        repairs=empty(REPAIRS, crs=CRS.from_user_input(crs)),
        crs=CRS.from_user_input(crs),
        trailhead_node=number[ends[0][0] if trailhead is None else trailhead],
        obstacles_surveyed=bool(obstacles) if obstacles_surveyed is None else obstacles_surveyed,
    )


def _segments(
    shapes: Mapping[str, shapely.LineString],
    ends: Sequence[tuple[int, int]],
    columns: Mapping[str, object],
    crs: str,
) -> gpd.GeoDataFrame:
    """Fill the NETWORK columns from defaults and what the test says."""
    values: dict[str, Any] = {"source": "tiny.gpkg", "status": "open", "oneway": 0, **columns}
    values |= {"segment_id": {name: name for name in shapes}, "length_m": {n: s.length for n, s in shapes.items()}}
    values |= {f"node_{letter}": dict(zip(shapes, (e[k] for e in ends), strict=True)) for k, letter in enumerate("ab")}
    return gpd.GeoDataFrame(_table(NETWORK, values, list(shapes)), geometry=list(shapes.values()), crs=crs)


def _table(contract: Table, values: Mapping[str, object], names: Sequence[str]) -> dict[str, pd.Series]:
    """Make the columns of *contract*, one row a name; what is not given is missing, 0 or false."""
    blanks = {"str": None, "float64": np.nan, "int64": 0, "bool": False}
    made = {}
    for column in contract.columns:
        given = values.get(column.name)
        rows = [given.get(name) if isinstance(given, Mapping) else given for name in names]
        blank = blanks[column.kind.dtype]
        made[column.name] = pd.Series([blank if v is None else v for v in rows], dtype=column.kind.dtype)
    return made


def _obstacles(
    rows: Sequence[Mapping[str, Any]], shapes: Mapping[str, shapely.LineString], crs: str
) -> gpd.GeoDataFrame:
    """Fill the OBSTACLES columns; the point is put on the segment at its chainage (offset to the side ignored)."""
    names = [str(row.get("obstacle_id", f"tiny-{k + 1}")) for k, row in enumerate(rows)]
    keys = {key for row in rows for key in row} - {"obstacle_id", "geometry"}
    values: dict[str, Any] = {key: dict(zip(names, (row.get(key) for row in rows), strict=True)) for key in keys}
    values |= {"obstacle_id": dict(zip(names, names, strict=True)), "source": "tiny.gpkg"}
    points = [row.get("geometry") or shapes[row["segment_id"]].interpolate(row["chainage_m"]) for row in rows]
    return gpd.GeoDataFrame(_table(OBSTACLES, values, names), geometry=points, crs=crs)


@dataclass(frozen=True)
class Measured:
    """How :func:`surface_terrain` measures a surface."""

    spacing_m: float = 0.5
    step_m: float = 0.1
    cell_m: float = 1.0
    basis: Basis = Basis.DEM


def surface_terrain(network: Network, surface: Surface, measured: Measured | None = None) -> Terrain:
    """Measure a network on a surface in closed form, without files: stations, and one run a segment (no neighbours).

    Written plainly, segment by segment; bearings are those of the piece of line a station lies on, the curvature is 0.
    """
    measured = measured or Measured()
    lines = list(network.segments.geometry)
    parts = [_stations_on(line, surface, measured) for line in lines]
    runs = [_run_on(line, surface, measured.step_m) for line in lines]
    strip = _strip([_rows_on(line, surface, measured.step_m) for line in lines])
    ends = np.array([line.length for line in lines])
    rows = np.arange(len(lines), dtype=np.int64)
    return Terrain(stations=_joined(parts, measured), profiles=_profiles((runs, strip), ends, rows, measured))


def plane_terrain(
    length_m: float = 60.0, grade: float = 0.0, cross: float = 0.0, bearing_deg: float = 90.0, **measured: float
) -> Terrain:
    """Terrain of one straight segment on a plane with the given grade and cross slope (both rise over run)."""
    return surface_terrain(*plane_world(length_m, grade, cross, bearing_deg), Measured(**measured))


def plane_world(
    length_m: float = 60.0, grade: float = 0.0, cross: float = 0.0, bearing_deg: float = 90.0
) -> tuple[Network, Surface]:
    """One straight segment ``a`` and the plane that has *grade* along it and *cross* to the right of it."""
    s, c = np.sin(np.radians(bearing_deg)), np.cos(np.radians(bearing_deg))
    network = network_of({"a": at((0.0, 0.0), (length_m * s, length_m * c))})
    return network, plane(grade * s + cross * c, grade * c - cross * s)


def _stations_on(line: shapely.LineString, surface: Surface, measured: Measured) -> dict[str, Floats]:
    """Measure the stations of one line."""
    chainage = np.linspace(0.0, line.length, int(np.ceil(line.length / measured.spacing_m - 1e-9)) + 1)
    xy = shapely.get_coordinates(shapely.line_interpolate_point(line, chainage))
    vertices = shapely.get_coordinates(line)
    at_vertex = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(vertices, axis=0).T))))
    piece = np.clip(np.searchsorted(at_vertex, chainage, side="right") - 1, 0, len(vertices) - 2)
    east, north = np.diff(vertices, axis=0)[piece].T
    bearing = np.arctan2(east, north)
    gx, gy = surface.gradient(xy[:, 0], xy[:, 1])
    return {
        "chainage_m": chainage,
        "x": xy[:, 0],
        "y": xy[:, 1],
        "z": surface.height(xy[:, 0], xy[:, 1]),
        "bearing_rad": np.mod(bearing, 2 * np.pi),
        "grade": gx * np.sin(bearing) + gy * np.cos(bearing),
        "cross": gx * np.cos(bearing) - gy * np.sin(bearing),
    }


def _joined(parts: Sequence[Mapping[str, Floats]], measured: Measured) -> Stations:
    """Join the stations of all segments."""
    counts = [len(part["x"]) for part in parts]
    columns = {name: np.concatenate([part[name] for part in parts]) for name in parts[0]}
    single = {name: columns.pop(name).astype(np.float32) for name in ("z", "bearing_rad", "grade", "cross")}
    return Stations(
        offsets=np.concatenate(([0], np.cumsum(counts))).astype(np.int64),
        curvature=np.zeros(sum(counts), dtype=np.float32),
        basis=np.full(sum(counts), measured.basis, dtype=np.uint8),
        cell_m=np.full(sum(counts), measured.cell_m, dtype=np.float32),
        **columns,
        **single,
    )


def _run_on(line: shapely.LineString, surface: Surface, step_m: float) -> Floats:
    """Heights along one line at the profile step."""
    chainage = np.arange(int(np.floor(line.length / step_m + 1e-9)) + 1) * step_m
    xy = shapely.get_coordinates(shapely.line_interpolate_point(line, chainage))
    return surface.height(xy[:, 0], xy[:, 1])


def _rows_on(line: shapely.LineString, surface: Surface, step_m: float) -> Floats:
    """Heights across one line, less the height on it: every fifth sample and the last, square to the line there.

    The direction is that from half a metre before to half a metre behind, as far as the samples go.
    """
    every, across = TerrainParameters().strip_every, np.array(TerrainParameters().strip_across_m)
    last = int(np.floor(line.length / step_m + 1e-9))
    sample = np.unique(np.append(np.arange(0, last + 1, every), last))
    reach = np.array([np.maximum(sample - every, 0), np.minimum(sample + every, last), sample]) * step_m
    behind, ahead, here = (shapely.get_coordinates(shapely.line_interpolate_point(line, at)) for at in reach)
    east, north = (ahead - behind).T / np.hypot(*(ahead - behind).T)
    x = here[:, :1] + north[:, None] * across
    y = here[:, 1:] - east[:, None] * across
    return surface.height(x, y) - surface.height(here[:, :1], here[:, 1:])


def _strip(rows: Sequence[Floats]) -> Strip:
    """Join the ground beside the runs of all segments."""
    chosen = TerrainParameters()
    offsets = np.concatenate(([0], np.cumsum([len(one) for one in rows]))).astype(np.int64)
    across = np.array(chosen.strip_across_m)
    return Strip(across, chosen.strip_every, offsets, np.concatenate(rows).astype(np.float32))


def _profiles(
    ground: tuple[Sequence[Floats], Strip], ends: Floats, rows: NDArray[np.int64], measured: Measured
) -> Profiles:
    """Join the runs of all segments."""
    runs, strip = ground
    counts = [len(run) for run in runs]
    return Profiles(
        step_m=measured.step_m,
        offsets=np.concatenate(([0], np.cumsum(counts))).astype(np.int64),
        start_m=np.zeros(len(runs)),
        segment=rows,
        own_from_m=np.zeros(len(runs)),
        own_to_m=ends,
        z=np.concatenate(runs).astype(np.float32),
        basis=np.full(sum(counts), measured.basis, dtype=np.uint8),
        piece_offsets=np.arange(len(runs) + 1, dtype=np.int64),
        piece_segment=rows,
        piece_zero_m=np.zeros(len(runs)),
        piece_sign=np.ones(len(runs), dtype=np.int64),
        piece_from_m=np.zeros(len(runs)),
        piece_to_m=ends,
        strip=strip,
    )
