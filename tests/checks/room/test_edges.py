"""Edges of the trail from widths and side slopes."""

import numpy as np
import pytest

from pipeline.checks.room.edges import edges_of
from tests.checks.room.worlds import straight_scene
from tests.checks.worlds import LIMITS

ROW = np.zeros(1, dtype=np.int64)


def edges(cross: float = 0.0, row: int = 0, **columns: object) -> tuple[list[float], list[float]]:
    """Give wheel and body edges, left and right, of one point."""
    scene = straight_scene(**columns)
    wheel, body = edges_of(scene, ROW + row, np.array([cross]), LIMITS)
    return wheel[0].tolist(), body[0].tolist()


def test_level_ground() -> None:
    """The tyres stay within half of the width; the body may overhang."""
    assert edges(width_m=3.0) == ([1.5, 1.5], [np.inf, np.inf])


def test_bank_and_drop_off() -> None:
    """Ground that rises to the right: the body stays off the bank there, the tyres off the drop-off on the left."""
    steep = np.tan(np.radians(LIMITS.edge_slope_deg + 0.1))
    margin = LIMITS.edge_margin_m
    assert edges(steep, width_m=3.0) == ([pytest.approx(1.5 - margin), 1.5], [np.inf, 1.5])
    assert edges(-steep, width_m=3.0) == ([1.5, pytest.approx(1.5 - margin)], [1.5, np.inf])


def test_slope_below_the_threshold_is_none() -> None:
    """A tenth of a degree less is level ground; so is a slope that nobody knows."""
    slight = np.tan(np.radians(LIMITS.edge_slope_deg - 0.1))
    assert edges(slight, width_m=3.0) == edges(0.0, width_m=3.0) == edges(np.nan, width_m=3.0)


def test_nobody_knows_what_stands_beyond() -> None:
    """Not surveyed, or signed: the whole body stays inside on both sides."""
    both = ([1.5, 1.5], [1.5, 1.5])
    assert edges(width_m=3.0, surveyed_on=None) == both
    assert edges(width_m=3.0, obstacles_surveyed=False) == both
    assert edges(width_m=3.6, max_width_m=3.0) == both
    assert edges(width_m=None, max_width_m=3.0) == both
    assert edges(width_m=3.0, max_width_m=4.0) == ([1.5, 1.5], [np.inf, np.inf])


def test_no_width_no_edge() -> None:
    """Neither tagged nor on any segment: no edge is known, steep or not."""
    none = ([np.inf, np.inf], [np.inf, np.inf])
    assert edges(width_m=None) == none
    assert edges(1.0, width_m=None) == none
    assert edges(row=-1, width_m=3.0) == none


def test_margin_wider_than_the_trail() -> None:
    """A width below the edge margin leaves the tyres nothing, never less."""
    assert edges(1.0, width_m=0.2)[0] == [0.0, 0.1]
