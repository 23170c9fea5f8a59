"""The tyre rolls as a circle on piecewise-linear ground."""

import math

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.ndimage import grey_dilation

from pipeline.kernels.tyre import CENTRE, TOUCHES
from tests.kernels.called import path_over, turned, tyre_between, tyre_centre, tyre_envelope

pytestmark = pytest.mark.kernel

R, STEP = 0.38, 0.1


def dense_centre(z: NDArray[np.float64], at: float) -> float:
    """Find the centre height plainly: the highest contact over ground sampled every 0.2 mm."""
    u = np.linspace(-R, R, 3801)
    ends = np.array([0.0, (z.size - 1) * STEP])
    x = np.clip(at + u, *ends)
    ground = np.interp(x, np.arange(z.size) * STEP, z)
    slopes = (z[1] - z[0]) / STEP, (z[-1] - z[-2]) / STEP
    ground += np.where(at + u < ends[0], (at + u - ends[0]) * slopes[0], 0.0)
    ground += np.where(at + u > ends[1], (at + u - ends[1]) * slopes[1], 0.0)
    return float(np.max(ground + np.sqrt(R * R - u * u)))


def rough(seed: int, samples: int = 60) -> NDArray[np.float64]:
    """Make rough ground."""
    return np.random.default_rng(seed).normal(0.0, 0.04, samples).cumsum()


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_centre_is_that_of_a_dense_twin(seed: int) -> None:
    """At any place of rough ground the centre is where dense sampling puts it, to 0.1 mm."""
    z = rough(seed)
    for at in np.random.default_rng(seed + 10).uniform(0.0, (z.size - 1) * STEP, 25):
        assert tyre_centre(z, STEP, R, at)[0] == pytest.approx(dense_centre(z, at), abs=1e-4)


def test_envelope_is_a_grey_dilation_by_a_disc() -> None:
    """The path of the centre is the grey-scale dilation of the ground by a disc (scipy.ndimage)."""
    z = rough(4, 40)
    fine = 0.001
    x = np.arange(0.0, (z.size - 1) * STEP + fine / 2, fine)
    ground = np.interp(x, np.arange(z.size) * STEP, z)
    half = round(R / fine)
    u = np.arange(-half, half + 1) * fine
    disc = np.sqrt(np.maximum(R * R - u * u, 0.0))
    dilated = grey_dilation(ground, footprint=np.ones(u.size, dtype=bool), structure=disc, mode="nearest")
    inner = slice(5, -5)
    assert tyre_envelope(z, STEP, R)[inner] == pytest.approx(dilated[:: round(STEP / fine)][inner], abs=5e-4)


@pytest.mark.parametrize("grade", [-0.8, -0.1, 0.0, 0.3, 1.0])
def test_on_a_plane_the_centre_is_one_radius_off_it(grade: float) -> None:
    """On a plane, its ends included, the centre moves on a parallel one radius away: r·√(1 + grade²) above it."""
    z = grade * np.arange(40) * STEP
    centre = tyre_envelope(z, STEP, R)
    assert centre - z == pytest.approx(np.full(40, R * math.hypot(1.0, grade)), abs=1e-12)
    assert tyre_centre(z, STEP, R, 1.234)[1] == pytest.approx(grade, abs=1e-12)


def test_slope_of_the_path_is_its_derivative() -> None:
    """The slope handed back is the derivative of the height, away from kinks."""
    z = rough(5)
    for at in np.random.default_rng(6).uniform(0.5, 5.0, 40):
        height, slope = tyre_centre(z, STEP, R, at)
        ahead, behind = (tyre_centre(z, STEP, R, at + d)[0] for d in (1e-6, -1e-6))
        if abs(ahead + behind - 2.0 * height) < 1e-10:
            assert slope == pytest.approx((ahead - behind) / 2e-6, abs=1e-3)


def test_missing_ground_within_reach_is_missing() -> None:
    """One missing height takes away every centre within a radius of the ground it bounds, and no other."""
    z = np.zeros(40)
    z[20] = np.nan
    gone = np.isnan(tyre_envelope(z, STEP, R))
    assert np.flatnonzero(gone).tolist() == list(range(16, 25))
    assert np.isnan(tyre_centre(z, STEP, R, 2.0)[1])


def test_ground_beyond_reach_does_not_matter() -> None:
    """A wall farther away than the radius leaves the tyre where it is."""
    z = np.zeros(40)
    z[20] = 5.0
    assert tyre_centre(z, STEP, R, 2.0 - R - STEP - 1e-6)[0] == pytest.approx(R)


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("step", [0.1, 0.5])
def test_path_is_the_centre_everywhere(seed: int, step: float) -> None:
    """At heights and between them the path is where looking at all ground within reach puts the centre.

    Missing heights and walls are among the ground.
    """
    rng = np.random.default_rng(seed)
    z = rng.normal(0.0, 0.08, 120).cumsum()
    z[40:] += 1.5
    z[90] = np.nan
    path = path_over(z, step, R)
    expected = np.array([tyre_centre(z, step, R, k * step)[0] for k in range(z.size)])
    assert path[CENTRE] == pytest.approx(expected, abs=1e-12, nan_ok=True)
    for node, beyond in zip(rng.integers(0, 119, 300), rng.uniform(0.0, step, 300), strict=True):
        if np.isfinite(path[CENTRE, node] + path[CENTRE, node + 1]):
            height, part = tyre_between(path, (int(node), float(beyond)), (step, R))
            assert height == pytest.approx(tyre_centre(z, step, R, node * step + beyond)[0], abs=1e-12)
            assert path[TOUCHES, node] <= part <= path[TOUCHES, node + 1]


@pytest.mark.parametrize("samples", [1, 2, 60])
def test_turned_path_is_that_of_the_turned_ground(samples: int) -> None:
    """Turning a path round gives the path over the reversed heights."""
    z = rough(7, samples)
    if samples > 10:
        z[30] = np.nan
    back, fresh = turned(path_over(z, STEP, R)), path_over(z[::-1].copy(), STEP, R)
    known = ~np.isnan(fresh[CENTRE])
    assert back[CENTRE] == pytest.approx(fresh[CENTRE], abs=1e-12, nan_ok=True)
    assert back[TOUCHES, known].tolist() == fresh[TOUCHES, known].tolist()
    assert np.array_equal(back[3:6, :-1], fresh[3:6, :-1], equal_nan=True)
