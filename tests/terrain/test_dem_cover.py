"""Elevation models that fail, or are void, under the trails are told before anything is computed from them."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import shapely
from pyproj import CRS, Transformer

from pipeline.terrain.dem import MACRO_TILE
from pipeline.terrain.dem_cover import check_cover
from tests.worlds import ORIGIN, UTM, Grid, plane, write_elevation

WORKING = CRS.from_user_input(UTM)


def trail(*points: tuple[float, float]) -> shapely.LineString:
    """Draw a line; points in metres from the south-west corner of the tiny world."""
    return shapely.LineString([(ORIGIN[0] + x, ORIGIN[1] + y) for x, y in points])


INSIDE = trail((10, 10), (40, 45))


def test_a_model_with_heights_has_no_fault(tmp_path: Path) -> None:
    """Heights under a part of the trails are enough: where they end is told elsewhere."""
    path = write_elevation(tmp_path / "good.tif", plane())
    assert check_cover([path], [INSIDE, trail((500, 10), (900, 10))], WORKING) == []
    assert check_cover([], [INSIDE], WORKING) == []


def test_heights_between_far_vertices_are_found(tmp_path: Path) -> None:
    """A line of two vertices that runs across a small model far from both."""
    path = write_elevation(tmp_path / "small.tif", plane())
    assert check_cover([path], [trail((-5000, 30), (5000, 30))], WORKING) == []


def test_a_void_model_is_a_fault(tmp_path: Path) -> None:
    """Void under the trails, whatever stands elsewhere."""
    z = np.full((60, 60), 100.0)
    z[:, :50] = np.nan
    path = write_elevation(tmp_path / "void.tif", z, replace(Grid(), nodata=-9999.0))
    (fault,) = check_cover([path], [trail((10, 10), (20, 45))], WORKING)
    assert (fault.file, fault.found) == (path, "holds no height under any trail: it is void there")


def test_nothing_but_zeros_is_a_fault(tmp_path: Path) -> None:
    """Voids that nobody marked; a model with a single other height under the trails is believed."""
    path = write_elevation(tmp_path / "zero.tif", np.zeros((60, 60)))
    (fault,) = check_cover([path], [INSIDE], WORKING)
    assert "exactly 0" in fault.found
    assert "-a_nodata 0" in fault.mend


def test_each_model_is_looked_at(tmp_path: Path) -> None:
    """A coarse model is read even where a finer one has all the heights; a broken one is told with its place."""
    good = write_elevation(tmp_path / "good.tif", plane())
    half = write_elevation(tmp_path / "cut.tif", plane(), replace(Grid(), corner=(ORIGIN[0] + 0.5, ORIGIN[1])))
    whole = half.read_bytes()
    half.write_bytes(whole[: len(whole) // 3])
    (fault,) = check_cover([good, half], [INSIDE], WORKING)
    assert fault.file == half
    assert fault.place.startswith("columns ")
    assert "damaged or cut off" in fault.found


def test_a_model_in_another_crs_and_several_windows(tmp_path: Path) -> None:
    """Degrees, and trails whose cells lie in more than one window: voids in one of them do not count."""
    to_degrees = Transformer.from_crs(UTM, 4326, always_xy=True)
    west, south = to_degrees.transform(ORIGIN[0] - 100.0, ORIGIN[1] - 100.0)
    cell = 1e-5
    z = np.full((300, MACRO_TILE + 200), np.nan)
    z[:, MACRO_TILE:] = 100.0
    grid = Grid(width=z.shape[1], height=z.shape[0], cell=cell, corner=(west, south), crs="EPSG:4326", nodata=-9999.0)
    path = write_elevation(tmp_path / "degrees.tif", z, grid)
    east = to_degrees.transform(*ORIGIN)[0] + cell * (MACRO_TILE - 100)
    far = Transformer.from_crs(4326, UTM, always_xy=True).transform(east, south + 150 * cell)
    across = shapely.LineString([ORIGIN, far, (far[0] + 120.0, far[1])])
    assert check_cover([path], [across], WORKING) == []
    assert len(check_cover([path], [INSIDE], WORKING)) == 1
