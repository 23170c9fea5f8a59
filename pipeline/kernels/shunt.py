"""Whether one reverse gets a vehicle past a place that no line leads through.

A driver who shunts stops, turns the wheel where he stands, rolls back and turns it again: so the curvature may jump at
both ends of the reverse, and only the lock limits it. The vehicle comes forwards to any step of the lattice that it can
reach with the gap asked for, rolls back on an arc that keeps it, and has to arrive where the lattice leads on to the
end. Between the places of the lattice all of the four steps round the pose have to lead on, so no more is promised than
the lattice shows.
"""

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.compiled import bare
from pipeline.kernels.line_lattice import CX, CY, OFFSET, Body, Mesh, Stretch, place_of, room_at
from pipeline.kernels.line_search import GAP, Rules, Space, bend_of
from pipeline.kernels.plan_way import COS, HEADING, SIN, locate

__all__ = ["Yard", "one_reverse"]

Float64 = NDArray[np.float64]

COMES, LEADS_ON = 0, 1
"""Marks of a step: it can be reached from the start, the end can be reached from it; where they stand in the space."""
BACK_M = 0.5
"""Distance of the poses that are measured on the way back."""
ARCS = 2
"""Arcs to either side of straight back, the outermost at full lock."""


class Yard(NamedTuple):
    """A stretch with a lattice laid over it."""

    stretch: Stretch
    body: Body
    line: Float64
    """Control points of the line that the lattice lies round."""
    mesh: Mesh
    rules: Rules
    """Curvature and smallest gap."""
    space: Space


@bare
def one_reverse(yard: Yard, most_m: float) -> bool:
    """Tell whether one reverse of at most *most_m* joins the start of a lattice with its end.

    Parameters
    ----------
    yard
        The lattice.
    most_m
        Longest way back, m.
    """
    _mark(yard, COMES)
    _mark(yard, LEADS_ON)
    back = yard.space.back
    for k in range(yard.mesh.stages - 1):
        for i in range(yard.mesh.places):
            for s in range(back.shape[2]):
                if back[k, i, s, COMES] and _backs_out(yard, (k, i, s), most_m):
                    return True
    return False


@bare
def _mark(yard: Yard, which: int) -> None:
    """Mark the steps that can be reached from the start, or from which the end can be reached."""
    back, last = yard.space.back, yard.mesh.stages - 2
    for n in range(last + 1):
        k = n if which == COMES else last - n
        for i in range(yard.mesh.places):
            for s in range(back.shape[2]):
                open_ = yard.space.steps[k, i, s, GAP] >= yard.rules.floor
                back[k, i, s, which] = open_ and (n == 0 or _joined(yard, (k, i, s), which))


@bare
def _joined(yard: Yard, step: tuple[int, int, int], which: int) -> bool:
    """Whether a marked step leads to a step, or follows it, within the lock."""
    k, i, s = step
    back, slopes = yard.space.back, yard.space.back.shape[2]
    for t in range(slopes):
        if which == COMES:
            j = i - t + slopes // 2
            near = 0 <= j < yard.mesh.places and back[k - 1, j, t, which]
            if near and abs(bend_of(yard.space.steps, k, (j, t), (i, s))) <= yard.rules.bend:
                return True
        else:
            j = i + s - slopes // 2
            if back[k + 1, j, t, which] and abs(bend_of(yard.space.steps, k + 1, (i, s), (j, t))) <= yard.rules.bend:
                return True
    return False


@bare
def _backs_out(yard: Yard, step: tuple[int, int, int], most_m: float) -> bool:
    """Whether some arc back from a step arrives where the lattice leads on, with the gap kept on the way."""
    k, i, s = step
    line, mesh, rows = yard.line, yard.mesh, yard.stretch.rows
    a, b = (i - mesh.places // 2) * mesh.apart, (i + s - yard.space.back.shape[2] // 2 - mesh.places // 2) * mesh.apart
    here, there = k * mesh.stride, (k + 1) * mesh.stride
    ends = (
        line[k, CX] + a * rows[here, SIN],
        line[k, CY] - a * rows[here, COS],
        line[k + 1, CX] + b * rows[there, SIN],
        line[k + 1, CY] - b * rows[there, COS],
    )
    start = place_of(line, k, ends, 0.5)
    for arc in range(-ARCS, ARCS + 1):
        x, y, heading, bend = start[0], start[1], start[2], yard.body.most * arc / ARCS
        point = here + mesh.stride // 2
        for _ in range(math.floor(most_m / BACK_M + 1e-9)):
            heading -= 0.5 * bend * BACK_M
            x, y = x - BACK_M * math.cos(heading), y - BACK_M * math.sin(heading)
            heading -= 0.5 * bend * BACK_M
            point, on, right = locate(x, y, rows, yard.stretch.step, point)
            if (
                room_at(yard.stretch, yard.body, (x, y, heading, bend), point, (yard.rules.floor, 1.0, 0))
                < yard.rules.floor
            ):
                break
            if _leads_on(yard, point * yard.stretch.step + on, right, heading - rows[point, HEADING]):
                return True
    return False


@bare
def _leads_on(yard: Yard, at: float, right: float, turned: float) -> bool:
    """Whether the end can be reached from a pose: all steps round it lead on.

    Parameters
    ----------
    yard
        The lattice.
    at, right
        Where the rear axle stands, m along the way from its first point, m to the right of it.
    turned
        Heading against that of the way there, rad, + left.
    """
    mesh, slopes = yard.mesh, yard.space.back.shape[2]
    spacing = mesh.stride * yard.stretch.step
    k = min(max(math.floor(at / spacing), 0), mesh.stages - 2)
    slope = -math.tan(turned)
    offset = right + slope * (k * spacing - at) - yard.line[k, OFFSET]
    drift = slope * spacing - yard.line[k + 1, OFFSET] + yard.line[k, OFFSET]
    first, steep = math.floor(offset / mesh.apart), math.floor(drift / mesh.apart)
    for corner in range(4):
        i, s = first + (corner & 1) + mesh.places // 2, steep + corner // 2 + slopes // 2
        if not (0 <= i < mesh.places and 0 <= s < slopes) or not yard.space.back[k, i, s, LEADS_ON]:
            return False
    return True
