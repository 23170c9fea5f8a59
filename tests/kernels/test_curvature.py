"""Plan curvature of digitised curves, noisy straights and sharp vertices."""

import numpy as np
import pytest
from numpy.typing import NDArray

from pipeline.kernels.curvature import Bending, curvatures
from pipeline.kernels.stations import Lines, count_stations, place_stations, vertex_chainages

pytestmark = pytest.mark.kernel

Floats = NDArray[np.float64]
ORIGIN = np.array([500_000.0, 5_400_000.0])


def bends(vertices: Floats, spacing: float = 0.5, window: float = 4.0, tolerance: float = 0.15) -> Floats:
    """Measure the curvature at the stations of one line, far from 0."""
    xy = np.asarray(vertices, dtype=np.float64) + ORIGIN
    x, y, offsets = np.ascontiguousarray(xy[:, 0]), np.ascontiguousarray(xy[:, 1]), np.array([0, len(xy)])
    lines = Lines(x, y, vertex_chainages(x, y, offsets), offsets)
    stations = count_stations(lines, spacing)
    chainage, sx, sy, _ = place_stations(lines, stations)
    own = (np.array([0]), np.diff(stations))
    return curvatures((sx, sy), stations, np.array([chainage[1]]), own, Bending(window, tolerance))


def arc(radius: float, degrees: float, vertex_m: float) -> Floats:
    """Digitise an arc that bends to the left, with a vertex every *vertex_m* or so."""
    count = max(int(np.ceil(np.radians(degrees) * radius / vertex_m)), 2) + 1
    turn = np.linspace(0.0, np.radians(degrees), count)
    return np.stack((radius * np.sin(turn), radius * (1.0 - np.cos(turn))), axis=1)


def between_straights(curve: Floats, straight: float = 30.0) -> Floats:
    """Put straights before and after a curve that begins eastwards."""
    onward = curve[-1] - curve[-2]
    onward = onward / np.hypot(*onward)
    return np.concatenate(([[-straight, 0.0]], curve, [curve[-1] + straight * onward]))


@pytest.mark.parametrize("radius", [3.0, 5.0, 8.0, 20.0, 60.0])
def test_a_digitised_circle_comes_out_within_two_per_cent(radius: float) -> None:
    """Vertices a metre apart, everywhere on the circle, ends too: within 2 %, whatever the radius."""
    radii = 1.0 / bends(arc(radius, 340.0, 1.0))
    assert radii == pytest.approx(radius, rel=0.02)


def test_a_finely_digitised_circle_is_exact() -> None:
    """Points on a circle give its radius to a thousandth."""
    assert 1.0 / bends(arc(7.0, 200.0, 0.1)) == pytest.approx(7.0, rel=1e-3)


@pytest.mark.parametrize(("chord", "ordinate", "radius"), [(4.0, 0.5, 4.25), (15.0, 3.0, 10.875)])
def test_three_point_radius(chord: float, ordinate: float, radius: float) -> None:
    """Source: route-reconnaissance field practice, R = C² ÷ 8M + M ÷ 2 from chord C and middle ordinate M."""
    assert chord**2 / (8.0 * ordinate) + 0.5 * ordinate == pytest.approx(radius, abs=1e-12)
    half = 2.0 * np.degrees(np.arcsin(0.5 * chord / radius))
    line = arc(radius, half, 0.1)
    assert np.hypot(*(line[-1] - line[0])) == pytest.approx(chord, abs=1e-9)
    assert 1.0 / bends(line) == pytest.approx(radius, rel=0.002)


def test_left_is_positive_and_the_way_back_is_the_mirror() -> None:
    """Signs: + to the left; driven the other way the same bend is to the right."""
    line = arc(10.0, 120.0, 0.5)
    assert (bends(line) > 0.0).all()
    assert bends(line[::-1]) == pytest.approx(-bends(line)[::-1], abs=1e-3)


def test_a_straight_has_no_curvature() -> None:
    """Exactly 0, so that its radius is inf, in any direction and however far from 0."""
    for degrees in (0.0, 37.0, 90.0, 251.0):
        way = np.array([np.cos(np.radians(degrees)), np.sin(np.radians(degrees))])
        assert (bends(np.outer([0.0, 13.3, 50.0], way)) == 0.0).all()


@pytest.mark.parametrize("vertex_m", [1.0, 2.0, 5.0])
def test_vertex_noise_on_a_straight_is_no_bend(vertex_m: float) -> None:
    """±0.2 m of noise at every vertex: no radius under 50 m, where turning circles begin at 5 m."""
    along = np.arange(0.0, 200.0, vertex_m)
    for seed in range(3):
        noise = np.random.default_rng(seed).uniform(-0.2, 0.2, along.size)
        assert 1.0 / np.abs(bends(np.stack((along, noise), axis=1))).max() > 50.0


