"""A slow plain twin of the four-wheel kernels: rotation matrices, halving, and the published algorithm step by step."""

import math
from itertools import pairwise, product
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.four_records import Chassis, TyreLines

Floats = NDArray[np.float64]

GRAVITY = 9.80665
WHEELS = ("FL", "FR", "RL", "RR")
LEFT, RIGHT, FRONT, REAR = range(4)


def published_angle(begin: Floats, end: Floats, cg: Floats, force: Floats) -> float:
    """Papadopoulos & Rey (2000): project arm and force on the plane across the edge, take the angle, then its sign."""
    a = (end - begin) / np.linalg.norm(end - begin)
    across = np.eye(3) - np.outer(a, a)
    arm, push = across @ (end - cg), across @ force
    cosine = arm @ push / (np.linalg.norm(arm) * np.linalg.norm(push))
    inside = np.cross(push, arm) @ a > 0.0
    return math.acos(min(1.0, max(-1.0, cosine))) * (1.0 if inside else -1.0)


def wheel_path(z: Floats, step: float, radius: float) -> Floats:
    """Centre of a circle laid on a polyline from above, over every vertex; the ends go on straight."""
    n = z.size
    path = np.empty(n)
    reach = math.ceil(radius / step)
    for k in range(n):
        near = [
            (j, z[j] if 0 <= j < n else (z[0] + j * (z[1] - z[0]) if j < 0 else z[-1] + (j - n + 1) * (z[-1] - z[-2])))
            for j in range(k - reach, k + reach + 1)
        ]
        heights = []
        for j, h in near:
            away = (j - k) * step
            if abs(away) < radius:
                heights.append(h + math.sqrt(radius**2 - away**2))
        for (j, h0), (_, h1) in pairwise(near):
            slope = math.atan2(h1 - h0, step)
            touch = -radius * math.sin(slope)  # from below the centre towards where a line of this slope touches
            place = -touch / step + k - j
            if 0.0 <= place <= 1.0:
                heights.append(h0 + place * (h1 - h0) + radius * math.cos(slope))
        path[k] = math.nan if any(math.isnan(h) for j, h in near if 0 <= j < n) else max(heights)
    return path


def find_front(path: Floats, step: float, wheelbase: float, rear: float) -> float:
    """Farthest place one wheelbase from the rear axle; inf beyond the run, NaN where ground is missing."""
    at = np.arange(path.size) * step

    def off(x: float) -> float:
        return math.hypot(x - rear, height(path, step, x) - height(path, step, rear)) - wheelbase

    k = math.ceil((rear + wheelbase) / step - 1e-9)
    if k >= path.size:
        k = path.size - 1
        if off(at[k]) < 0.0:
            return math.inf
    while k > 0:
        if off(at[k - 1]) < 0.0:
            low, high = at[k - 1], at[k]
            if math.isnan(off(high)):
                break
            for _ in range(60):
                low, high = (0.5 * (low + high), high) if off(0.5 * (low + high)) < 0.0 else (low, 0.5 * (low + high))
            return high
        k -= 1
    return math.nan


def height(z: Floats, step: float, at: float) -> float:
    """Height between two samples, straight; a sample's own at it."""
    k = round(at / step)
    if abs(at / step - k) < 1e-9:
        return float(z[k])
    k = math.floor(at / step)
    return float(z[k] + (at / step - k) * (z[k + 1] - z[k]))


def pitched(angle: float) -> Floats:
    """Rotation that lifts the nose."""
    return np.array(
        [[math.cos(angle), 0.0, -math.sin(angle)], [0.0, 1.0, 0.0], [math.sin(angle), 0.0, math.cos(angle)]]
    )


def rolled(angle: float) -> Floats:
    """Rotation that drops the right side."""
    return np.array(
        [[1.0, 0.0, 0.0], [0.0, math.cos(angle), -math.sin(angle)], [0.0, math.sin(angle), math.cos(angle)]]
    )


class Stance(NamedTuple):
    """One pose of the twin."""

    pitch: float
    roll: float
    twist: float
    lifted: int
    edges: list[float]
    diagonal: float
    first: int
    """The wheel that lifts or would lift first."""


def contacts(chassis: Chassis, heights: list[float], across: float) -> tuple[Floats, Floats, float, float]:
    """Points of contact in the order of the wheels and the centre of gravity, in level axes; pitch and roll."""
    fl, fr, rl, rr = heights
    pitch = math.atan2((fl + fr) / 2 - (rl + rr) / 2, across)
    between = (chassis.track_front + chassis.track_rear) / 2
    axle = [math.atan((fl - fr) / between * math.cos(pitch)), math.atan((rl - rr) / between * math.cos(pitch))]
    roll = math.atan((math.tan(axle[0]) + math.tan(axle[1])) / 2)
    nose = pitched(pitch)
    points = [
        nose @ (np.array([x, 0.0, 0.0]) + rolled(turn) @ np.array([0.0, side * track / 2, 0.0]))
        for x, turn, track in ((0.0, axle[0], chassis.track_front), (-chassis.wheelbase, axle[1], chassis.track_rear))
        for side in (1.0, -1.0)
    ]
    cg = nose @ rolled(roll) @ np.array([chassis.cg_x, chassis.cg_y, chassis.cg_z])
    return np.array(points), cg, pitch, roll


ROUND = (0, 1, 3, 2)
"""Wheels clockwise seen from above."""


def triangle(lifted: int) -> list[int]:
    """Give the other three wheels, clockwise."""
    return [wheel for wheel in ROUND if wheel != lifted]


