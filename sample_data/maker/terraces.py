"""Building the trails into the hill: a bed for each, cut into the slope above it and filled below."""

import numpy as np
from numpy.typing import NDArray

from maker.grid import COLUMNS, ROWS, Floats, bilinear, noise
from maker.trails import Edge

__all__ = ["Bed", "build_trails", "lay_beds"]

SAMPLE_M = 0.5
"""Spacing of the samples of a bed."""
BATTER_M = 2.2
"""Plan width of the cut and of the fill beside a bed."""
SHOULDER_M = 0.7
"""Flat ground beyond the tagged width on either side."""
OUTSLOPE = 0.052
"""Fall of a bed towards the valley, 3°, so that water leaves it."""
LEAD_IN_M = 6.0
"""Length over which a bed turns into an off-camber stretch and out of it, unless the trail says otherwise."""
PARTING_M = 1.0
"""Centre lines closer than this are one bed."""
LANDING_M = 4.0
"""Half-length of the level landing at a junction."""
VERTICAL_CURVE_M = 18.0
"""Length of the curve between a landing and an even ramp."""


class Bed:
    """Heights of one built edge.

    Attributes
    ----------
    x, y
        Plan coordinates of the samples, m.
    normal
        Unit vectors to the right, shape (n, 2).
    z
        Height of the centre line, m.
    cross
        Rise over run to the right.
    half_width_m
        Half of the width that is level across.
    """

    def __init__(self, edge: Edge, ground: Floats, node_height: dict[tuple[float, float], float]) -> None:
        along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(edge.points, axis=0).T))])
        count = max(int(np.ceil(along[-1] / SAMPLE_M)), 4)
        at = np.linspace(0.0, along[-1], count + 1)
        self.edge = edge
        self.at = at
        self.x, self.y = (np.interp(at, along, edge.points[:, k]) for k in (0, 1))
        tangent = np.gradient(np.stack([self.x, self.y], axis=1), axis=0)
        tangent /= np.maximum(np.hypot(tangent[:, 0], tangent[:, 1]), 1e-9)[:, None]
        self.normal = np.stack([tangent[:, 1], -tangent[:, 0]], axis=1)
        self.half_width_m = float(edge.trail.attributes.get("width_m", 2.8)) / 2.0 + SHOULDER_M
        self.z = self._profile(ground, (node_height[_key(edge.points[0])], node_height[_key(edge.points[-1])]))
        self.cross = self._cross(ground)

    def _profile(self, ground: Floats, ends: tuple[float, float]) -> Floats:
        """Smooth the ground along the trail, meet the junctions level, add the crests and dips."""
        z = bilinear(ground, self.x, self.y)
        bed_m = float(self.edge.trail.shape.get("bed_m", 14.0))
        z = _smooth(_smooth(z, bed_m / SAMPLE_M), bed_m / SAMPLE_M)
        length = self.at[-1]
        reach = min(20.0 + bed_m, 0.45 * length)
        for end, away in ((ends[0], self.at), (ends[1], length - self.at)):
            first = z[0] if away[0] == 0.0 else z[-1]
            fade = 0.5 + 0.5 * np.cos(np.pi * np.clip((away - LANDING_M) / reach, 0.0, 1.0))
            z = z + (end - first) * fade
        if even := float(self.edge.trail.shape.get("even", 0.0)):
            z = z + even * (ends[0] + (ends[1] - ends[0]) * _ramp(self.at) - z)
        for centre_m, height_m, half_length_m in self.edge.trail.shape.get("crests", []):
            part = np.clip((self.at + self.edge.start_m - centre_m) / half_length_m, -1.0, 1.0)
            z = z + height_m * (0.5 + 0.5 * np.cos(np.pi * part))
        return z

    def _cross(self, ground: Floats) -> Floats:
        """Tilt the bed a little towards the valley; where it is off-camber, more."""
        left, right = (
            bilinear(ground, self.x + side * self.normal[:, 0], self.y + side * self.normal[:, 1])
            for side in (-4.0, 4.0)
        )
        hillside = _smooth((right - left) / 8.0, 16.0)
        tilt = np.full(self.at.shape, OUTSLOPE)
        for from_m, to_m, degrees, *lead_in in self.edge.trail.shape.get("off_camber", []):
            middle, half = (from_m + to_m) / 2.0, (to_m - from_m) / 2.0
            away = (np.abs(self.at + self.edge.start_m - middle) - half) / (lead_in[0] if lead_in else LEAD_IN_M)
            tilt = tilt + (np.tan(np.radians(degrees)) - tilt) * np.clip(1.0 - away, 0.0, 1.0)
        ends = np.minimum(self.at, self.at[-1] - self.at)
        leaning = np.clip(hillside / 0.12, -1.0, 1.0) * np.clip(ends / 8.0, 0.0, 1.0)
        return np.asarray(tilt * leaning, dtype=np.float64)


