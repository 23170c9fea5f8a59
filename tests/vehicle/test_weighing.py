"""How finely the scales must be read, against rigid bodies put on their wheels by plain statics."""

import math

import numpy as np
import pytest

from pipeline.vehicle.weighing import height_per_kg
from tests.vehicle.worlds import PointMasses

BASE, RADIUS = 2.79, 0.385


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("raise_m", [0.3, 0.5, 1.1])
def test_a_higher_body_shows_on_the_scales(seed: int, raise_m: float) -> None:
    """All masses 0.1 m higher: the raised reading grows by 0.1 m ÷ metres per kilogram, the level one not at all."""
    body = PointMasses.random(seed, BASE, RADIUS)
    higher = PointMasses(body.kg, body.places + np.array([0.0, 0.0, 0.1]), BASE, RADIUS)
    grown = higher.axles(raise_m)[1] - body.axles(raise_m)[1]
    assert grown == pytest.approx(0.1 / height_per_kg(body.kg.sum(), raise_m, BASE), rel=1e-9)
    assert higher.axles(0.0) == pytest.approx(body.axles(0.0), rel=1e-9)


def test_worked_example() -> None:
    """2 180 kg, wheelbase 2.79 m, raised by 0.465 m, a sixth: tan α = 0.169, so a kilogram is 7.6 mm."""
    tangent = 0.465 / math.sqrt(2.79**2 - 0.465**2)
    assert tangent == pytest.approx(0.169, abs=5e-4)
    assert height_per_kg(2180, 0.465, 2.79) == pytest.approx(2.79 / (2180 * tangent))
    assert height_per_kg(2180, 0.465, 2.79) == pytest.approx(0.0076, abs=5e-5)
