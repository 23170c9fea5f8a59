"""The drawings of the measuring sheet: what each letter means, to scale."""

import numpy as np

from pipeline.vehicle.model import Vehicle
from pipeline.vehicle.pen import HAIR, HEAVY, LINE, View, picture, written
from pipeline.vehicle.sheet_shapes import draw_end, draw_plan, draw_side, mirror_of, rearmost, scale_for, underbody_of

__all__ = ["draw_ends", "draw_ramp", "draw_scales", "draw_turn", "side_picture"]

_PAPER_MM = 186.0
_SIDE_MM = 58.0
"""Room for the height of the side view."""
_RAISED_SHARE = 0.17
"""How far the drawing raises the front axle, as a share of the wheelbase: about 10°."""
_RAMP = np.radians(20.0)
_PAD_M = 0.08
"""How thick the scales are drawn."""


def side_picture(vehicle: Vehicle) -> str:
    """Draw the side view with A to E, the axes x and z and the numbered hard points."""
    scale = max(scale_for(vehicle.length_m + 0.9, _PAPER_MM), scale_for(vehicle.height_m, _SIDE_MM))
    mm = 1000.0 / scale
    height = vehicle.height_m * mm + 22.0
    root = picture(_PAPER_MM, round(height, 1), "Side view of the vehicle with the measures A to E and the hard points")
    front, rear, base = vehicle.length_front_m, rearmost(vehicle), vehicle.wheelbase_m
    view = View(root, mm, ((_PAPER_MM - (front - rear) * mm) / 2.0 - rear * mm, height - 15.5))
    view.line([(rear - 0.45, 0.0), (front + 0.45, 0.0)], LINE)
    draw_side(view, vehicle)
    view.dimension((-base, 0.0), (0.0, 0.0), "A", move=12.0)
    view.dimension((0.0, 0.0), (front, 0.0), "B", move=12.0)
    view.dimension((rear, 0.0), (-base, 0.0), "C", move=12.0)
    view.dimension((rear, 0.0), (rear, vehicle.height_m), "D", move=-8.0)
    view.dimension((front, 0.0), (front, vehicle.tyre_radius_m), "E", move=8.0)
    view.line([(0.0, vehicle.tyre_radius_m), (front + 8.0 / mm, vehicle.tyre_radius_m)], HAIR, dash="1.2 0.8")
    _hard_points(view, vehicle)
    _outline_marks(view, vehicle)
    view.text((rear, vehicle.height_m), f"scale 1 : {scale}", off=(8.0, -4.0))
    return written(root)


def _outline_marks(view: View, vehicle: Vehicle) -> None:
    """Show where mirrors and roof are measured: a, b and c at a mirror, f and g at the ends of the roof."""
    x, low, high = mirror_of(vehicle)
    view.line([(x - 0.1, low), (x + 0.1, low), (x + 0.1, high), (x - 0.1, high), (x - 0.1, low)], HAIR, fill="#fff")
    for height, letter, off in (((low + high) / 2.0, "a", 0.0), (low, "b", 4.0), (high, "c", 4.0)):
        view.text((x, height), letter, size=3.0, off=(off, 0.0))
    front = -0.32 * vehicle.wheelbase_m if vehicle.roof_front_m is None else vehicle.roof_front_m
    back = rearmost(vehicle) + 0.13 if vehicle.roof_rear_m is None else vehicle.roof_rear_m
    for end, letter in ((front, "f"), (back, "g")):
        view.cross((end, 0.98 * vehicle.height_m), 1.0)
        view.text((end, 0.98 * vehicle.height_m), letter, size=3.0, off=(0.0, 3.2))


def _hard_points(view: View, vehicle: Vehicle) -> None:
    """Put numbers to the hard points and show x and z at the one nearest the middle."""
    if vehicle.underbody is None:
        return
    points = np.array(vehicle.underbody)
    middle = int(np.argmin(np.abs(points[:, 0] + 0.55 * vehicle.wheelbase_m)))
    last = len(points) - 1
    for k, point in enumerate(points):
        view.cross(point, 1.0)
        beside = {0: (3.0, 0.0), last: (-3.0, 0.0), middle: (0.0, -2.6)}
        view.text(point, str(k + 1), size=2.5, off=beside.get(k, (0.0, 2.8 if k % 2 else 4.6)))
    shown = points[middle]
    view.dimension((shown[0], 0.0), shown, "z")
    view.dimension((shown[0], 0.0), (0.0, 0.0), "x", move=5.0)


