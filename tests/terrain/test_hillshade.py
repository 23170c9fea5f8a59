"""The shaded base of the map."""

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from pyproj import CRS, Transformer
from rasterio.io import MemoryFile

from pipeline.terrain import hillshade as module
from pipeline.terrain.dem_file import quiet_about_place
from pipeline.terrain.hillshade import Hillshade, hillshade
from tests.worlds import ORIGIN, UTM, Grid, plane, sine_hills, write_elevation

CRS_UTM = CRS.from_user_input(UTM)
BOUNDS = (ORIGIN[0] + 20, ORIGIN[1] + 20, ORIGIN[0] + 100, ORIGIN[1] + 80)
WIDE = Grid(width=140, height=120)


def shaded(path: Path, bounds: tuple[float, float, float, float] = BOUNDS) -> Hillshade:
    """Shade one file; there must be a picture."""
    picture = hillshade([path], bounds, CRS_UTM)
    assert picture is not None
    return picture


def decoded(picture: Hillshade) -> tuple[NDArray[np.uint8], NDArray[np.uint8]]:
    """Decode grey and alpha (WebP leaves out an alpha band that is full)."""
    with MemoryFile(picture.image) as memory, quiet_about_place(), memory.open() as source:
        bands = source.read()
    return bands[0], bands[-1] if len(bands) in {2, 4} else np.full_like(bands[0], 255)


def test_the_picture_holds_the_network_and_a_margin(tmp_path: Path) -> None:
    """All corners of the network lie inside the box, and the box is not much larger."""
    picture = shaded(write_elevation(tmp_path / "hills.tif", sine_hills(40, 4), WIDE))
    to_degrees = Transformer.from_crs(UTM, "EPSG:4326", always_xy=True)
    west, south, east, north = to_degrees.transform_bounds(*BOUNDS)
    assert picture.west < west < east < picture.east
    assert picture.south < south < north < picture.north
    assert picture.east - picture.west < 1.4 * (east - west)


def test_light_comes_from_the_north_west(tmp_path: Path) -> None:
    """Lambert: a face to the light is brighter than the flat, one away from it darker; the flat is sin 45°."""
    greys = {}
    for name, slope in {"to": plane(0.3, -0.3), "flat": plane(), "away": plane(-0.3, 0.3)}.items():
        grey, alpha = decoded(shaded(write_elevation(tmp_path / f"{name}.tif", slope, WIDE)))
        greys[name] = float(np.median(grey[alpha == 255]))
    assert greys["to"] > greys["flat"] + 20
    assert greys["away"] < greys["flat"] - 20
    expected = module.DARKEST + (module.BRIGHTEST - module.DARKEST) * np.sin(np.radians(45.0))
    assert greys["flat"] == pytest.approx(expected, abs=3)


def test_where_nothing_is_known_the_picture_is_clear(tmp_path: Path) -> None:
    """A model that covers the western part only: alpha 0 in the east."""
    _, alpha = decoded(shaded(write_elevation(tmp_path / "west.tif", plane(), Grid(width=60, height=120))))
    assert (alpha[:, :30] == 255).all()
    assert (alpha[:, -20:] == 0).all()
    assert set(np.unique(alpha)) == {0, 255}


def test_coarse_models_fill_what_fine_ones_leave(tmp_path: Path) -> None:
    """Fine in the west, coarse everywhere: no clear part is left."""
    fine = write_elevation(tmp_path / "fine.tif", plane(), Grid(width=60, height=120))
    coarse = write_elevation(tmp_path / "coarse.tif", plane(), Grid(60, 60, 10.0, (ORIGIN[0] - 200, ORIGIN[1] - 200)))
    picture = hillshade([fine, coarse], BOUNDS, CRS_UTM)
    assert picture is not None
    assert (decoded(picture)[1] == 255).all()


def test_the_same_inputs_give_the_same_bytes(tmp_path: Path) -> None:
    """Deterministic: rebuilds compare products byte for byte."""
    path = write_elevation(tmp_path / "hills.tif", sine_hills(40, 4), WIDE)
    assert shaded(path) == shaded(path)


def test_large_sites_stay_small_pictures(tmp_path: Path) -> None:
    """20 km of 10 m cells: no side longer than 1,400 pixels."""
    grid = Grid(width=2000, height=1000, cell=10.0)
    path = write_elevation(tmp_path / "large.tif", sine_hills(2000, 90), grid)
    bounds = (ORIGIN[0], ORIGIN[1], ORIGIN[0] + 20_000, ORIGIN[1] + 10_000)
    grey, _ = decoded(shaded(path, bounds))
    assert max(grey.shape) == module.MOST_PIXELS
    assert len(shaded(path, bounds).image) < 600_000


def test_the_picture_is_no_finer_than_the_model(tmp_path: Path) -> None:
    """80 m of network on 5 m cells: about 18 pixels across, not hundreds."""
    grey, _ = decoded(shaded(write_elevation(tmp_path / "coarse.tif", plane(), Grid(width=40, height=40, cell=5.0))))
    assert 14 <= grey.shape[1] <= 24


def test_png_takes_the_place_of_webp_where_it_is_not_built_in(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A build of GDAL without WebP writes PNG: grey and alpha, the same size."""
    path = write_elevation(tmp_path / "hills.tif", sine_hills(40, 4), WIDE)
    usual = shaded(path)
    monkeypatch.setattr(module, "raster_driver_extensions", lambda: {"png": "PNG"})
    plain = shaded(path)
    assert plain.media_type == "image/png"
    assert plain.image.startswith(b"\x89PNG")
    assert decoded(plain)[0].shape == decoded(usual)[0].shape


def test_without_models_or_beside_them_there_is_no_picture(tmp_path: Path) -> None:
    """No model, or none that covers the network."""
    assert hillshade([], BOUNDS, CRS_UTM) is None
    far = write_elevation(tmp_path / "far.tif", plane(), Grid(corner=(ORIGIN[0] + 9000, ORIGIN[1])))
    assert hillshade([far], BOUNDS, CRS_UTM) is None


def test_a_model_in_degrees_is_shaded_too(tmp_path: Path) -> None:
    """A geographic model lies where it belongs: the picture is full."""
    to_degrees = Transformer.from_crs(UTM, "EPSG:4326", always_xy=True)
    west, south = to_degrees.transform(ORIGIN[0] - 100, ORIGIN[1] - 100)
    grid = Grid(60, 60, 1 / 3600 / 4, (west, south), "EPSG:4326")
    path = write_elevation(tmp_path / "degrees.tif", np.full((60, 60), 100.0), grid)
    assert (decoded(shaded(path))[1] == 255).all()
