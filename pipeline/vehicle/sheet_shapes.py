"""The outlines that the measuring sheet draws: a plain wagon's body on the figures of a vehicle, to scale."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pipeline.vehicle.envelope import make_envelope
from pipeline.vehicle.model import SetUpChoice, Vehicle
from pipeline.vehicle.pen import HAIR, HEAVY, LINE, View

__all__ = ["draw_end", "draw_plan", "draw_side", "mirror_of", "rearmost", "scale_for", "underbody_of"]

Floats = NDArray[np.float64]

_SCALES = (15, 20, 25, 30, 35, 40, 45, 50, 60, 70, 80, 90, 100, 125, 150, 200, 250, 300, 400, 500)


def scale_for(length_m: float, paper_mm: float) -> int:
    """Give the first round scale, 1 : n, at which *length_m* fits on *paper_mm*."""
    return next((n for n in _SCALES if length_m * 1000.0 / n <= paper_mm), _SCALES[-1])


def rearmost(vehicle: Vehicle) -> float:
    """Give x of the rearmost point of the bare vehicle, m."""
    return -(vehicle.wheelbase_m + vehicle.length_rear_m)


def underbody_of(vehicle: Vehicle) -> Floats:
    """Give the underbody without what is fitted to it, shape (n, 2), x descending, m."""
    return make_envelope(vehicle.model_copy(update={"overhangs": {}}), SetUpChoice("drawing")).underbody


def mirror_of(vehicle: Vehicle) -> tuple[float, float, float]:
    """Give x of the middle of the mirrors, z of their lower and upper edge, m."""
    return make_envelope(vehicle, SetUpChoice("drawing")).mirror_m


def draw_side(view: View, vehicle: Vehicle, *, detail: bool = True) -> None:
    """Draw the side view, front to the right, the ground at z = 0.

    Parameters
    ----------
    view
        Where to.
    vehicle
        Whose lengths, height, tyres and underbody are drawn; the rest is a plain wagon.
    detail
        Draw windows, hubs and the heavy line of the underbody too.
    """
    belly = underbody_of(vehicle)
    view.line(np.concatenate([belly, _upper(vehicle, belly)]), LINE, fill="#fff")
    if detail:
        view.line(_window(vehicle), HAIR, fill="#fff")
        view.line(belly, HEAVY)
        for overhang in vehicle.overhangs.values():
            view.line(overhang.points, HEAVY)
    radius = vehicle.tyre_radius_m
    for x in (0.0, -vehicle.wheelbase_m):
        view.circle((x, radius), radius, HEAVY if detail else LINE)
        if detail:
            view.circle((x, radius), 0.55 * radius, HAIR)
        view.cross((x, radius))


def _upper(vehicle: Vehicle, belly: Floats) -> Floats:
    """Give the body above the underbody, from the tail over the roof to the front."""
    base, high, front, rear = vehicle.wheelbase_m, vehicle.height_m, vehicle.length_front_m, rearmost(vehicle)
    tail, nose = max(belly[-1, 1], 0.34 * high), max(belly[0, 1], 0.34 * high)
    return np.array(
        [
            *((rear, tail), (rear, 0.52 * high), (rear + 0.03, 0.60 * high), (rear + 0.13, 0.98 * high)),
            *((-0.62 * base, high), (-0.32 * base, 0.97 * high), (-0.13 * base, 0.63 * high)),
            *((front - 0.10, 0.58 * high), (front, 0.52 * high), (front, nose)),
        ]
    )


def _window(vehicle: Vehicle) -> Floats:
    """Give the side window."""
    base, high, rear = vehicle.wheelbase_m, vehicle.height_m, rearmost(vehicle)
    return np.array(
        [
            *((-0.17 * base, 0.64 * high), (-0.335 * base, 0.92 * high), (-0.62 * base, 0.945 * high)),
            *((rear + 0.20, 0.93 * high), (rear + 0.14, 0.64 * high)),
        ]
    )


def draw_end(view: View, vehicle: Vehicle, track_m: float, clearance_m: float) -> None:
    """Draw the vehicle from the front or the rear: body, mirrors, tyres, an axle with its lowest point.

    Parameters
    ----------
    view
        Where to; the origin is the ground below the middle.
    vehicle
        Whose widths, height and tyres are drawn.
    track_m, clearance_m
        Track and axle clearance of that end.
    """
    half, high, radius = vehicle.width_m / 2.0, vehicle.height_m, vehicle.tyre_radius_m
    sill, mirror = max(1.15 * radius, 0.22 * high), vehicle.width_mirrors_m / 2.0
    right = [(half, sill), (half, 0.60 * high), (0.86 * half, 0.96 * high), (0.72 * half, high)]
    view.line([*right, *((-x, z) for x, z in reversed(right))], LINE, fill="#fff")
    glass = [(0.86 * half, 0.64 * high), (0.76 * half, 0.92 * high)]
    view.line([*glass, *((-x, z) for x, z in reversed(glass))], HAIR, fill="#fff")
    for side in (-1.0, 1.0):
        arm = np.array([(0.97 * half, 0.63), (mirror, 0.64), (mirror, 0.71), (0.94 * half, 0.70)]) * (side, high)
        view.line(arm, LINE, fill="#fff")
        tyre = np.array([(-0.5, 0.0), (0.5, 0.0), (0.5, 2.0), (-0.5, 2.0)]) * (vehicle.tyre_width_m, radius)
        view.line(_at(tyre, side * track_m / 2.0, 0.0), HEAVY, fill="#fff")
    inner = track_m / 2.0 - vehicle.tyre_width_m / 2.0
    low = min(clearance_m, 0.9 * radius)
    bulge = [
        (inner, radius),
        (0.16, radius - 0.04),
        (0.09, low),
        (-0.09, low),
        (-0.16, radius - 0.04),
        (-inner, radius),
    ]
    view.line([*bulge, (-0.12, radius + 0.10), (0.12, radius + 0.10)], LINE, fill="#fff")


def draw_plan(view: View, vehicle: Vehicle) -> None:
    """Draw the vehicle from above at full left lock, the centre of its turn at the origin.

    Parameters
    ----------
    view
        Where to; the vehicle stands right of the centre and drives up the paper.
    vehicle
        Whose lengths, widths and turning circle are drawn.
    """
    base = vehicle.wheelbase_m
    outer = float(np.sqrt((vehicle.turning_circle_m / 2.0) ** 2 - base**2))
    middle = outer - vehicle.track_front_m / 2.0
    half = vehicle.width_m / 2.0
    body = [(-half, base + vehicle.length_front_m), (half, base + vehicle.length_front_m)]
    body += [(half, -vehicle.length_rear_m), (-half, -vehicle.length_rear_m)]
    view.line(_at(body, middle, 0.0), LINE, fill="#fff")
    size = np.array([(-0.5, -1.0), (0.5, -1.0), (0.5, 1.0), (-0.5, 1.0)]) * (
        vehicle.tyre_width_m,
        vehicle.tyre_radius_m,
    )
    for side in (-1.0, 1.0):
        view.line(_at(size, middle + side * vehicle.track_rear_m / 2.0, 0.0), LINE, fill="#fff")
        x = middle + side * vehicle.track_front_m / 2.0
        angle = np.arctan2(base, x)
        turned = size @ np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
        view.line(_at(turned, x, base), LINE, fill="#fff")


def _at(shape: ArrayLike, x: float, z: float) -> Floats:
    """Move a shape to a place."""
    moved: Floats = np.asarray(shape, dtype=np.float64) + np.array([x, z])
    return moved
