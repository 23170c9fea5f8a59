"""The hill before the trails."""

from itertools import pairwise

import numpy as np
import pytest
from maker.grid import COLUMNS, ROWS, Floats, bilinear
from maker.hill import BENCHES, QUARRY, STREAM, hill


@pytest.fixture(scope="module")
def ground() -> Floats:
    """Draw the hill, once."""
    return hill()


def test_the_hill_is_steep_and_whole(ground: Floats) -> None:
    """Some 160 m of relief, half of it steeper than 12°, a tenth steeper than 22°, and no hole in it."""
    assert ground.shape == (ROWS, COLUMNS)
    assert np.isfinite(ground).all()
    assert 140.0 < np.ptp(ground) < 190.0
    south_north, west_east = np.gradient(ground)
    slope = np.degrees(np.arctan(np.hypot(south_north, west_east)))
    assert np.percentile(slope, 50.0) > 12.0
    assert np.percentile(slope, 90.0) > 22.0


def test_the_stream_runs_downhill() -> None:
    """Every reach of the stream falls."""
    assert all(lower[2] < upper[2] for upper, lower in pairwise(STREAM))


def test_the_stream_is_the_lowest_ground_beside_it(ground: Floats) -> None:
    """Forty metres to either side of every bend the ground stands higher than in the stream's bed near it."""
    x, y = (np.array([place[k] for place in STREAM[1:-1]]) for k in (0, 1))
    bed = np.min([bilinear(ground, x, y + shift) for shift in range(-14, 15)], axis=0)
    for side in (-40.0, 40.0):
        assert (bilinear(ground, x, y + side) > bed + 0.3).all()


def test_the_quarry_has_its_floors(ground: Floats) -> None:
    """In the middle of every bench the ground is the bench's floor, within the fall given to it."""
    backs = [0.0, *(back for _, _, back in BENCHES)]
    for (level, _, back), front in zip(BENCHES, backs[:-1], strict=True):
        middle = ground[int(QUARRY[1] + (front + back) / 2.0), int(QUARRY[0])]
        assert middle == pytest.approx(level, abs=2.0)
