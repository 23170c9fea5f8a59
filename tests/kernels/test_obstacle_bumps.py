"""Obstacles laid into profiles."""

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from pipeline.kernels.obstacle_bumps import ELLIPSE, STEP, TROUGH, Bumps, lay_bumps

pytestmark = pytest.mark.kernel

DX = 0.1


def bumps(*things: tuple[int, float, float, float, int], fade: float = 1.0, basis: int = 4) -> Bumps:
    """Make things from (run, at, height, length, shape)."""
    columns = [np.array(column) for column in zip(*things, strict=True)] if things else [np.zeros(0)] * 5
    kinds = (np.int64, np.float64, np.float64, np.float64, np.int64)
    arrays = [column.astype(kind) for column, kind in zip(columns, kinds, strict=True)]
    return Bumps(*arrays, np.full(len(things), basis, dtype=np.uint8), fade)


def lay(z: NDArray[np.float64], things: Bumps) -> tuple[NDArray[np.float64], NDArray[np.uint8]]:
    """Lay things into one run that begins at run coordinate −1."""
    basis = np.full(z.size, 3, dtype=np.uint8)
    return lay_bumps((z, basis), np.array([0, z.size]), np.array([-1.0]), DX, things)


def test_rock_is_a_half_ellipse() -> None:
    """Height h over length l: z = h·√(1 − (2u/l)²), nothing outside."""
    z, _ = lay(np.zeros(101), bumps((0, 4.0, 0.3, 1.0, ELLIPSE)))
    expected = [0.3 * math.sqrt(max(1.0 - (2.0 * (k * DX - 1.0 - 4.0)) ** 2, 0.0)) for k in range(101)]
    assert z == pytest.approx(np.array(expected), abs=1e-9)


def test_short_thing_between_heights_keeps_its_height() -> None:
    """A pole 4 cm long between two heights of the profile still stands there at its full height."""
    z, _ = lay(np.zeros(101), bumps((0, 4.04, 0.12, 0.04, ELLIPSE)))
    assert z.max() == pytest.approx(0.12)
    assert np.count_nonzero(z) == 1


def test_hole_goes_down_and_overlaps_do_not_add() -> None:
    """Two rocks in one place are as high as the higher; holes as deep as the deeper."""
    rocks = bumps((0, 4.0, 0.3, 1.0, ELLIPSE), (0, 4.0, 0.2, 2.0, ELLIPSE))
    holes = bumps((0, 4.0, -0.3, 1.0, ELLIPSE), (0, 4.0, -0.2, 2.0, ELLIPSE))
    up, down = lay(np.zeros(101), rocks)[0], lay(np.zeros(101), holes)[0]
    assert up.max() == pytest.approx(0.3)
    assert down == pytest.approx(-up)
    assert up[50 + 7] == pytest.approx(0.2 * math.sqrt(1.0 - 0.49))


def test_step_jumps_and_leaves_the_far_field() -> None:
    """A smeared rise of 0.4 m over 2 m becomes flat, jump of 0.4 m, flat; beyond the fade nothing has moved."""
    x = np.arange(101) * DX - 1.0
    smeared = np.clip((x - 3.0) / 2.0, 0.0, 1.0) * 0.4
    z, _ = lay(smeared, bumps((0, 4.0, 0.4, np.nan, STEP)))
    before, after = (x > 3.0) & (x < 3.95), (x >= 3.95) & (x < 5.0)
    assert z[before] == pytest.approx(np.zeros(before.sum()), abs=1e-9)
    assert z[after] == pytest.approx(np.full(after.sum(), 0.4), abs=1e-9)
    assert z[(x <= 3.0) | (x >= 5.0)] == pytest.approx(smeared[(x <= 3.0) | (x >= 5.0)])


def test_rut_is_a_trough_with_sloping_ends() -> None:
    """A rut is its full depth along its length, with slopes of the fade's length at both ends."""
    z, _ = lay(np.zeros(101), bumps((0, 4.0, -0.2, 6.0, TROUGH)))
    x = np.arange(101) * DX - 1.0
    expected = -0.2 * np.clip(3.0 - np.abs(x - 4.0), 0.0, 1.0)
    assert z == pytest.approx(expected, abs=1e-9)


def test_arguments_stay_and_basis_falls_where_assumed() -> None:
    """Heights touched by an assumed thing rest on the assumption; the arguments are not changed."""
    flat = np.zeros(101)
    z, basis = lay(flat, bumps((0, 4.0, 0.3, 0.5, ELLIPSE), basis=1))
    assert not flat.any()
    assert (basis[z > 0.0] == 1).all()
    assert (basis[z == 0.0] == 3).all()


def test_things_beyond_the_run_are_cut_off() -> None:
    """A thing at the edge is cut at the edge, in its own run only."""
    z = np.zeros(40)
    offsets, start = np.array([0, 20, 40]), np.array([0.0, 0.0])
    out, _ = lay_bumps((z, np.full(40, 3, dtype=np.uint8)), offsets, start, DX, bumps((0, 2.0, 0.3, 1.0, ELLIPSE)))
    assert out[19] > 0.0
    assert not out[20:].any()
    assert lay_bumps((z, np.full(40, 3, dtype=np.uint8)), offsets, start, DX, bumps())[0].tolist() == z.tolist()


def test_some_of_the_things_are_taken() -> None:
    """Taking by flags or by indices keeps every column together."""
    both = bumps((0, 1.0, 0.3, 1.0, ELLIPSE), (1, 4.0, -0.2, 2.0, TROUGH))
    for which in (np.array([False, True]), np.array([1])):
        one = both.take(which)
        assert (one.run[0], one.at[0], one.height[0], one.length[0], one.shape[0]) == (1, 4.0, -0.2, 2.0, TROUGH)
        assert (one.basis.tolist(), one.fade) == ([4], 1.0)
