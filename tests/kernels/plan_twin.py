"""Plain twin of the gaps of a pose, of polygons as shapely measures them."""

import math

import numpy as np
from shapely import LineString, MultiPolygon, Point, Polygon
from shapely.affinity import rotate, translate
from shapely.ops import nearest_points

from pipeline.kernels.plan_records import LEFT, NOTHING, RIGHT, Boxes, Solids

FAR_M = 3.0
HEIGHTS = 9


def face(boxes: Boxes, box: int, steer: float) -> Polygon:
    """Make the outline of a box, body frame."""
    rear, front, right, left = (float(side[box]) for side in boxes[:4])
    outline = Polygon([(rear, right), (front, right), (front, left), (rear, left)])
    return rotate(outline, math.degrees(steer), "centroid") if box < 2 else outline


def in_body(solids: Solids, k: int, stand: tuple[float, float, float]) -> LineString | Point:
    """Take the middle line of a solid into the frame of the body, which stands at x, y, heading."""
    x, y, heading = stand
    ends = []
    for px, py in ((solids.ax[k], solids.ay[k]), (solids.bx[k], solids.by[k])):
        turned = complex(px - x, py - y) * complex(math.cos(heading), -math.sin(heading))
        ends.append((turned.real, turned.imag))
    return Point(ends[0]) if ends[0] == ends[1] else LineString(ends)


def way_out(outline: Polygon, line: LineString | Point, radius: float, across: tuple[float, float]) -> float:
    """How far an outline moves in the direction *across* until it is free of a capsule, by halving."""
    low, high = 0.0, 30.0
    for _ in range(50):
        middle = (low + high) / 2.0
        if translate(outline, across[0] * middle, across[1] * middle).distance(line) < max(radius, 1e-9):
            low = middle
        else:
            high = middle
    return high


def box_twin(
    outline: Polygon, line: LineString | Point, radius: float, free: tuple[int, ...], steer: float
) -> tuple[float, int]:
    """Give gap and side of one outline; *free*: sides on which it may have the solid once it came free of it."""
    apart = float(outline.distance(line))
    if apart > 0.0 and apart >= radius:
        return apart - radius, LEFT if _nearest(outline, line).y > 0.0 else RIGHT
    ways = {LEFT: (math.sin(steer), -math.cos(steer)), RIGHT: (-math.sin(steer), math.cos(steer))}
    depth, side = min((way_out(outline, line, radius, ways[side]), side) for side in free)
    return -depth, side


def gaps_twin(boxes: Boxes, solids: Solids, stand: tuple[float, ...]) -> tuple[list[float], list[int]]:
    """Give gap and solid on the left and the right; *stand*: x, y, heading, steering angle, roll."""
    gaps, numbers = [np.inf, np.inf], [NOTHING, NOTHING]
    for k in range(solids.ax.size):
        line = in_body(solids, k, stand[:3])
        for box in range(boxes.rear.size):
            low, high = max(boxes.low[box], solids.low[k]), min(boxes.high[box], solids.high[k])
            if low >= high:
                continue
            only = LEFT if boxes.right[box] >= 0.0 else (RIGHT if boxes.left[box] <= 0.0 else None)
            free = (LEFT, RIGHT) if only is None or box < 4 else (only,)
            outline = face(boxes, box, stand[3])
            if box >= 4:
                heights = np.linspace(low, high, HEIGHTS)
                leaning = [translate(outline, 0.0, -height * math.sin(stand[4])) for height in heights]
                outline = MultiPolygon(leaning).convex_hull
            gap, side = box_twin(outline, line, float(solids.radius[k]), free, stand[3] if box < 2 else 0.0)
            if only not in {None, side} and gap > 0.0:
                continue
            side = side if only is None else only
            if gap < min(gaps[side], FAR_M):
                gaps[side], numbers[side] = gap, k
    return gaps, numbers


def _nearest(outline: Polygon, line: LineString | Point) -> Point:
    """Give the place of a line nearest to an outline."""
    return nearest_points(outline, line)[1]
