"""Height and gradient from a grid, against scipy, closed forms, a plain twin and published worked windows."""

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import ndimage

from pipeline.kernels.surface import Patches, sample_surface, split_gradient

pytestmark = pytest.mark.kernel

Floats = NDArray[np.float64]
UNIT = np.array([1.0, 0.0, 0.0, 0.0, 1.0, 0.0])
"""Column = x and row = y, in cell centres."""


def sample(grid: Floats, x: Floats, y: Floats, to_cell: Floats = UNIT) -> Patches:
    """Sample all points of a grid."""
    out = Patches(*(np.full(x.size, np.nan) for _ in range(3)))
    points = (np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64))
    sample_surface(np.asarray(grid, dtype=np.float32), to_cell, points, np.arange(x.size), out)
    return out


def gridded(height: Callable[[Floats, Floats], Floats], rows: int = 12, columns: int = 14) -> Floats:
    """Put a surface on a unit grid; x runs along columns, y down rows."""
    y, x = np.mgrid[0:rows, 0:columns].astype(np.float64)
    return height(x, y)


def inner_points(seed: int, rows: int = 12, columns: int = 14, margin: float = 1.0) -> tuple[Floats, Floats]:
    """Give random points that keep *margin* cells from the outermost centres."""
    rng = np.random.default_rng(seed)
    return rng.uniform(margin, columns - 1 - margin, 60), rng.uniform(margin, rows - 1 - margin, 60)


def keys_twin(grid: Floats, x: float, y: float) -> float:
    """Cubic convolution as Keys (1981) writes it, a = −½: a sum over 16 cells of a piecewise cubic of the distance."""

    def weight(distance: float) -> float:
        d = abs(distance)
        if d < 1.0:
            return 1.5 * d**3 - 2.5 * d**2 + 1.0
        return -0.5 * d**3 + 2.5 * d**2 - 4.0 * d + 2.0 if d < 2.0 else 0.0

    j, i = int(np.floor(x)), int(np.floor(y))
    cells = [(i + di, j + dj) for di in range(-1, 3) for dj in range(-1, 3)]
    return sum(grid[r, c] * weight(y - r) * weight(x - c) for r, c in cells)


def test_bicubic_height_is_keys_cubic_convolution() -> None:
    """Source: R. G. Keys, "Cubic convolution interpolation …", IEEE Trans. ASSP 29 (1981), kernel with a = −½."""
    grid = np.float64(np.float32(np.random.default_rng(4).normal(100.0, 3.0, (12, 14))))
    x, y = inner_points(5)
    expected = [keys_twin(grid, *point) for point in zip(x, y, strict=True)]
    assert sample(grid, x, y).height == pytest.approx(expected, abs=1e-9)


def test_bicubic_gradient_is_the_derivative_of_the_height() -> None:
    """The closed-form gradient equals a central difference of the twin's heights."""
    grid = np.float64(np.float32(np.random.default_rng(6).normal(100.0, 3.0, (12, 14))))
    x, y = inner_points(7, margin=1.01)
    got, d = sample(grid, x, y), 1e-5
    by_x = [(keys_twin(grid, u + d, v) - keys_twin(grid, u - d, v)) / (2 * d) for u, v in zip(x, y, strict=True)]
    by_y = [(keys_twin(grid, u, v + d) - keys_twin(grid, u, v - d)) / (2 * d) for u, v in zip(x, y, strict=True)]
    assert got.gradient_x == pytest.approx(by_x, abs=2e-5)
    assert got.gradient_y == pytest.approx(by_y, abs=2e-5)


def test_planes_and_paraboloids_are_met_exactly() -> None:
    """Cubic convolution with a = −½ has third-order convergence (Keys): quadratics come back exactly."""
    grid = gridded(lambda x, y: 5.0 + 0.25 * x - 0.5 * y + 0.125 * x * x + 0.0625 * y * y + 0.25 * x * y)
    x, y = inner_points(8)
    got = sample(grid, x, y)
    assert got.height == pytest.approx(5.0 + 0.25 * x - 0.5 * y + 0.125 * x**2 + 0.0625 * y**2 + 0.25 * x * y, abs=1e-9)
    assert got.gradient_x == pytest.approx(0.25 + 0.25 * x + 0.25 * y, abs=1e-9)
    assert got.gradient_y == pytest.approx(-0.5 + 0.125 * y + 0.25 * x, abs=1e-9)


