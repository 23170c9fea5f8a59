"""Driving along ways against the tractrix, closed and integrated, and against lock and rate."""

import math

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

from pipeline.kernels.plan_records import Boxes, Tracks
from pipeline.kernels.steering import Driven, follow
from tests.kernels.plan_called import aim, roll_on
from tests.kernels.plan_worlds import WAGON, circle, joined, mirrored, plank, way

pytestmark = pytest.mark.kernel

Floats = NDArray[np.float64]
L = 2.8


def fronts(driven: Driven, wheelbase: float = L) -> tuple[Floats, Floats]:
    """Give the middles of the front axle."""
    return driven.x + wheelbase * np.cos(driven.heading), driven.y + wheelbase * np.sin(driven.heading)


def free(wheelbase: float = L) -> Boxes:
    """Make a vehicle that no lock hinders."""
    return plank(wheelbase, 1.6, lock=1.5)


def test_straight_on() -> None:
    """Along a straight, in any direction, the rear axle stands on every point and nothing is steered."""
    tracks = way(np.zeros(20), heading=2.5)
    driven = follow(WAGON, tracks, 0.3)
    assert driven.x == pytest.approx(tracks.x, abs=1e-9)
    assert driven.y == pytest.approx(tracks.y, abs=1e-9)
    assert driven.steer == pytest.approx(np.zeros(21), abs=1e-9)
    assert driven.held.all()


def test_steady_turn_is_the_closed_form() -> None:
    """On a circle of radius R from its first point on: rear at √(R² − L²), sin δ = L ÷ R, front on the circle."""
    driven = Driven(*(column[:54] for column in follow(free(), way(np.full(60, 1.0 / 6.0)), np.inf)))
    x, y = fronts(driven)
    assert np.hypot(driven.x, driven.y - 6.0) == pytest.approx(np.full(54, math.sqrt(36.0 - L * L)), abs=2e-4)
    assert np.hypot(x, y - 6.0) == pytest.approx(np.full(54, 6.0), abs=2e-4)
    assert np.sin(driven.steer) == pytest.approx(np.full(54, L / 6.0), abs=1e-3)


def integrated(ways: Floats, radius: float) -> Floats:
    """Integrate dψ/ds = sin(θ − ψ) ÷ L from 10 m before a bend on, given at *ways* of the front axle from its start."""

    def turn(s: float, heading: Floats) -> Floats:
        return np.sin(max(s, 0.0) / radius - heading) / L

    found = solve_ivp(turn, (-10.0, ways[-1]), [0.0], "DOP853", ways, rtol=1e-11, atol=1e-12, max_step=0.05)
    return np.asarray(found.y[0])


@pytest.mark.parametrize("radius", [4.5, 8.0, 20.0])
def test_entering_a_circle_follows_the_tractrix(radius: float) -> None:
    """Against the tractrix integrated to 1e-11 (scipy's DOP853), headings agree to the second order of the step."""
    errors = []
    for step in (0.2, 0.1):
        driven = follow(free(), circle(radius, 0.5, step), np.inf)
        x, y = (column[round(2.0 / step) : -math.ceil((L + 0.5) / step) - 1] for column in fronts(driven))
        turning = x > 10.0
        turning[turning.argmax() :] = True
        assert np.hypot(x - 10.0, y - radius)[turning] == pytest.approx(np.full(turning.sum(), radius), abs=0.02 * step)
        ways = np.where(turning, radius * np.arctan2(x - 10.0, radius - y), x - 10.0)
        errors.append(np.abs(integrated(ways, radius) - driven.heading[round(2.0 / step) :][: ways.size]).max())
    assert errors[0] < 2e-3
    assert errors[1] < 0.4 * errors[0]


