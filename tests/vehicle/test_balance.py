"""Static angles, working limits, ramp travel index, and what loads do: against published values and a plain twin."""

import math
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from pipeline.settings import read_settings
from pipeline.terms import Driver
from pipeline.vehicle.balance import (
    Angles,
    effect_text,
    ramp_travel_index,
    static_angles,
    working_angles,
)
from pipeline.vehicle.envelope import make_envelope
from pipeline.vehicle.envelope_model import Envelope
from pipeline.vehicle.model import SetUpChoice, Vehicle
from tests.vehicle.worlds import EXTRAS, WORKING, box

INCH = 0.0254
SQUARE = {"track_front_m": 1.6, "track_rear_m": 1.6}


def envelope(vehicle: Vehicle, *loads: str, suspension: str = "normal") -> Envelope:
    """Make one set-up."""
    return make_envelope(vehicle, SetUpChoice("x", suspension, loads))


def load(name: str, mass_kg: float, *at_m: float, people: bool = False) -> str:
    """Write the table of one load."""
    return f"[loads.{name}]\nmass_kg = {mass_kg}\nat_m = {list(at_m)}\npeople = {str(people).lower()}\n"


def force_angles(found: Envelope, force: tuple[float, float, float] = (0.0, 0.0, -1.0)) -> list[float]:
    """Give the edge angles (left, right, rear, front; degrees) of the force-angle measure, written out step by step.

    Papadopoulos & Rey (2000), contact points clockwise seen from above, level ground.
    """
    base, front, rear = found.wheelbase_m, found.track_front_m / 2, found.track_rear_m / 2
    corners = {"fl": (0, front), "fr": (0, -front), "rr": (-base, -rear), "rl": (-base, rear)}
    point = {name: np.array([x, y, 0.0]) for name, (x, y) in corners.items()}
    edges = (("rl", "fl"), ("fr", "rr"), ("rr", "rl"), ("fl", "fr"))
    centre, pull = np.array(found.cg_m), np.array(force)
    angles = []
    for start, end in edges:
        along = point[end] - point[start]
        along = along / np.linalg.norm(along)
        across = np.eye(3) - np.outer(along, along)
        arm, part = across @ (point[end] - centre), across @ pull
        arm, part = arm / np.linalg.norm(arm), part / np.linalg.norm(part)
        sign = 1.0 if np.cross(arm, part) @ along < 0 else -1.0  # the force passes inside
        angles.append(math.degrees(sign * math.acos(np.clip(arm @ part, -1.0, 1.0))))
    return angles


def test_rectangle_has_the_worked_angles() -> None:
    """Track 1.60, wheelbase 2.80, cg centred at 0.72: 48.013° across and 62.784° along (force-angle measure, flat)."""
    assert static_angles(envelope(box(**SQUARE))) == pytest.approx((48.013, 48.013, 62.784, 62.784), abs=1e-3)


def test_a_slope_across_takes_its_own_angle() -> None:
    """On 20° straight across 28.013° are left of 48.013°: force-angle measure, downhill side."""
    slope = math.radians(20.0)
    left = force_angles(envelope(box(**SQUARE)), (0.0, math.sin(slope), -math.cos(slope)))[0]
    assert left == pytest.approx(28.013, abs=1e-3)
    assert static_angles(envelope(box(**SQUARE))).left - 20.0 == pytest.approx(left, abs=1e-9)


@pytest.mark.parametrize("seed", range(20))
def test_angles_are_those_of_the_force_angle_measure(seed: int) -> None:
    """Any tracks, any place of the load: the closed form is the edge angle of the written-out measure."""
    rng = np.random.default_rng(seed)
    at = (rng.uniform(-2.8, 0.0), rng.uniform(-0.7, 0.7), rng.uniform(0.3, 2.2))
    tracks = {"track_front_m": rng.uniform(1.2, 1.8), "track_rear_m": rng.uniform(1.2, 1.8)}
    found = envelope(box(load("a", rng.uniform(20, 900), *at), **tracks), "a")
    assert list(static_angles(found)) == pytest.approx(force_angles(found), abs=1e-6)


