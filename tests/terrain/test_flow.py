"""Water led over land, against an independent flood, morphology, another accumulation and closed forms."""

import heapq
import subprocess
import sys

import numpy as np
import pytest
from numpy.typing import NDArray
from pyflwdir import core, streams
from scipy import ndimage

from pipeline.terrain.flow import accumulate, border_of, fill_in, lead_water, most_above, stages_of

Floats = NDArray[np.float32]
NONE = np.zeros(0, dtype=np.int64)
CELL_M = 3.0


def random_land(seed: int, shape: tuple[int, int] = (40, 55), voids: int = 60) -> Floats:
    """Give rough ground in steps of 1/1024 m, with voids in it."""
    rng = np.random.default_rng(seed)
    z = ndimage.gaussian_filter(rng.normal(0.0, 6.0, shape), 2.0) + rng.normal(0.0, 0.2, shape) + 100.0
    z.ravel()[rng.choice(z.size, voids, replace=False)] = np.nan
    return (np.round(z * 1024.0) / 1024.0).astype(np.float32)


def flooded(z: Floats, outlets: NDArray[np.int64]) -> Floats:
    """Flood from the outlets inwards with a heap, lowest first (Barnes, Lehman and Mulla 2014, their algorithm 1)."""
    out = np.full_like(z, np.nan)
    heap = []
    for cell in outlets.tolist():
        row, column = divmod(cell, z.shape[1])
        out[row, column] = z[row, column]
        heapq.heappush(heap, (float(z[row, column]), row, column))
    while heap:
        level, row, column = heapq.heappop(heap)
        for r in range(max(row - 1, 0), min(row + 2, z.shape[0])):
            for c in range(max(column - 1, 0), min(column + 2, z.shape[1])):
                if np.isnan(out[r, c]) and not np.isnan(z[r, c]):
                    out[r, c] = max(float(z[r, c]), level)
                    heapq.heappush(heap, (float(out[r, c]), r, c))
    return out


def test_a_grid_worked_by_hand() -> None:
    """Filled over the lowest corner: volume 11, deepest 4; standing water is level (own grid, worked by hand)."""
    z = np.array(
        [[9, 9, 9, 9, 9], [9, 5, 4, 6, 9], [9, 3, 2, 7, 6], [9, 5, 8, 8, 9], [9, 9, 9, 9, 9]], dtype=np.float32
    )
    filled, _ = fill_in(z, border_of(z))
    expected = [[9, 9, 9, 9, 9], [9, 6, 6, 6, 9], [9, 6, 6, 7, 6], [9, 6, 8, 8, 9], [9, 9, 9, 9, 9]]
    assert filled.tolist() == expected
    assert (filled - z).sum() == 11
    assert (filled - z).max() == 4


@pytest.mark.parametrize("seed", range(6))
def test_hollows_are_filled_as_an_independent_flood_fills_them(seed: int) -> None:
    """The library and our own heap agree to the last digit, on random land with voids; filling twice adds nothing."""
    z = random_land(seed)
    filled, _ = fill_in(z, border_of(z))
    assert np.array_equal(filled, flooded(z, border_of(z)), equal_nan=True)
    assert np.array_equal(fill_in(filled, border_of(filled))[0], filled, equal_nan=True)


def test_filling_is_reconstruction_by_erosion() -> None:
    """Mathematical morphology (Soille and Gratin 1994): the fixed point of max(z, lowest neighbour) from above."""
    z = random_land(7, voids=0)
    level = np.full_like(z, np.float32(1e4))
    level.ravel()[border_of(z)] = z.ravel()[border_of(z)]
    for _ in range(z.size):
        lower = np.maximum(z, ndimage.grey_erosion(level, size=(3, 3), mode="nearest"))
        if np.array_equal(lower, level):
            break
        level = lower
    assert np.array_equal(fill_in(z, border_of(z))[0], level)


@pytest.mark.parametrize("seed", range(4))
def test_catchments_add_up_as_pyflwdir_adds_them(seed: int) -> None:
    """The same ways summed by pyflwdir's own order and accumulation; nothing is lost: the outlets get every cell."""
    z = random_land(seed)
    flow = lead_water(z, CELL_M, NONE)
    known = ~np.isnan(z.ravel())
    ours = accumulate(flow, known.astype(np.float64))
    ways = np.where(known, flow.down, -1).astype(np.intp)
    ends = np.flatnonzero(known & (flow.down == np.arange(z.size)))
    order = core.idxs_seq(ways, ends)
    theirs = streams.accuflux(ways, order, known.astype(np.float64), -9999.0)
    assert order.size == known.sum()
    assert np.array_equal(ours, theirs)
    assert ours[ends].sum() == known.sum()


@pytest.mark.parametrize("seed", range(4))
def test_water_never_runs_up(seed: int) -> None:
    """Each way goes to a neighbour no higher than the filled ground; ways end only at the border of the land."""
    z = random_land(seed)
    flow = lead_water(z, CELL_M, NONE)
    known = np.flatnonzero(~np.isnan(z.ravel()))
    assert (flow.filled[flow.down[known]] <= flow.filled[known]).all()
    row, column = np.divmod(known, z.shape[1])
    to_row, to_column = np.divmod(flow.down[known], z.shape[1])
    assert (np.maximum(abs(row - to_row), abs(column - to_column)) <= 1).all()
    ends = known[flow.down[known] == known]
    assert np.isin(ends, border_of(z)).all()


