"""The underbody that published angles describe: the lowest body that has them.

Where only approach, breakover and departure angle and the running clearance are known, every body with these figures
lies on or above one line: ahead of and behind the wheels the tangent lines of the published angles, between the axles
the curve from which the two tyres are seen under the published breakover angle, and nowhere below the clearance. That
line stands in for the unknown body. Where the clearance would lie above such a line, the figures disagree with each
other and the lower one counts.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pipeline.vehicle.geometry import Tyres, height_at_angle, tangent_angle

__all__ = ["Published", "wedge_underbody"]

Floats = NDArray[np.float64]

_CURVE_POINTS = 15
"""Points on the breakover curve: the straight lines between them leave it by about a millimetre, downwards."""
_BISECTIONS = 60
_OFF_TYRE_M = 0.005
"""Gap between the tyre and the first point of the body."""


class Published(NamedTuple):
    """The four published figures and the ends of the vehicle."""

    approach_deg: float
    breakover_deg: float
    departure_deg: float
    clearance_m: float
    length_front_m: float
    """Front axle to the foremost point."""
    length_rear_m: float
    """Rear axle to the rearmost point."""


def wedge_underbody(figures: Published, tyres: Tyres) -> Floats:
    """Make the lowest underbody that has the published figures.

    Parameters
    ----------
    figures
        What was published.
    tyres
        Wheelbase and static loaded radius.

    Returns
    -------
    Floats
        Hard points, shape (n, 2), x descending. Their angles at the points are the published ones.
    """
    front = _overhang(figures.length_front_m, figures.approach_deg, figures.clearance_m, tyres.radius_m)
    rear = _overhang(figures.length_rear_m, figures.departure_deg, figures.clearance_m, tyres.radius_m)
    ahead = front[::-1]
    behind = np.column_stack([-tyres.wheelbase_m - rear[:, 0], rear[:, 1]])
    return np.concatenate([ahead, _belly(figures.breakover_deg, figures.clearance_m, tyres), behind])


def _off_tyre(height: float, radius: float) -> float:
    """Distance from the axle at which a point of this height just clears the tyre, m."""
    return float(np.sqrt(max(height * (2.0 * radius - height), 0.0))) + _OFF_TYRE_M


def _overhang(length: float, angle_deg: float, clearance: float, radius: float) -> Floats:
    """Points of one overhang, distance from its axle ascending: flat at the clearance, then along the tangent line."""
    if length <= radius * np.sin(np.radians(angle_deg)):  # the tyre reaches the ramp first: no body part has this angle
        return np.array([[length, clearance]])
    tip = float(height_at_angle(length, angle_deg, radius))
    floor = min(clearance, tip)
    start = min(_off_tyre(floor, radius), length)
    bend = (floor - float(height_at_angle(0.0, angle_deg, radius))) / np.tan(np.radians(angle_deg))
    if bend <= start:
        return np.array([(start, float(height_at_angle(start, angle_deg, radius))), (length, tip)])
    return np.array([(start, floor), (min(bend, length), floor), (length, tip)])


def _belly(breakover_deg: float, clearance: float, tyres: Tyres) -> Floats:
    """Points between the axles, x descending: the breakover curve, flat at the clearance beside the wheels."""
    half = tyres.wheelbase_m / 2.0
    apex = float(height_at_angle(half, breakover_deg / 2.0, tyres.radius_m))
    floor = min(clearance, apex)
    start = _off_tyre(floor, tyres.radius_m)
    ends = np.array([[-start, floor]]), np.array([[start - tyres.wheelbase_m, floor]])
    if clearance >= apex:
        return np.concatenate([ends[0], [[-half, apex]], ends[1]])
    bend = _where_seen(floor, breakover_deg, tyres, start)
    behind = np.linspace(bend, tyres.wheelbase_m - bend, _CURVE_POINTS)
    curve = np.column_stack([-behind, np.maximum(_seen_height(behind, breakover_deg, tyres, apex), floor)])
    return np.concatenate([ends[0], curve, ends[1]])


def _where_seen(height: float, breakover_deg: float, tyres: Tyres, start: float) -> float:
    """Distance behind the front axle, up to the middle, where a point of *height* has the breakover angle, m."""
    low, high = start, tyres.wheelbase_m / 2.0
    for _ in range(_BISECTIONS):
        middle = (low + high) / 2.0
        if _seen(np.array(middle), np.array(height), tyres) > breakover_deg:
            low = middle
        else:
            high = middle
    return high


def _seen_height(behind: Floats, breakover_deg: float, tyres: Tyres, apex: float) -> Floats:
    """Heights at which points *behind* the front axle have the breakover angle, m."""
    low, high = np.zeros_like(behind), np.full_like(behind, apex)
    for _ in range(_BISECTIONS):
        middle = (low + high) / 2.0
        above = _seen(behind, middle, tyres) > breakover_deg
        low, high = np.where(above, low, middle), np.where(above, middle, high)
    return high


def _seen(behind: Floats, height: Floats, tyres: Tyres) -> Floats:
    """Sum of the tangent angles of points between the axles, degrees."""
    front = tangent_angle(behind, height, tyres.radius_m)
    return front + tangent_angle(tyres.wheelbase_m - behind, height, tyres.radius_m)
