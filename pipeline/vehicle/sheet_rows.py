"""What is measured on a vehicle: letter, from where to where, with what, how closely, and the bounds of each box."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from pipeline.vehicle.model import Vehicle

__all__ = ["ENDS", "GROUPS", "HARD_POINT", "LOAD", "MOTION", "OUTLINE", "PLATE", "SIDE", "WEIGHING", "Row", "bounds"]

Old = Callable[[Vehicle], float | None]

_MM = 1000.0


@dataclass(frozen=True, slots=True)
class Row:
    """One box of the sheet."""

    letter: str
    """Letter in the drawing; id of the box."""
    key: str
    """Key of the vehicle file; empty where the page works the file's figure out of several boxes."""
    what: str
    """What is measured, from where to where."""
    tool: str
    within: str
    """How close is close enough; common practice, no source."""
    unit: str = "mm"
    per: float = _MM
    """Units of the box in one unit of the vehicle file."""
    low: float = 0.0
    """Bounds in the unit of the box, where no key gives them."""
    high: float = 0.0
    needed: bool = True
    old: Old | None = None
    """What the file says, in the file's unit, where no key gives it."""

    def limits(self) -> tuple[float, float]:
        """Give the bounds in the unit of the box."""
        if not self.key:
            return self.low, self.high
        low, high = bounds(self.key)
        return round(low * self.per, 6), round(high * self.per, 6)

    def said(self, vehicle: Vehicle) -> float | None:
        """Give what the file of *vehicle* says, in the unit of the box."""
        value = self.old(vehicle) if self.old else getattr(vehicle, self.key, None) if self.key else None
        return None if value is None else value * self.per


def bounds(key: str) -> tuple[float, float]:
    """Give the smallest and the largest figure that the vehicle file allows for *key*."""
    found: dict[str, Any] = {}
    for part in Vehicle.model_fields[key].metadata:
        found |= {name: getattr(part, name) for name in ("ge", "le") if hasattr(part, name)}
    return float(found["ge"]), float(found["le"])


HARD_POINT = {"x": (-9000.0, 4000.0), "z": (21.0, 2500.0)}
"""Bounds of a hard point, mm: those of the vehicle file."""
LOAD = {
    "kg": (1.0, 5000.0),
    "x": (-9000.0, 4000.0),
    "y": (-2000.0, 2000.0),
    "z": (0.0, 4500.0),
    "top": (1.0, 6000.0),
}
"""Bounds of a load, kg and mm: those of the vehicle file."""

SIDE = (
    Row("A", "wheelbase_m", "Wheel centre to wheel centre, both sides; the mean", "plumb line, tape", "5 mm"),
    Row(
        "B",
        "length_front_m",
        "Front wheel centre to the vehicle's foremost point",
        "plumb line, tape",
        "5 mm",
    ),
    Row("C", "length_rear_m", "Rear wheel centre to the vehicle's rearmost point", "plumb line, tape", "5 mm"),
    Row("D", "height_m", "Ground to the highest fixed point, without roof loads", "level, tape", "10 mm"),
    Row(
        "E",
        "tyre_radius_m",
        "Ground to wheel centre as it stands, all four; the mean",
        "rule",
        "3 mm",
    ),
)
ENDS = (
    Row(
        "F",
        "track_front_m",
        "Front tyres: outer edge of the left to inner edge of the right, on the ground",
        "tape",
        "5 mm",
    ),
    Row("G", "track_rear_m", "Rear tyres: the same", "tape", "5 mm"),
    Row("H", "tyre_width_m", "Width of the tread that stands on the ground", "rule", "5 mm"),
    Row("J", "width_m", "Widest part of the body or wheels, mirrors left out", "plumb lines, tape", "10 mm"),
    Row("K", "width_mirrors_m", "Over the mirrors as driven", "plumb lines, tape", "10 mm"),
    Row(
        "L",
        "front_axle_clearance_m",
        "Ground to the lowest point of the front axle: differential, lower arm",
        "rule",
        "5 mm",
    ),
    Row("M", "rear_axle_clearance_m", "Rear axle: the same", "rule", "5 mm"),
)
MOTION = (
    Row(
        "N",
        "turning_circle_m",
        "Full lock, walking pace: diameter of the path of the outer front tyre, left and right; the larger",
        "chalk, tape",
        "0.1 m",
        "m",
        1.0,
    ),
    Row(
        "P",
        "wheel_travel_m",
        "One front wheel up the ramp until a sheet of paper slips under another tyre: how far its centre has risen "
        "above E; both sides; the smaller",
        "20° ramp, rule",
        "10 mm",
    ),
    Row(
        "Q",
        "min_controlled_speed_kmh",
        "Lowest gear, feet off the pedals, firm slope of about 10° down: 72 ÷ seconds for 20 m",
        "stopwatch, tape",
        "0.3 km/h",
        "km/h",
        1.0,
    ),
    Row(
        "R",
        "crawl_grade_pct",
        "Steepest firm grade driven up steadily in the lowest gear, or the maker's figure for these tyres",
        "angle gauge",
        "5 %",
        "%",
        1.0,
    ),
)
WEIGHING = (
    Row("S", "front_axle_mass_kg", "Level: front axle", "scales", "5 kg", "kg", 1.0),
    Row(
        "T",
        "",
        "Level: rear axle",
        "scales",
        "5 kg",
        "kg",
        1.0,
        50.0,
        12000.0,
        old=lambda vehicle: vehicle.kerb_mass_kg - vehicle.front_axle_mass_kg,
    ),
    Row(
        "U",
        "",
        "Level: both left wheels (with V; or leave both empty)",
        "scales",
        "5 kg",
        "kg",
        1.0,
        100,
        9000,
        needed=False,
    ),
    Row("V", "", "Level: both right wheels", "scales", "5 kg", "kg", 1.0, 100, 9000, needed=False),
    Row(
        "W",
        "",
        "Front axle raised: front wheel centre less rear wheel centre",
        "rule",
        "2 mm",
        "mm",
        _MM,
        150,
        1500,
        needed=False,
    ),
    Row("X", "", "Front axle raised: rear axle", "scales", "1 kg", "kg", 1.0, 50, 12000, needed=False),
    Row(
        "Y",
        "cg_height_m",
        "Or instead of W and X: height of the centre of gravity from a test report of this vehicle as it stands",
        "report",
        "10 mm",
        needed=False,
    ),
)
OUTLINE = (
    Row("a", "mirror_x_m", "x of the middle of the mirrors", "", "20 mm", needed=False),
    Row("b", "mirror_low_m", "Ground to their lower edge", "", "10 mm", needed=False),
    Row("c", "mirror_high_m", "Ground to their upper edge", "", "10 mm", needed=False),
    Row("d", "roof_width_m", "Width at the roof, gutters included", "", "20 mm", needed=False),
    Row("e", "roof_from_m", "Ground to where the sides begin to lean in", "", "20 mm", needed=False),
    Row("f", "roof_front_m", "x of the top of the windscreen", "", "20 mm", needed=False),
    Row("g", "roof_rear_m", "x of the rear end of the roof", "", "20 mm", needed=False),
)
"""Mirrors and roof: what may pass between trees and under branches. An empty box leaves the large side."""
PLATE = (
    Row("gvm", "gvm_kg", "Rated gross mass, from its plate", "", "", "kg", 1.0, needed=False),
    Row("ford", "fording_depth_m", "Fording depth, the maker's; empty when none is given", "", "", "mm", needed=False),
)
"""What is read, not measured: filled in from the file."""
GROUPS = (SIDE, ENDS, MOTION, WEIGHING, OUTLINE, PLATE)
