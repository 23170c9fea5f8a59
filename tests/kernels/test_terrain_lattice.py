"""A change of coordinates from a lattice, against pyproj and closed forms."""

import numpy as np
import pytest
from pyproj import Transformer

from pipeline.kernels.terrain_lattice import Lattice, warp_points

pytestmark = pytest.mark.kernel


def test_linear_changes_are_exact() -> None:
    """A linear change comes back exactly, with its four derivatives, on and beyond the lattice."""
    rows, columns = np.mgrid[0:3, 0:4] * 200.0
    lattice = Lattice(1000.0, 2000.0, 200.0, 3.0 * columns - rows, 0.5 * columns + 2.0 * rows)
    x, y = np.array([1000.0, 1130.0, 1600.0, 1700.0]), np.array([2000.0, 2377.0, 2400.0, 1990.0])
    out = warp_points(lattice, x, y)
    assert out.u == pytest.approx(3.0 * (x - 1000.0) - (y - 2000.0))
    assert out.v == pytest.approx(0.5 * (x - 1000.0) + 2.0 * (y - 2000.0))
    assert out.u_x == pytest.approx(3.0)
    assert out.u_y == pytest.approx(-1.0)
    assert out.v_x == pytest.approx(0.5)
    assert out.v_y == pytest.approx(2.0)


def test_a_lattice_of_200_m_is_right_to_millimetres() -> None:
    """UTM to longitude and latitude at 60° north, where meridians converge fast: pyproj is met to 2 mm."""
    to_degrees = Transformer.from_crs("EPSG:32632", "EPSG:4326", always_xy=True)
    xx, yy = np.meshgrid(700_000.0 + 200.0 * np.arange(6), 6_650_000.0 + 200.0 * np.arange(6))
    u, v = to_degrees.transform(xx, yy)
    lattice = Lattice(700_000.0, 6_650_000.0, 200.0, np.ascontiguousarray(u), np.ascontiguousarray(v))
    rng = np.random.default_rng(1)
    x, y = 700_000.0 + rng.uniform(0.0, 1000.0, 300), 6_650_000.0 + rng.uniform(0.0, 1000.0, 300)
    out = warp_points(lattice, x, y)
    exact_u, exact_v = to_degrees.transform(x, y)
    degree_m = 111_320.0
    assert np.abs(out.u - exact_u).max() * degree_m * np.cos(np.radians(60.0)) < 0.002
    assert np.abs(out.v - exact_v).max() * degree_m < 0.002
    beside_u, beside_v = to_degrees.transform(x + 1.0, y)
    assert out.u_x == pytest.approx(beside_u - exact_u, rel=2e-4)
    assert out.v_x * degree_m == pytest.approx((beside_v - exact_v) * degree_m, abs=1e-4)