def _ramp(at: Floats) -> Floats:
    """Go from 0 to 1 at one grade between level landings, with a vertical curve at either end."""
    length = float(at[-1])
    away = np.minimum(at, length - at) - min(LANDING_M, 0.1 * length)
    share = np.cumsum(np.clip(away / min(VERTICAL_CURVE_M, 0.2 * length), 0.0, 1.0))
    return np.asarray((share - share[0]) / (share[-1] - share[0]), dtype=np.float64)


def _key(point: Floats) -> tuple[float, float]:
    """Name a junction by its place to the decimetre."""
    return round(float(point[0]), 1), round(float(point[1]), 1)


def _smooth(values: Floats, window: float) -> Floats:
    """Take the running mean over *window* samples; the ends are mirrored, so that the result leaves them level."""
    half = min(max(int(window // 2), 1), len(values) - 1)
    before, after = values[half:0:-1], values[-2 : -half - 2 : -1]
    sums = np.cumsum(np.concatenate([[0.0], before, values, after]))
    return np.asarray((sums[2 * half + 1 :] - sums[: -2 * half - 1]) / (2 * half + 1), dtype=np.float64)


def lay_beds(edges: list[Edge], ground: Floats) -> list[Bed]:
    """Lay the bed of every edge; all edges of a junction meet at one height, that of the ground around it."""
    heights: dict[tuple[float, float], float] = {}
    ring = np.linspace(0.0, 2.0 * np.pi, 16, endpoint=False)
    for edge in edges:
        for point in (edge.points[0], edge.points[-1]):
            around = bilinear(ground, point[0] + 5.0 * np.cos(ring), point[1] + 5.0 * np.sin(ring))
            heights[_key(point)] = float(around.mean())
    beds = [Bed(edge, ground, heights) for edge in edges]
    _join(beds)
    return beds


def _join(beds: list[Bed]) -> None:
    """Let the steeper of two trails that part at a small angle run with the other until there is room for both."""
    at_node: dict[tuple[float, float], list[Bed]] = {}
    for bed in sorted(beds, key=lambda bed: float(np.ptp(bed.z)) / float(bed.at[-1])):
        if bed.edge.trail.attributes.get("bridge"):
            continue
        places = [_key(point) for point in (bed.edge.points[0], bed.edge.points[-1])]
        for other in {id(one): one for place in places for one in at_node.get(place, [])}.values():
            away = np.hypot(bed.x[:, None] - other.x, bed.y[:, None] - other.y)
            nearest = away.argmin(axis=1)
            gap = away[np.arange(len(nearest)), nearest] - PARTING_M
            own = np.clip(gap / (bed.half_width_m + other.half_width_m), 0.0, 1.0)
            own = own * own * (3.0 - 2.0 * own)
            bed.z = own * bed.z + (1.0 - own) * other.z[nearest]
        bed.z = _round_off(bed)
        for place in places:
            at_node.setdefault(place, []).append(bed)


def _round_off(bed: Bed) -> Floats:
    """Take the kinks out of a joined bed near its ends, where trails were led together; keep the rest."""
    soft = _smooth(_smooth(bed.z, 10.0 / SAMPLE_M), 10.0 / SAMPLE_M)
    soft = soft + np.interp(bed.at, [0.0, bed.at[-1]], [bed.z[0] - soft[0], bed.z[-1] - soft[-1]])
    inside = np.clip((np.minimum(bed.at, bed.at[-1] - bed.at) - 22.0) / 12.0, 0.0, 1.0)
    return np.asarray(inside * bed.z + (1.0 - inside) * soft, dtype=np.float64)


def build_trails(beds: list[Bed], ground: Floats) -> Floats:
    """Build every bed that lies on the ground (a bridge does not) into the hill."""
    strongest = np.zeros(ground.size)
    total, weights = np.zeros(ground.size), np.zeros(ground.size)
    for bed in beds:
        if bed.edge.trail.attributes.get("bridge"):
            continue
        cell, weight, height, away = _stamp(bed)
        strongest[cell] = np.maximum(strongest[cell], weight)
        share = (
            weight / (0.05 + np.square(away / bed.half_width_m)) ** 3
        )  # where beds meet, the nearer centre line rules
        total[cell] += share * height
        weights[cell] += share
    built = total / np.maximum(weights, 1e-30)
    y, x = np.divmod(np.arange(ground.size, dtype=np.float64), COLUMNS)
    forest_floor = 0.05 * noise(x, y, 2.7, 21) + 0.03 * noise(x, y, 1.3, 22)
    surface = (1.0 - strongest) * (ground.ravel() + forest_floor) + strongest * (built + 0.2 * forest_floor)
    return surface.reshape(ground.shape)


def _stamp(bed: Bed) -> tuple[NDArray[np.int64], Floats, Floats, Floats]:
    """Give the cells within reach of a bed, each once: weight (1 on it, 0 beyond the batter), height, distance."""
    reach = int(np.ceil(bed.half_width_m + BATTER_M)) + 1
    shift_y, shift_x = (part.ravel() for part in np.mgrid[-reach : reach + 1, -reach : reach + 1])
    column = np.floor(bed.x)[:, None].astype(np.int64) + shift_x
    row = np.floor(bed.y)[:, None].astype(np.int64) + shift_y
    dx, dy = column + 0.5 - bed.x[:, None], row + 0.5 - bed.y[:, None]
    away = np.hypot(dx, dy)
    sample = np.broadcast_to(np.arange(len(bed.x))[:, None], away.shape)
    keep = (away < bed.half_width_m + BATTER_M) & (column >= 0) & (column < COLUMNS) & (row >= 0) & (row < ROWS)
    cell, away, sample, dx, dy = (part[keep] for part in (row * COLUMNS + column, away, sample, dx, dy))
    order = np.lexsort((sample, away, cell))
    first = order[np.concatenate([[True], np.diff(cell[order]) > 0])]
    cell, away, sample, dx, dy = (part[first] for part in (cell, away, sample, dx, dy))
    across = dx * bed.normal[sample, 0] + dy * bed.normal[sample, 1]
    t = np.clip((away - bed.half_width_m) / BATTER_M, 0.0, 1.0)
    weight = 1.0 - t * t * (3.0 - 2.0 * t)
    tilt = bed.cross[sample] * np.clip(across, -bed.half_width_m, bed.half_width_m)
    ahead = dy * bed.normal[sample, 0] - dx * bed.normal[sample, 1]  # a cell lies between two samples, not on one
    rise = np.gradient(bed.z, bed.at)[sample] * np.clip(ahead, -SAMPLE_M, SAMPLE_M)
    return cell, weight, bed.z[sample] + rise + tilt, away