def test_near_the_edge_the_patch_is_bilinear_as_scipy_has_it() -> None:
    """Within a cell of the outermost centres: scipy.ndimage.map_coordinates, order 1."""
    grid = np.float64(np.float32(np.random.default_rng(9).normal(100.0, 3.0, (12, 14))))
    rng = np.random.default_rng(10)
    x, y = rng.uniform(0.0, 13.0, 50), rng.uniform(0.0, 0.999, 50)
    expected = ndimage.map_coordinates(grid, [y, x], order=1)
    assert sample(grid, x, y).height == pytest.approx(expected, abs=1e-9)
    assert sample(grid, y, x * 11.0 / 13.0).height == pytest.approx(
        ndimage.map_coordinates(grid, [x * 11.0 / 13.0, y], order=1), abs=1e-9
    )


def test_beside_a_void_the_patch_is_bilinear_and_in_it_nothing() -> None:
    """A void takes the cells that touch it, and no height is blended with it."""
    grid = np.float64(np.float32(np.random.default_rng(11).normal(100.0, 3.0, (12, 14))))
    holed = grid.copy()
    holed[5, 6] = np.nan
    x, y = inner_points(12)
    got = sample(holed, x, y)
    in_void = (np.abs(x - 6.0) < 1.0) & (np.abs(y - 5.0) < 1.0)
    near = (x > 4.0) & (x < 8.0) & (y > 3.0) & (y < 7.0) & ~in_void
    assert in_void.any()
    assert near.any()
    assert np.isnan(got.height).tolist() == in_void.tolist()
    linear = ndimage.map_coordinates(grid, [y, x], order=1)
    assert got.height[near] == pytest.approx(linear[near], abs=1e-9)
    whole = sample(grid, x, y)
    assert got.height[~near & ~in_void] == pytest.approx(whole.height[~near & ~in_void], abs=0.0)


def test_outside_the_outermost_centres_there_is_nothing() -> None:
    """No extrapolation: NaN beyond the centres, a height on them."""
    grid = gridded(lambda x, y: x + 2.0 * y)
    x, y = np.array([-0.01, 0.0, 13.0, 13.01, 5.0, 5.0, np.nan]), np.array([3.0, 0.0, 11.0, 3.0, 11.01, -0.3, 3.0])
    assert np.isnan(sample(grid, x, y).height).tolist() == [True, False, False, True, True, True, True]


def test_a_centre_beside_a_void_keeps_its_height() -> None:
    """A point on the last known centre before a void has a height, from the patch on the known side."""
    grid = gridded(lambda x, y: x + 2.0 * y)
    grid[:, 7:] = np.nan
    got = sample(grid, np.array([6.0, 6.0 + 1e-9, 6.1]), np.array([3.0, 3.5, 3.5]))
    assert got.height[:2] == pytest.approx([12.0, 13.0])
    assert got.gradient_x[:2] == pytest.approx([1.0, 1.0])
    assert np.isnan(got.height[2])


@pytest.mark.parametrize("shape", [(1, 5), (5, 1), (1, 1)])
def test_a_grid_of_one_row_has_no_surface(shape: tuple[int, int]) -> None:
    """A single row or column of heights says nothing about slope."""
    assert np.isnan(sample(np.ones(shape), np.array([0.0]), np.array([0.0])).height).all()


def test_gradients_are_per_unit_of_the_grids_coordinates_whatever_its_turn() -> None:
    """A turned, stretched grid of a plane: the chain rule brings back the plane's own gradient."""
    angle, cell = np.radians(27.0), 2.5
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]]) * cell
    y, x = np.mgrid[0:12, 0:14].astype(np.float64)
    east = turn[0, 0] * x + turn[0, 1] * y + 50.0
    north = turn[1, 0] * x + turn[1, 1] * y - 20.0
    back = np.linalg.inv(turn)
    shift = -back @ (50.0, -20.0)
    to_cell = np.array([*back[0], shift[0], *back[1], shift[1]])
    got = sample(0.3 * east - 0.1 * north, east[4:8, 4:8].ravel(), north[4:8, 4:8].ravel(), to_cell)
    assert got.gradient_x == pytest.approx(0.3, abs=1e-5)
    assert got.gradient_y == pytest.approx(-0.1, abs=1e-5)


