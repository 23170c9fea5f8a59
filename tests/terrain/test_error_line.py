"""Standard deviation of bends, against least squares and the kernel that measures them."""

import dataclasses

import numpy as np
import pytest
from numpy.typing import NDArray

from pipeline.kernels.curvature import Bending, curvatures
from pipeline.terrain.error_line import bend_sd, curvature_sd, windows_used
from pipeline.terrain.model import Stations, TerrainParameters
from tests.worlds import Measured, at, network_of, plane, surface_terrain

Float64 = NDArray[np.float64]

MEASURED = TerrainParameters(line_rmse_m=0.05, radius_window_m=4.0, line_tolerance_m=0.15)


def sd_of(apart_m: float, window_m: float = 4.0, **changes: float | None) -> float:
    """Take the closed form for one spacing of vertices and one window."""
    parameters = dataclasses.replace(MEASURED, **changes)
    return float(curvature_sd(parameters, np.array([apart_m]), np.array([window_m]))[0])


@pytest.mark.parametrize("count", [3, 5, 9, 17])
def test_the_circle_is_a_parabola_by_least_squares(count: int) -> None:
    """Twice the second coefficient's deviation by numpy's own design matrix."""
    x = np.linspace(-8.0, 8.0, count)
    design = np.vander(x, 3)
    variance = np.linalg.inv(design.T @ design)[0, 0]
    assert sd_of(float(x[1] - x[0]), 16.0) == pytest.approx(2.0 * 0.05 * np.sqrt(variance))


def test_three_vertices_by_hand() -> None:
    """Second difference over 2 m and 2 m: √6 · σ ÷ (2 m)², which is √96 · σ ÷ (4 m)²; half of it by the turn alone."""
    by_difference = np.sqrt(6.0) * 0.05 / 2.0**2
    assert sd_of(2.0, 4.0, radius_window_m=2.0) == pytest.approx(by_difference)
    assert sd_of(2.0, 4.0) == pytest.approx(0.5 * by_difference)


def noisy_arc(apart_m: float, radius_m: float, length_m: float, rng: np.random.Generator) -> tuple[Float64, Float64]:
    """Give points every half a metre along an arc whose vertices carry 5 cm of noise each way."""
    pieces = round(length_m / apart_m)
    s = (np.arange(pieces + 1) - pieces / 2.0) * apart_m
    x, y = radius_m * np.array([np.sin(s / radius_m), 1.0 - np.cos(s / radius_m)]) + rng.normal(0.0, 0.05, (2, s.size))
    along = np.concatenate(([0.0], np.cumsum(np.hypot(np.diff(x), np.diff(y)))))
    place = np.linspace(0.0, along[-1], 2 * round(along[-1]) + 1)
    return np.interp(place, along, x), np.interp(place, along, y)


def stations_on(x: Float64, y: Float64) -> Stations:
    """Make the stations of one line."""
    along = np.concatenate(([0.0], np.cumsum(np.hypot(np.diff(x), np.diff(y)))))
    rest = np.zeros(x.size)
    return Stations(np.array([0, x.size]), along, x, y, rest, rest, rest, rest, rest, rest.astype(np.uint8), rest)