def stance(chassis: Chassis, heights: list[float], across: float, sideways: float) -> Stance:
    """Stand on four wheels or on three; lean out of a bend by *sideways* g to the right."""
    force = np.array([0.0, -sideways, -1.0])
    twist = (heights[0] - heights[1]) - (heights[2] - heights[3])
    points, cg, pitch, roll = contacts(chassis, heights, across)
    low = (1, 2) if twist > 0.0 else (0, 3)
    # The centre of gravity lies in the triangle of the other three: over none of its edges does the vehicle tip first.
    balance = {}
    for wheel in low:
        rest = triangle(wheel)
        pairs = [(rest[i], rest[(i + 1) % 3]) for i in range(3)]
        diagonal = next(pair for pair in pairs if sum(pair) == 3)
        balance[wheel] = published_angle(points[diagonal[0]], points[diagonal[1]], cg, force)
    first = max(low, key=lambda wheel: balance[wheel])
    lifted = -1
    if abs(twist) > chassis.travel:
        lifted = first
        held = list(heights)
        held[lifted] += abs(twist) - chassis.travel
        points, cg, pitch, roll = contacts(chassis, held, across)
    edges, diagonal_angle = [math.nan] * 4, math.nan
    support = [wheel for wheel in ROUND if wheel != lifted]
    names = {(2, 0): LEFT, (1, 3): RIGHT, (0, 1): FRONT, (3, 2): REAR}
    for i, wheel in enumerate(support):
        pair = (wheel, support[(i + 1) % len(support)])
        angle = published_angle(points[pair[0]], points[pair[1]], cg, force)
        if pair in names:
            edges[names[pair]] = angle
        else:
            diagonal_angle = angle
    return Stance(pitch, roll, twist, lifted, edges, diagonal_angle, first)


class Worst(NamedTuple):
    """The worst of a measure."""

    utilisation: float = 0.0
    demand: float = 0.0
    place: float = math.nan
    rear: float = math.nan
    front: float = math.nan
    wheel: int = -1
    lifted: bool = False


def sweep_twin(lines: TyreLines, chassis: Chassis, speed: float, stride: int) -> dict[tuple[int, int], list[Worst]]:
    """Roll over every run both ways; the worst of roll, pitch and twist, places in the direction of travel."""
    found = {}
    for run in range(lines.offsets.size - 1):
        part = slice(lines.offsets[run], lines.offsets[run + 1])
        left = wheel_path(lines.left[part], lines.step, chassis.radius)
        right = wheel_path(lines.right[part], lines.step, chassis.radius)
        bend, own = lines.bend[part], (lines.own_from[run], lines.own_to[run])
        end = (left.size - 1) * lines.step
        found[run, 0] = one_way((left, right, bend), own, lines.step, chassis, (speed, stride))
        back = (right[::-1], left[::-1], -bend[::-1])
        found[run, 1] = one_way(back, (end - own[1], end - own[0]), lines.step, chassis, (speed, stride))
    return found


def one_way(
    paths: tuple[Floats, Floats, Floats],
    own: tuple[float, float],
    step: float,
    chassis: Chassis,
    way: tuple[float, int],
) -> list[Worst]:
    """Roll over one run in one direction, then look more closely round the worst of each measure."""
    worst = [Worst(), Worst(), Worst()]
    level = stance(chassis._replace(travel=math.inf), [0.0] * 4, chassis.wheelbase, 0.0).edges

    def look(rear: float) -> None:
        for found in one_pose(paths, own, step, chassis, (way[0], rear), level):
            if found[1].utilisation > worst[found[0]].utilisation:
                worst[found[0]] = found[1]

    begin = max(math.ceil((own[0] - 1e-6 - chassis.wheelbase / 2) / step), 0)
    for k in range(begin, paths[0].size, way[1]):
        look(k * step)
    for measure, turn in product(range(3), range(1, 5)):
        spacing = way[1] * step / 3**turn
        middle = worst[measure].rear
        for share in (-2, -1, 1, 2):
            if worst[measure].utilisation > 0.2:
                look(middle + share * spacing)
    return worst


def one_pose(
    paths: tuple[Floats, Floats, Floats],
    own: tuple[float, float],
    step: float,
    chassis: Chassis,
    way: tuple[float, float],
    level: list[float],
) -> list[tuple[int, Worst]]:
    """Stand at one place; what each edge and the twist ask, with its measure; nothing where no pose counts."""
    left, right, bend = paths
    speed, rear = way
    if not 0.0 <= rear <= (left.size - 1) * step:
        return []
    front = find_front((left + right) / 2, step, chassis.wheelbase, rear)
    place = (rear + front) / 2
    if not (math.isfinite(front) and own[0] - 1e-6 <= place <= own[1] + 1e-6):
        return []
    heights = [height(line, step, at) for at in (front, rear) for line in (left, right)]
    felt = speed**2 * bend[math.floor(place / step + 0.5)] / GRAVITY
    pose = stance(chassis, heights, front - rear, min(0.25, max(-0.25, felt)))
    found = []
    for measure, demand, limit in asks(chassis, pose, level):
        spot = place if measure < 2 else (front if pose.first < 2 else rear)
        wheel = pose.first if measure == 2 else pose.lifted
        found.append((measure, Worst(demand / limit, demand, spot, rear, front, wheel, pose.lifted >= 0)))
    return found


def asks(chassis: Chassis, pose: Stance, level: list[float]) -> list[tuple[int, float, float]]:
    """Measure, demand and limit of every edge there is, and of the twist."""
    found = [(2, abs(pose.twist), chassis.travel)]
    for edge, angle in enumerate(pose.edges):
        if not math.isnan(angle):
            found.append((0 if edge < 2 else 1, level[edge] - angle, chassis.limits[edge]))
    if pose.lifted >= 0:
        side = LEFT if pose.lifted in (0, 2) else RIGHT
        found.append((0, level[side] - pose.diagonal, chassis.limits[side]))
    return found
