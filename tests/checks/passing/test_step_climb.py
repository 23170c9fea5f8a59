"""Climbing on to an edge, against the equations of equilibrium solved as they stand, limits, and a rolled tyre."""

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import fsolve

from pipeline.checks.grip.formulas import Balance, gradeability
from pipeline.checks.passing import step_climb
from pipeline.checks.passing.step_climb import Footing, climbable, edge_of_mound, edge_of_pit, pull_limit, surplus
from pipeline.terms import Drive
from pipeline.vehicle.envelope_model import Envelope
from tests.checks.worlds import envelope

DRIVES = list(Drive)
STIFF = {"wheel_travel_m": 1e6, "crawl_grade": 1e6}
"""Springs that no twist unloads, and torque without end: what the textbook cases leave out."""
Floats = NDArray[np.float64]


def ground(mu: float, rolling: float = 0.0, grade: float = 0.0) -> Footing:
    """Make the ground round one thing."""
    return Footing(np.array([mu]), np.array([rolling]), np.array([grade]))


def highest(vehicle: Envelope, footing: Footing, wheels: int = 2, *, step: bool = False) -> float:
    """Find the highest edge that both axles climb."""
    return float(climbable(vehicle, footing, np.array([wheels]), step=np.array([step]))[0])


def turned(vector: tuple[float, float], angle: float) -> Floats:
    """Turn a vector nose up."""
    cosine, sine = np.cos(angle), np.sin(angle)
    return np.array([[cosine, -sine], [sine, cosine]]) @ np.array(vector)


def in_balance(
    vehicle: Envelope, footing: Footing, *, axle: str, one: bool, raised: bool = False, share: float = 0.0
) -> float:
    """Solve for the edge at which one axle just climbs: forces at every contact, moments about the centre of gravity.

    Unknowns: load of the climbing axle, load of the other, edge. All in the frame of the slope. With *share* of the
    edge behind it, the wheel has taken load from the one beside it as the twist takes of the travel.
    """
    length, radius = vehicle.wheelbase_m, vehicle.tyre_radius_m
    mu, rolling = float(footing.mu[0]), float(footing.rolling[0])
    slope = np.arctan(float(footing.grade[0]))
    front_mu = 0.0 if vehicle.drive is Drive.REAR else mu
    rear_mu = 0.0 if vehicle.drive is Drive.FRONT else mu
    climbing, standing = (front_mu, rear_mu) if axle == "front" else (rear_mu, front_mu)

    def residual(state: Floats) -> Floats:
        load, other, edge = state
        theta = np.arccos(1.0 - (1.0 - share) * edge / radius)
        warp = share * edge / vehicle.wheel_travel_m
        nose = np.arcsin(edge / length) if raised and axle == "rear" else 0.0
        rear = np.array([0.0, radius])
        front, cg = (
            rear + turned((length, 0.0), nose),
            rear + turned((length + vehicle.cg_m[0], vehicle.cg_m[2] - radius), nose),
        )
        hub, far = (front, rear) if axle == "front" else (rear, front)
        at_edge = np.array([hub[0] + radius * np.sin(theta), edge])
        beside = load * (1.0 - warp) / 2.0
        normal, along = np.array([-np.sin(theta), np.cos(theta)]), np.array([np.cos(theta), np.sin(theta)])
        mine = load - beside if one else load
        # Vertical part of the contact is the load: N·cos θ + T·sin θ.
        pull = climbing * mine / (np.cos(theta) + climbing * np.sin(theta))
        if one:
            pull = min(pull, climbing * beside)
        press = (mine - pull * np.sin(theta)) / np.cos(theta)
        forces = [(at_edge, press * normal + pull * along - [rolling * mine, 0.0])]
        if one:
            forces.append((hub - [0.0, radius], np.array([pull - rolling * beside, beside])))
        held = standing * (1.0 - warp if one else 1.0)
        forces.append((far - [0.0, radius], np.array([(held - rolling) * other, other])))
        forces.append((cg, -turned((np.sin(slope), np.cos(slope)), 0.0)))
        arms = [(place - cg, force) for place, force in forces]
        total = sum(force for _, force in forces)
        moment = sum(arm[0] * force[1] - arm[1] * force[0] for arm, force in arms)
        return np.array([total[0], total[1], moment])

    found, _, worked, _ = fsolve(residual, [0.5, 0.5, 0.05], full_output=True, xtol=1e-12)
    return float(found[2]) if worked == 1 else float("inf")


