"""Published classes, case by case."""

import numpy as np
import pytest

from pipeline.terms import Drive
from pipeline.vehicle.classes import (
    LARGE_FOUR_WHEEL,
    LARGE_PASSENGER,
    SMALL_PASSENGER,
    Clearances,
    FloodClass,
    flood_class,
    off_highway,
    off_road_eu,
    stability_factor,
    stability_factor_odd,
)

LIMITS = Clearances(28.0, 14.0, 20.0, 0.20, 0.18, 0.18)


@pytest.mark.parametrize(
    ("geometry", "drive", "gross", "met", "passes"),
    [
        (LIMITS, Drive.FOUR_WHEEL, None, 5, True),
        (LIMITS._replace(approach_deg=27.9), Drive.FOUR_WHEEL, None, 4, True),
        (LIMITS._replace(approach_deg=27.9, breakover_deg=13.9), Drive.FOUR_WHEEL, None, 3, False),
        (LIMITS._replace(running_m=0.199, rear_axle_m=0.179), Drive.FOUR_WHEEL, None, 3, False),
        (LIMITS, Drive.REAR, 2700.0, 5, False),
        (LIMITS, Drive.REAR, 2722.0, 5, True),
        (LIMITS, Drive.FRONT, None, 5, False),
    ],
)
def test_four_of_five(geometry: Clearances, drive: Drive, gross: float | None, met: int, passes: bool) -> None:  # noqa: FBT001 - a column of the table
    """49 CFR 523.5(b): inclusive limits, one short axle loses the fifth criterion, drive or 6 000 lb make eligible."""
    found = off_highway(geometry, drive, gross)
    assert (found.met, found.passes) == (met, passes)


def test_five_of_six_in_europe() -> None:
    """Directive 87/403/EEC: five of six, both axles driven, 30 % climbed; the axles count one by one."""
    geometry = Clearances(25.0, 20.0, 20.0, 0.20, 0.18, 0.17)
    assert off_road_eu(geometry, Drive.FOUR_WHEEL, 0.30).passes
    assert not off_road_eu(geometry, Drive.REAR, 0.30).passes
    assert not off_road_eu(geometry, Drive.FOUR_WHEEL, 0.29).passes
    assert not off_road_eu(geometry._replace(approach_deg=24.9), Drive.FOUR_WHEEL, 0.30).passes


@pytest.mark.parametrize(
    ("limits", "depth", "velocity", "inside"),
    [
        (LARGE_FOUR_WHEEL, 0.5, 0.0, True),
        (LARGE_FOUR_WHEEL, 0.5, 1.2, True),
        (LARGE_FOUR_WHEEL, 0.2, 3.0, True),
        (LARGE_FOUR_WHEEL, 0.3, 2.1, False),
        (LARGE_FOUR_WHEEL, 0.51, 0.0, False),
        (LARGE_FOUR_WHEEL, 0.15, 3.1, False),
        (LARGE_PASSENGER, 0.40, 1.125, True),
        (LARGE_PASSENGER, 0.40, 1.2, False),
        (SMALL_PASSENGER, 0.30, 1.00, True),
        (SMALL_PASSENGER, 0.30, 1.01, False),
    ],
)
def test_flood_limits_apply_together(limits: FloodClass, depth: float, velocity: float, inside: bool) -> None:  # noqa: FBT001 - a column of the table
    """Australian Rainfall and Runoff Project 10 Stage 2, Table 3: depth, velocity and their product, inclusive."""
    assert limits.allows(depth, velocity) is inside


@pytest.mark.parametrize("limits", [SMALL_PASSENGER, LARGE_PASSENGER, LARGE_FOUR_WHEEL])
def test_fast_depth_is_the_product_at_the_velocity_limit(limits: FloodClass) -> None:
    """The table is consistent with itself: high-velocity depth = product limit ÷ 3.0 m/s."""
    assert limits.fast_depth_m == pytest.approx(limits.flow_m2_s / limits.velocity_m_s)


@pytest.mark.parametrize(
    ("length", "mass", "clearance", "drive", "found"),
    [
        (4.9, 2300.0, 0.225, Drive.FOUR_WHEEL, LARGE_FOUR_WHEEL),
        (4.96, 1990.0, 0.23, Drive.FOUR_WHEEL, LARGE_PASSENGER),
        (4.9, 2300.0, 0.225, Drive.REAR, LARGE_PASSENGER),
        (4.9, 2300.0, 0.22, Drive.FOUR_WHEEL, LARGE_PASSENGER),
        (4.3, 2300.0, 0.23, Drive.FOUR_WHEEL, SMALL_PASSENGER),
        (4.2, 1200.0, 0.25, Drive.FOUR_WHEEL, SMALL_PASSENGER),
        (4.6, 1300.0, 0.12, Drive.FRONT, SMALL_PASSENGER),
    ],
)
def test_flood_class_needs_every_bound(
    length: float, mass: float, clearance: float, drive: Drive, found: FloodClass
) -> None:
    """A vehicle short of any bound falls into the class below; 1990 kg is no large 4WD."""
    assert flood_class(length, mass, clearance, drive) is found


@pytest.mark.parametrize(
    ("factor", "angle"), [(1.41, 54.655), (1.24, 51.116), (1.18, 49.72), (1.17, 49.479), (1.12, 48.24)]
)
def test_fleet_averages(factor: float, angle: float) -> None:
    """NHTSA HS-809 868 fleet averages of model year 2003 and their rigid tip angles; none of them is odd."""
    track = 1.6
    assert stability_factor(track, track / 2 / factor) == pytest.approx(factor)
    assert np.degrees(np.arctan(factor)) == pytest.approx(angle, abs=0.001)
    assert not stability_factor_odd(factor)


@pytest.mark.parametrize(("factor", "odd"), [(0.89, True), (0.9, False), (1.7, False), (1.71, True)])
def test_odd_factors_are_noticed(factor: float, odd: bool) -> None:  # noqa: FBT001 - a column of the table
    """Outside 0.9 to 1.7 a figure is probably wrong (own rule around the published range 1.00 to 1.50)."""
    assert stability_factor_odd(factor) is odd
