"""One elevation file: how it is opened, what is wrong with it, and how its numbers become heights in metres.

Heights are void (NaN) where the file's own mask says so, where they are NaN, and where no ground can be:
beyond ±9,999 m, which is how voids look in files that lost their nodata tag. In an integer file without a nodata tag
−32768 is a void. Scale, offset and the unit of the heights are applied; rasterio's ``read`` applies none of them.

Whether the file's tie point names a cell's corner or its centre (``AREA_OR_POINT``) is settled by GDAL, which moves
the transform itself; correcting it again would shift the ground by half a cell.
"""

import math
import os
import re
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import rasterio
from numpy.typing import NDArray
from pyproj import CRS
from pyproj.exceptions import CRSError
from rasterio.enums import ColorInterp, MaskFlags, Resampling
from rasterio.errors import NotGeoreferencedWarning, RasterioError
from rasterio.io import DatasetReader
from rasterio.windows import Window

from pipeline.errors import Fault, InputMissingError
from pipeline.kernels.terrain_voids import stored_to_heights
from pipeline.units import FOOT_M

__all__ = ["ElevationFile", "open_file", "quiet_about_place", "raster_environment", "read_heights"]

VOID_BEYOND_M = 9_999.0
"""No ground is this high or deep; voids are."""
CACHE_MB = 512
"""Size of GDAL's block cache: several rows of blocks of a wide model. It counts only before the first read."""
US_SURVEY_FOOT_M = 1200.0 / 3937.0
"""One US survey foot in metres (exact)."""
UNITS_M = {
    "": 1.0,
    "m": 1.0,
    "metre": 1.0,
    "meter": 1.0,
    "metres": 1.0,
    "meters": 1.0,
    "unknown": 1.0,
    "cm": 0.01,
    "centimetre": 0.01,
    "centimeter": 0.01,
    "dm": 0.1,
    "decimetre": 0.1,
    "decimeter": 0.1,
    "ft": FOOT_M,
    "foot": FOOT_M,
    "feet": FOOT_M,
    "us survey foot": US_SURVEY_FOOT_M,
    "us-ft": US_SURVEY_FOOT_M,
    "us_survey_foot": US_SURVEY_FOOT_M,
    "ftus": US_SURVEY_FOOT_M,
}
"""Units of height as files name them, in metres."""


@dataclass(frozen=True, slots=True)
class ElevationFile:
    """What is known of an elevation file without reading its heights; can be sent to another process."""

    path: Path
    crs: str
    """Its horizontal CRS, as WKT."""
    transform: tuple[float, float, float, float, float, float]
    """Affine numbers a, b, c, d, e, f from cell corners (column, row) to map coordinates."""
    width: int
    height: int
    nodata: float | None
    masked: bool
    """Whether a mask or alpha band of its own says what is void."""
    scale: float
    """Metres a stored number."""
    offset: float
    """Metres at stored 0."""


def raster_environment() -> rasterio.Env:
    """Give the settings under which every raster is read; GDAL's own environment variables win."""
    options = {} if "GDAL_CACHEMAX" in os.environ else {"GDAL_CACHEMAX": CACHE_MB}
    return rasterio.Env(**options)