def test_only_the_points_asked_for_are_touched() -> None:
    """Other places of the output keep what they had."""
    out = Patches(*(np.full(3, -1.0) for _ in range(3)))
    points = (np.array([2.0, 3.0, 4.0]), np.array([2.0, 3.0, 4.0]))
    sample_surface(np.ones((9, 9), dtype=np.float32), UNIT, points, np.array([1]), out)
    assert out.height.tolist() == [-1.0, 1.0, -1.0]


HORN_WINDOWS = [
    # rows north to south, cell, dz/dE, dz/dN, slope in degrees, tolerance
    ([[42, 45, 47], [40, 44, 49], [44, 48, 52]], 10.0, 0.3875, -0.1625, 22.79182488, 1e-5),
    ([[50, 45, 50], [30, 30, 30], [8, 10, 10]], 5.0, 0.05, 3.8, 75.25766, 1e-3),
    ([[101, 92, 85], [101, 92, 85], [101, 91, 84]], 10.0, -0.8125, 0.0375, 39.12369676, 1e-5),
    ([[3, 3, 3], [2, 2, 2], [1, 1, 1]], 10.0, 0.0, 0.1, 5.710593, 1e-5),
]
"""Worked windows of Horn's slope (B. K. P. Horn, "Hill shading and the reflectance map", Proc. IEEE 69, 1981):
values of a desktop-GIS help page and a university lecture; the last follows by hand."""


def horn(window: Floats, cell: float) -> tuple[float, float]:
    """Horn's gradient of a 3×3 window: the mean of cell-window gradients that the tests compare with."""
    weights = np.array([1.0, 2.0, 1.0])
    east = (weights @ window[:, 2] - weights @ window[:, 0]) / (8.0 * cell)
    north = (weights @ window[0] - weights @ window[2]) / (8.0 * cell)
    return float(east), float(north)


@pytest.mark.parametrize(("rows", "cell", "east", "north", "slope", "tolerance"), HORN_WINDOWS)
def test_horn_windows_agree(
    rows: list[list[float]], cell: float, east: float, north: float, slope: float, tolerance: float
) -> None:
    """The cell-window twin reproduces the published values: it may then judge the kernel."""
    got = horn(np.array(rows, dtype=np.float64), cell)
    assert got == pytest.approx((east, north), abs=1e-9)
    assert np.degrees(np.arctan(np.hypot(*got))) == pytest.approx(slope, abs=tolerance)


def test_the_kernels_gradient_averages_to_horns() -> None:
    """At a centre, the kernel's gradient of a row is (f − d) ÷ 2 cells; 1-2-1 over three rows that is Horn's."""
    grid = np.float64(np.float32(np.random.default_rng(13).normal(100.0, 3.0, (9, 9))))
    rows = np.array([3.0, 4.0, 5.0])
    got = sample(grid, np.full(3, 4.0), rows)
    east, _ = horn(grid[3:6, 3:6], 1.0)
    assert np.array([1.0, 2.0, 1.0]) @ got.gradient_x / 4.0 == pytest.approx(east, abs=1e-9)


@pytest.mark.parametrize(
    ("azimuth", "grade", "cross"),
    [(0.0, -0.1625, 0.3875), (45.0, 0.159099, 0.388909), (90.0, 0.3875, 0.1625), (292.750975, -0.420193, 0.0)],
)
def test_gradients_split_along_and_across_a_bearing(azimuth: float, grade: float, cross: float) -> None:
    """Worked by hand from the first Horn window: grade = ∇z·t, cross = ∇z·n, n to the right of t."""
    bearing = np.array([np.radians(azimuth)])
    got = split_gradient(np.array([0.3875]), np.array([-0.1625]), bearing)
    twice = split_gradient(np.full(2, 0.3875), np.full(2, -0.1625), np.tile(bearing, 2))
    assert twice[0].tolist() == [got[0][0]] * 2
    assert (got[0][0], got[1][0]) == pytest.approx((grade, cross), abs=1e-6)
    back = split_gradient(np.array([0.3875]), np.array([-0.1625]), bearing + np.pi)
    assert (back[0][0], back[1][0]) == pytest.approx((-grade, -cross), abs=1e-6)
    assert got[0][0] ** 2 + got[1][0] ** 2 == pytest.approx(0.3875**2 + 0.1625**2, abs=1e-12)
