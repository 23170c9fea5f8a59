"""Random hills and trails that can be moved as a whole: turned, mirrored, raised, scaled, digitised the other way."""

import dataclasses
import math
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.checks.limits import Limits
from pipeline.checks.site import CheckSite
from pipeline.ground.model import Bearing
from pipeline.survey.model import Network
from pipeline.terrain.measure import measure_terrain
from pipeline.terrain.model import Profiles, Stations, Strip, Terrain, TerrainParameters
from pipeline.vehicle.envelope_model import Envelope
from tests.checks.worlds import LIMITS, envelope, ground_of
from tests.worlds import ORIGIN, Grid, Surface, network_of, surface_terrain, write_elevation

Floats = NDArray[np.float64]
Length = float | tuple["Length", ...] | None

ERRORS = TerrainParameters(dem_rmse_m=0.08, dem_correlation_m=6.0, line_rmse_m=0.4)
"""How well the hills are measured."""
MIDDLE = 45.0
"""Round this point east and north of the origin worlds are turned and mirrored, m."""
LENGTH_M = 60.00001
"""As many samples and stations from either end, however the last digits of coordinates fall."""
NEIGHBOUR_M = 14.00001
"""Length of the trails that go on from the far end, where the elevation model is read from a file."""
WAYS = {"with": "against", "against": "with"}

THINGS: tuple[dict[str, Any], ...] = (
    {"kind": "rock", "chainage_m": 10.0, "offset_m": 0.7, "height_m": 0.12, "length_m": 0.6, "width_m": 0.4},
    {"kind": "log", "chainage_m": 17.0, "offset_m": -0.6, "height_m": 0.15, "length_m": 0.3, "width_m": 2.0},
    {"kind": "hole", "chainage_m": 24.0, "offset_m": -0.8, "height_m": 0.2, "length_m": 0.9, "width_m": 0.6},
    {"kind": "ditch", "chainage_m": 31.0, "offset_m": 0.4, "height_m": 0.25, "length_m": 1.25},
    {"kind": "step", "chainage_m": 38.0, "offset_m": 0.2, "height_m": 0.1},
    {"kind": "rut", "chainage_m": 46.0, "offset_m": 0.1, "height_m": -0.1, "length_m": 5.0},
    {"kind": "rock", "chainage_m": 51.0, "offset_m": -0.2, "height_m": 0.3, "length_m": 0.7, "width_m": 0.5},
    {"kind": "step", "chainage_m": 57.0, "offset_m": -0.3, "height_m": 0.15},
    {"kind": "rock", "chainage_m": 58.5, "offset_m": -0.8, "height_m": 0.18, "length_m": 0.5, "width_m": 0.4},
    {"kind": "branch", "chainage_m": 41.0, "offset_m": 1.1, "clear_height_m": 2.1, "width_m": 1.0},
    {"kind": "tree", "chainage_m": 56.0, "offset_m": -1.2, "width_m": 0.3},
    {"kind": "post", "chainage_m": 57.0, "offset_m": 1.4, "width_m": 0.2},
)


@dataclass(frozen=True)
class Move:
    """How a whole world is moved, round its middle."""

    turned_deg: float = 0.0
    """Anticlockwise."""
    mirrored: bool = False
    """Left and right change places."""
    raised_m: float = 0.0
    reversed: bool = False
    """The lines are digitised from their other ends."""
    neighbours_reversed: bool = False
    """Those of the neighbours only."""

    def to_map(self, points: Floats) -> Floats:
        """Move points, shape (n, 2), m from the middle, to map coordinates."""
        return points @ self._matrix.T + MIDDLE + ORIGIN

    def surface(self, seed: int) -> Surface:
        """Move the hills of *seed*."""
        hills, matrix = _hills(seed), self._matrix

        def home(x: Floats, y: Floats) -> tuple[Floats, Floats]:
            east, north = x - ORIGIN[0] - MIDDLE, y - ORIGIN[1] - MIDDLE
            return matrix[0, 0] * east + matrix[1, 0] * north, matrix[0, 1] * east + matrix[1, 1] * north

        def gradient(x: Floats, y: Floats) -> tuple[Floats, Floats]:
            u, v = hills.gradient(*home(x, y))
            return matrix[0, 0] * u + matrix[0, 1] * v, matrix[1, 0] * u + matrix[1, 1] * v

        return Surface(lambda x, y: hills.height(*home(x, y)) + self.raised_m, gradient)

    @property
    def _matrix(self) -> Floats:
        """Mirror first, then turn."""
        cosine, sine = math.cos(math.radians(self.turned_deg)), math.sin(math.radians(self.turned_deg))
        turn = np.array([[cosine, -sine], [sine, cosine]]).round(15)
        return np.asarray(turn @ np.diag([1.0, -1.0 if self.mirrored else 1.0]))


