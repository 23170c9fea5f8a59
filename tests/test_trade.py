"""Facts of the trade that the whole must agree with: common practice, no source, unless one is named."""

from pathlib import Path

import numpy as np
import pytest

from pipeline.checks.articulation import Articulation
from pipeline.checks.limits import Limits
from pipeline.checks.stability import Roll
from pipeline.settings import read_settings
from pipeline.terms import Driver
from pipeline.vehicle.envelope import make_envelope
from pipeline.vehicle.model import Load, SetUpChoice, Suspension, Vehicle
from pipeline.vehicle.turning import offtracking, rear_radius
from tests.checks.worlds import outcome_of, site_on
from tests.worlds import plane_world

FILES = sorted(Path("configs/vehicles").glob("*.toml"))
LIMITS = read_settings(Path("configs/limits.toml"), Limits)


@pytest.fixture(params=FILES, ids=lambda path: path.stem)
def vehicle(request: pytest.FixtureRequest) -> Vehicle:
    """Each of the vehicles that the sample comes with."""
    return read_settings(request.param, Vehicle)


def test_a_raised_suspension_raises_the_roof_by_as_much(vehicle: Vehicle) -> None:
    """0.12 m of lift raise roof, sills and centre of gravity by 0.12 m; axle housings stay where they are."""
    tall = vehicle.model_copy(update={"suspension": {"up": Suspension(lift_m=0.12)}})
    low, high = make_envelope(tall, SetUpChoice("low")), make_envelope(tall, SetUpChoice("high", suspension="up"))
    assert high.height_m - low.height_m == pytest.approx(0.12)
    assert high.clearance_m - low.clearance_m == pytest.approx(0.12)
    assert high.cg_m[2] - low.cg_m[2] == pytest.approx(0.12)
    assert high.front_axle_clearance_m == low.front_axle_clearance_m
    assert high.roll_limit_deg < low.roll_limit_deg
    assert high.breakover_deg > low.breakover_deg


def test_a_standing_vehicle_at_18_degrees_of_roll_has_margin_left(vehicle: Vehicle) -> None:
    """Across an even slope of 18° no shipped vehicle is near its static limit, and an expert's share holds too."""
    network, surface = plane_world(cross=float(np.tan(np.radians(18.0))))
    stands = make_envelope(vehicle, SetUpChoice("stands"))
    outcome = outcome_of(Roll(), site_on(network, surface), stands)
    assert outcome.demand == pytest.approx(18.0, abs=0.3)
    assert (outcome.utilisation < 0.6).all()
    assert (outcome.utilisation / LIMITS.share[Driver.EXPERT].roll <= LIMITS.thresholds.spot).all()


@pytest.mark.parametrize(("seat_m", "lower"), [(0.45, True), (1.00, False)])
def test_passengers_lower_the_centre_of_gravity_only_from_seats_below_it(
    vehicle: Vehicle, seat_m: float, *, lower: bool
) -> None:
    """The saying that people on board make a vehicle steadier holds where they sit below its own centre of gravity."""
    assert (seat_m < vehicle.cg_height_m) is lower
    people = Load(mass_kg=160.0, at_m=(-1.5, 0.0, seat_m))
    laden = vehicle.model_copy(update={"loads": {"people": people}})
    empty, full = make_envelope(laden, SetUpChoice("a")), make_envelope(laden, SetUpChoice("b", loads=("people",)))
    assert (full.cg_m[2] < empty.cg_m[2]) is lower
    assert (full.roll_limit_deg > empty.roll_limit_deg) is lower


@pytest.mark.parametrize("radius_m", [6.0, 8.0, 15.0])
def test_the_inner_rear_wheel_passes_closer_than_the_front_one(vehicle: Vehicle, radius_m: float) -> None:
    """In a bend the rear axle cuts inside: a post that the front wheel cleared is closer to the rear one."""
    half = vehicle.track_rear_m / 2.0
    front_wheel = np.hypot(float(rear_radius(radius_m, vehicle.wheelbase_m)) - half, vehicle.wheelbase_m)
    rear_wheel = float(rear_radius(radius_m, vehicle.wheelbase_m)) - half
    assert rear_wheel < front_wheel
    assert float(offtracking(radius_m, vehicle.wheelbase_m)) > 0.0


def test_speeds_are_those_of_instruction(vehicle: Vehicle) -> None:
    """A controlled crawl is about 3 km/h, and descent aids give up above about 27 km/h: nothing here drives faster."""
    speeds = [LIMITS.motion[driver] for driver in Driver]
    assert all(one.obstacle_kmh <= 3.0 < one.speed_kmh < 27.0 for one in speeds)
    assert [one.speed_kmh for one in speeds] == sorted(one.speed_kmh for one in speeds)
    if vehicle.low_range:
        assert vehicle.min_controlled_speed_kmh <= 4.5


def test_more_axle_travel_keeps_more_wheels_on_the_ground() -> None:
    """A crossover lifts a wheel long before a vehicle with live axles does."""
    travel = {path.stem: read_settings(path, Vehicle).wheel_travel_m for path in FILES}
    assert travel["marl"] == min(travel.values())


def test_a_heavier_roof_never_helps(vehicle: Vehicle) -> None:
    """Whatever lies on the roof, the vehicle tips earlier; the check says so on the same slope."""
    load = Load(mass_kg=60.0, at_m=(-1.6, 0.0, min(vehicle.height_m + 0.1, 4.4)))
    loaded = vehicle.model_copy(update={"loads": {"roof": load}})
    network, surface = plane_world(cross=0.3)
    site = site_on(network, surface)
    bare, top = (make_envelope(loaded, SetUpChoice("x", loads=loads)) for loads in ((), ("roof",)))
    assert (outcome_of(Roll(), site, top).utilisation > outcome_of(Roll(), site, bare).utilisation).all()


def test_a_plane_asks_nothing_of_the_axles(vehicle: Vehicle) -> None:
    """However steep, an even slope twists nothing."""
    network, surface = plane_world(grade=0.3, cross=0.2)
    stands = make_envelope(vehicle, SetUpChoice("stands"))
    assert outcome_of(Articulation(), site_on(network, surface), stands).demand == pytest.approx(0.0, abs=1e-3)
