"""Make the sample site: an invented training ground on an invented hill.

Run it as ``python sample_data/make_site.py [FOLDER]``; without a folder it writes ``sample_data/site``. The same
script gives the same files.
"""

import sys
from pathlib import Path

import geopandas as gpd
import numpy as np
import pyogrio
import rasterio
from maker.grid import COLUMNS, CRS, EAST_M, NORTH_M, ROWS, Floats
from maker.hill import hill
from maker.terraces import build_trails, lay_beds
from maker.things import obstacles_layer, trails_layer
from maker.trails import cut_edges, read_trails
from rasterio.transform import Affine

MADE_ON = "2026-05-02T00:00:00Z"
"""Time stamp that goes into the GeoPackages, so that they do not differ from run to run."""
BLEMISHES = {"gap": "T59", "twice": "T44", "parts": "T24"}
"""The survey's deliberate faults, for the repair stage to find."""


def make_site(folder: Path) -> None:
    """Write ``elevation.tif``, ``trails.gpkg`` and ``obstacles.gpkg`` into *folder*."""
    drawings = Path(__file__).resolve().parent / "maker"
    folder.mkdir(parents=True, exist_ok=True)
    ground = hill()
    trails = read_trails(drawings)
    beds = lay_beds(cut_edges(trails), ground)
    write_elevation(build_trails(beds, ground), folder / "elevation.tif")
    write_layer(trails_layer(trails, beds, BLEMISHES), folder / "trails.gpkg", "trails")
    write_layer(obstacles_layer(trails, drawings), folder / "obstacles.gpkg", "obstacles")


def write_elevation(height: Floats, path: Path) -> None:
    """Write heights (row 0 in the south) as a tiled GeoTIFF, rounded to the centimetre."""
    profile = {
        "driver": "GTiff", "dtype": "float32", "count": 1, "height": ROWS, "width": COLUMNS,
        "crs": CRS, "nodata": -9999.0, "transform": Affine(1.0, 0.0, EAST_M, 0.0, -1.0, NORTH_M + ROWS),
        "tiled": True, "blockxsize": 256, "blockysize": 256, "compress": "deflate", "predictor": 2, "zlevel": 9,
    }  # fmt: skip
    with rasterio.open(path, "w", **profile) as file:
        file.write(np.round(height[::-1], 2).astype(np.float32), 1)
        file.update_tags(AREA_OR_POINT="Area")
        file.set_band_description(1, "height above the invented datum, m")


def write_layer(frame: gpd.GeoDataFrame, path: Path, layer: str) -> None:
    """Write one layer into a GeoPackage of its own."""
    path.unlink(missing_ok=True)
    pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": MADE_ON})
    try:
        frame.to_file(path, layer=layer, driver="GPKG")
    finally:
        pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": None})


if __name__ == "__main__":
    target = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).resolve().parent / "site"
    make_site(target)
    for written in sorted(target.iterdir()):
        print(f"{written}  {written.stat().st_size / 1e6:.2f} MB")