@contextmanager
def quiet_about_place() -> Iterator[None]:
    """Silence the warning about rasters without a place: it is told as a fault, or the raster is a mere picture."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", NotGeoreferencedWarning)
        yield


def open_file(path: Path) -> tuple[ElevationFile | None, list[Fault]]:
    """Look at an elevation file.

    Parameters
    ----------
    path
        Any raster that GDAL reads.

    Returns
    -------
    tuple
        The file, or ``None`` where it cannot be used; and every fault found in it.
    """
    try:
        with quiet_about_place(), raster_environment(), rasterio.open(path) as source:
            return _describe(path, source)
    except RasterioError as error:
        found = f"cannot be read as an elevation model ({_reason(error)})"
        return None, [Fault(path, "", found, mend="copy it again from where it came from")]


def read_heights(
    file: ElevationFile, source: DatasetReader, window: Window, shape: tuple[int, int] | None = None
) -> NDArray[np.float32]:
    """Read a window of an open elevation file.

    Parameters
    ----------
    file
        What :func:`open_file` found.
    source
        The open file.
    window
        Cells to read, inside the file.
    shape
        Rows and columns to read it at, for pictures; nearest cells are taken.

    Returns
    -------
    ndarray
        Heights, m; NaN where void.

    Raises
    ------
    InputMissingError
        When the file cannot be read there.
    """
    try:
        stored = source.read(1, window=window, out_shape=shape, resampling=Resampling.nearest)
        mask = source.read_masks(1, window=window, out_shape=shape) == 0 if file.masked else None
    except RasterioError as error:
        columns, rows = (f"{first} to {first + count - 1}" for first, count in _spans(window))
        found = f"damaged or cut off: heights cannot be read ({_reason(error)})"
        mend = "copy it again from where it came from"
        raise InputMissingError(Fault(file.path, f"columns {columns}, rows {rows}", found, mend=mend)) from error
    return _heights(file, stored, mask)


def _spans(window: Window) -> tuple[tuple[int, int], tuple[int, int]]:
    """Give first and number of the columns, and of the rows, of a window."""
    return (int(window.col_off), int(window.width)), (int(window.row_off), int(window.height))


def _reason(error: Exception) -> str:
    """Say what GDAL found: rasterio often keeps it in the cause."""
    return " ".join(str(error.__cause__ or error).split()).rstrip(".")


def _heights(file: ElevationFile, stored: NDArray[Any], mask: NDArray[np.bool_] | None) -> NDArray[np.float32]:
    """Turn stored numbers into heights in metres."""
    heights = stored_to_heights(stored, _nodata(stored.dtype, file.nodata), (file.scale, file.offset), VOID_BEYOND_M)
    if mask is not None:
        heights[mask] = np.nan
    return np.asarray(heights)


def _nodata(dtype: np.dtype[Any], nodata: float | None) -> float:
    """Give the stored number that is a void, as cells hold it; −32768 in integers without a tag; NaN for none."""
    if nodata is None:
        signed = np.issubdtype(dtype, np.signedinteger) and dtype.itemsize >= 2
        return -32768.0 if signed else math.nan
    if math.isnan(nodata) or not _holds(dtype, nodata):
        return math.nan
    return float(np.asarray(nodata).astype(dtype))


def _holds(dtype: np.dtype[Any], number: float) -> bool:
    """Tell whether numbers of *dtype* can be *number* (tags name voids that no cell can hold)."""
    if not np.issubdtype(dtype, np.integer):
        return True
    limits = np.iinfo(dtype)
    return float(number).is_integer() and limits.min <= number <= limits.max


def _describe(path: Path, source: DatasetReader) -> tuple[ElevationFile | None, list[Fault]]:
    """Describe an open file, with all its faults."""
    faults = [*_band_faults(path, source), *_place_faults(path, source), *_missing_tiles(path, source)]
    crs = source.crs.to_wkt() if source.crs else ""
    unit, unit_faults = _height_unit(path, source, crs)
    faults += unit_faults
    if faults:
        return None, faults
    a = source.transform
    return (
        ElevationFile(
            path=path,
            crs=crs,
            transform=(a.a, a.b, a.c, a.d, a.e, a.f),
            width=source.width,
            height=source.height,
            nodata=source.nodata,
            masked=bool({MaskFlags.per_dataset, MaskFlags.alpha} & set(source.mask_flag_enums[0])),
            scale=source.scales[0] * unit,
            offset=source.offsets[0] * unit,
        ),
        [],
    )


def _band_faults(path: Path, source: DatasetReader) -> list[Fault]:
    """Find out whether the file holds heights at all."""
    bands = [band for band in source.colorinterp if band is not ColorInterp.alpha]
    faults = []
    if len(bands) != 1:
        mend = "keep the band with the heights: gdal_translate -b 1 old.tif new.tif"
        faults.append(Fault(path, "", f"{len(bands)} bands", "one band of heights", mend))
    if "complex" in source.dtypes[0]:
        faults.append(Fault(path, "band 1", f"complex numbers ({source.dtypes[0]})", "heights"))
    if ColorInterp.palette in bands:
        faults.append(Fault(path, "band 1", "a picture with a colour table", "heights"))
    return faults


def _place_faults(path: Path, source: DatasetReader) -> list[Fault]:
    """Find out whether the file says where it lies."""
    faults = []
    if not source.crs:
        mend = (
            "write the CRS into it: gdal_edit.py -a_srs EPSG:<code> <file>, or gdal_translate -a_srs for other formats"
        )
        faults.append(Fault(path, "", "no coordinate reference system", "a projected or geographic CRS", mend))
    elif not (source.crs.is_projected or source.crs.is_geographic):
        faults.append(
            Fault(path, "", "a CRS that is neither projected nor geographic", "a projected or geographic CRS")
        )
    if source.transform.is_identity or source.transform.determinant == 0.0:
        mend = "write its place into it, or rectify it: gdalwarp old.tif new.tif"
        faults.append(Fault(path, "", "no georeference", "a transform from cells to coordinates", mend))
    return faults


def _missing_tiles(path: Path, source: DatasetReader) -> list[Fault]:
    """Find the tiles that a virtual mosaic names but that are not there; they would fail half-way through a run."""
    if source.driver != "VRT" or not path.is_file():
        return []
    named = re.findall(r"<SourceFilename([^>]*)>([^<]+)</SourceFilename>", path.read_text(encoding="utf-8"))
    tiles = {(path.parent if 'relativeToVRT="1"' in how else Path()) / name.strip() for how, name in named}
    missing = sorted(tile for tile in tiles if not str(tile).startswith("/vsi") and not tile.exists())
    return [Fault(path, f"tile {tile}", "missing", mend="restore it, or build the mosaic again") for tile in missing]


def _height_unit(path: Path, source: DatasetReader, crs: str) -> tuple[float, list[Fault]]:
    """Give the unit of the heights in metres: the band's own, else the vertical CRS's, else metres."""
    named = (source.units[0] or "").strip().lower()
    if named:
        if named in UNITS_M:
            return UNITS_M[named], []
        return math.nan, [Fault(path, "band 1", f"heights in '{source.units[0]}'", ", ".join(sorted(UNITS_M)[1:]))]
    return _crs_unit(path, crs)


def _crs_unit(path: Path, crs: str) -> tuple[float, list[Fault]]:
    """Give the unit of the heights as the CRS tells it; a CRS in feet that is silent about heights is refused."""
    if not crs:
        return 1.0, []
    try:
        axes = CRS.from_wkt(crs).axis_info
    except CRSError as error:
        return math.nan, [Fault(path, "", f"a CRS that cannot be understood ({error})")]
    vertical = [axis for axis in axes if axis.direction.lower() in {"up", "down"}]
    if vertical:
        sign = -1.0 if vertical[0].direction.lower() == "down" else 1.0
        return sign * float(vertical[0].unit_conversion_factor), []
    if axes and "foot" in axes[0].unit_name.lower():
        mend = "name it in the file: gdal_edit.py -units ft <file>, or -units m"
        return math.nan, [
            Fault(path, "", "a CRS in feet, and no word on the unit of the heights", "a named unit", mend)
        ]
    return 1.0, []