def test_leaving_a_circle_is_the_tractrix_of_a_straight() -> None:
    """On the straight after a bend tan(ψ/2) falls by exp(−s ÷ L): the tractrix of Huygens, in closed form."""
    bends = np.zeros(400)
    bends[:200] = 1.0 / 6.0
    driven = follow(free(), way(bends, 0.05), np.inf)
    x, y = fronts(driven)
    last = complex(6.0 * math.sin(10.0 / 6.0), 6.0 - 6.0 * math.cos(10.0 / 6.0))
    along = ((x + 1j * y) - last) / complex(math.cos(10.0 / 6.0), math.sin(10.0 / 6.0))
    gone = (along.real > 0.0) & (np.arange(x.size) > 120) & (np.arange(x.size) < 390)
    angle = np.tan((10.0 / 6.0 - driven.heading[gone]) / 2.0)
    assert gone.sum() > 150
    expected = math.tan(math.asin(L / 6.0) / 2.0) * np.exp(-along.real[gone] / L)
    assert angle == pytest.approx(expected, abs=3e-4)


def test_aim_is_one_circle_through_front_and_point() -> None:
    """Middle of the front axle and the point are as far from the centre of the turn; straight ahead it is far away."""
    for forward, left in ((3.5, 0.4), (4.0, -1.5), (2.9, 0.05)):
        bend = aim(forward, left, L)
        assert math.hypot(L, 1.0 / bend) == pytest.approx(math.hypot(forward, left - 1.0 / bend))
        assert math.copysign(1.0, bend) == math.copysign(1.0, left)
    assert aim(3.3, 0.0, L) == 0.0
    assert aim(L, 0.0, L) == 0.0


def test_rolling_on_is_exact() -> None:
    """Round a full circle at a constant angle, forwards and back, in one step or in many; straight on without one."""
    steer = math.atan(L / 5.0)
    assert roll_on((0.0, 0.0, 0.0, steer), L, 2.5 * math.pi) == pytest.approx((5.0, 5.0, math.pi / 2.0, steer))
    assert roll_on((0.0, 0.0, 0.0, -steer), L, -2.5 * math.pi) == pytest.approx((-5.0, -5.0, math.pi / 2.0, -steer))
    assert roll_on((1.0, 2.0, math.pi / 2.0, 0.0), L, 3.0) == pytest.approx((1.0, 5.0, math.pi / 2.0, 0.0))
    driven = follow(WAGON, winding(7, 6.0), 0.3)
    for i in (20, 60, 100):
        arc = math.hypot(driven.x[i + 1] - driven.x[i], driven.y[i + 1] - driven.y[i])
        turn = driven.heading[i + 1] - driven.heading[i]
        state = (driven.x[i], driven.y[i], driven.heading[i], driven.steer[i])
        x, y, heading, _ = roll_on(state, L, arc / np.sinc(turn / (2.0 * np.pi)))
        assert (x, y, heading) == pytest.approx((driven.x[i + 1], driven.y[i + 1], driven.heading[i + 1]))


