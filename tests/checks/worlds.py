"""Set-ups, sites and limits for the checks, with figures that can be worked by hand."""

import dataclasses
import pickle
from collections.abc import Callable, Iterable
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.check import Case, Check, Outcome
from pipeline.checks.limits import Limits
from pipeline.checks.obstacles import IN_PROFILE, Things
from pipeline.checks.passing.choice import Choice, choose
from pipeline.checks.rolling.four_wheels import four_sweep_all
from pipeline.checks.rolling.swept import sweep_all
from pipeline.checks.room.find import find_rooms
from pipeline.checks.scene import make_scene
from pipeline.checks.site import CheckSite
from pipeline.ground.model import Bearing, Ground, Lie
from pipeline.ground.runoff import Runoff
from pipeline.settings import read_settings
from pipeline.spread import serial
from pipeline.survey.model import Network
from pipeline.terms import Basis, Drive, Driver, Wetness
from pipeline.terrain.model import Profiles, Stations, Terrain
from pipeline.terrain.strip import level_strip
from pipeline.vehicle.envelope_model import Envelope
from tests.worlds import Measured, Surface, network_of, surface_terrain

LIMITS = read_settings(Path("configs/limits.toml"), Limits)
"""The limits as they are shipped."""


def envelope(**changes: object) -> Envelope:
    """Make the box wagon: wheelbase 2.80, r 0.38; approach 29.342°, breakover 20.750°, departure 18.640°.

    Bumper (0.90, 0.45), belly (−1.40, 0.25) midway, tail (1.10 behind the rear axle, 0.35): rows of the tangent
    table derived from 49 CFR 523.2.
    """
    values: dict[str, object] = {
        "setup": "box",
        "vehicle": "Box",
        "driver": Driver.EXPERT,
        "suspension": "normal",
        "loads": (),
        "drive": Drive.FOUR_WHEEL,
        "low_range": True,
        "wheelbase_m": 2.8,
        "track_front_m": 1.6,
        "track_rear_m": 1.6,
        "tyre_radius_m": 0.38,
        "tyre_width_m": 0.25,
        "wheel_travel_m": 0.45,
        "width_m": 1.9,
        "width_mirrors_m": 2.1,
        "height_m": 1.9,
        "length_front_m": 0.9,
        "length_rear_m": 1.1,
        "underbody": np.array([[0.9, 0.45], [0.45, 0.30], [-1.4, 0.25], [-3.3, 0.32], [-3.9, 0.35]]),
        "approach_deg": 29.342,
        "breakover_deg": 20.750,
        "departure_deg": 18.640,
        "clearance_m": 0.25,
        "front_axle_clearance_m": 0.21,
        "rear_axle_clearance_m": 0.20,
        "mass_kg": 2200.0,
        "cg_m": (-1.4, 0.0, 0.72),
        "roll_limit_deg": float(np.degrees(np.arctan(0.8 / 0.72))),
        "climb_tip_deg": float(np.degrees(np.arctan(1.4 / 0.72))),
        "descent_tip_deg": float(np.degrees(np.arctan(1.4 / 0.72))),
        "turning_radius_m": 6.0,
        "fording_depth_m": 0.6,
        "fording_still_m": 0.5,
        "fording_flow_m2_s": 0.6,
        "crawl_grade": 0.8,
        "min_controlled_speed_m_s": 1.0,
        "measured": True,
        "warnings": (),
    }
    return Envelope(**{**values, **changes})


def mirrored(vehicle: Envelope) -> Envelope:
    """Turn a vehicle round: what was its front is its rear."""
    flipped = vehicle.underbody[::-1] * [-1.0, 1.0] - [vehicle.wheelbase_m, 0.0]
    return dataclasses.replace(
        vehicle,
        underbody=flipped,
        front_axle_clearance_m=vehicle.rear_axle_clearance_m,
        rear_axle_clearance_m=vehicle.front_axle_clearance_m,
    )


def ground_of(segments: int, mu_low: float = 0.55, rolling: float = 0.05, *, assumed: bool = False) -> Ground:
    """Make the same ground everywhere."""
    full, unknown = np.full(segments, mu_low), np.full(segments, np.nan)
    hard = Bearing(np.full(segments, 1000.0), np.full(segments, 2000.0))
    return Ground(
        wetness=Wetness.DAMP,
        site_mm=0.0,
        surface=("earth",) * segments,
        softest=("earth",) * segments,
        assumed=np.full(segments, assumed),
        wet=(Wetness.DAMP,) * segments,
        index_mm=np.zeros(segments),
        lie=Lie(unknown, unknown, np.zeros(segments, dtype=np.bool_), unknown),
        mu_low=full,
        mu_typical=full + 0.05,
        mu_high=full + 0.1,
        rolling=np.full(segments, rolling),
        rolling_low=np.full(segments, rolling),
        bearing=hard,
        hollow_bearing=Bearing(unknown, unknown),
        spot_bearing=hard,
        runoff=Runoff(curve_number=85.0, hours=6.0, manning_n=0.05, bed_grade=0.02, width_m=2.0, catchment_ha=10.0),
    )


