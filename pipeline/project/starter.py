"""Write a starter site: settings to edit, a vehicle, and a small invented terrain with trails and obstacles.

The terrain is a spur with two side valleys in closed form, so that every number can be worked out by hand; the files
are text (GeoJSON, RFC 7946; ASCII grid with a ``.prj``), so that they can be read and edited. The same files come out
every time.
"""

import json
import math
import shutil
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from pyproj import CRS, Transformer

from pipeline.errors import Fault, OutputError
from pipeline.project.files import CONFIGS, starter_folder

__all__ = ["write_starter"]

_CRS = CRS.from_epsg(32632)
_ORIGIN = (612_000.0, 5_262_000.0)
"""South-west corner of the terrain, UTM 32 N; an invented hill."""
_SIZE_M = 320
"""Side of the terrain."""
_CELL_M = 1.0
_SURVEYED = "2026-03-20"

Xy = tuple[float, float]

_YARD, _GATE, _FORD, _BROW, _TOP = (60.0, 70.0), (165.0, 60.0), (272.0, 140.0), (190.0, 240.0), (75.0, 235.0)
_TRAILS: tuple[tuple[str, str, float, str, tuple[Xy, ...]], ...] = (
    ("T1", "Lower track", 3.4, "gravel", ((42, 110), _YARD, (110, 46), _GATE, (230, 80))),
    ("T2", "Spur climb", 3.2, "gravel", ((110, 46), _GATE, (196, 96), (208, 145), (206, 195), _BROW, (135, 264))),
    ("T3", "Valley side", 3.0, "gravel", ((110, 46), _GATE, (230, 80), _FORD, (258, 205))),
    ("T4", "Back of the spur", 3.2, "gravel", ((230, 80), _FORD, (258, 205), _BROW, (135, 264))),
    ("T5", "Ridge", 3.2, "grass", ((258, 205), _BROW, (135, 264), _TOP, (45, 175))),
    ("T6", "Long descent", 3.0, "gravel", ((135, 264), _TOP, (45, 175), (42, 110), _YARD, (110, 46))),
)
"""Id, name, width in m, surface, points in metres from the origin; the first and the last only give the direction, so
that trails meet without a corner."""
_THINGS: tuple[tuple[Xy, dict[str, Any]], ...] = (
    (_YARD, {"kind": "trailhead", "name": "Yard"}),
    (_BROW, {"kind": "turnround", "name": "Brow"}),
    (_TOP, {"kind": "muster", "name": "Top"}),
    ((208, 145), {"kind": "rock", "height_m": 0.12, "length_m": 0.5, "width_m": 0.6}),
    ((135, 264), {"kind": "log", "height_m": 0.10, "length_m": 0.25, "width_m": 3.0}),
    (_FORD, {"kind": "water", "name": "Ford", "depth_m": 0.25, "flow_m_s": 0.4, "length_m": 6.0}),
    ((42, 110), {"kind": "gap", "clear_width_m": 2.7}),
    ((45, 175), {"kind": "branch", "clear_height_m": 2.6}),
)
_SITE = """\
# A starter site: an invented hill of 10 ha. Replace the files and numbers by your own; paths are relative to this file.

[site]
name = "Starter hill"
trailhead = "Yard"                    # a surveyed place, or [x, y] in the working CRS

[inputs]
network = ["trails.geojson"]          # .gpkg, .geojson, .shp, .gpx, .osm, .osm.pbf; "file:layer" names a layer
elevation = ["terrain.asc"]           # finest first
obstacles = ["obstacles.geojson"]

[terrain]
station_spacing_m = 0.5
dem_rmse_m = 0.1                      # of the elevation model; the starter's is exact, a lidar model's is about this
line_rmse_m = 0.5                     # of the trail lines: a differential receiver; a hand-held one is good to 3 m
dem_correlation_m = 5.0
snap_m = 2.0

[conditions]
date = 2026-03-28
rain_mm = [0, 4, 0, 0, 2, 0, 0]       # daily totals, oldest first

[[setups]]                            # one for every vehicle, load and driver that comes
name = "4x4, practised"
vehicle = "vehicles/tarn.toml"
loads = ["driver"]                    # the [loads.NAME] of the vehicle file
driver = "practised"                  # "first-timer", "practised" or "expert"

[[loops]]
name = "Quiet round"
objective = "safest"
length_m = [400, 1500]
setups = ["4x4, practised"]

[[loops]]
name = "Practice round"
objective = "training-rich"
length_m = [400, 1500]
setups = ["4x4, practised"]

[[outlooks]]                          # the same site under other weather, side by side with the day's
name = "after 20 mm of rain"
rain_mm = [0, 4, 0, 0, 2, 0, 20]

[publish]
dir = "site-build"
keep = 3                              # earlier builds kept
"""


