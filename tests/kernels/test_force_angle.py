"""Angles by which a vehicle is not tipped over its edges: published values, closed forms and the algorithm itself."""

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from pipeline.kernels.force_angle import edge_angles
from pipeline.units import GRAVITY
from tests.kernels.four_twin import pitched, published_angle, rolled

pytestmark = pytest.mark.kernel

Floats = NDArray[np.float64]
FRONT, RIGHT, REAR, LEFT = range(4)
DOWN = np.array([0.0, 0.0, -1.0])


def rectangle(width: float = 1.6, length: float = 2.8) -> Floats:
    """Make a support clockwise seen from above: front left, front right, rear right, rear left."""
    x, y = length / 2.0, width / 2.0
    return np.array([[x, y, 0.0], [x, -y, 0.0], [-x, -y, 0.0], [-x, y, 0.0]])


def on_slope(slope_deg: float, heading_deg: float) -> Floats:
    """Direction of gravity seen from a plane; the heading, measured in it, leaves the line of steepest rise leftward.

    0 climbs straight up; 90 stands straight across with the right side down.
    """
    slope, heading = math.radians(slope_deg), math.radians(heading_deg)
    return np.array([-math.sin(slope) * math.cos(heading), -math.sin(slope) * math.sin(heading), -math.cos(slope)])


def degrees(force: Floats, height: float = 0.72, points: Floats | None = None) -> Floats:
    """Edge angles of a rectangle 1.60 by 2.80 m with its centre of gravity over the middle, degrees."""
    return np.degrees(edge_angles(rectangle() if points is None else points, np.array([0.0, 0.0, height]), force))


@pytest.mark.parametrize(
    ("slope", "heading", "edge", "angle"),
    [
        (0.0, 0.0, RIGHT, 48.013),
        (0.0, 0.0, FRONT, 62.784),
        (0.0, 0.0, LEFT, 48.013),
        (0.0, 0.0, REAR, 62.784),
        (20.0, 90.0, RIGHT, 28.013),
        (20.0, 45.0, RIGHT, 33.580),
        (20.0, 45.0, REAR, 48.351),
        (30.0, 45.0, RIGHT, 25.805),
        (30.0, 45.0, REAR, 40.576),
        (48.02, 90.0, RIGHT, -0.007),
    ],
)
def test_worked_values(slope: float, heading: float, edge: int, angle: float) -> None:
    """Rectangle 1.60 × 2.80 m, centre at 0.72 m: values worked by hand from Papadopoulos & Rey (2000), to 0.001°.

    On the slope of 48.02° across the vehicle is just over.
    """
    assert degrees(on_slope(slope, heading))[edge] == pytest.approx(angle, abs=1e-3)


@pytest.mark.parametrize(
    ("factor", "angle"), [(1.41, 54.66), (1.24, 51.12), (1.18, 49.72), (1.17, 49.48), (1.12, 48.24)]
)
def test_static_stability_factor_of_fleets(factor: float, angle: float) -> None:
    """T ÷ 2H of passenger cars, minivans, pickups, sport utility and full-size vans of 2003: tip at its arc tangent.

    Fleet averages of NHTSA report HS-809 868 (DOT, 2005).
    """
    track = 1.6
    found = degrees(DOWN, track / 2.0 / factor, rectangle(track))
    assert found[[LEFT, RIGHT]] == pytest.approx([angle] * 2, abs=0.006)


@pytest.mark.parametrize(
    ("loads", "factor", "angle"),
    [
        ([], 1.1111, 48.013),
        ([(75.0, 1.95)], 1.05187, 46.448),
        ([(100.0, 1.95)], 1.03429, 45.966),
        ([(75.0, 1.95), (80.0, 0.95), (80.0, 0.95)], 1.03493, 45.983),
    ],
)
def test_load_raises_the_centre_of_gravity(loads: list[tuple[float, float]], factor: float, angle: float) -> None:
    """2,200 kg at 0.72 m with a roof load and passengers: angle across by the mass-weighted height, to 0.001°.

    Formula of NHTSA's static stability factor (SSF = T ÷ 2H); worked by hand.
    """
    masses = [(2200.0, 0.72), *loads]
    height = sum(mass * z for mass, z in masses) / sum(mass for mass, _ in masses)
    assert 0.8 / height == pytest.approx(factor, abs=1e-5 if loads else 1e-4)
    assert degrees(DOWN, height)[LEFT] == pytest.approx(angle, abs=1e-3)


@pytest.mark.parametrize(("track", "height", "share"), [(72.0, 80.0, 0.45), (96.0, 60.0, 0.80)])
def test_sideways_acceleration_that_tips(track: float, height: float, share: float) -> None:
    """Track 72 in, centre at 80 in tips at 0.45 g; 96 in and 60 in at 0.80 g: a worked example of haulage."""
    points = rectangle(track, 150.0)
    for off, tips in ((-1e-6, False), (1e-6, True)):
        force = np.array([0.0, -(share + off), -1.0])
        assert bool(degrees(force, height, points)[RIGHT] < 0.0) is tips


