"""A shaded picture of the ground for the base of a map. A picture, not a measurement: nothing is computed from it."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from pyproj import CRS, Transformer
from rasterio.drivers import raster_driver_extensions
from rasterio.io import MemoryFile

from pipeline.terrain.dem import open_grids
from pipeline.terrain.dem_file import quiet_about_place
from pipeline.terrain.dem_grid import Grid, GridReader
from pipeline.terrain.dem_warp import Frame, cell_in, warp_grid

__all__ = ["Hillshade", "hillshade"]

Float32 = NDArray[np.float32]
UInt8 = NDArray[np.uint8]

WEB_MERCATOR = CRS.from_epsg(3857)
"""CRS of the picture: the one that web maps draw in, so that the picture lies straight under the lines."""
MOST_PIXELS = 1400
"""Longest side of the picture."""
MARGIN = 0.06
"""Land shown round the network, as a share of its longer side."""
SUN_AZIMUTH_DEG, SUN_HEIGHT_DEG = 315.0, 45.0
"""Light from the north-west, as relief is usually shaded (common practice, no source)."""
DARKEST, BRIGHTEST = 70.0, 250.0
"""Grey of a face turned from the light, and of one square to it: lines drawn over it stay readable."""
WEBP_QUALITY = 70


@dataclass(frozen=True, slots=True)
class Hillshade:
    """An encoded picture and the box that it fills on a web map."""

    image: bytes
    media_type: str
    west: float
    """Degrees; the picture itself is in web Mercator."""
    south: float
    east: float
    north: float


def hillshade(paths: Sequence[Path], bounds: tuple[float, float, float, float], crs: CRS) -> Hillshade | None:
    """Shade the ground round a network.

    Parameters
    ----------
    paths
        Elevation models, finest first.
    bounds
        West, south, east, north of the network in *crs*.
    crs
        The working CRS.

    Returns
    -------
    Hillshade or None
        Grey with an alpha band that is clear where no height is known; WebP, or PNG where GDAL cannot write WebP.
        ``None`` where no model has a height. The same inputs give the same bytes.

    Raises
    ------
    DataError
        When an elevation model holds faults.
    """
    grids = open_grids(paths)
    if not grids:
        return None
    frame = _frame(bounds, crs, grids[0])
    heights = np.full((frame.height, frame.width), np.nan, dtype=np.float32)
    with GridReader() as reader:
        for grid in grids:
            gaps = np.isnan(heights)
            warped = warp_grid(grid, reader, frame, 2 * MOST_PIXELS) if gaps.any() else None
            if warped is not None:
                np.copyto(heights, warped, where=gaps)
    if np.isnan(heights).all():
        return None
    to_degrees = Transformer.from_crs(WEB_MERCATOR, "EPSG:4326", always_xy=True)
    (west, east), (south, north) = to_degrees.transform([frame.west, frame.east], [frame.south, frame.north])
    ground_m = (frame.east - frame.west) / frame.width * np.cos(np.radians(0.5 * (south + north)))
    image, media_type = _encode(*_shade(heights, float(ground_m)))
    return Hillshade(image, media_type, west, south, east, north)


def _frame(bounds: tuple[float, float, float, float], crs: CRS, finest: Grid) -> Frame:
    """Choose the picture's place and size: the network and a margin, no finer than the finest model."""
    west, south, east, north = bounds
    margin = MARGIN * max(east - west, north - south, 100.0)
    to_mercator = Transformer.from_crs(crs.to_2d(), WEB_MERCATOR, always_xy=True)
    left, bottom, right, top = to_mercator.transform_bounds(
        west - margin, south - margin, east + margin, north + margin, densify_pts=21
    )
    pixel = max(
        cell_in(finest, WEB_MERCATOR, (left, bottom, right, top)), max(right - left, top - bottom) / MOST_PIXELS
    )
    width, height = max(round((right - left) / pixel), 2), max(round((top - bottom) / pixel), 2)
    return Frame(left, bottom, right, top, min(width, MOST_PIXELS), min(height, MOST_PIXELS), WEB_MERCATOR)


def _shade(heights: Float32, pixel_m: float) -> tuple[UInt8, NDArray[np.bool_]]:
    """Shade heights by Lambert's cosine law (the angle between light and face); tell where the shade is known."""
    down, right = np.gradient(heights.astype(np.float64), pixel_m)
    azimuth, altitude = np.radians(SUN_AZIMUTH_DEG), np.radians(SUN_HEIGHT_DEG)
    light = np.array([np.sin(azimuth) * np.cos(altitude), np.cos(azimuth) * np.cos(altitude), np.sin(altitude)])
    cosine = (-right * light[0] + down * light[1] + light[2]) / np.sqrt(1.0 + right**2 + down**2)
    known = ~np.isnan(cosine)
    grey = DARKEST + (BRIGHTEST - DARKEST) * np.clip(np.where(known, cosine, 0.0), 0.0, 1.0)
    return np.asarray(np.rint(grey), dtype=np.uint8), known


def _encode(grey: UInt8, known: NDArray[np.bool_]) -> tuple[bytes, str]:
    """Encode grey and alpha; gives the bytes and their media type."""
    alpha = np.where(known, 255, 0).astype(np.uint8)
    grey = np.where(known, grey, 0).astype(np.uint8)
    if "webp" in raster_driver_extensions():
        bands, driver, options = [grey, grey, grey, alpha], "WEBP", {"QUALITY": WEBP_QUALITY}
    else:
        bands, driver, options = [grey, alpha], "PNG", {"ZLEVEL": 9}
    size = {"width": grey.shape[1], "height": grey.shape[0], "count": len(bands), "dtype": "uint8"}
    with MemoryFile() as memory:
        with quiet_about_place(), memory.open(driver=driver, **size, **options) as out:
            out.write(np.stack(bands))
        return bytes(memory.read()), f"image/{driver.lower()}"