@pytest.mark.parametrize(("east", "south", "way"), [(0.08, 0.0, 1), (0.02, 0.1, 40), (0.05, 0.05, 41), (-0.1, 0.0, -1)])
def test_water_takes_the_steepest_way(east: float, south: float, way: int) -> None:
    """On an even slope every inner cell drains straight, or to the corner where that is steeper (D8), by its fall."""
    row, column = np.mgrid[0:30, 0:40]
    z = np.round((200.0 - CELL_M * (east * column + south * row)) * 1024.0) / 1024.0
    flow = lead_water(z.astype(np.float32), CELL_M, NONE)
    inner = np.arange(z.size).reshape(z.shape)[1:-1, 1:-1].ravel()
    assert (flow.down[inner] == inner + way).all()
    fall = (abs(east) + abs(south)) / np.sqrt(2.0) if way == 41 else max(abs(east), abs(south))
    assert flow.slope[inner] == pytest.approx(fall, abs=5e-4)


def test_a_hollow_that_keeps_its_water_is_an_end() -> None:
    """Its bottom is not filled, and what comes to it does not come out again."""
    z = random_land(3, voids=0)
    z[10:16, 10:16] -= 8.0
    bottom = int(np.argmin(z))
    flow = lead_water(z, CELL_M, np.array([bottom]))
    assert flow.down[bottom] == bottom
    assert flow.filled[bottom] == z.ravel()[bottom]
    assert accumulate(flow, np.ones(z.size))[bottom] > 36
    assert lead_water(z, CELL_M, NONE).filled[bottom] > z.ravel()[bottom] + 5.0


def test_the_most_above_is_the_height_water_comes_from() -> None:
    """In one row that falls, each cell has the height of the first above it; it never is below the cell itself."""
    z = random_land(5)
    flow = lead_water(z, CELL_M, NONE)
    highest = most_above(flow, flow.filled)
    known = ~np.isnan(flow.filled)
    assert (highest[known] >= flow.filled[known]).all()
    line = np.array([[5.0, 4.0, 2.0, 1.0]], dtype=np.float32)
    assert most_above(lead_water(line, CELL_M, NONE), line.ravel()).tolist() == [5.0] * 4


@pytest.mark.parametrize("shape", [(1, 9), (9, 1), (1, 1), (2, 2)])
def test_land_of_a_single_row_drains(shape: tuple[int, int]) -> None:
    """Every cell is at the border; water runs along the row all the same."""
    z = np.arange(shape[0] * shape[1], dtype=np.float32).reshape(shape)
    flow = lead_water(z, CELL_M, NONE)
    assert np.array_equal(flow.filled, z.ravel())
    assert accumulate(flow, np.ones(z.size))[0] == z.size


def test_no_ground_at_all_has_no_water() -> None:
    """All void: nothing stands, nothing runs, nothing fails."""
    flow = lead_water(np.full((4, 5), np.nan, dtype=np.float32), CELL_M, NONE)
    assert np.isnan(flow.filled).all()
    assert flow.stages == ()
    assert flow.down.tolist() == list(range(20))


def test_stages_hold_every_cell_once_and_in_order() -> None:
    """The water of a cell goes to one of a later stage."""
    down = np.array([1, 2, 2, 2, 3, 3, 6])
    stages = stages_of(down, np.array([True] * 6 + [False]))
    assert sorted(np.concatenate(stages).tolist()) == [0, 1, 2, 3, 4, 5]
    number = {cell: k for k, stage in enumerate(stages) for cell in stage.tolist()}
    assert all(number[cell] < number[int(down[cell])] for cell in (0, 1, 3, 4, 5))


def test_the_border_is_round_the_land_and_round_its_voids() -> None:
    """A void in the middle makes its eight neighbours a border."""
    z = np.zeros((7, 7), dtype=np.float32)
    z[3, 3] = np.nan
    border = np.zeros((7, 7), dtype=bool)
    border.ravel()[border_of(z)] = True
    assert border.sum() == 24 + 8
    assert border[2:5, 2:5].sum() == 8


_ALONE = """
import sys
import numpy as np
from pipeline.terrain.flow import fill_in

fill_in(np.zeros((3, 3), dtype=np.float32), np.arange(9))
assert "scipy.integrate" not in sys.modules and "scipy.optimize" not in sys.modules
assert "pyflwdir" not in sys.modules
import pyflwdir

assert pyflwdir.__version__ and pyflwdir.from_dem and pyflwdir.fill_depressions
fill_in(np.zeros((3, 3), dtype=np.float32), np.arange(9))
"""


def test_the_flood_is_loaded_without_its_package() -> None:
    """Nothing that takes long to load comes with it, and the package itself can be loaded afterwards, and whole."""
    done = subprocess.run([sys.executable, "-c", _ALONE], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