def draw_ends(vehicle: Vehicle) -> str:
    """Draw front and rear with F to M."""
    scale = scale_for(2.0 * vehicle.width_mirrors_m + 1.0, _PAPER_MM - 34.0)
    mm = 1000.0 / scale
    height = vehicle.height_m * mm + 27.0
    root = picture(_PAPER_MM, round(height, 1), "Front and rear view of the vehicle with the measures F to M")
    floor = height - 18.0
    front, rear = (View(root, mm, (_PAPER_MM * share, floor)) for share in (0.27, 0.75))
    reach, wide, mirrors = vehicle.width_mirrors_m / 2.0 + 0.15, vehicle.width_m, vehicle.width_mirrors_m
    high, tyre = vehicle.height_m, vehicle.tyre_width_m
    ends = (
        (front, vehicle.track_front_m, vehicle.front_axle_clearance_m, ("F", "L"), "front"),
        (rear, vehicle.track_rear_m, vehicle.rear_axle_clearance_m, ("G", "M"), "rear"),
    )
    for view, track, clearance, (across, below), name in ends:
        view.line([(-reach, 0.0), (reach, 0.0)], LINE)
        draw_end(view, vehicle, track, clearance)
        view.dimension((-track / 2.0, 0.0), (track / 2.0, 0.0), across, move=6.0)
        view.dimension((0.0, 0.0), (0.0, min(clearance, 0.9 * vehicle.tyre_radius_m)), below, move=9.0)
        view.text((0.0, 0.78 * high), name)
    front.dimension((-mirrors / 2.0, 0.67 * high), (mirrors / 2.0, 0.67 * high), "K", move=-(0.33 * high * mm + 5.0))
    rear.dimension((-wide / 2.0, 0.5 * high), (wide / 2.0, 0.5 * high), "J", move=-(0.5 * high * mm + 5.0))
    roof = 0.72 * wide if vehicle.roof_width_m is None else vehicle.roof_width_m
    lean = 0.60 * high if vehicle.roof_from_m is None else vehicle.roof_from_m
    rear.dimension((-roof / 2.0, high), (roof / 2.0, high), "d", move=-1.5)
    rear.dimension((-reach - 0.05, 0.0), (-reach - 0.05, lean), "e")
    at = vehicle.track_rear_m / 2.0
    rear.dimension((at - tyre / 2.0, 0.0), (at + tyre / 2.0, 0.0), "H", move=13.0)
    front.text((-reach, 0.0), f"scale 1 : {scale}", off=(0.0, 12.0))
    return written(root)


def draw_turn(vehicle: Vehicle) -> str:
    """Draw the turning circle with N."""
    width = 58.0
    scale = scale_for(vehicle.turning_circle_m + 1.0, width)
    mm = 1000.0 / scale
    root = picture(width, width, "The turning circle from above with the measure N")
    view = View(root, mm, (width / 2.0 - 2.0, width / 2.0))
    radius = vehicle.turning_circle_m / 2.0
    view.circle((0.0, 0.0), radius, LINE)
    draw_plan(view, vehicle)
    slope = np.array([np.cos(2.4), np.sin(2.4)]) * radius
    view.span(slope, -slope)
    view.letter((0.0, 0.0), "N")
    view.text((0.0, -radius), f"1 : {scale}", off=(-20.0, 1.0), size=2.3)
    return written(root)