def write_starter(folder: Path) -> list[Path]:
    """Write a starter site into *folder*.

    Parameters
    ----------
    folder
        A new or empty folder.

    Returns
    -------
    list of Path
        The files written, sorted.

    Raises
    ------
    OutputError
        When the folder holds files already or cannot be written.
    """
    if folder.exists() and not folder.is_dir():
        raise OutputError(Fault(folder, "", "is a file", "a new or empty folder"))
    try:
        if folder.is_dir() and any(folder.iterdir()):
            raise OutputError(Fault(folder, "", "holds files already", "a new or empty folder"))
        folder.mkdir(parents=True, exist_ok=True)
        _copy_settings(folder)
        for name, text in _made_files().items():
            (folder / name).write_text(text, encoding="utf-8")
        return sorted(path for path in folder.rglob("*") if path.is_file())
    except OSError as error:
        raise OutputError(Fault(folder, "", f"cannot be written: {error.strerror or error}")) from error


def _copy_settings(folder: Path) -> None:
    """Copy the settings files and the vehicles."""
    starter = starter_folder()
    for name in CONFIGS:
        shutil.copyfile(starter / f"{name}.toml", folder / f"{name}.toml")
    (folder / "vehicles").mkdir()
    for path in sorted((starter / "vehicles").glob("*.toml")):
        shutil.copyfile(path, folder / "vehicles" / path.name)


def _made_files() -> dict[str, str]:
    """Make the text of every file that is not copied."""
    return {
        "site.toml": _SITE,
        "trails.geojson": _geojson(_trail_features()),
        "obstacles.geojson": _geojson(_obstacle_features()),
        "terrain.asc": _grid(),
        "terrain.prj": _CRS.to_wkt("WKT1_ESRI") + "\n",
    }


def _height(x: NDArray[np.float64], y: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give the height in m at *x*, *y* metres from the origin: a spur that rises to the north, a valley each side."""
    spur = 17.0 * np.exp(-(((x - 200.0) / 85.0) ** 2)) * (1.0 + np.tanh((y - 130.0) / 60.0)) / 2.0
    hillside = 0.03 * y + 5.0 * np.sin(2.0 * math.pi * (x + 0.4 * y) / 420.0)
    return 430.0 + spur + hillside


def _grid() -> str:
    """Write the terrain as an ASCII grid; heights are those of the cell centres, to the centimetre."""
    cells = np.arange(_CELL_M / 2, _SIZE_M, _CELL_M)
    x, y = np.meshgrid(cells, cells[::-1])
    head = (
        f"ncols {cells.size}\nnrows {cells.size}\nxllcorner {_ORIGIN[0]:.1f}\nyllcorner {_ORIGIN[1]:.1f}\n"
        f"cellsize {_CELL_M:.1f}\nNODATA_value -9999\n"
    )
    rows = "\n".join(" ".join(f"{z:.2f}" for z in row) for row in _height(x, y))
    return f"{head}{rows}\n"


def _trail_features() -> Iterator[dict[str, Any]]:
    """Yield the trails."""
    for number, name, width_m, surface, points in _TRAILS:
        about = {"id": number, "name": name, "surface": surface, "width": f"{width_m:.1f}", "surveyed_on": _SURVEYED}
        yield _feature("LineString", [_degrees(point) for point in _smooth(points)], about)


def _obstacle_features() -> Iterator[dict[str, Any]]:
    """Yield the obstacles and the named places."""
    for number, (point, about) in enumerate(_THINGS, start=1):
        yield _feature("Point", _degrees(point), {"id": f"O{number}", **about, "surveyed_on": _SURVEYED})


def _smooth(points: Sequence[Xy]) -> list[Xy]:
    """Round a line off through its inner points (Catmull-Rom), a vertex about every 3 m."""
    given = np.asarray(points, dtype=np.float64)
    line: list[Xy] = []
    for a, b, c, d in zip(given, given[1:], given[2:], given[3:], strict=False):
        steps = max(2, math.ceil(float(np.hypot(*(c - b))) / 3.0))
        for t in np.arange(steps) / steps:
            x, y = 0.5 * (2 * b + (c - a) * t + (2 * a - 5 * b + 4 * c - d) * t**2 + (3 * b - a - 3 * c + d) * t**3)
            line.append((float(x), float(y)))
    return [*line, points[-2]]


def _degrees(point: Xy) -> list[float]:
    """Give longitude and latitude of a point in metres from the origin; 8 decimals are about a millimetre."""
    to_wgs84 = Transformer.from_crs(_CRS, 4326, always_xy=True)
    longitude, latitude = to_wgs84.transform(_ORIGIN[0] + point[0], _ORIGIN[1] + point[1])
    return [round(longitude, 8), round(latitude, 8)]


def _feature(kind: str, coordinates: list[Any], properties: dict[str, Any]) -> dict[str, Any]:
    return {"type": "Feature", "properties": properties, "geometry": {"type": kind, "coordinates": coordinates}}


def _geojson(features: Iterator[dict[str, Any]]) -> str:
    """Write features one a line."""
    rows = ",\n".join(json.dumps(feature) for feature in features)
    return f'{{"type": "FeatureCollection", "features": [\n{rows}\n]}}\n'
