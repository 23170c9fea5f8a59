"""Loaded centre of gravity and static tip angles."""

import numpy as np
import pytest

from pipeline.vehicle.classes import stability_factor
from pipeline.vehicle.mass import Body, loaded_body, tip_limits
from pipeline.vehicle.model import Load
from tests.vehicle.worlds import box


def load(kg: float, x: float, y: float, z: float) -> Load:
    """Make a load."""
    return Load(mass_kg=kg, at_m=(x, y, z))


@pytest.mark.parametrize(
    ("loads", "height", "factor", "angle"),
    [
        ((), 0.72, 1.1111, 48.013),
        ((load(75, -1.4, 0, 1.95),), 0.76055, 1.05187, 46.448),
        ((load(100, -1.4, 0, 1.95),), 0.77348, 1.03429, 45.966),
        ((load(75, -1.4, 0, 1.95), load(80, -1.4, 0.3, 0.95), load(80, -1.4, -0.3, 0.95)), 0.77300, 1.03493, 45.983),
    ],
)
def test_roof_loads_lower_the_stability_factor(
    loads: tuple[Load, ...], height: float, factor: float, angle: float
) -> None:
    """Mass-weighted height, SSF = T/2H and its angle (NHTSA definition, values recomputed): 2200 kg, 0.72 m, 1.60 m."""
    body = loaded_body(box(), loads, 0.0)
    assert body.cg_m[2] == pytest.approx(height, abs=1e-5)
    assert stability_factor(1.6, body.cg_m[2]) == pytest.approx(factor, abs=1e-4)
    assert tip_limits(body, 2.8, 1.6).roll_deg == pytest.approx(angle, abs=0.01)


def test_front_axle_share_places_the_centre() -> None:
    """With 60 % of the mass in front the centre is 0.4 of the wheelbase behind the front axle."""
    body = loaded_body(box(front_axle_mass_kg=1320), (), 0.0)
    assert body.cg_m == pytest.approx((-1.12, 0.0, 0.72))


def test_axle_weights_are_balanced() -> None:
    """Moments about the rear axle: vehicle and load leave the front axle what statics says."""
    body = loaded_body(box(), (load(100, -3.2, 0.2, 0.8),), 0.0)
    front = 1100 + 100 * (2.8 - 3.2) / 2.8
    assert body.mass_kg == 2300.0
    assert body.mass_kg * (2.8 + body.cg_m[0]) / 2.8 == pytest.approx(front)
    assert body.cg_m[1] == pytest.approx(100 * 0.2 / 2300)


def test_lift_raises_the_centre() -> None:
    """The whole mass counts as sprung."""
    assert loaded_body(box(), (), 0.05).cg_m[2] == pytest.approx(0.77)


def test_tip_angles_in_closed_form() -> None:
    """Sideways towards the nearer side, backwards about the rear axle, forwards about the front axle."""
    tips = tip_limits(Body(2000.0, (-1.0, -0.1, 0.8)), 2.8, 1.6)
    assert tips.roll_deg == pytest.approx(np.degrees(np.arctan(0.7 / 0.8)))
    assert tips.climb_deg == pytest.approx(np.degrees(np.arctan(1.8 / 0.8)))
    assert tips.descent_deg == pytest.approx(np.degrees(np.arctan(1.0 / 0.8)))


@pytest.mark.parametrize(("track_in", "height_in", "g"), [(72.0, 80.0, 0.45), (96.0, 60.0, 0.80)])
def test_lateral_acceleration_of_worked_examples(track_in: float, height_in: float, g: float) -> None:
    """Track 72 in and height 80 in tip at 0.45 g, 96 in and 60 in at 0.80 g (a trucking calculator's examples)."""
    assert stability_factor(track_in, height_in) == pytest.approx(g, abs=0.01)


def test_centre_stands_above_the_wheels_at_the_tip_angle() -> None:
    """Turned by the tip angle about an edge of the wheels, the centre of gravity stands straight above that edge."""
    body = loaded_body(box(), (load(150, -3.4, 0.2, 1.5),), 0.0)
    x, y, z = body.cg_m
    tips = tip_limits(body, 2.8, 1.6)
    for angle, arm in ((tips.roll_deg, 0.8 - y), (tips.climb_deg, 2.8 + x), (tips.descent_deg, -x)):
        turned = arm * np.cos(np.radians(angle)) - z * np.sin(np.radians(angle))
        assert turned == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize(
    ("grade", "cross", "pitch", "roll"), [(0.40825, 0.40825, 22.208, 20.705), (0.5, 0.2, 26.565, 10.142)]
)
def test_margin_on_a_combined_slope(grade: float, cross: float, pitch: float, roll: float) -> None:
    """On a plane, roll = atan(c·cos pitch) (derived); the lateral margin is the tip angle less that roll.

    Checked by turning the centre of gravity with the vehicle: it leaves the lower wheel's vertical plane where the
    margin is used up.
    """
    assert np.degrees(np.arctan(grade)) == pytest.approx(pitch, abs=0.01)
    assert np.degrees(np.arctan(cross * np.cos(np.arctan(grade)))) == pytest.approx(roll, abs=0.01)
    tips = tip_limits(Body(2200.0, (-1.4, 0.0, 0.72)), 2.8, 1.6)
    margin = np.radians(tips.roll_deg - roll)
    height_over_edge = np.hypot(0.8, 0.72) * np.sin(margin)
    assert 0.8 * np.cos(np.radians(roll)) - 0.72 * np.sin(np.radians(roll)) == pytest.approx(
        height_over_edge, abs=1e-12
    )


def test_centre_outside_the_wheels_tips_on_the_level() -> None:
    """A load so far out that the centre leaves the wheels leaves no angle at all."""
    assert tip_limits(Body(2000.0, (-3.0, 0.9, 0.8)), 2.8, 1.6)[:2] == (0.0, 0.0)
