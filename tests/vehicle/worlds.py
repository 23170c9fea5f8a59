"""Small vehicles with figures that can be worked by hand."""

import json
import math
import tomllib
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.terms import Driver
from pipeline.vehicle.balance import Working
from pipeline.vehicle.model import Vehicle

BOX = """
name = "Box"
wheelbase_m = 2.8
track_front_m = 1.6
track_rear_m = 1.62
tyre_radius_m = 0.38
tyre_width_m = 0.25
width_m = 1.9
width_mirrors_m = 2.1
height_m = 1.9
length_front_m = 0.9
length_rear_m = 1.1
kerb_mass_kg = 2200
front_axle_mass_kg = 1100
cg_height_m = 0.72
turning_circle_m = 12.0
wheel_travel_m = 0.45
fording_depth_m = 0.6
drive = "4wd"
low_range = true
crawl_grade_pct = 80
min_controlled_speed_kmh = 3.6
front_axle_clearance_m = 0.21
rear_axle_clearance_m = 0.20
source = "measured"
"""
"""Figures of a mid-size wagon; l_f = l_r = 1.40 m, SSF 1.1111 (track 1.60, cg 0.72)."""

HARD_POINTS = """
underbody = [[0.9, 0.45], [0.45, 0.30], [-1.4, 0.25], [-3.3, 0.32], [-3.9, 0.35]]
"""
"""Bumper, skid plate, belly exactly midway, tank, tail: approach 29.342° at the bumper, breakover 20.750°,
departure 18.640° at the tail (a 1.10, h 0.35)."""

PUBLISHED = """
approach_deg = 30.0
breakover_deg = 22.0
departure_deg = 24.0
clearance_m = 0.21
"""

EXTRAS = """
[suspension.raised]
lift_m = 0.05
[suspension.low]
lift_m = -0.03
[loads.roof]
mass_kg = 75
at_m = [-1.4, 0.0, 1.95]
top_m = 2.15
[loads.passenger]
mass_kg = 80
at_m = [-1.4, 0.35, 0.95]
[loads.tank]
mass_kg = 100
at_m = [-3.2, 0.0, 0.8]
"""


def box_text(*tables: str) -> str:
    """Give the text of the box vehicle's file, with hard points unless *tables* bring published figures."""
    figures = PUBLISHED if PUBLISHED in tables else HARD_POINTS
    return BOX + figures + "".join(table for table in tables if table != PUBLISHED)


def box(*tables: str, **changes: object) -> Vehicle:
    """Read the box vehicle with hard points unless *tables* bring published figures; *changes* replace keys."""
    data = tomllib.loads(box_text(*tables))
    data.update(changes)
    return Vehicle.model_validate_json(json.dumps(data))


WORKING = Working(
    compliance_share=0.10,
    across={Driver.FIRST_TIMER: 0.5, Driver.PRACTISED: 0.6, Driver.EXPERT: 0.7},
    along={Driver.FIRST_TIMER: 0.4, Driver.PRACTISED: 0.5, Driver.EXPERT: 0.6},
)
"""Shares unlike each other, so that a mix-up shows."""


@dataclass(frozen=True)
class PointMasses:
    """A rigid vehicle of point masses on wheels that roll freely: what scales show, by plain statics."""

    kg: NDArray[np.float64]
    places: NDArray[np.float64]
    """x, y, z, shape (n, 3), on the vehicle's axes."""
    wheelbase_m: float
    radius_m: float

    @classmethod
    def random(cls, seed: int, wheelbase_m: float, radius_m: float) -> "PointMasses":
        """Make nine masses all along a vehicle, a little more of them on the left."""
        rng = np.random.default_rng(seed)
        places = rng.uniform((-0.3, -0.6, 0.3), (0.3, 0.7, 1.1), (9, 3))
        places[:, 0] += np.linspace(0.2, -wheelbase_m - 0.2, 9)
        return cls(rng.uniform(150.0, 330.0, 9), places, wheelbase_m, radius_m)

    @property
    def cg_m(self) -> NDArray[np.float64]:
        """Where the centre of gravity is."""
        return self.kg @ self.places / self.kg.sum()

    def axles(self, raise_m: float) -> NDArray[np.float64]:
        """Give the mass on front and rear axle with the front wheel centres raised.

        The body is turned nose up about the rear wheel centres; two upright forces through the wheel centres balance
        all masses in height and in moments.
        """
        angle = math.asin(raise_m / self.wheelbase_m)
        x, z = self.places[:, 0] + self.wheelbase_m, self.places[:, 2] - self.radius_m
        behind = x * math.cos(angle) - z * math.sin(angle)
        ahead = self.wheelbase_m * math.cos(angle)
        forces = np.array([[1.0, 1.0], [ahead, 0.0]])
        return np.linalg.solve(forces, np.array([self.kg.sum(), self.kg @ behind]))

    def sides(self, track_m: float) -> NDArray[np.float64]:
        """Give the mass on the left and the right wheels, level."""
        forces = np.array([[1.0, 1.0], [track_m / 2.0, -track_m / 2.0]])
        return np.linalg.solve(forces, np.array([self.kg.sum(), self.kg @ self.places[:, 1]]))