@pytest.mark.parametrize("drive", DRIVES)
@pytest.mark.parametrize("one", [False, True])
@pytest.mark.parametrize(("mu", "rolling", "grade"), [(0.4, 0.0, 0.0), (0.6, 0.05, 0.0), (0.7, 0.02, 0.08)])
def test_limit_is_where_forces_and_moments_balance(
    *, drive: Drive, one: bool, mu: float, rolling: float, grade: float
) -> None:
    """The lower of front and rear axle solved as free bodies (statics, derived), loads off the middle."""
    vehicle = envelope(drive=drive, cg_m=(-1.25, 0.0, 0.75), **STIFF)
    footing = ground(mu, rolling, grade)
    expected = min(in_balance(vehicle, footing, axle=axle, one=one) for axle in ("front", "rear"))
    assert highest(vehicle, footing, 1 if one else 2) == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize("one", [False, True])
def test_rear_wheels_at_a_step_have_the_front_ones_up_on_it(*, one: bool) -> None:
    """Four-wheel drive on a step: the rear axle's balance with the nose up is another one, and is met."""
    vehicle, footing = envelope(cg_m=(-1.8, 0.0, 0.75), **STIFF), ground(0.5, 0.03)
    front = in_balance(vehicle, footing, axle="front", one=one)
    rear = in_balance(vehicle, footing, axle="rear", one=one, raised=True)
    assert rear < front
    assert highest(vehicle, footing, 1 if one else 2, step=True) == pytest.approx(rear, abs=1e-6)
    assert rear != pytest.approx(in_balance(vehicle, footing, axle="rear", one=one), abs=1e-5)


@pytest.mark.parametrize("drive", DRIVES)
def test_the_worst_moment_on_short_springs_is_where_forces_balance(drive: Drive) -> None:
    """One wheel at nine moments of its way up, its load taken from the wheels across: the lowest edge of them."""
    vehicle, footing = envelope(drive=drive, wheel_travel_m=0.3, crawl_grade=1e6), ground(0.5, 0.03)
    moments = [(axle, share) for axle in ("front", "rear") for share in np.linspace(0.0, 1.0, 9)[:-1]]
    found = [in_balance(vehicle, footing, axle=axle, one=True, share=float(share)) for axle, share in moments]
    assert highest(vehicle, footing, 1) == pytest.approx(min(found), abs=1e-6)


def test_undriven_front_axle_by_hand() -> None:
    """Rear drive, low centre of gravity and edge: tan θ is close to μ·V_r ÷ V_f = 0.5 on equal loads (derived)."""
    vehicle = envelope(drive=Drive.REAR, cg_m=(-1.4, 0.0, 0.01), tyre_radius_m=0.01, **STIFF)
    expected = 0.01 * (1.0 - np.cos(np.arctan(0.5)))
    assert highest(vehicle, ground(0.5)) == pytest.approx(expected, rel=0.02)


