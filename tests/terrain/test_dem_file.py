"""What is wrong with an elevation file, and how its numbers become heights."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import rasterio
from numpy.typing import NDArray
from rasterio.enums import ColorInterp
from rasterio.transform import Affine
from rasterio.windows import Window

from pipeline.errors import Fault, InputMissingError
from pipeline.terrain.dem_file import ElevationFile, open_file, quiet_about_place, read_heights
from tests.worlds import ORIGIN, Grid, plane, write_elevation

FLAT = np.full((6, 8), 120.0)
SMALL = Grid(width=8, height=6)
CORNER = Affine(1.0, 0.0, ORIGIN[0], 0.0, -1.0, ORIGIN[1])


def opened(path: Path) -> ElevationFile:
    """Open a file that must have no fault."""
    file, faults = open_file(path)
    assert faults == []
    assert file is not None
    return file


def heights_of(path: Path) -> NDArray[np.float32]:
    """Read all heights of a file."""
    file = opened(path)
    with rasterio.open(path) as source:
        return read_heights(file, source, Window(0, 0, file.width, file.height))


def fault_of(path: Path) -> Fault:
    """Give the one fault of a file."""
    file, faults = open_file(path)
    assert file is None
    assert len(faults) == 1, faults
    return faults[0]


def test_a_plain_file_is_described(tmp_path: Path) -> None:
    """CRS, transform and size, as rasterio has them."""
    file = opened(write_elevation(tmp_path / "plain.tif", FLAT, SMALL))
    assert (file.width, file.height, file.nodata, file.masked, file.scale, file.offset) == (8, 6, None, False, 1.0, 0.0)
    assert file.transform == (1.0, 0.0, ORIGIN[0], 0.0, -1.0, ORIGIN[1] + 6.0)
    assert "32632" in file.crs


@pytest.mark.parametrize(
    ("dtype", "nodata", "stored", "void"),
    [
        ("float32", -9999.0, -9999.0, True),
        ("float32", np.nan, np.nan, True),
        ("float32", None, np.nan, True),
        ("float32", None, -9999.0, True),
        ("float32", None, -3.4028234663852886e38, True),
        ("float32", None, 3.0e38, True),
        ("float32", None, np.inf, True),
        ("float32", -9999.0, -430.5, False),
        ("float32", 0.0, 0.0, True),
        ("float32", None, 0.0, False),
        ("int16", None, -32768, True),
        ("int16", -32768.0, -32768, True),
        ("int16", 0.0, 0, True),
        ("int16", None, -431, False),
        ("uint16", 65535.0, 65535, True),
        ("uint16", None, 65535, True),
        ("int32", -9999.0, -9999, True),
        ("float64", -9999.0, -9999.0, True),
    ],
)
def test_voids_are_nan_however_the_file_says_so(
    tmp_path: Path, dtype: str, nodata: float | None, stored: float, *, void: bool
) -> None:
    """Nodata tags, NaN, what is left of lost tags, −32768 in integers; the Dead Sea shore (−430 m) is ground."""
    heights = np.full((6, 8), 120.0)
    heights[2, 3] = stored
    read = heights_of(write_elevation(tmp_path / "void.tif", heights, replace(SMALL, dtype=dtype, nodata=nodata)))
    expected = np.zeros((6, 8), dtype=bool)
    expected[2, 3] = void
    assert read.dtype == np.float32
    assert np.isnan(read).tolist() == expected.tolist()
    assert read[0, 0] == 120.0


def test_a_mask_of_the_files_own_is_respected(tmp_path: Path) -> None:
    """An internal mask makes a void without any nodata value."""
    path = write_elevation(tmp_path / "masked.tif", FLAT, SMALL)
    with rasterio.Env(GDAL_TIFF_INTERNAL_MASK=True), rasterio.open(path, "r+") as out:
        mask = np.full((6, 8), 255, dtype=np.uint8)
        mask[1, 1] = 0
        out.write_mask(mask)
    read = heights_of(path)
    assert np.isnan(read[1, 1])
    assert np.isnan(read).sum() == 1


def test_an_alpha_band_is_a_mask_not_a_second_height(tmp_path: Path) -> None:
    """Heights and alpha: one band of heights, void where clear."""
    path = tmp_path / "alpha.tif"
    profile = {"driver": "GTiff", "width": 8, "height": 6, "count": 2, "dtype": "uint8", "crs": "EPSG:32632"}
    with rasterio.open(path, "w", transform=CORNER, **profile) as out:
        out.colorinterp = (ColorInterp.gray, ColorInterp.alpha)
        out.write(np.stack((np.full((6, 8), 120), np.where(np.arange(8) < 3, 0, 255) * np.ones((6, 1)))).astype("u1"))
    assert np.isnan(heights_of(path)).sum() == 18


def test_scale_and_offset_are_applied(tmp_path: Path) -> None:
    """Heights in decimetres above 100 m in 16-bit numbers come back in metres (rasterio's read gives 234)."""
    grid = replace(SMALL, dtype="int16", scale=0.1, offset=100.0, nodata=-32768)
    heights = np.full((6, 8), 123.4)
    heights[0, 0] = np.nan
    path = tmp_path / "scaled.tif"
    stored = np.where(np.isnan(heights), grid.offset + 0.1 * -32768.0, heights)
    read = heights_of(write_elevation(path, stored, grid))
    with rasterio.open(path) as source:
        assert source.read(1)[2, 2] == 234
    assert read[2, 2] == pytest.approx(123.4, abs=1e-5)
    assert np.isnan(read[0, 0])
    assert np.isnan(read).sum() == 1


@pytest.mark.parametrize(
    ("unit", "metres"),
    [("m", 1.0), ("metre", 1.0), ("ft", 0.3048), ("US survey foot", 1200.0 / 3937.0), ("cm", 0.01), ("", 1.0)],
)
def test_units_of_height_become_metres(tmp_path: Path, unit: str, metres: float) -> None:
    """Feet are converted: international exactly 0.3048 m, US survey 1200 ÷ 3937 m (definitions)."""
    read = heights_of(write_elevation(tmp_path / "unit.tif", FLAT, replace(SMALL, unit=unit)))
    assert read[0, 0] == pytest.approx(120.0 * metres, rel=1e-6)


def test_the_vertical_crs_tells_the_unit_where_the_band_is_silent(tmp_path: Path) -> None:
    """EPSG:6360 is NAVD88 height in US survey feet; compound with a metric UTM zone."""
    read = heights_of(write_elevation(tmp_path / "compound.tif", FLAT, replace(SMALL, crs="EPSG:26915+6360")))
    assert read[0, 0] == pytest.approx(120.0 * 1200.0 / 3937.0, rel=1e-6)


def test_an_unknown_unit_is_refused(tmp_path: Path) -> None:
    """Heights in furlongs: the fault names them and what is understood."""
    fault = fault_of(write_elevation(tmp_path / "unit.tif", FLAT, replace(SMALL, unit="furlong")))
    assert "furlong" in fault.found
    assert "us survey foot" in fault.allowed


def test_a_crs_in_feet_that_is_silent_about_heights_is_refused(tmp_path: Path) -> None:
    """EPSG:2263 is a state plane in US survey feet: metres of height would be a guess."""
    fault = fault_of(write_elevation(tmp_path / "feet.tif", FLAT, replace(SMALL, crs="EPSG:2263")))
    assert "feet" in fault.found
    assert "gdal_edit.py -units" in fault.mend
    opened(write_elevation(tmp_path / "said.tif", FLAT, replace(SMALL, crs="EPSG:2263", unit="ft")))


def test_area_and_point_files_of_the_same_ground_agree(tmp_path: Path) -> None:
    """GDAL moves the transform of AREA_OR_POINT=Point files itself: both read the same, nothing is moved twice."""
    slope = plane(0.3, -0.2)
    area = opened(write_elevation(tmp_path / "area.tif", slope, SMALL))
    point = opened(write_elevation(tmp_path / "point.tif", slope, replace(SMALL, area_or_point="Point")))
    with rasterio.open(point.path) as source:
        assert source.tags()["AREA_OR_POINT"] == "Point"
    assert area.transform == point.transform
    ignoring = _transform_ignoring_point(point.path)
    assert (ignoring.c - area.transform[2], ignoring.f - area.transform[5]) == (0.5, -0.5)


def _transform_ignoring_point(path: Path) -> Affine:
    """Read the transform as a reader would that knows nothing of AREA_OR_POINT."""
    with rasterio.Env(GTIFF_POINT_GEO_IGNORE="YES"), rasterio.open(path) as source:
        return source.transform


def test_no_crs_is_refused_with_the_way_out(tmp_path: Path) -> None:
    """An elevation file without CRS lies nowhere."""
    fault = fault_of(write_elevation(tmp_path / "nowhere.tif", FLAT, replace(SMALL, crs=None)))
    assert fault.found == "no coordinate reference system"
    assert "gdal_edit.py -a_srs" in fault.mend


def test_a_crs_that_is_no_map_is_refused(tmp_path: Path) -> None:
    """Geocentric coordinates are neither projected nor geographic."""
    assert "neither" in fault_of(write_elevation(tmp_path / "xyz.tif", FLAT, replace(SMALL, crs="EPSG:4978"))).found


def test_no_georeference_is_refused(tmp_path: Path) -> None:
    """A CRS without a transform: cells lie nowhere; no warning leaks out."""
    with quiet_about_place():
        path = write_elevation(tmp_path / "loose.tif", FLAT, replace(SMALL, transform=Affine.identity()))
    assert fault_of(path).found == "no georeference"


def test_a_picture_is_refused(tmp_path: Path) -> None:
    """Three bands are an aerial photograph, not heights."""
    path = tmp_path / "photo.tif"
    profile = {"driver": "GTiff", "width": 4, "height": 4, "count": 3, "dtype": "uint8", "crs": "EPSG:32632"}
    with rasterio.open(path, "w", transform=CORNER, photometric="RGB", **profile) as out:
        out.write(np.zeros((3, 4, 4), dtype=np.uint8))
    fault = fault_of(path)
    assert (fault.found, fault.allowed) == ("3 bands", "one band of heights")
    assert "gdal_translate -b 1" in fault.mend


def test_a_colour_table_is_refused(tmp_path: Path) -> None:
    """A scanned map has numbers of colours."""
    path = tmp_path / "map.tif"
    profile = {"driver": "GTiff", "width": 4, "height": 4, "count": 1, "dtype": "uint8", "crs": "EPSG:32632"}
    with rasterio.open(path, "w", transform=CORNER, photometric="palette", **profile) as out:
        out.write(np.zeros((1, 4, 4), dtype=np.uint8))
        out.write_colormap(1, {0: (0, 0, 0, 255), 1: (9, 9, 9, 255)})
    assert "colour table" in fault_of(path).found


def test_complex_numbers_are_refused(tmp_path: Path) -> None:
    """A radar image is no elevation model."""
    path = write_elevation(tmp_path / "radar.tif", FLAT, replace(SMALL, dtype="complex64"))
    assert "complex" in fault_of(path).found


def test_what_cannot_be_opened_is_one_fault(tmp_path: Path) -> None:
    """A missing file and a file of noise."""
    noise = tmp_path / "noise.tif"
    noise.write_bytes(b"not a raster at all")
    for path in (noise, tmp_path / "gone.tif"):
        assert "cannot be read" in fault_of(path).found


def test_all_faults_of_a_file_are_told_at_once(tmp_path: Path) -> None:
    """No CRS, and heights in furlongs."""
    _, faults = open_file(write_elevation(tmp_path / "bad.tif", FLAT, replace(SMALL, crs=None, unit="furlong")))
    assert len(faults) == 2


def test_tiles_missing_from_a_virtual_mosaic_are_named(tmp_path: Path) -> None:
    """A VRT opens without its tiles and would fail half-way through a run: they are looked for first."""
    write_elevation(tmp_path / "west.tif", FLAT, SMALL)
    path = tmp_path / "site.vrt"
    path.write_text(_vrt("west.tif"), encoding="utf-8")
    assert opened(path).width == 8
    path.write_text(_vrt("east.tif"), encoding="utf-8")
    fault = fault_of(path)
    assert (fault.place, fault.found) == (f"tile {tmp_path / 'east.tif'}", "missing")


def _vrt(tile: str) -> str:
    """Write a mosaic of one tile."""
    rect = '<{}Rect xOff="0" yOff="0" xSize="8" ySize="6"/>'
    return f"""<VRTDataset rasterXSize="8" rasterYSize="6"><SRS>EPSG:32632</SRS>
      <GeoTransform>{ORIGIN[0]}, 1, 0, {ORIGIN[1] + 6}, 0, -1</GeoTransform>
      <VRTRasterBand dataType="Float32" band="1"><SimpleSource>
        <SourceFilename relativeToVRT="1">{tile}</SourceFilename><SourceBand>1</SourceBand>
        {rect.format("Src")}{rect.format("Dst")}
      </SimpleSource></VRTRasterBand></VRTDataset>"""


def test_a_truncated_file_fails_with_its_name(tmp_path: Path) -> None:
    """Cells that cannot be decoded are a fault of the file, not of the program."""
    grid = Grid(
        width=256, height=256, options={"compress": "deflate", "tiled": True, "blockxsize": 64, "blockysize": 64}
    )
    heights = np.random.default_rng(1).normal(100.0, 5.0, (256, 256))
    path = write_elevation(tmp_path / "cut.tif", heights, grid)
    whole = path.read_bytes()
    path.write_bytes(whole[: len(whole) // 2])
    file, faults = open_file(path)
    if file is None:
        assert "cannot be read" in faults[0].found
        return
    with rasterio.open(path) as source, pytest.raises(InputMissingError, match=r"cut\.tif"):
        read_heights(file, source, Window(0, 0, 256, 256))
