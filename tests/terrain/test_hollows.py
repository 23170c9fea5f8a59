"""What hollows hold, and how far the water of their catchment comes."""

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import ndimage

from pipeline.terrain.flow import Flow, accumulate, lead_water
from pipeline.terrain.hollows import Hollows, connected, find_hollows
from tests.terrain.test_flow import random_land

NONE = np.zeros(0, dtype=np.int64)
CELL_M = 3.0


def hollows_of(
    z: NDArray[np.float32], runoff_m: float, least_m: float = 0.2
) -> tuple[Flow, Hollows, NDArray[np.float64]]:
    """Find the hollows of land that gets so much rain; gives the flow, the hollows and the depths."""
    flow = lead_water(z, CELL_M, NONE)
    area = accumulate(flow, np.where(np.isnan(z.ravel()), 0.0, CELL_M**2))
    hollows = find_hollows(z, flow, area, runoff_m, (CELL_M, least_m))
    return flow, hollows, hollows.depth_m


def trough(*depths: float) -> NDArray[np.float32]:
    """Dig cells of these depths into one row of level ground that is walled in, with a way out at the east end."""
    z = np.full((3, len(depths) + 2), 120.0, dtype=np.float32)
    z[1, 0] = 110.0
    z[1, 1:-1] = 100.0 - np.array(depths, dtype=np.float32)
    z[1, -1] = 100.0
    return z


def test_a_hollow_is_told_with_its_bottom_and_its_way_out() -> None:
    """Depth below the rim, deepest cell, and the last cell before the rim."""
    z = trough(0.5, 2.0, 1.0)
    _, hollows, depth = hollows_of(z, 100.0)
    assert hollows.deepest_m.tolist() == [2.0]
    assert hollows.bottom.tolist() == [5 + 2]
    assert hollows.exit.tolist() == [5 + 3]
    assert depth.reshape(z.shape)[1].tolist() == [0.0, 0.5, 2.0, 1.0, 0.0]
    assert hollows.of_cell.reshape(z.shape)[1].tolist() == [-1, 0, 0, 0, -1]
    assert not hollows.keeps.any()


@pytest.mark.parametrize(
    ("supply_m3", "reached", "keeps"),
    [
        (0.0, [False, True, False], True),
        (8.9, [False, True, False], True),
        (9.0, [False, True, True], True),
        (17.9, [False, True, True], True),
        (18.0, [True, True, True], True),
        (31.4, [True, True, True], True),
        (31.5, [True, True, True], False),
    ],
)
def test_water_comes_as_far_as_the_catchment_brings(supply_m3: float, *, reached: list[bool], keeps: bool) -> None:
    """Cells of 9 m², 0.5, 2.0 and 1.0 m deep: 9 · 1 m³ reach the third, 9 · (1.5 + 0.5) the first, 9 · 3.5 the rim."""
    z = trough(0.5, 2.0, 1.0)
    flow = lead_water(z, CELL_M, NONE)
    hollows = find_hollows(z, flow, np.full(z.size, supply_m3), 1.0, (CELL_M, 0.2))
    assert hollows.flooded.reshape(z.shape)[1, 1:-1].tolist() == reached
    assert hollows.keeps.tolist() == [keeps]


def test_shallow_hollows_do_not_count() -> None:
    """Nor do the shallow edges of deep ones."""
    assert hollows_of(trough(0.1, 0.19, 0.1), 100.0)[1].exit.size == 0
    z = trough(0.1, 0.3, 0.25)
    _, hollows, _ = hollows_of(z, 100.0)
    assert hollows.flooded.reshape(z.shape)[1, 1:-1].tolist() == [False, True, True]


def test_two_hollows_in_a_row_are_two() -> None:
    """A rim between them keeps them apart; each has its own way out."""
    _, hollows, _ = hollows_of(trough(1.0, 0.0, 2.0, 1.0), 100.0)
    assert sorted(hollows.deepest_m.tolist()) == [1.0, 2.0]


@pytest.mark.parametrize("seed", range(3))
def test_on_random_land_as_counted_cell_by_cell(seed: int) -> None:
    """The volume below each flooded cell is summed the slow way; all cells of a hollow are filled to the same rim."""
    z = random_land(seed)
    flow, hollows, depth = hollows_of(z, 0.3)
    supply = accumulate(flow, np.where(np.isnan(z.ravel()), 0.0, CELL_M**2)) * 0.3
    assert hollows.exit.size > 3
    for number, way_out in enumerate(hollows.exit.tolist()):
        mine = np.flatnonzero(hollows.of_cell == number)
        assert np.unique(flow.filled[mine]).size == 1
        assert depth[mine].max() == hollows.deepest_m[number]
        assert depth[hollows.bottom[number]] == hollows.deepest_m[number]
        assert hollows.keeps[number] == (depth[mine].sum() * CELL_M**2 > supply[way_out])
        for cell in mine.tolist():
            needed = np.maximum(depth[mine] - depth[cell], 0.0).sum() * CELL_M**2
            assert hollows.flooded[cell] == (depth[cell] >= 0.2 and needed <= supply[way_out] + 1e-9)


def test_land_without_hollows_has_none() -> None:
    """An even slope."""
    z = np.round(np.mgrid[0:6, 0:6][1].astype(np.float32))
    _, hollows, _ = hollows_of(z, 1.0)
    assert hollows.exit.size == hollows.bottom.size == hollows.keeps.size == 0
    assert not hollows.flooded.any()


@pytest.mark.parametrize(("share", "seed"), [(0.0, 0), (0.1, 1), (0.3, 2), (0.45, 3), (0.7, 4), (1.0, 5)])
def test_groups_are_those_that_scipy_labels(share: float, seed: int) -> None:
    """Touching at a side or a corner, named in the order of their first cells."""
    wanted = np.random.default_rng(seed).random((40, 70)) < share
    got, count = connected(wanted)
    labels, expected = ndimage.label(wanted, structure=np.ones((3, 3)))
    names = np.unique(labels[wanted], return_index=True)[0]
    first = [np.flatnonzero(labels.ravel() == name)[0] for name in names]
    place = {name: k for k, name in enumerate(names[np.argsort(first)])}
    assert count == expected
    assert got.tolist() == [place.get(label, -1) for label in labels.ravel().tolist()]


def test_a_long_winding_group_is_one() -> None:
    """A spiral path is followed from end to end."""
    wanted = np.zeros((41, 41), dtype=bool)
    wanted[::2] = True
    wanted[1::4, -1] = True
    wanted[3::4, 0] = True
    assert connected(wanted)[1] == 1
