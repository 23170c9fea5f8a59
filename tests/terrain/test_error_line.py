"""Standard deviation of bends, against least squares and the kernel that measures them."""

import dataclasses

import numpy as np
import pytest

from pipeline.kernels.curvature import Bending, curvatures
from pipeline.terrain.error_line import curvature_sd
from pipeline.terrain.model import TerrainParameters

MEASURED = TerrainParameters(line_rmse_m=0.05, radius_window_m=4.0, line_tolerance_m=0.15)


def sd_of(apart_m: float, **changes: float | None) -> float:
    """Take the closed form for one spacing of vertices."""
    return float(curvature_sd(dataclasses.replace(MEASURED, **changes), np.array([apart_m]))[0])


@pytest.mark.parametrize("count", [5, 9, 17])
def test_the_circle_is_a_parabola_by_least_squares(count: int) -> None:
    """Twice the second coefficient's deviation by numpy's own design matrix; vertices close enough for the circle."""
    x = np.linspace(-2.0, 2.0, count)
    design = np.vander(x, 3)
    variance = np.linalg.inv(design.T @ design)[0, 0]
    by_turn = np.sqrt(6.0) * 0.05 / (4.0 * (x[1] - x[0]))
    assert sd_of(float(x[1] - x[0])) == pytest.approx(min(2.0 * 0.05 * np.sqrt(variance), by_turn))


def simulated(apart_m: float, radius_m: float) -> float:
    """Measure the bend of an arc of 6 m whose vertices carry noise with the kernel; 600 draws."""
    rng = np.random.default_rng(3)
    s = (np.arange(round(6.0 / apart_m) + 1) - round(6.0 / apart_m) / 2.0) * apart_m
    arc = radius_m * np.array([np.sin(s / radius_m), 1.0 - np.cos(s / radius_m)])
    found = []
    for _ in range(600):
        x, y = arc + rng.normal(0.0, 0.05, arc.shape)
        along = np.concatenate(([0.0], np.cumsum(np.hypot(np.diff(x), np.diff(y)))))
        steps = round(along[-1] / 0.25)
        at = np.linspace(0.0, along[-1], steps + 1)
        points = (np.interp(at, along, x), np.interp(at, along, y))
        own = (np.array([steps // 2]), np.array([1]))
        step = np.array([along[-1] / steps])
        found.append(curvatures(points, np.array([0, steps + 1]), step, own, Bending(4.0, 0.15))[0])
    return float(np.std(found))


@pytest.mark.kernel
@pytest.mark.parametrize("apart_m", [0.5, 1.0, 2.0, 3.0])
@pytest.mark.parametrize("radius_m", [8.0, 1e6])
def test_the_kernel_scatters_about_as_much(apart_m: float, radius_m: float) -> None:
    """In the shortest window, with the kernel's two readings: within a factor of 1.6 for all spacings and bends."""
    assert 1.0 / 1.6 < simulated(apart_m, radius_m) / sd_of(apart_m) < 1.6


def test_noise_is_never_more_than_the_line_may_lie_off_its_circle() -> None:
    """A position error of metres is mostly one shift, which bends nothing: the smaller of the two counts."""
    assert sd_of(1.0, line_rmse_m=3.0) == sd_of(1.0, line_rmse_m=0.15)
    assert sd_of(1.0, line_rmse_m=0.1) == pytest.approx(2.0 * sd_of(1.0))


def test_sparse_vertices_and_long_windows_steady_a_bend() -> None:
    """The deviation falls with the window and with the distance between vertices."""
    assert sd_of(1.0, radius_window_m=8.0) < sd_of(1.0)
    assert sd_of(4.0) < sd_of(2.0)


def test_an_exact_line_has_no_doubt_and_an_unknown_one_no_figure() -> None:
    """0 for 0; NaN without a position error."""
    assert sd_of(1.0, line_rmse_m=0.0) == 0.0
    assert np.isnan(sd_of(1.0, line_rmse_m=None))