@pytest.mark.parametrize("drive", DRIVES)
@pytest.mark.parametrize("wheels", [1, 2])
def test_no_edge_leaves_the_gradeability_of_the_ground(*, drive: Drive, wheels: int) -> None:
    """No edge: push runs out at the grade of the tractive force formulas (Fundamentals of Transportation, 7.2)."""
    vehicle = envelope(drive=drive, cg_m=(-1.3, 0.0, 0.7), **STIFF)
    grade = float(gradeability(drive, Balance(2.8, 1.3, 0.7), 0.6, 0.05))
    below, above = (surplus(vehicle, np.zeros(1), ground(0.6, 0.05, grade * k), wheels)[0] for k in (0.999, 1.001))
    assert below > 0.0 > above
    assert highest(vehicle, ground(0.6, 0.05, grade * 1.001), wheels) == 0.0


def test_all_grip_climbs_the_radius_and_nothing_climbs_more(monkeypatch: pytest.MonkeyPatch) -> None:
    """μ → large: an edge as high as the axle, by four driven wheels; without any grip none at all."""
    monkeypatch.setattr(step_climb, "pull_limit", lambda _: np.inf)
    assert highest(envelope(**STIFF), ground(20.0)) == pytest.approx(0.38, abs=1e-5)
    assert highest(envelope(**STIFF), ground(0.0)) == pytest.approx(0.0, abs=1e-6)
    undriven_front = highest(envelope(drive=Drive.REAR, **STIFF), ground(1.0))
    assert undriven_front < 0.38 / 2.0


@pytest.mark.parametrize("drive", DRIVES)
@pytest.mark.parametrize("wheels", [1, 2])
def test_more_grip_less_slope_climb_higher(*, drive: Drive, wheels: int) -> None:
    """Never less with more adhesion, never more up a steeper slope or on heavier going."""
    vehicle = envelope(drive=drive)
    by_grip = [highest(vehicle, ground(mu, 0.03), wheels) for mu in np.linspace(0.1, 1.0, 10)]
    by_slope = [highest(vehicle, ground(0.6, 0.03, grade), wheels) for grade in np.linspace(-0.2, 0.3, 10)]
    by_going = [highest(vehicle, ground(0.6, rolling), wheels) for rolling in np.linspace(0.0, 0.2, 10)]
    assert (np.diff(by_grip) >= 0.0).all()
    assert (np.diff(by_slope) <= 0.0).all()
    assert (np.diff(by_going) <= 0.0).all()


def test_one_wheel_after_the_other_climbs_higher_than_both() -> None:
    """Why logs are taken at an angle: three wheels push one up (common practice, no source)."""
    for mu in (0.3, 0.5, 0.7):
        assert highest(envelope(), ground(mu), 1) > 1.5 * highest(envelope(), ground(mu), 2)


def test_four_driven_wheels_climb_higher_than_two() -> None:
    """Driving the other axle too always helps."""
    for mu in (0.3, 0.6, 0.9):
        two = max(highest(envelope(drive=drive, **STIFF), ground(mu)) for drive in (Drive.REAR, Drive.FRONT))
        assert highest(envelope(**STIFF), ground(mu)) > 2.0 * two


def test_short_springs_cost_a_climb() -> None:
    """With little travel the wheels across lose their load as the one rises, and with it their push."""
    long, short = (highest(envelope(wheel_travel_m=travel), ground(0.4), 1) for travel in (0.6, 0.15))
    assert short < 0.9 * long


def test_a_scale_model_climbs_to_scale() -> None:
    """Twice the vehicle climbs twice the edge on the same ground."""
    small = envelope()
    big = envelope(wheelbase_m=5.6, tyre_radius_m=0.76, cg_m=(-2.8, 0.0, 1.44), wheel_travel_m=0.9)
    for wheels in (1, 2):
        assert highest(big, ground(0.5), wheels) == pytest.approx(2.0 * highest(small, ground(0.5), wheels), abs=1e-5)


def test_torque_counts_where_it_is_less_than_grip() -> None:
    """A gear that climbs 30 % and no more pulls like an adhesion of sin atan 0.3 = 0.2873."""
    weak = envelope(crawl_grade=0.3)
    assert pull_limit(weak) == pytest.approx(0.28735, abs=1e-5)
    assert highest(weak, ground(0.8)) == pytest.approx(highest(envelope(**STIFF), ground(0.28735)), abs=1e-4)
    rear = envelope(drive=Drive.REAR, crawl_grade=0.3, cg_m=(-0.7, 0.0, 0.7))
    assert pull_limit(rear) == pytest.approx(4.0 * 0.28735, abs=1e-4)