def scatter(apart_m: float, radius_m: float, length_m: float) -> tuple[float, float]:
    """Scatter of the kernel's curvature in the middle of 400 noisy arcs, and the median of the closed form."""
    rng = np.random.default_rng(3)
    found, expected = [], []
    for k in range(400):
        x, y = noisy_arc(apart_m, radius_m, length_m, rng)
        middle = np.array([x.size // 2])
        stations = stations_on(x, y)
        step = np.array([stations.chainage_m[-1] / (x.size - 1)])
        own = (middle, np.array([1]))
        found.append(curvatures((x, y), np.array([0, x.size]), step, own, Bending(4.0, 0.15))[0])
        if k < 25:
            expected.append(bend_sd(stations, MEASURED, middle, np.array([apart_m]))[0])
    return float(np.std(found)), float(np.median(expected))


@pytest.mark.kernel
@pytest.mark.parametrize(("apart_m", "radius_m"), [(0.5, 1e6), (1.0, 9.0), (1.0, 30.0), (2.0, 15.0), (4.0, 30.0)])
def test_the_kernel_scatters_as_much(apart_m: float, radius_m: float) -> None:
    """Long bends, where the longest window fits: within 15 % and the sampling error (4 × 3.5 %)."""
    simulated, expected = scatter(apart_m, radius_m, 24.0)
    assert abs(simulated / expected - 1.0) < 0.15 + 0.14


@pytest.mark.kernel
@pytest.mark.parametrize("apart_m", [0.5, 1.0, 2.0, 3.0])
@pytest.mark.parametrize("radius_m", [8.0, 1e6])
def test_it_scatters_about_as_much_in_the_shortest_window(apart_m: float, radius_m: float) -> None:
    """On 6 m of line only that fits; the kernel's two readings scatter within a factor of 1.6 of the closed form."""
    simulated, expected = scatter(apart_m, radius_m, 6.0)
    assert 1.0 / 1.6 < simulated / expected < 1.6


@pytest.mark.kernel
def test_a_tight_hairpin_is_on_the_large_side() -> None:
    """A parabola does not follow 150° of arc: a shorter window is assumed than the kernel used, never a longer one."""
    simulated, expected = scatter(1.0, 6.0, 24.0)
    assert expected > simulated


def test_windows_are_as_long_as_one_bend() -> None:
    """A straight: 16 m in its middle. A right angle at 30 m: the shortest window there, the longest far from it."""
    network = network_of({"s": at((0.0, 0.0), (30.0, 0.0), (30.0, 30.0)), "t": at((30.0, 30.0), (27.0, 30.0))})
    stations = surface_terrain(network, plane(), Measured(spacing_m=0.5)).stations
    found = windows_used(stations, MEASURED, np.array([0, 30, 60, 90, 120, 122, stations.x.size - 1]))
    assert found.tolist() == [16.0, 16.0, 4.0, 16.0, 16.0, 3.0, 3.0]


def test_a_line_that_winds_is_not_one_bend() -> None:
    """Half a metre to either side every 8 m: as long as its chord, but no circle keeps to it over 16 m."""
    x = np.linspace(0.0, 40.0, 161)
    stations = stations_on(x, 0.5 * np.sin(np.pi * x / 4.0))
    assert windows_used(stations, MEASURED, np.array([80]))[0] < 16.0


def test_a_line_that_turns_back_on_itself_is_no_straight() -> None:
    """Out and back: the points lie on one line, but the chord is none of it."""
    out = np.linspace(0.0, 20.0, 41)
    stations = stations_on(np.concatenate((out, out[-2::-1])), np.zeros(81))
    assert windows_used(stations, MEASURED, np.array([20, 40])).tolist() == [16.0, 4.0]


def test_noise_is_never_more_than_the_line_may_lie_off_its_circle() -> None:
    """A position error of metres is mostly one shift, which bends nothing: the smaller of the two counts."""
    assert sd_of(1.0, line_rmse_m=3.0) == sd_of(1.0, line_rmse_m=0.15)
    assert sd_of(1.0, line_rmse_m=0.1) == pytest.approx(2.0 * sd_of(1.0))


def test_long_windows_and_many_vertices_steady_a_bend() -> None:
    """The deviation falls as the window grows, and as more vertices lie in a long one."""
    assert sd_of(1.0, 16.0) < sd_of(1.0, 8.0) < sd_of(1.0, 4.0)
    assert sd_of(0.5, 16.0) < sd_of(1.0, 16.0) < sd_of(4.0, 16.0)


def test_an_exact_line_has_no_doubt_and_an_unknown_one_no_figure() -> None:
    """0 for 0; NaN without a position error."""
    stations = stations_on(*noisy_arc(1.0, 9.0, 24.0, np.random.default_rng(3)))
    pick, apart = np.array([10, 20]), np.ones(2)
    assert bend_sd(stations, dataclasses.replace(MEASURED, line_rmse_m=0.0), pick, apart).tolist() == [0.0, 0.0]
    assert np.isnan(bend_sd(stations, dataclasses.replace(MEASURED, line_rmse_m=None), pick, apart)).all()