def _hills(seed: int) -> Surface:
    """Make hills of ten random waves of 5 to 30 m, slopes of about a quarter, round (0, 0)."""
    rng = np.random.default_rng(seed)
    k = 2.0 * np.pi / rng.uniform(5.0, 30.0, 10)
    way, phase = rng.uniform(0.0, 2.0 * np.pi, (2, 10))
    size = rng.uniform(0.04, 0.11, 10) / k
    east, north = k * np.cos(way), k * np.sin(way)

    def angle(x: Floats, y: Floats) -> Floats:
        return np.asarray(x)[..., None] * east + np.asarray(y)[..., None] * north + phase

    return Surface(
        height=lambda x, y: np.sin(angle(x, y)) @ size,
        gradient=lambda x, y: (np.cos(angle(x, y)) @ (size * east), np.cos(angle(x, y)) @ (size * north)),
    )


def _trail(seed: int) -> Floats:
    """Make a winding trail of :data:`LENGTH_M` with its middle near (0, 0)."""
    rng = np.random.default_rng(seed + 1000)
    s = np.linspace(-1.0, 1.0, 61)
    v = sum(rng.uniform(-2.5, 2.5) * np.sin(n * np.pi * s + rng.uniform(0.0, 6.0)) for n in (1, 2, 3))
    points = np.column_stack([26.0 * s, np.asarray(v) - np.mean(v)])
    return points * (LENGTH_M / shapely.LineString(points).length)


def _things(move: Move) -> list[dict[str, Any]]:
    """Put the things on the trail: mirrored to the other side, counted from the other end."""
    side = (-1.0 if move.mirrored else 1.0) * (-1.0 if move.reversed else 1.0)
    placed = []
    for k, thing in enumerate(THINGS):
        one = {**thing, "obstacle_id": f"o{k}", "segment_id": "s", "offset_m": side * thing["offset_m"]}
        if move.reversed:
            one["chainage_m"] = LENGTH_M - thing["chainage_m"]
            one["height_m"] = -thing["height_m"] if thing["kind"] == "step" else thing.get("height_m")
        placed.append(one)
    return placed


def network_on(seed: int, move: Move, *, alone: bool) -> Network:
    """Lay the trail of *seed*; unless *alone*, two more go on from its end, one ahead and one to the side."""
    trail = _trail(seed)
    lines = {"s": trail}
    if not alone:
        ahead = (trail[-1] - trail[-2]) / np.hypot(*(trail[-1] - trail[-2]))
        aside = np.array([-ahead[1], ahead[0]]) * 0.6 + ahead * 0.8
        lines |= {"t": trail[-1] + np.outer([0.0, NEIGHBOUR_M], ahead)}
        lines |= {"u": trail[-1] + np.outer([0.0, NEIGHBOUR_M], aside)}
    turned = {name: move.reversed != (move.neighbours_reversed and name != "s") for name in lines}
    placed = {name: move.to_map(points[:: -1 if turned[name] else 1]).tolist() for name, points in lines.items()}
    tags = {"width_m": 3.2, "surveyed_on": "2026-04-18"}
    return network_of(placed, obstacles=_things(move), obstacles_surveyed=True, **tags)


def site_in_closed_form(seed: int, move: Move) -> CheckSite:
    """Stand the trail alone on the hills in closed form, with the bends that the terrain stage sees."""
    network = network_on(seed, move, alone=True)
    terrain = surface_terrain(network, move.surface(seed))
    bends = measure_terrain(network, TerrainParameters()).stations.curvature
    stations = dataclasses.replace(terrain.stations, curvature=bends)
    return CheckSite(network, Terrain(stations, terrain.profiles), ground_of(1), ERRORS)


def site_from_file(seed: int, move: Move, folder: Path) -> CheckSite:
    """Measure the trail and its neighbours on an elevation model of 1 m."""
    network = network_on(seed, move, alone=False)
    path = write_elevation(folder / "ground.tif", move.surface(seed), Grid(90, 90, dtype="float64"))
    parameters = dataclasses.replace(ERRORS, elevation=(path,))
    return CheckSite(network, measure_terrain(network, parameters), ground_of(3), parameters)


