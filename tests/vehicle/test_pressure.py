"""Nominal ground pressure, worked by hand."""

import pytest

from pipeline.vehicle.pressure import ground_pressure_kpa
from tests.checks.worlds import envelope


def test_by_hand() -> None:
    """2200 kg in the middle of four tyres of 0.38 m radius and 0.25 m width: 5393.7 N on 0.095 m², 56.8 kPa.

    Load ÷ (radius × width) is the nominal ground pressure of off-road machines (from memory, not verified).
    """
    assert ground_pressure_kpa(envelope(cg_m=(-1.4, 0.0, 0.72))) == pytest.approx(
        2200.0 * 9.80665 / 4.0 / 95.0, rel=1e-9
    )


def test_heavier_axle_and_side_count() -> None:
    """Half a metre farther back: the rear carries 1.9 of 2.8; 8 cm to a side of 1.6 m: 0.55 of that on one wheel."""
    level = 2200.0 * 9.80665 / 95.0
    assert ground_pressure_kpa(envelope(cg_m=(-1.9, 0.0, 0.72))) == pytest.approx(level * 1.9 / 2.8 / 2.0)
    assert ground_pressure_kpa(envelope(cg_m=(-0.9, 0.0, 0.72))) == pytest.approx(level * 1.9 / 2.8 / 2.0)
    for y in (0.08, -0.08):
        assert ground_pressure_kpa(envelope(cg_m=(-1.9, y, 0.72))) == pytest.approx(level * 1.9 / 2.8 * 0.55)


def test_wider_and_larger_tyres_press_less_and_load_more() -> None:
    """Inverse to the patch, in proportion to the mass."""
    plain = ground_pressure_kpa(envelope())
    assert ground_pressure_kpa(envelope(tyre_width_m=0.5)) == pytest.approx(plain / 2.0)
    assert ground_pressure_kpa(envelope(tyre_radius_m=0.76)) == pytest.approx(plain / 2.0)
    assert ground_pressure_kpa(envelope(mass_kg=3300.0)) == pytest.approx(plain * 1.5)
