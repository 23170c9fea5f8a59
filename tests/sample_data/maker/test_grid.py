"""The array tools that the hill is drawn with."""

import numpy as np
import pytest
from maker.grid import COLUMNS, ROWS, bilinear, cell_centres, noise, polyline_distance, smoothstep
from scipy import ndimage


def test_cell_centres_lie_half_a_cell_in() -> None:
    """The first cell's centre is half a metre from the south-west corner, rows run north."""
    x, y = cell_centres()
    assert x.shape == y.shape == (ROWS, COLUMNS)
    assert (x[0, 0], y[0, 0]) == (0.5, 0.5)
    assert (x[-1, -1], y[-1, -1]) == (COLUMNS - 0.5, ROWS - 0.5)


def test_noise_is_the_same_each_time_and_stays_in_bounds() -> None:
    """Noise depends on place, wavelength and seed only, has no bias to speak of, and stays in −1…1."""
    x, y = cell_centres()
    first = noise(x, y, 7.0, 3)
    assert np.array_equal(first, noise(x, y, 7.0, 3))
    assert not np.array_equal(first, noise(x, y, 7.0, 4))
    assert np.abs(first).max() <= 1.0
    assert abs(first.mean()) < 0.02
    assert first.std() > 0.2


def test_noise_is_smooth_across_lattice_lines() -> None:
    """Value and slope run through a lattice line: no crease for a wheel to find."""
    step = 1e-4
    x = np.array([-step, 0.0, step]) + 21.0
    values = noise(x, np.full(3, 5.3), 7.0, 3)
    assert np.abs(np.diff(values)).max() < 1e-6


def test_smoothstep_has_level_ends() -> None:
    """0 and 1 at the ends and beyond, a half in the middle, no slope at the ends."""
    assert smoothstep(np.array([-1.0, 0.0, 0.5, 1.0, 2.0])).tolist() == [0.0, 0.0, 0.5, 1.0, 1.0]
    assert smoothstep(np.array([1e-3]))[0] < 1e-7


def test_distance_to_a_polyline_is_the_euclidean_one() -> None:
    """Beside a piece the perpendicular counts, beyond its end the end point (a 3-4-5 triangle)."""
    line = [(0.0, 0.0, 10.0), (100.0, 0.0, 20.0)]
    away, _ = polyline_distance(np.array([50.0, 103.0]), np.array([7.0, 4.0]), line)
    assert away == pytest.approx([7.0, 5.0])


def test_value_along_a_polyline_is_interpolated() -> None:
    """On a line of one piece the third coordinate is linear along it."""
    _, value = polyline_distance(np.array([25.0, 80.0]), np.array([3.0, -30.0]), [(0.0, 0.0, 10.0), (100.0, 0.0, 20.0)])
    assert value == pytest.approx([12.5, 18.0])


def test_value_does_not_jump_where_the_nearest_piece_changes() -> None:
    """Across the bisector of a bend the value changes by less than the ground could tell."""
    bend = [(0.0, 0.0, 0.0), (50.0, 0.0, 5.0), (50.0, 50.0, 10.0)]
    x = 20.0 + np.array([-0.01, 0.01])
    _, value = polyline_distance(x, np.full(2, 30.0), bend)
    assert abs(value[1] - value[0]) < 0.02


def test_bilinear_equals_scipy() -> None:
    """Heights between cell centres are those of ``scipy.ndimage.map_coordinates`` of order 1."""
    x, y = cell_centres()
    grid = noise(x, y, 11.0, 8)
    generator = np.random.default_rng(0)
    px, py = generator.uniform(1.0, COLUMNS - 1.0, 500), generator.uniform(1.0, ROWS - 1.0, 500)
    expected = ndimage.map_coordinates(grid, [py - 0.5, px - 0.5], order=1)
    assert bilinear(grid, px, py) == pytest.approx(expected, abs=1e-9)