# Fleet averages, model year 2003: NHTSA HS-809 868, abstract; the angle is atan(SSF).
@pytest.mark.parametrize(
    ("factor", "angle"), [(1.41, 54.66), (1.24, 51.12), (1.18, 49.72), (1.17, 49.48), (1.12, 48.24)]
)
def test_fleet_factors_are_the_static_angle(factor: float, angle: float) -> None:
    """A vehicle with the factor of a class tips across at its angle."""
    found = static_angles(envelope(box(cg_height_m=1.6 / (2 * factor), **SQUARE)))
    assert found.across == pytest.approx(angle, abs=0.01)


# 2 200 kg at 0.72 m, track 1.60 m: mass-weighted centre of gravity, worked by hand.
@pytest.mark.parametrize(
    ("loads", "height", "factor", "angle"),
    [
        ((), 0.72, 1.1111, 48.013),
        ((("roof", 75, 1.95),), 0.76055, 1.05187, 46.448),
        ((("roof", 100, 1.95),), 0.77348, 1.03429, 45.966),
        ((("roof", 75, 1.95), ("people", 160, 0.95)), 0.77300, 1.03493, 45.983),
    ],
)
def test_roof_load_example(
    loads: tuple[tuple[str, float, float], ...], height: float, factor: float, angle: float
) -> None:
    """75 kg on the roof take 1.6°, two people on top of that another half degree."""
    vehicle = box(*(load(name, mass, -1.4, 0.0, z) for name, mass, z in loads), **SQUARE)
    found = envelope(vehicle, *(name for name, _, _ in loads))
    assert found.cg_m[2] == pytest.approx(height, abs=1e-5)
    assert math.tan(math.radians(static_angles(found).across)) == pytest.approx(factor, abs=1e-4)
    assert static_angles(found).across == pytest.approx(angle, abs=0.01)


def test_mirrored_load_swaps_the_sides() -> None:
    """A load as far right as it was left exchanges left and right and nothing else; the weaker side is its own."""
    left, right = (static_angles(envelope(box(load("a", 200, -1.0, y, 1.1)), "a")) for y in (0.5, -0.5))
    assert (left.left, left.right, left.up, left.down) == (right.right, right.left, right.up, right.down)
    assert (left.weaker, right.weaker) == ("left", "right")
    assert static_angles(envelope(box())).weaker == "even"


def test_raising_lowers_every_angle() -> None:
    """Suspension up, all four angles down."""
    vehicle = box(EXTRAS)
    normal, raised = (static_angles(envelope(vehicle, suspension=name)) for name in ("normal", "raised"))
    assert all(high < low for high, low in zip(raised, normal, strict=True))


def test_outside_the_wheels_is_zero() -> None:
    """A centre of gravity beyond the tyres has no angle left on that side."""
    found = envelope(box(load("a", 5000, -1.4, 0.94, 1.0), track_front_m=0.8, track_rear_m=0.8), "a")
    assert found.cg_m[1] > 0.4
    assert static_angles(found).left == 0.0


def test_measured_offset_counts() -> None:
    """A vehicle that is heavier on the left leans on its left: atan((0.80 − 0.03) ÷ 0.72)."""
    found = static_angles(envelope(box(cg_left_m=0.03, **SQUARE)))
    assert found.left == pytest.approx(math.degrees(math.atan(0.77 / 0.72)), abs=1e-9)
    assert found.right == pytest.approx(math.degrees(math.atan(0.83 / 0.72)), abs=1e-9)


