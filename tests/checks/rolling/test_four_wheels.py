"""Four wheels over blocks of runs: the chassis taken out of a set-up, runs reduced to segments."""

import dataclasses
import math

import numpy as np
import pytest
from numpy.typing import NDArray

from pipeline.checks.rolling import run_blocks
from pipeline.checks.rolling.four_wheels import PITCH, ROLL, TWIST, FourSweep, chassis_of, four_sweep_all, speed_of
from pipeline.checks.scene import make_scene
from pipeline.checks.site import CheckSite
from pipeline.kernels.force_angle import edge_angles
from pipeline.spread import Mapper, serial
from pipeline.terms import Driver, Wheel
from pipeline.vehicle.envelope_model import Envelope
from tests.checks.worlds import LIMITS, choice_of, envelope, pickling, site_on, straight, with_profiles
from tests.worlds import Surface, at, network_of, plane, sine_hills

RIGID = LIMITS.merged({"compliance_share": 0.0})


def rolled(site: CheckSite, setups: list[Envelope], mapper: Mapper = serial) -> list[FourSweep]:
    """Roll set-ups over a site."""
    scene = make_scene(site)
    return four_sweep_all(scene, [choice_of(scene.things, setup) for setup in setups], setups, LIMITS, mapper)


def found_on(surface: Surface, vehicle: Envelope | None = None, **arrays: NDArray[np.generic]) -> FourSweep:
    """Roll the box wagon along 60 m to the east; *arrays* go into the profiles."""
    site = with_profiles(site_on(straight(), surface), **arrays)
    return rolled(site, [vehicle or envelope()])[0]


@pytest.mark.parametrize(
    ("front", "rear", "cg"),
    [(1.6, 1.6, (-1.4, 0.0, 0.72)), (1.7, 1.4, (-1.2, 0.08, 0.8)), (1.4, 1.7, (-1.9, -0.1, 0.6))],
)
def test_rigid_limits_are_the_force_angles_standing_level(front: float, rear: float, cg: tuple[float, ...]) -> None:
    """Without compliance the four limits are what the force-angle measure gives on level ground, tracks and load skew.

    The first row is the rectangle of 1.60 × 2.80 m with its mass at 0.72 m: 48.013° and 62.784° (Papadopoulos & Rey,
    recomputed). With compliance the tangent is that share less.
    """
    vehicle = envelope(track_front_m=front, track_rear_m=rear, cg_m=cg)
    chassis = chassis_of(vehicle, RIGID)
    limits = chassis.limits
    assert (chassis.cg_x, chassis.cg_y, chassis.cg_z) == cg
    assert (chassis.track_front, chassis.track_rear, chassis.wheelbase) == (front, rear, 2.8)
    assert (chassis.radius, chassis.travel) == (0.38, 0.45)
    points = [[0.0, front / 2, 0.0], [0.0, -front / 2, 0.0], [-2.8, -rear / 2, 0.0], [-2.8, rear / 2, 0.0]]
    ahead, right, behind, left = edge_angles(np.array(points), np.array(cg), np.array([0.0, 0.0, -1.0]))
    assert limits == pytest.approx([left, right, ahead, behind])
    if front == rear:
        assert np.degrees(limits) == pytest.approx([48.013, 48.013, 62.784, 62.784], abs=1e-3)
    assert np.tan(chassis_of(vehicle, LIMITS).limits) == pytest.approx(0.9 * np.tan(limits))


def test_speed_is_the_drivers() -> None:
    """Metres a second out of the settings' km/h."""
    speeds = [speed_of(envelope(driver=driver), LIMITS) for driver in Driver]
    assert speeds == pytest.approx([6.0 / 3.6, 8.0 / 3.6, 10.0 / 3.6])


def test_blocks_give_the_same_numbers(monkeypatch: pytest.MonkeyPatch) -> None:
    """One block or a block a run, here or through pickle in another order: the same to the last digit."""
    lines = {f"s{k}": at((7.0 * k, 0.0), (7.0 * k + 3.0, 40.0)) for k in range(5)}
    log = {"kind": "log", "segment_id": "s3", "chainage_m": 20.0, "height_m": 0.2, "offset_m": 1.0, "width_m": 1.0}
    site = site_on(network_of(lines, obstacles=[log]), sine_hills(9.0, 0.4))
    setups = [envelope(), envelope(wheelbase_m=2.4, wheel_travel_m=0.2)]
    whole = rolled(site, setups)
    monkeypatch.setattr(run_blocks, "BLOCK_SAMPLES", 200)
    parts = rolled(site, setups, pickling)
    assert len(whole) == len(parts) == 2
    assert whole[1].lifted.any()
    for one, other in zip(whole, parts, strict=True):
        for name in {column.name for column in dataclasses.fields(FourSweep)} - {"rolled"}:
            np.testing.assert_array_equal(getattr(one, name), getattr(other, name))