def winding(seed: int, tightest: float, count: int = 160) -> Tracks:
    """Make a way of bends that change at random, none tighter than *tightest*."""
    rng = np.random.default_rng(seed)
    bends = np.repeat(rng.uniform(-1.0, 1.0, count // 8), 8) / tightest
    return way(np.convolve(bends, np.ones(5) / 5.0, "same"))


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_lock_and_rate_are_kept(seed: int) -> None:
    """Whatever the way asks, no angle beyond the lock and no faster change than the driver turns the wheel."""
    tracks, rate = winding(seed, 3.0), 0.25
    driven = follow(WAGON, tracks, rate)
    assert np.abs(driven.steer).max() <= WAGON.lock + 1e-12
    ds = np.hypot(np.diff(driven.x), np.diff(driven.y))
    turn = np.diff(driven.heading)
    arcs = ds / np.sinc(turn / (2.0 * np.pi))
    assert turn == pytest.approx(arcs * np.tan(driven.steer[:-1]) / L, abs=1e-9)
    assert (np.abs(np.diff(driven.steer)) <= rate * arcs + 1e-9).all()


def test_no_driver_holds_a_bend_tighter_than_the_lock() -> None:
    """A circle of 7 m is held at a lock of 0.6 rad, one of 3.5 m is not: the least radius is L ÷ sin 0.6 = 4.96 m."""
    assert follow(WAGON, circle(7.0), 0.5).held.all()
    wide = follow(WAGON, circle(3.5), 0.5)
    assert not wide.held.all()
    assert wide.held[:10].all()
    assert np.isfinite(wide.x).all()
    assert follow(WAGON, way(np.full(30, 0.25)), 0.5).steer[0] == pytest.approx(WAGON.lock)
    assert follow(WAGON, way(np.full(30, -0.5)), 0.5).steer[0] == pytest.approx(-WAGON.lock)


@pytest.mark.parametrize(("degrees", "most"), [(6.0, 0.45), (10.0, 0.25), (25.0, 0.1)])
def test_slow_hands_turn_in_early_and_never_weave(degrees: float, most: float) -> None:
    """At a kink of 35° a driver who looks ahead cuts a little and turns in and out once, however slow the hands."""
    bends = np.zeros(120)
    bends[30] = math.radians(35.0) / 0.5
    driven = follow(WAGON, way(bends), math.radians(degrees))
    x, y = fronts(driven)
    turned = ((x - 15.25) + 1j * y) / complex(math.cos(math.radians(35.0)), math.sin(math.radians(35.0)))
    beside = np.where(x < 15.25, y, turned.imag)
    assert np.abs(beside[:100]).max() < most
    assert np.abs(beside[80:100]).max() < 0.08
    assert np.ptp(beside[80:100]) < 1e-3
    assert np.abs(np.diff(driven.steer)).sum() < 1.1
    assert follow(WAGON, circle(8.0), math.radians(15.0)).held.all()


def test_driving_the_mirror_image_is_the_mirror_image() -> None:
    """Left turned to right, y, heading and steering angle change sign to the last digit."""
    tracks = winding(4, 5.0)
    driven, over = follow(WAGON, tracks, 0.3), follow(WAGON, mirrored(tracks), 0.3)
    assert over.x == pytest.approx(driven.x, abs=1e-11)
    assert over.y == pytest.approx(-driven.y, abs=1e-11)
    assert over.steer == pytest.approx(-driven.steer, abs=1e-11)
    assert (over.held == driven.held).all()


def test_larger_worlds_are_driven_alike() -> None:
    """Way and vehicle twice as large, the rate halved: places double, angles stay."""
    tracks = winding(5, 5.0)
    large = tracks._replace(x=2.0 * tracks.x, y=2.0 * tracks.y, step=1.0)
    wide = WAGON._replace(wheelbase=2.0 * L)
    driven, scaled = follow(WAGON, tracks, 0.3), follow(wide, large, 0.15)
    assert scaled.x == pytest.approx(2.0 * driven.x)
    assert scaled.steer == pytest.approx(driven.steer, abs=1e-9)


def test_tracks_are_driven_each_on_its_own() -> None:
    """Two ways together are driven as each alone, and poses stand abreast of their points."""
    one, two = winding(6, 8.0), circle(9.0)
    both, first, second = (follow(WAGON, tracks, 0.3) for tracks in (joined([one, two]), one, two))
    for name in ("x", "y", "heading", "steer"):
        assert np.array_equal(getattr(both, name), np.concatenate([getattr(first, name), getattr(second, name)]))
    along = (first.x - one.x) * np.cos(one.heading) + (first.y - one.y) * np.sin(one.heading)
    assert np.abs(along).max() < 0.03


def test_shortest_way() -> None:
    """Two points are a way too."""
    driven = follow(WAGON, way(np.zeros(1)), 0.3)
    assert driven.x == pytest.approx([0.0, 0.5])