def straight(length_m: float = 60.0, **columns: object) -> Network:
    """Make one straight segment to the east, named s; *columns* go to ``network_of``."""
    columns.setdefault("surveyed_on", "2026-04-18")
    columns.setdefault("obstacles_surveyed", True)
    columns.setdefault("width_m", 3.5)
    return network_of({"s": [(500_000.0, 5_400_000.0), (500_000.0 + length_m, 5_400_000.0)]}, **columns)


def site_on(network: Network, surface: Surface, measured: Measured | None = None, **ground: float) -> CheckSite:
    """Measure a network on a surface and give it one kind of ground."""
    return CheckSite(network, surface_terrain(network, surface, measured), ground_of(len(network.segments), **ground))


def with_stations(site: CheckSite, **arrays: NDArray[np.generic]) -> CheckSite:
    """Replace arrays of the stations."""
    stations: Stations = dataclasses.replace(site.terrain.stations, **arrays)
    return dataclasses.replace(site, terrain=Terrain(stations, site.terrain.profiles))


def with_profiles(site: CheckSite, **arrays: NDArray[np.generic]) -> CheckSite:
    """Replace arrays of the profiles."""
    profiles: Profiles = dataclasses.replace(site.terrain.profiles, **arrays)
    return dataclasses.replace(site, terrain=Terrain(site.terrain.stations, profiles))


def profiles_of(
    z: NDArray[np.float64], step_m: float = 0.1, basis: Basis = Basis.DEM, rise: NDArray[np.float64] | None = None
) -> Profiles:
    """Make one run of one segment out of heights; level across, or with *rise* over the line, shape (rows, places)."""
    strip = level_strip(np.array([0, z.size]))
    if rise is not None:
        strip = dataclasses.replace(strip, rise_m=np.broadcast_to(rise, strip.rise_m.shape).astype(np.float32))
    end = np.array([(z.size - 1) * step_m])
    zero, one = np.zeros(1), np.ones(1, dtype=np.int64)
    row = np.zeros(1, dtype=np.int64)
    return Profiles(
        step_m=step_m,
        offsets=np.array([0, z.size]),
        start_m=zero,
        segment=row,
        own_from_m=zero,
        own_to_m=end,
        z=z.astype(np.float32),
        basis=np.full(z.size, basis, dtype=np.uint8),
        piece_offsets=np.array([0, 1]),
        piece_segment=row,
        piece_zero_m=zero,
        piece_sign=one,
        piece_from_m=zero,
        piece_to_m=end,
        strip=strip,
    )


def choice_of(things: Things, vehicle: Envelope | None = None, limits: Limits = LIMITS) -> Choice:
    """Choose the way of one set-up past the things that it drives over."""
    return choose(things.of(*IN_PROFILE), vehicle or envelope(), limits)


def case_of(site: CheckSite, vehicle: Envelope | None = None, limits: Limits = LIMITS) -> Case:
    """Make the case of one set-up on one site."""
    scene, vehicle = make_scene(site), vehicle or envelope()
    choice = choice_of(scene.things, vehicle, limits)
    swept = sweep_all(scene.site.terrain.profiles, [choice], [vehicle], limits, serial)
    four = four_sweep_all(scene, [choice], [vehicle], limits, serial)
    (room,) = find_rooms(scene, [choice], [vehicle], limits)
    return Case(scene, vehicle, limits, swept[0], four[0], choice, room)


def outcome_of(check: Check, site: CheckSite, vehicle: Envelope | None = None, limits: Limits = LIMITS) -> Outcome:
    """Make one check."""
    return check.evaluate(case_of(site, vehicle, limits))


def joined(*parts: Profiles, segments: list[int]) -> Profiles:
    """Put runs of one run each one after another."""
    counts = [part.z.size for part in parts]
    columns = {
        name: np.concatenate([getattr(part, name) for part in parts])
        for name in ("start_m", "own_from_m", "own_to_m", "z", "basis", "piece_zero_m", "piece_sign", "piece_from_m")
    }
    return Profiles(
        step_m=0.1,
        offsets=np.concatenate(([0], np.cumsum(counts))),
        segment=np.array(segments),
        piece_offsets=np.arange(len(parts) + 1),
        piece_segment=np.array(segments),
        piece_to_m=np.concatenate([part.piece_to_m for part in parts]),
        strip=level_strip(np.concatenate(([0], np.cumsum(counts)))),
        **columns,
    )


def pickling(function: Callable[[object], object], blocks: Iterable[object]) -> list[object]:
    """Send every block and result through pickle, last block first, as a pool of processes might."""
    results = [pickle.loads(pickle.dumps(function(pickle.loads(pickle.dumps(block))))) for block in list(blocks)[::-1]]  # noqa: S301 - our own bytes
    return results[::-1]