def test_places_are_chainages_of_the_segment() -> None:
    """A run that begins 20 m before its segment: the block at 35 m of it lies at chainage 15, axles likewise."""
    level = found_on(plane())
    z = np.zeros(601)
    z[350:] = 1.0
    found = found_on(
        plane(),
        z=z.astype(np.float32),
        start_m=np.array([-20.0]),
        own_from_m=np.array([0.0]),
        own_to_m=np.array([40.0]),
    )
    for way, nose in ((0, 1.0), (1, -1.0)):
        rear, front = found.rear_m[0, way, PITCH], found.front_m[0, way, PITCH]
        assert found.at_m[0, way, PITCH] == pytest.approx((rear + front) / 2.0)
        assert min(rear, front) < 15.0 < max(rear, front)
        assert math.copysign(1.0, front - rear) == nose
    assert np.isnan(level.at_m).all()
    assert (level.utilisation == 0.0).all()
    assert (level.wheel == -1).all()
    assert (level.basis == 255).all()


def test_the_worst_run_of_a_segment_counts() -> None:
    """Two runs of one segment, the second on a side slope: its demand, and the poses of both."""
    one = site_on(straight(), plane()).terrain.profiles
    two = site_on(straight(), plane(0.0, 0.3)).terrain.profiles
    strip = dataclasses.replace(
        one.strip,
        offsets=one.strip.offsets[1] * np.arange(3),
        rise_m=np.concatenate((one.strip.rise_m, two.strip.rise_m)),
    )
    twice = {
        name: np.tile(getattr(one, name), 2)
        for name in ("start_m", "segment", "own_from_m", "own_to_m", "basis", "piece_segment", "piece_zero_m")
    }
    twice |= {name: np.tile(getattr(one, name), 2) for name in ("piece_sign", "piece_from_m", "piece_to_m")}
    found = found_on(
        plane(),
        **twice,
        z=np.concatenate((one.z, two.z)),
        offsets=np.array([0, 601, 1202]),
        piece_offsets=np.array([0, 1, 2]),
        strip=strip,
    )
    assert np.degrees(found.demand[0, :, ROLL]) == pytest.approx([math.degrees(math.atan(0.3))] * 2, abs=1e-3)
    assert found.poses[0].tolist() == (2 * found_on(plane()).poses[0]).tolist()


def test_the_place_of_a_wheel_beyond_the_end_is_the_end() -> None:
    """A block left of the neighbour, half a metre beyond the end: the front right wheel, which it lifts, is told there.

    The centre of gravity lies behind the middle, so of the low diagonal the front wheel carries less.
    """
    strip = site_on(straight(), plane()).terrain.profiles.strip
    rise = np.zeros_like(strip.rise_m)
    rise[81:, :5] = 0.3
    changed = dataclasses.replace(strip, rise_m=rise)
    tail_heavy = envelope(cg_m=(-1.6, 0.0, 0.72))
    found = found_on(plane(), vehicle=tail_heavy, strip=changed, start_m=np.array([20.0]))
    assert found.front_m[0, 0, TWIST] > 60.4
    assert found.wheel[0, 0, TWIST] == Wheel.FRONT_RIGHT
    assert found.at_m[0, 0, TWIST] == 60.0
    inside = found_on(plane(), vehicle=tail_heavy, strip=changed, start_m=np.array([0.0]))
    assert inside.at_m[0, 0, TWIST] == inside.front_m[0, 0, TWIST] == pytest.approx(40.5, abs=0.6)


def test_poses_without_ground_are_counted_from_where_they_begin() -> None:
    """A void 0.9 m right of the line over one row: poses with a right wheel there fail, the others are made."""
    strip = site_on(straight(), plane()).terrain.profiles.strip
    rise = strip.rise_m.copy()
    rise[60, 8] = np.nan
    found = found_on(plane(), strip=dataclasses.replace(strip, rise_m=rise))
    assert (found.failed > 5).all()
    assert (found.poses > 200).all()
    assert found.failed_at_m[0, 0] == pytest.approx(30.0 - 1.4, abs=1.2)
    assert found.failed_at_m[0, 1] == pytest.approx(30.0 + 1.4, abs=1.2)
    assert (found_on(plane()).failed == 0).all()
    assert np.isnan(found_on(plane()).failed_at_m).all()
