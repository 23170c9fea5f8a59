"""How parts of the body and what stands beside them are called in sentences."""

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.checks.limits import Limits
from pipeline.checks.scene import Scene
from pipeline.kernels.plan_records import EDGE, LEFT, RIGHT
from pipeline.terms import Part

__all__ = ["DARK", "SIDES", "Names", "body_words", "down_to"]

SIDES = {LEFT: "left", RIGHT: "right"}
"""Sides as the driver sees them."""
DARK = "the trees beside the trail were not surveyed"
"""Said wherever only the tagged width of a trail bounds it, and nobody knows what stands beyond."""
_FINE_M = 0.5
"""Gaps below this are told to the centimetre, wider ones to the decimetre: nobody judges those better from a seat."""

_NEAR_M = 0.5
"""The way of a trail at a place is that over so much before and behind it."""


def down_to(metres: float) -> str:
    """Write a gap, rounded down; what is short of nothing is not written as nothing.

    Parameters
    ----------
    metres
        The gap, m, not negative.
    """
    parts, places = (100.0, 2) if metres < _FINE_M else (10.0, 1)
    return f"{math.floor(metres * parts + 1e-6) / parts:.{places}f} m"


def body_words(part: int, side: int, body_x_m: float = math.nan, wheelbase_m: float = math.nan) -> str:
    """Name a place on the body, as somebody who walks round the vehicle would.

    Parameters
    ----------
    part
        ``terms.Part``.
    side
        0 left, 1 right.
    body_x_m
        Where on the body, m ahead of the front axle; NaN where that is not asked.
    wheelbase_m
        Wheelbase.
    """
    hand = SIDES[side]
    if part == Part.MIRROR:
        return f"{hand} mirror"
    if part == Part.ROOF:
        return f"{hand} of the roof"
    if part == Part.WHEEL:
        if math.isnan(body_x_m):
            return f"{hand} tyres"
        return f"{hand} {'front' if body_x_m > -wheelbase_m / 2.0 else 'rear'} tyre"
    if body_x_m > 0.0:
        return f"{hand} front"
    return f"{hand} rear" if body_x_m < -wheelbase_m else f"{hand} side"


@dataclass(frozen=True)
class Names:
    """Names of what stands beside the trails of a site."""

    scene: Scene
    limits: Limits

    def beside(self, thing: int, row: int, way: int, side: int, at_m: float) -> str:
        """Name what is nearest.

        Parameters
        ----------
        thing
            Index into the scene's things; −1 the edge of the trail, anything below is not known.
        row
            Row of the segment.
        way
            0 with, 1 against the digitised direction.
        side
            0 left, 1 right in travel.
        at_m
            Chainage.
        """
        if thing == EDGE:
            return self._edge(row, way, side, at_m)
        return str(self.scene.things.label[thing]) if thing >= 0 else "what lies there"

    def offset(self, row: int, way: int, x: float, y: float) -> float:
        """Measure how far right of the middle of a trail a point is, in travel.

        Parameters
        ----------
        row
            Row of the segment.
        way
            0 with, 1 against the digitised direction.
        x, y
            The point, m, in the system of the network.

        Returns
        -------
        float
            Distance across the trail, m, + right; NaN beyond its ends.
        """
        line = self._trails[row]
        along = shapely.line_locate_point(line, shapely.Point(x, y))
        if not 0.0 < along < line.length:
            return math.nan
        ends = shapely.line_interpolate_point(line, [max(along - _NEAR_M, 0.0), along, along + _NEAR_M])
        (x0, y0), (xm, ym), (x1, y1) = shapely.get_coordinates(ends).tolist()
        right: float = ((x - xm) * (y1 - y0) - (y - ym) * (x1 - x0)) / math.hypot(x1 - x0, y1 - y0)
        return right if way == 0 else -right

    @cached_property
    def _trails(self) -> NDArray[np.object_]:
        """Lines of the trails: to ask a frame for one takes longer than to measure along it."""
        lines: NDArray[np.object_] = self.scene.site.network.segments.geometry.to_numpy()
        return lines

    def _edge(self, row: int, way: int, side: int, at_m: float) -> str:
        """Name the edge of the trail by the slope across it: a bank, a drop-off or just an edge."""
        stations = self.scene.site.terrain.stations
        first, last = int(stations.offsets[row]), int(stations.offsets[row + 1]) - 1
        if last < first or math.isnan(at_m):
            return "the edge of the trail"
        near = first + round(at_m / max(float(self.scene.spacing_m[row]), 1e-9))
        cross = float(stations.cross[min(max(near, first), last)])
        rises = cross * (1.0 if way == 0 else -1.0) * (1.0 if side == RIGHT else -1.0)
        if not math.degrees(math.atan(abs(cross))) > self.limits.edge_slope_deg:
            return "the edge of the trail"
        return "the bank" if rises > 0.0 else "the drop-off"
