"""What the poses of a vehicle on four wheels ask, and the worst of each measure kept.

Each edge asks for the angle lost since standing level, and the twist of the ground is held against the wheel travel. On
three wheels the diagonal takes the place of the side that it falls towards: it asks what that side has lost.

Whether an edge is worse than what was found is seen from the sine of the difference of angles, without an arc tangent.
"""

import math

import numpy as np
from numpy.typing import NDArray

from pipeline.kernels.compiled import bare, inner
from pipeline.kernels.four_pose import Axle, Lean, Sides, feet_of, four_sides, lean_of, lifting, raised, three_sides
from pipeline.kernels.four_records import (
    DIAGONAL,
    FL,
    FR,
    FRONT_EDGE,
    LEFT_EDGE,
    NO_WHEEL,
    PITCH,
    RIGHT_EDGE,
    RL,
    ROLL,
    TWIST,
    Chassis,
)

__all__ = ["DEMAND", "FRONT", "LIFTED", "LIMIT", "PLACE", "REAR", "UTILISATION", "WHEEL", "bars_of", "hold"]

Float64 = NDArray[np.float64]

UTILISATION, DEMAND, LIMIT, PLACE, REAR, FRONT, WHEEL, LIFTED = range(8)
COSINE, SINE, LEVEL, MOST = range(4)
"""Columns of the bars: cosine and sine of the angle below which an edge is worse than found, its angle standing level,
and what may be used up of it."""


@inner
def bars_of(chassis: Chassis) -> Float64:
    """Angles of the edges standing level, and that none of them is to be fallen short of."""
    bars = np.empty((4, 4))
    sides = four_sides(feet_of(chassis, Lean(1.0, 0.0, 0.0, 0.0), 0.0))
    for edge in range(4):
        angle = math.atan2(sides[edge][0], sides[edge][1])
        bars[edge, COSINE], bars[edge, SINE] = math.cos(angle), math.sin(angle)
        bars[edge, LEVEL], bars[edge, MOST] = angle, chassis.limits[edge]
    return bars


@bare
def hold(best: Float64, bars: Float64, chassis: Chassis, axles: tuple[Axle, Axle], where: tuple[float, float]) -> None:
    """Hold one pose against the worst so far."""
    back, ahead = axles
    heights, rear, front = (ahead.left, ahead.right, back.left, back.right), back.place, ahead.place
    place, sideways = where
    twist = heights[0] - heights[1] - heights[2] + heights[3]
    lean = lean_of(chassis, heights, front - rear)
    feet = feet_of(chassis, lean, sideways)
    lifted = NO_WHEEL
    ratio = abs(twist) / chassis.travel
    if ratio > best[TWIST, UTILISATION]:
        wheel = lifting(feet, twist)
        spot = front if wheel in (FL, FR) else rear
        _keep(best, TWIST, (abs(twist), chassis.travel), (spot, rear, front), (wheel, ratio > 1.0))
    if ratio > 1.0:
        lifted = lifting(feet, twist)
        held = raised(heights, lifted, abs(twist) - chassis.travel)
        feet = feet_of(chassis, lean_of(chassis, held, front - rear), sideways)
    sides, spots = three_sides(feet, lifted), (place, rear, front)
    for edge in range(4):
        _tip(best, bars, (edge, lifted), sides[edge], spots)
    if lifted != NO_WHEEL:
        _tip(best, bars, (LEFT_EDGE if lifted in (FL, RL) else RIGHT_EDGE, lifted), sides[DIAGONAL], spots)


@bare
def _tip(best: Float64, bars: Float64, key: tuple[int, int], sides: Sides, spots: tuple[float, float, float]) -> None:
    """Keep the demand over an edge if it is the worst of its measure, and lower the bars of that measure."""
    edge, lifted = key
    sine, cosine = sides
    if not sine * bars[edge, COSINE] < cosine * bars[edge, SINE]:
        return
    measure = ROLL if edge < FRONT_EDGE else PITCH
    demand = bars[edge, LEVEL] - math.atan2(sine, cosine)
    if demand <= best[measure, UTILISATION] * bars[edge, MOST]:
        return
    _keep(best, measure, (demand, bars[edge, MOST]), spots, (lifted, lifted != NO_WHEEL))
    first = LEFT_EDGE if measure == ROLL else FRONT_EDGE
    for k in range(first, first + 2):
        angle = bars[k, LEVEL] - best[measure, UTILISATION] * bars[k, MOST]
        bars[k, COSINE], bars[k, SINE] = math.cos(angle), math.sin(angle)


@bare
def _keep(
    best: Float64,
    measure: int,
    ask: tuple[float, float],
    spots: tuple[float, float, float],
    stance: tuple[int, bool],
) -> None:
    """Write down the worst of a measure."""
    best[measure, UTILISATION] = ask[0] / ask[1]
    best[measure, DEMAND], best[measure, LIMIT] = ask
    best[measure, PLACE], best[measure, REAR], best[measure, FRONT] = spots
    best[measure, WHEEL], best[measure, LIFTED] = stance