def draw_ramp(vehicle: Vehicle) -> str:
    """Draw the front wheel on the ramp with P, the body tilted by half the lift."""
    width, height = 112.0, 58.0
    scale = scale_for(vehicle.length_m + 1.3, width - 8.0)
    mm, base, radius = 1000.0 / scale, vehicle.wheelbase_m, vehicle.tyre_radius_m
    root = picture(width, height, "One front wheel on the ramp with the measure P")
    lift = min(vehicle.wheel_travel_m, 0.3 * base)
    origin = (6.0 - (rearmost(vehicle) - 0.1) * mm, height - 8.0)
    flat = View(root, mm, origin)
    flat.line([(rearmost(vehicle) - 0.1, 0.0), (vehicle.length_front_m + 1.2, 0.0)], LINE)
    centre = np.array([0.0, radius + lift])
    touch = centre + radius * np.array([np.sin(_RAMP), -np.cos(_RAMP)])
    foot, top = touch[0] - touch[1] / np.tan(_RAMP), vehicle.length_front_m + 0.7
    flat.line([(foot, 0.0), (top, (top - foot) * np.tan(_RAMP)), (top, 0.0)], LINE, fill="#fff")
    tilted = View(root, mm, origin, (-base, radius), float(np.arcsin(lift / 2.0 / base)))
    belly = underbody_of(vehicle)
    draw_side(tilted, vehicle, detail=False)
    tilted.line(belly, LINE)
    flat.circle((0.0, radius), radius, HAIR, "none")
    flat.circle(centre, radius, HEAVY)
    flat.cross(centre)
    flat.dimension((0.0, radius), centre, "P", move=(top + 0.25) * mm)
    flat.text((top, 0.0), "20°", off=(-7.0, -3.5), size=2.4)
    flat.text((-base, 0.0), "paper slips under one of the three other tyres", off=(18.0, 4.0), size=2.3)
    return written(root)


def draw_scales(vehicle: Vehicle) -> str:
    """Draw the vehicle on scales: level with S and T, from the rear with U and V, raised in front with W and X."""
    length, width = vehicle.length_m, vehicle.width_mirrors_m
    scale = scale_for(2.0 * length + width, _PAPER_MM - 26.0)
    mm = 1000.0 / scale
    height = (vehicle.height_m + _RAISED_SHARE * length) * mm + 11.0
    root = picture(_PAPER_MM, round(height, 1), "The vehicle on scales with the readings S to X")
    floor, gap = height - 9.0, (_PAPER_MM - (2.0 * length + width) * mm - 12.0) / 2.0
    level = View(root, mm, (1.0 - rearmost(vehicle) * mm, floor))
    _floor(level, rearmost(vehicle), vehicle.length_front_m)
    draw_side(level, vehicle, detail=False)
    _pads(level, ((0.0, "S"), (-vehicle.wheelbase_m, "T")), vehicle.tyre_radius_m)
    behind = View(root, mm, ((length + width / 2.0) * mm + gap, floor))
    _floor(behind, -width / 2.0, width / 2.0)
    draw_end(behind, vehicle, vehicle.track_rear_m, vehicle.rear_axle_clearance_m)
    at = vehicle.track_rear_m / 2.0
    _pads(behind, ((-at, "U"), (at, "V")), vehicle.tyre_width_m / 1.4)
    _raised(View(root, mm, ((length + width - rearmost(vehicle)) * mm + 2.0 * gap, floor)), vehicle)
    level.text((0.0, vehicle.height_m), f"scale 1 : {scale}", off=(2.0, -2.0), size=2.3)
    return written(root)


def _floor(view: View, start: float, end: float) -> None:
    """Draw the floor below the scales."""
    view.line([(start, -_PAD_M), (end, -_PAD_M)], LINE)


def _raised(flat: View, vehicle: Vehicle) -> None:
    """Draw the front axle raised on blocks, the rear axle on its scales."""
    base, radius = vehicle.wheelbase_m, vehicle.tyre_radius_m
    lift = _RAISED_SHARE * base
    angle = float(np.arcsin(_RAISED_SHARE))
    ahead = -base + base * np.cos(angle)
    _floor(flat, rearmost(vehicle), vehicle.length_front_m + 0.3)
    draw_side(View(flat.root, flat.scale, flat.origin, (-base, radius), angle), vehicle, detail=False)
    flat.line(
        [(ahead - 0.35, -_PAD_M), (ahead - 0.35, lift), (ahead + 0.35, lift), (ahead + 0.35, -_PAD_M)],
        LINE,
        fill="#fff",
    )
    _pads(flat, ((-base, "X"),), radius)
    flat.line([(-base, radius), (ahead + 0.9, radius)], HAIR, dash="1.2 0.8")
    flat.dimension((ahead, radius), (ahead, radius + lift), "W", move=0.72 * flat.scale)


def _pads(view: View, places: tuple[tuple[float, str], ...], reach_m: float) -> None:
    """Draw a scale under each place, its letter below."""
    for x, letter in places:
        pad = [(x - reach_m, 0.0), (x + reach_m, 0.0), (x + reach_m, -_PAD_M), (x - reach_m, -_PAD_M)]
        view.line(pad, LINE, fill="#000")
        view.letter((x, -_PAD_M), letter, off=(0.0, 4.0))
