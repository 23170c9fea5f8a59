"""One reverse: where it gets round, and where nothing does."""

import numpy as np
import pytest

from pipeline.kernels.line_lattice import CX, OFFSET, Body, Mesh, Stretch
from pipeline.kernels.line_room import Asked, Lines, Middle, find_lines
from pipeline.kernels.line_search import GAP, HEADING, LENGTH, Rules
from pipeline.kernels.plan_gap import box_rows, hull_of, solid_rows
from pipeline.kernels.plan_records import Boxes, Tracks
from pipeline.kernels.plan_way import way_rows
from pipeline.kernels.shunt import Yard
from tests.kernels import line_called as called
from tests.kernels.line_worlds import straight, track_of, trees, vehicle

ASKED = Asked(rate=0.3, comfort=0.65, enough=0.15, slack=0.1, reverse=4.0)


def asked_of(boxes: Boxes, tracks: Tracks, reverse: float, *places: tuple[float, float, float]) -> Lines:
    """Search a track with trunks along it; the middle line is not known to be driven."""
    flags = np.ones((1, 2), dtype=np.bool_)
    middle = Middle(np.zeros(tracks.x.size), np.array([-np.inf]), flags[:, 0], flags)
    return find_lines(boxes, tracks, trees(tracks, *places), middle, ASKED._replace(reverse=reverse))


@pytest.mark.parametrize("side", [-1.0, 1.0])
def test_one_reverse_gets_round_a_hairpin_that_is_too_tight(side: float) -> None:
    """A hairpin of 4.5 m on a broad trail stops a lock of 5.6 m; backing once gets it round, backing 0.2 m does not."""
    boxes = vehicle(length=4.2, wheelbase=2.6, radius=5.6, width=1.8)
    bend = track_of(side * np.r_[np.zeros(28), np.full(28, np.pi / 14), np.zeros(28)], wheel=2.3, aside=1.5)
    assert asked_of(boxes, bend, 4.0).shunt[0]
    assert not asked_of(boxes, bend, 0.2).shunt[0]


@pytest.mark.kernel
def test_no_reverse_makes_a_gap_wider() -> None:
    """Between two trunks closer than the body is wide no reverse helps, however long."""
    boxes, tracks = vehicle(length=3.6, wheelbase=2.2), straight(20.0, aside=0.3)
    trunks = [(10.0, -0.9, 0.2), (10.0, 0.9, 0.2)]
    assert not asked_of(boxes, tracks, 8.0, *trunks).shunt[0]


def test_an_open_trail_needs_none() -> None:
    """Where the line passes with what is asked for, no shunt is looked for."""
    assert not asked_of(vehicle(), straight(20.0), 4.0, (10.0, 2.5, 0.2)).shunt[0]


def yard_of(most: float, *trunks: tuple[float, float, float], places: int = 21) -> Yard:
    """Lay a lattice by hand: straight steps until they are blocked at 6 m, and steps to the right from 2 m on.

    No turn leads from one to the other, so only a reverse that turns the vehicle to the right joins them.
    """
    boxes, tracks = vehicle(length=3.6, wheelbase=2.2), straight(10.0)
    room = called.space(6, places, 5)
    for k in range(5):
        for i in range(places):
            for s in range(5):
                across = 0.4 * (s - 2)
                opened = (s == 2 and k <= 2 and i == places // 2) or (s >= 3 and k >= 1)
                if 0 <= i + s - 2 < places and opened:
                    room.steps[k, i, s, HEADING], room.steps[k, i, s, LENGTH] = -np.arctan(across / 2.0), 2.0
                    room.steps[k, i, s, GAP] = 1.0
    line = np.zeros((6, 5))
    line[:, CX] = 2.0 * np.arange(6)
    line[:, OFFSET] = 0.0
    none = np.full((tracks.x.size, 4), np.inf)
    none[:, 2:] = 0.0, np.nan
    solids = trees(tracks, *trunks)
    near = np.arange(tracks.x.size + 1) * solids.ax.size
    which = np.tile(np.arange(solids.ax.size), tracks.x.size)
    rows = np.column_stack([way_rows(tracks), none])
    stretch = Stretch(rows, tracks.step, solid_rows(solids), near, which, 0.1)
    own = box_rows(boxes)
    body = Body(own, np.stack([own]), hull_of(boxes), boxes.wheelbase, most)
    return Yard(
        stretch, body, line, Mesh(6, 4, places, 0.4, 1, False, False), Rules(0.01, np.inf, 0.65, 0.15, 2.0), room
    )


@pytest.mark.kernel
def test_a_reverse_joins_what_no_turn_does() -> None:
    """Rolling back at left lock turns the vehicle to the right, on to steps that lead on; its tail needs room left."""
    assert called.one_reverse(yard_of(0.2), 4.0)
    for side, gets_round in ((1.0, True), (-1.0, False)):
        behind = [(at, side * 1.23, 0.1) for at in (1.6, 3.6)]
        assert called.one_reverse(yard_of(0.2, *behind), 4.0) == gets_round


@pytest.mark.kernel
def test_a_reverse_takes_lock_length_and_room() -> None:
    """Steering that hardly turns, half a metre, a trunk behind, or a lattice that ends beside it: none gets round."""
    assert not called.one_reverse(yard_of(0.01), 4.0)
    assert not called.one_reverse(yard_of(0.2), 0.5)
    hedge = [(3.5, offset, 0.2) for offset in np.arange(-5.0, 5.5, 0.5)]
    assert not called.one_reverse(yard_of(0.2, *hedge), 4.0)
    assert not called.one_reverse(yard_of(0.2, places=1), 4.0)