def test_what_no_load_balances_is_not_climbed() -> None:
    """Undriven rear wheels at an edge as high as their axle: the push would lift the front, and is no climb."""
    vehicle = envelope(drive=Drive.FRONT, **STIFF)
    assert np.isneginf(surplus(vehicle, np.array([0.379]), ground(0.9), 2)[0])


def rolled(z: Floats, x: Floats, radius: float) -> tuple[float, float]:
    """Roll a tyre over a fine profile: how deep it sinks, and the edge it meets as steeply going to the right."""
    reach = np.abs(x[None, :] - x[:, None]) < radius
    arc = np.sqrt(np.maximum(radius**2 - (x[None, :] - x[:, None]) ** 2, 0.0))
    heights = np.where(reach, z[None, :] + arc, -np.inf)
    ahead = x[heights.argmax(axis=1)] - x
    inside = np.abs(x) < 1.2
    return radius - float(heights.max(axis=1)[inside].min()), float(
        radius * (1.0 - np.sqrt(1.0 - (ahead[inside].max() / radius) ** 2))
    )


@pytest.mark.parametrize(("height", "length"), [(0.2, 0.5), (0.12, 0.3), (0.34, 0.8), (0.3, 0.2), (0.1, 2.0)])
def test_mound_is_as_steep_as_the_edge_told(height: float, length: float) -> None:
    """A tyre rolled on to a half ellipse in steps of 2 mm meets it as steeply as the edge."""
    x = np.arange(-1.6, 1.6, 0.002)
    z = height * np.sqrt(np.maximum(1.0 - (2.0 * x / length) ** 2, 0.0))
    assert rolled(z, x, 0.38)[1] == pytest.approx(float(edge_of_mound(height, length, 0.38)), abs=0.005)


@pytest.mark.parametrize(("depth", "length"), [(0.22, 1.0), (0.25, 0.8), (0.1, 0.4), (0.05, 0.6), (0.3, 0.5)])
def test_pit_holds_the_tyre_and_is_as_steep_as_told(depth: float, length: float) -> None:
    """A tyre rolled through a half ellipse in steps of 2 mm sinks as deep and climbs out as steeply."""
    x = np.arange(-1.6, 1.6, 0.002)
    z = -depth * np.sqrt(np.maximum(1.0 - (2.0 * x / length) ** 2, 0.0))
    sinks, edge = rolled(z, x, 0.38)
    told = edge_of_pit(depth, length, 0.38)
    assert sinks == pytest.approx(float(told[0]), abs=0.002)
    assert edge == pytest.approx(float(told[1]), abs=0.006)


def test_shapes_in_the_limit() -> None:
    """A thin plate is an edge of its height, a flat mound none; a narrow pit swallows nothing."""
    assert float(edge_of_mound(0.2, 1e-6, 0.38)) == pytest.approx(0.2, abs=1e-4)
    assert float(edge_of_mound(0.2, 2000.0, 0.38)) < 1e-3
    assert [float(part) for part in edge_of_pit(0.5, 0.02, 0.38)] == pytest.approx([0.000132] * 2, abs=1e-5)


def test_a_log_is_about_as_steep_as_a_round_one() -> None:
    """A tyre on a round log of 0.24 m: cos θ = (r − d ÷ 2) ÷ (r + d ÷ 2); the half ellipse is within a centimetre."""
    edge = 0.38 * (1.0 - (0.38 - 0.12) / (0.38 + 0.12))
    assert float(edge_of_mound(0.24, 0.24, 0.38)) == pytest.approx(edge, abs=0.01)