def test_working_limit_of_the_box_is_half_of_45_degrees() -> None:
    """Factor 1.1111 less a tenth is 1: 45°, times a half; along atan(0.9·1.4/0.72) times 0.4."""
    found = working_angles(static_angles(envelope(box(**SQUARE))), WORKING, Driver.FIRST_TIMER)
    assert found.across == pytest.approx(22.5, abs=1e-9)
    assert found.up == pytest.approx(0.4 * math.degrees(math.atan(0.9 * 1.4 / 0.72)), abs=1e-9)


def test_working_limit_is_below_the_static_angle_and_grows_with_the_driver() -> None:
    """The usable side slope is always less than atan(SSF) (TRB Special Report 265, p. 28)."""
    static = Angles(48.0, 47.0, 60.0, 62.0)
    by_driver = [working_angles(static, WORKING, driver) for driver in Driver]
    for milder, bolder in pairwise(by_driver):
        assert all(a < b for a, b in zip(milder, bolder, strict=True))
    assert all(a < b for a, b in zip(by_driver[-1], static, strict=True))


def test_ramp_travel_index_of_the_published_example() -> None:
    """62 in up a 20° ramp at a wheelbase of 94 in: 659.57 (published as 659); 600 at 2.5 m lifts 0.5130 m."""
    lift = 62 * INCH * math.sin(math.radians(20))
    assert ramp_travel_index(lift, 94 * INCH) == pytest.approx(659.57, abs=0.005)
    assert ramp_travel_index(0.5130, 2.5) == pytest.approx(600.0, abs=0.05)


def test_demo_vehicles_flex_as_their_kind() -> None:
    """The crossover's index is well below that of every 4x4; all lie in the range of stock vehicles.

    150 to 600: common practice, no source.
    """
    folder = Path(__file__).parents[2] / "configs" / "vehicles"
    demo = {path.stem: read_settings(path, Vehicle) for path in folder.glob("*.toml")}
    index = {name: ramp_travel_index(one.wheel_travel_m, one.wheelbase_m) for name, one in demo.items()}
    crossover = index.pop("marl")
    assert 150 < crossover < 0.6 * min(index.values())
    assert max(index.values()) < 600


def test_effect_of_a_roof_load_to_the_right() -> None:
    """Higher, to the right, less across: 75 kg at 1.95 m, 0.4 m right of 2 200 kg at 0.72 m."""
    vehicle = box(load("rack", 75, -1.4, -0.4, 1.95), **SQUARE)
    text = effect_text(vehicle, envelope(vehicle, "rack"), envelope(vehicle))
    assert text == (
        "rack: centre of gravity 0.041 m higher, 0.013 m to the right: 2.0° less across, right side weaker; "
        "carried 1.230 m above the vehicle's own centre of gravity"
    )


@pytest.mark.parametrize(
    ("seat", "said"),
    [
        (0.55, "0.012 m lower: 0.5° more across; people seated 0.170 m below"),
        (0.95, "0.016 m higher: 0.6° less across; people seated 0.230 m above"),
        (0.72, "where it was: no change across; people seated level with"),
    ],
)
def test_people_lower_it_only_from_below(seat: float, said: str) -> None:
    """The saying holds where they sit lower than the vehicle's centre of gravity, and is turned round above it."""
    vehicle = box(load("family", 160, -1.4, 0.0, seat, people=True), **SQUARE)
    text = effect_text(vehicle, envelope(vehicle, "family"), envelope(vehicle))
    assert text == f"family: centre of gravity {said} the vehicle's own centre of gravity"


def test_effect_of_a_raised_suspension() -> None:
    """0.12 m raise roof and centre of gravity by 0.12 m (common practice, no source): atan(0.8/0.84) is 4.4° less."""
    vehicle = box("[suspension.high]\nlift_m = 0.12\n", **SQUARE)
    high, normal = envelope(vehicle, suspension="high"), envelope(vehicle)
    assert effect_text(vehicle, high, normal) == "high: roof and centre of gravity 0.120 m higher: 4.4° less across"
    assert high.height_m - normal.height_m == pytest.approx(0.12)