def test_noise_on_a_bend_leaves_its_radius() -> None:
    """±0.1 m of noise on a bend of 8 m radius: its tightest radius stays within a quarter."""
    line = between_straights(arc(8.0, 170.0, 1.5))
    noisy = line + np.random.default_rng(3).uniform(-0.1, 0.1, line.shape)
    assert 1.0 / bends(noisy).max() == pytest.approx(8.0, rel=0.25)


@pytest.mark.parametrize(("radius", "degrees"), [(5.0, 180.0), (6.0, 90.0), (4.0, 90.0), (12.0, 60.0)])
def test_a_bend_between_straights_keeps_its_radius(radius: float, degrees: float) -> None:
    """The tightest radius of a hairpin or a quarter turn is right within 10 %; the straights stay straight."""
    curvature = bends(between_straights(arc(radius, degrees, 0.25)))
    assert 1.0 / curvature.max() == pytest.approx(radius, rel=0.10)
    assert np.abs(curvature[:20]).max() < 1e-3


@pytest.mark.parametrize("degrees", [60.0, 90.0, 120.0, 170.0, -90.0])
def test_a_sharp_vertex_is_a_tight_bend_over_the_window(degrees: float) -> None:
    """One vertex of angle δ reads as about δ ÷ window: a radius of a few metres, signed, and only near it."""
    turn = np.radians(degrees)
    line = np.array([(-30.0, 0.0), (0.0, 0.0), (30.0 * np.cos(turn), 30.0 * np.sin(turn))])
    curvature = bends(line)
    peak = curvature[np.abs(curvature).argmax()]
    assert peak == pytest.approx(turn / 4.0, rel=0.2)
    assert np.abs(curvature[:30]).max() < 0.06
    assert np.abs(curvature[-30:]).max() < 0.06


def test_turning_back_on_itself_never_passes_as_a_straight() -> None:
    """Out and back on the same line: the points of a window are collinear, yet the bend is the tightest there is."""
    curvature = bends(np.array([(0.0, 0.0), (40.0, 0.0), (0.0, 0.0)]))
    assert np.abs(curvature).max() > 0.7


def test_short_lines_get_an_answer() -> None:
    """Two stations have no bend; three give their turn; a line shorter than the window is taken whole."""
    assert bends(np.array([(0.0, 0.0), (0.4, 0.0)])).tolist() == [0.0, 0.0]
    assert (bends(np.array([(0.0, 0.0), (1.0, 0.0)])) == 0.0).all()
    assert np.abs(bends(np.array([(0.0, 0.0), (1.0, 0.0), (1.0, 1.0)]))).max() > 0.5
    assert 1.0 / bends(arc(5.0, 40.0, 0.1)).max() == pytest.approx(5.0, rel=0.05)


def test_wide_steps_widen_the_window() -> None:
    """Stations farther apart than half the window: the window is two steps, and a circle still comes out."""
    assert 1.0 / np.median(bends(arc(60.0, 200.0, 1.0), spacing=5.0)) == pytest.approx(60.0, rel=0.05)


def test_points_before_and_after_are_looked_at_but_not_answered_for() -> None:
    """A bend split at its apex: with the points of the neighbour, the half reads as the whole does there."""
    whole = between_straights(arc(5.0, 180.0, 0.25))
    xy = whole + ORIGIN
    steps = np.hypot(*np.diff(xy, axis=0).T)
    chainage = np.concatenate(([0.0], np.cumsum(steps)))
    along = np.arange(0.0, chainage[-1], 0.5)
    x, y = np.interp(along, chainage, xy[:, 0]), np.interp(along, chainage, xy[:, 1])
    offsets, step = np.array([0, along.size]), np.array([0.5])
    apex = int((30.0 + 2.5 * np.pi) / 0.5)
    everything = (np.array([0]), np.array([along.size]))
    part = (np.array([apex]), np.array([20]))
    full = curvatures((x, y), offsets, step, everything, Bending(4.0, 0.15))
    half = curvatures((x, y), offsets, step, part, Bending(4.0, 0.15))
    assert half.tolist() == full[apex : apex + 20].tolist()


def test_points_that_all_coincide_have_no_bend() -> None:
    """A line that does not move (a recorder left running): 0, not NaN."""
    still = (np.full(30, 500_000.0), np.full(30, 5_400_000.0))
    own = (np.array([0]), np.array([30]))
    curvature = curvatures(still, np.array([0, 30]), np.array([0.5]), own, Bending(4.0, 0.15))
    assert (curvature == 0.0).all()
