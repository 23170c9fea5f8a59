"""Points sorted into macro-tiles, against a plain twin."""

import numpy as np
import pytest

from pipeline.kernels.terrain_tiles import sort_into_tiles

pytestmark = pytest.mark.kernel

TO_CELL = np.array([0.5, 0.0, -0.5, 0.0, -0.5, 19.5])
"""Cells of 2 m; row 0 is the northernmost of 20."""
BOX = (0, 0, 30, 20)


def test_every_wanted_point_is_in_its_tile_once_in_order() -> None:
    """Plainly: tile numbers by floor division, then a stable sort."""
    rng = np.random.default_rng(1)
    x, y = rng.uniform(-6.0, 66.0, 400), rng.uniform(-6.0, 46.0, 400)
    known = np.where(rng.random(400) < 0.2, 100.0, np.nan)
    pick, starts, bounds = sort_into_tiles((x, y), TO_CELL, BOX, 7, known)
    column, row = 0.5 * x - 0.5, 19.5 - 0.5 * y
    wanted = np.isnan(known) & (column >= -1) & (column <= 30) & (row >= -1) & (row <= 20)
    number = np.floor_divide(row + 1, 7) * 5 + np.floor_divide(column + 1, 7)
    index = np.flatnonzero(wanted)
    assert pick.tolist() == index[np.argsort(number[index], kind="stable")].tolist()
    assert starts[-1] == wanted.sum()
    for tile in np.flatnonzero(np.diff(starts)):
        part = pick[starts[tile] : starts[tile + 1]]
        assert (number[part] == tile).all()
        low_high = (column[part].min(), column[part].max(), row[part].min(), row[part].max())
        assert bounds[tile].tolist() == list(low_high)


def test_a_grid_that_begins_before_its_first_file_counts_from_its_corner() -> None:
    """Negative first column and row: the same tiles, moved."""
    x, y = np.array([1.0, 21.0]), np.array([39.0, 1.0])
    shifted = (-10, -4, 30, 24)
    pick, starts, bounds = sort_into_tiles((x, y), TO_CELL, shifted, 100, np.full(2, np.nan))
    assert pick.tolist() == [0, 1]
    assert starts.tolist() == [0, 2]
    assert bounds[0].tolist() == [0.0, 10.0, 0.0, 19.0]


def test_points_that_are_nowhere_are_left_out() -> None:
    """NaN and infinite coordinates, which a change of CRS may give."""
    bad = np.array([np.nan, np.inf, -np.inf, 5.0])
    pick, starts, _ = sort_into_tiles((bad, np.full(4, 5.0)), TO_CELL, BOX, 7, np.full(4, np.nan))
    assert pick.tolist() == [3]
    assert starts[-1] == 1


def test_no_points_give_no_tiles_with_points() -> None:
    """An empty answer of the right shape."""
    none = np.zeros(0)
    pick, starts, _ = sort_into_tiles((none, none), TO_CELL, BOX, 7, none)
    assert pick.size == 0
    assert not starts.any()