def test_speed_that_tips_on_a_bend() -> None:
    """Track 72 in, centre at 80 in, radius 200 ft: 36.7 miles an hour (the same worked example)."""
    foot, mile = 0.3048, 1609.344
    speed = 36.690 * mile / 3600.0
    force = np.array([0.0, -(speed**2) / (200.0 * foot), -GRAVITY])
    points, height = rectangle(72.0 * foot / 12.0, 4.0), 80.0 * foot / 12.0
    assert degrees(force, height, points)[RIGHT] == pytest.approx(0.0, abs=0.002)


@pytest.mark.parametrize("bank", [-0.10, 0.0, 0.05, 0.12])
@pytest.mark.parametrize("radius", [12.0, 60.0])
def test_speed_that_tips_on_a_banked_bend(bank: float, radius: float) -> None:
    """v² = gR(e + f) ÷ (1 − e·f), exact, with the static stability factor T ÷ 2H in the place of friction.

    Curve formula as in any text on road design (LibreTexts, Fundamentals of Transportation 7.4), before (1 − e·f) ≈ 1.
    """
    factor = 0.8 / 0.72
    speed = math.sqrt(GRAVITY * radius * (bank + factor) / (1.0 - bank * factor))
    level = np.array([0.0, -(speed**2) / radius, -GRAVITY])
    # A bend to the left, the right side outside and higher by the bank: seen from the road the force turns back.
    force = rolled(math.atan(bank)) @ level
    assert degrees(force)[RIGHT] == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("slope", [0.0, 5.0, 17.0, 40.0])
def test_slope_across_is_taken_off_and_put_on(slope: float) -> None:
    """Straight across, downhill angle + slope = uphill angle − slope = atan(T ÷ 2H), exactly."""
    found = degrees(on_slope(slope, 90.0))
    level = math.degrees(math.atan(0.8 / 0.72))
    assert found[[RIGHT, LEFT]] == pytest.approx([level - slope, level + slope], abs=1e-9)


@pytest.mark.parametrize("heading", [10.0, 45.0, 70.0])
def test_mirrored_heading_swaps_the_sides(heading: float) -> None:
    """Heading ±h on the same slope: left and right change places, front and rear stay."""
    one, other = degrees(on_slope(25.0, heading)), degrees(on_slope(25.0, -heading))
    assert one[[LEFT, RIGHT, FRONT, REAR]] == pytest.approx(other[[RIGHT, LEFT, FRONT, REAR]], abs=1e-9)
    assert one[RIGHT] < one[LEFT] - 1.0


@pytest.mark.parametrize("heading", [0.0, 30.0, 60.0, 90.0])
def test_higher_centre_is_nearer_to_tipping_over_every_edge(heading: float) -> None:
    """On a plane every edge angle falls as the centre of gravity rises."""
    force = on_slope(15.0, heading)
    heights = [degrees(force, height) for height in (0.5, 0.7, 0.9, 1.2)]
    assert (np.diff(heights, axis=0) < -1.0).all()


def support(seed: int, count: int) -> tuple[Floats, Floats, Floats]:
    """Make an uneven support, clockwise, a centre of gravity somewhere above and a force somehow down."""
    rng = np.random.default_rng(seed)
    turn = -np.sort(rng.uniform(0.0, 1.0, count) + np.arange(count)) * 2.0 * math.pi / count
    points = np.column_stack([np.cos(turn), np.sin(turn), np.zeros(count)]) * rng.uniform(0.8, 1.6, (count, 1))
    points[:, 2] = rng.normal(0.0, 0.15, count)
    return points, rng.normal((0.0, 0.0, 0.8), 0.3), rng.normal(DOWN, 0.3)


@pytest.mark.parametrize("count", [3, 4])
@pytest.mark.parametrize("seed", range(12))
def test_is_the_published_algorithm(seed: int, count: int) -> None:
    """On uneven triangles and quadrangles, tipped ones among them, the angles are those of the published steps."""
    points, cg, force = support(seed, count)
    plain = [published_angle(points[i], points[(i + 1) % count], cg, force) for i in range(count)]
    assert edge_angles(points, cg, force) == pytest.approx(plain, abs=1e-9)


@pytest.mark.parametrize("seed", range(4))
def test_only_geometry_counts(seed: int) -> None:
    """Other axes, other units and a larger force change nothing."""
    points, cg, force = support(seed, 4)
    turn = pitched(0.3) @ rolled(-0.4)
    moved = edge_angles(30.0 * points @ turn.T + 5.0, 30.0 * turn @ cg + 5.0, 7.0 * turn @ force)
    assert moved == pytest.approx(edge_angles(points, cg, force), abs=1e-9)


def test_sign_turns_where_the_force_meets_the_edge() -> None:
    """With the centre of gravity in balance over an edge its angle is 0, outside it negative."""
    for y, sign in ((-0.79, 1.0), (-0.81, -1.0)):
        assert math.copysign(1.0, edge_angles(rectangle(), np.array([0.0, y, 0.72]), DOWN)[RIGHT]) == sign
    assert edge_angles(rectangle(), np.array([0.0, -0.8, 0.72]), DOWN)[RIGHT] == pytest.approx(0.0, abs=1e-12)
