"""How trails lie to running water, from the drainage of the terrain."""

import numpy as np
import pytest

from pipeline.checks.lie import lie_of
from tests.checks.ford.worlds import drained
from tests.checks.worlds import site_on, straight
from tests.worlds import plane

SITE = site_on(straight(), plane())


def test_without_drainage_every_trail_is_open() -> None:
    """Nothing is known: no index, no hollow."""
    lie = lie_of(SITE.terrain)
    assert np.isnan([lie.twi, lie.over_land, lie.hollow_m]).all()
    assert lie.hollow.tolist() == [False]


def test_index_is_held_against_the_land() -> None:
    """The index that a tenth of the segment is above, less the mean of the land."""
    lie = lie_of(drained(SITE, twi_high=9.5, twi_land=6.0).terrain)
    assert lie.twi.tolist() == [9.5]
    assert lie.over_land.tolist() == [3.5]


@pytest.mark.parametrize(("share", "lies"), [(0.0, False), (0.09, False), (0.1, True), (1.0, True), (np.nan, False)])
def test_a_tenth_in_hollows_makes_a_hollow(share: float, lies: bool) -> None:  # noqa: FBT001 - a table
    """What a driver meets on a tenth of the way decides; unknown is not."""
    assert lie_of(drained(SITE, hollow_share=share).terrain).hollow.tolist() == [lies]


def test_deepest_hollow_is_placed() -> None:
    """The chainage of the deepest one; a flow path is none."""
    places = [
        {"at_m": 10.0, "hollow": True, "hollow_m": 0.3},
        {"at_m": 30.0, "hollow": True, "hollow_m": 0.6},
        {"at_m": 40.0, "hollow": True, "hollow_m": 0.2},
        {"at_m": 50.0},
    ]
    assert lie_of(drained(SITE, *places).terrain).hollow_m.tolist() == [30.0]
    assert np.isnan(lie_of(drained(SITE, places[-1]).terrain).hollow_m).all()
