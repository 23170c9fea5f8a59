"""Standard deviation of slopes, against simulation and published constants."""

import numpy as np
import pytest
from numpy.typing import NDArray

from pipeline.kernels.surface import Patches, sample_surface
from pipeline.terrain.error_model import gradient_sd, nva_95

SIDE = 6
"""Cells of a simulated patch each way."""


def simulated(cell: float, sigma: float, correlation: float | None, bearing: float, count: int = 4000) -> float:
    """Simulate correlated height errors, read the slope along a bearing at random points with the kernel itself."""
    rng = np.random.default_rng(17)
    place = np.stack(np.meshgrid(np.arange(SIDE), np.arange(SIDE)), axis=-1).reshape(-1, 2) * cell
    distance = np.hypot(*(place[:, None] - place[None]).transpose(2, 0, 1))
    covariance = np.eye(SIDE**2) if correlation is None else np.exp(-distance / correlation)
    fields = rng.standard_normal((count, SIDE**2)) @ np.linalg.cholesky(covariance).T * sigma
    to_cell = np.array([1 / cell, 0.0, 0.0, 0.0, -1 / cell, SIDE - 1.0])
    out = Patches(*(np.full(count, np.nan) for _ in range(3)))
    points = (rng.uniform(2, 3, count) * cell, rng.uniform(2, 3, count) * cell)
    for k in range(count):
        sample_surface(fields[k].reshape(SIDE, SIDE).astype(np.float32), to_cell, points, np.array([k]), out)
    slope = out.gradient_x * np.sin(bearing) + out.gradient_y * np.cos(bearing)
    return float(np.sqrt(np.mean(slope**2)))


@pytest.mark.kernel
@pytest.mark.parametrize(
    ("cell", "sigma", "correlation", "bearing"),
    [(1.0, 0.1, None, 0.0), (1.0, 0.1, 3.0, 0.7), (2.0, 0.1, 10.0, 1.9), (10.0, 1.0, 5.0, 0.3), (0.5, 0.05, 0.5, 2.5)],
)
def test_the_closed_form_is_what_simulation_gives(
    cell: float, sigma: float, correlation: float | None, bearing: float
) -> None:
    """4,000 simulated error surfaces, read by the kernel: the closed form within 5 %, at every bearing."""
    expected = gradient_sd(np.array([cell]), sigma, correlation)[0]
    assert simulated(cell, sigma, correlation, bearing) == pytest.approx(expected, rel=0.05)


def plain_sd(cell: float, sigma: float, correlation: float) -> float:
    """Average wᵀCw over a fine lattice of points in the cell, plainly."""
    total, count = 0.0, 16
    nodes = (np.arange(count) + 0.5) / count
    place = [(i, j) for i in range(4) for j in range(4)]
    for u in nodes:
        for v in nodes:
            w = np.array([_slope(u)[j] * _weight(v)[i] for i, j in place])
            for a, (i, j) in enumerate(place):
                for b, (k, m) in enumerate(place):
                    total += w[a] * w[b] * np.exp(-np.hypot(i - k, j - m) * cell / correlation)
    return sigma / cell * float(np.sqrt(total / count**2))


def _weight(t: float) -> NDArray[np.float64]:
    """Catmull-Rom weights as ½ · (t³, t², t, 1) · M, the matrix of the textbooks."""
    matrix = np.array([[-1, 3, -3, 1], [2, -5, 4, -1], [-1, 0, 1, 0], [0, 2, 0, 0]])
    return 0.5 * np.array([t**3, t**2, t, 1.0]) @ matrix


def _slope(t: float) -> NDArray[np.float64]:
    """Give their derivatives."""
    matrix = np.array([[-1, 3, -3, 1], [2, -5, 4, -1], [-1, 0, 1, 0], [0, 2, 0, 0]])
    return 0.5 * np.array([3 * t**2, 2 * t, 1.0, 0.0]) @ matrix


def test_four_quadrature_nodes_are_exact() -> None:
    """The mean over the cell by quadrature equals that over 256 points."""
    assert gradient_sd(np.array([1.0]), 0.1, 2.5)[0] == pytest.approx(plain_sd(1.0, 0.1, 2.5), rel=5e-3)


def test_independent_errors_are_the_upper_bound() -> None:
    """Correlated errors partly cancel: the longer they reach, the better the slope (standard result)."""
    sd = [gradient_sd(np.array([1.0]), 0.1, length)[0] for length in (None, 1.0, 5.0, 50.0)]
    assert sd == sorted(sd, reverse=True)
    assert sd[-1] < 0.2 * sd[0]


def test_slope_error_lies_between_the_published_constants() -> None:
    """Derived constants: Horn's √3⁄4 · σ⁄cell (smoothed by 3×3) below, √2 · σ⁄cell of two neighbouring cells above."""
    sd = gradient_sd(np.array([1.0]), 0.1, None)[0]
    assert np.sqrt(3.0) / 4.0 * 0.1 < sd < np.sqrt(2.0) * 0.1


def test_it_falls_with_the_cell_and_grows_with_the_error() -> None:
    """Independent errors: σ ÷ cell."""
    sd = gradient_sd(np.array([1.0, 2.0, 10.0]), 0.2, None)
    assert sd * [1.0, 2.0, 10.0] == pytest.approx(sd[0])
    assert gradient_sd(np.array([1.0]), 0.4, None)[0] == pytest.approx(2.0 * sd[0])


def test_nothing_is_said_without_an_error_or_a_cell() -> None:
    """NaN when the error is not known, and where there is no cell."""
    assert np.isnan(gradient_sd(np.array([1.0, 2.0]), None, 3.0)).all()
    assert np.isnan(gradient_sd(np.array([np.nan, 2.0]), 0.1, 3.0)).tolist() == [True, False]
    assert np.isnan(gradient_sd(np.array([np.nan]), 0.1, 3.0)).all()


@pytest.mark.parametrize(("rmse_cm", "nva_cm"), [(5.0, 9.8), (10.0, 19.6), (20.0, 39.2)])
def test_accuracy_at_95_per_cent(rmse_cm: float, nva_cm: float) -> None:
    """Source: USGS Lidar Base Specification, quality levels 0, 1/2 and 3 (as transcribed): NVA = 1.96 × RMSEz."""
    assert nva_95(rmse_cm) == pytest.approx(nva_cm, abs=1e-9)
