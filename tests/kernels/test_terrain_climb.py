"""Rise and fall of profiles."""

import numpy as np
import pytest
from numpy.typing import NDArray

from pipeline.kernels.terrain_climb import climbs

pytestmark = pytest.mark.kernel


def one(z: list[float], dead_band: float = 0.2) -> tuple[float, float]:
    """Sum one profile."""
    rise, fall = climbs(np.array(z, dtype=np.float32), np.array([0, len(z)]), dead_band)
    return float(rise[0]), float(fall[0])


def plain(z: NDArray[np.float32]) -> tuple[float, float]:
    """Sum every step up and every step down."""
    step = np.diff(z.astype(np.float64))
    return float(step[step > 0].sum()), float(-step[step < 0].sum())


@pytest.mark.parametrize(
    ("z", "rise", "fall"),
    [
        ([1.0, 2.0, 3.0], 2.0, 0.0),
        ([3.0, 1.0], 0.0, 2.0),
        ([0.0, 2.0, 1.0, 4.0], 5.0, 1.0),
        ([0.0, 0.1, 0.0, 0.1, 0.0], 0.0, 0.0),
        ([0.0, 2.0, 1.9, 3.0], 3.0, 0.0),
        ([5.0], 0.0, 0.0),
        ([0.0, -0.1, 3.0], 3.1, 0.1),
        ([0.0, 0.1], 0.1, 0.0),
    ],
)
def test_worked_by_hand(z: list[float], rise: float, fall: float) -> None:
    """Reversals of more than 0.2 m count, smaller ones do not."""
    assert one(z) == pytest.approx((rise, fall), abs=1e-6)


def test_without_a_dead_band_every_step_counts() -> None:
    """The plain sum of steps."""
    z = np.random.default_rng(1).normal(0.0, 1.0, 200).astype(np.float32)
    assert one(z.tolist(), 0.0) == pytest.approx(plain(z), abs=1e-3)


def test_noise_on_the_flat_is_no_climb_and_the_balance_holds() -> None:
    """A flat kilometre with 1.5 cm of noise climbs nothing to speak of; rise − fall is the difference of the ends."""
    z = 100.0 + np.random.default_rng(2).normal(0.0, 0.015, 1000)
    rise, fall = one(z.tolist())
    assert plain(z.astype(np.float32))[0] > 5.0
    assert rise < 0.1
    assert rise - fall == pytest.approx(z[-1] - z[0], abs=1e-4)


def test_gaps_are_passed_over_and_nothing_known_is_nan() -> None:
    """A gap counts by its ends; without any height there is no answer."""
    assert one([np.nan, 1.0, np.nan, 3.0, np.nan]) == pytest.approx((2.0, 0.0))
    assert np.isnan(one([np.nan, np.nan])).all()


def test_profiles_do_not_run_into_each_other() -> None:
    """Two profiles, one up and one down."""
    z = np.array([0.0, 1.0, 50.0, 49.0], dtype=np.float32)
    rise, fall = climbs(z, np.array([0, 2, 4]), 0.2)
    assert (rise.tolist(), fall.tolist()) == ([1.0, 0.0], [0.0, 1.0])