def wagon(**changes: object) -> Envelope:
    """Make a wagon unlike left and right, unlike front and rear, that soon lifts a wheel."""
    values = {"track_rear_m": 1.64, "cg_m": (-1.45, 0.06, 0.72), "wheel_travel_m": 0.3, "turning_radius_m": 5.5}
    return envelope(**{**values, **changes})


def swapped(vehicle: Envelope) -> Envelope:
    """Swap left and right of a vehicle."""
    x, y, z = vehicle.cg_m
    return dataclasses.replace(vehicle, cg_m=(x, -y, z))


def scaled_vehicle(vehicle: Envelope, by: float) -> Envelope:
    """Multiply all lengths of a vehicle; mass by the cube, speeds by the root, as gravity stays what it is."""
    names = [one.name for one in dataclasses.fields(vehicle) if one.name.endswith("_m")]
    return dataclasses.replace(
        vehicle,
        **{name: longer(getattr(vehicle, name), by) for name in names},
        mass_kg=vehicle.mass_kg * by**3,
        underbody=vehicle.underbody * by,
        fording_flow_m2_s=vehicle.fording_flow_m2_s * by**1.5,
        min_controlled_speed_m_s=vehicle.min_controlled_speed_m_s * math.sqrt(by),
    )


def longer(length: Length, by: float) -> Length:
    """Multiply one length, or several; what is not known stays so."""
    if isinstance(length, tuple):
        return tuple(longer(one, by) for one in length)
    return None if length is None else by * length


def scaled_site(site: CheckSite, by: float) -> CheckSite:
    """Multiply all lengths of a site, its errors, and what the ground bears."""
    network, terrain = site.network, site.terrain
    segments, obstacles = network.segments.copy(), network.obstacles.copy()
    for table in (segments, obstacles):
        for name in [name for name in table.columns if name.endswith("_m")]:
            table[name] *= by
        table.geometry = table.geometry.scale(by, by, origin=ORIGIN)
    lengths = ("dem_rmse_m", "dem_correlation_m", "line_rmse_m", "survey_rmse_m", "radius_window_m", "line_tolerance_m")
    return CheckSite(
        dataclasses.replace(network, segments=segments, obstacles=obstacles),
        Terrain(_scaled_stations(terrain.stations, by), _scaled_profiles(terrain.profiles, by)),
        dataclasses.replace(site.ground, bearing=Bearing(*(by * kpa for kpa in site.ground.bearing))),
        dataclasses.replace(site.measured, **{name: getattr(site.measured, name) * by for name in lengths}),
    )


def _scaled_stations(stations: Stations, by: float) -> Stations:
    """Multiply lengths, divide curvatures."""
    names = ("chainage_m", "x", "y", "z", "cell_m")
    longer = {name: getattr(stations, name) * np.float32(by) for name in names}
    return dataclasses.replace(stations, **longer, curvature=stations.curvature / np.float32(by))


def _scaled_profiles(profiles: Profiles, by: float) -> Profiles:
    """Multiply all lengths."""
    strip = profiles.strip
    names = ("start_m", "own_from_m", "own_to_m", "piece_zero_m", "piece_from_m", "piece_to_m", "step_m")
    return dataclasses.replace(
        profiles,
        **{name: getattr(profiles, name) * by for name in names},
        z=profiles.z * np.float32(by),
        strip=Strip(strip.across_m * by, strip.every, strip.offsets, strip.rise_m * np.float32(by)),
    )


def scaled_limits(by: float) -> Limits:
    """Multiply all lengths of the limits."""
    names = (
        "required_gap_m", "side_margin_m", "roof_margin_m", "step_fade_m", "footprint_m",
        "comfort_gap_m", "edge_margin_m", "roam_m", "shunt_reverse_m",
    )  # fmt: skip
    lengths = {name: by * getattr(LIMITS, name) for name in names}
    root = math.sqrt(by)
    motion = {
        driver.value: {
            "speed_kmh": root * one.speed_kmh,
            "obstacle_kmh": root * one.obstacle_kmh,
            "reaction_s": root * one.reaction_s,
            "steering_deg_s": one.steering_deg_s / root,
        }
        for driver, one in LIMITS.motion.items()
    }
    others = {"bounce_hz": LIMITS.bounce_hz / root, "max_cell_slope_m": by * LIMITS.max_cell_slope_m}
    return LIMITS.merged({**lengths, **others, "motion": motion})
