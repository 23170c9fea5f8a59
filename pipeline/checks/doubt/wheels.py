"""How far the demands of a pose on four wheels may be off: roll, tipping lengthwise, twist.

Derivatives by the heights z under the wheels, with the wheelbase L, the mean track T, pitch β and roll φ of the pose:

- twist: 1, −1, −1, 1 for the wheels FL, FR, RL, RR;
- pitch: ± cosβ ÷ 2L, as the axles stay one wheelbase apart;
- tipping sideways, all wheels on the ground: the demand over a side edge is the roll itself, that of the mean of both
  axles, tanφ = (z_left − z_right) · cosβ ÷ T;
- tipping lengthwise: the demand over an edge that leans with the body is atan(tanβ ÷ cosφ);
- on three wheels the other axle alone carries the roll, and the edge between the wheel beside the lifted one and the
  wheel of its own side decides: with D² = L² + T² the weights are (L÷T + T÷L) ÷ D across from the lifted wheel,
  − L ÷ (T·D) on its own side and − T ÷ (L·D) beside it; lengthwise ± 1 ÷ L for the wheels beside and across.

Left out: what the warp of the frame moves the edges by, and on three wheels the slope of the ground.
"""

import math

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.check import Case
from pipeline.checks.doubt.beside import ground_at
from pipeline.checks.doubt.heights import Stance, height_sd, station_cell, station_near
from pipeline.checks.rolling.four_wheels import PITCH, ROLL, TWIST
from pipeline.terms import Basis, CheckName

__all__ = ["MEASURE", "four_wheel_sd", "tip_weights"]

Float64 = NDArray[np.float64]
UInt8 = NDArray[np.uint8]
Int64 = NDArray[np.int64]

MEASURE = {CheckName.ROLL: ROLL, CheckName.PITCH_OVER: PITCH, CheckName.ARTICULATION: TWIST}
"""Column of the four-wheel sweep."""


def four_wheel_sd(name: CheckName, case: Case) -> Float64:
    """Give the standard deviation of roll or pitch-over, degrees, or of the twist, m, shape (segments, 2).

    Parameters
    ----------
    name
        One of :data:`MEASURE`.
    case
        The set-up on its site.
    """
    measure, sweep, envelope = MEASURE[name], case.four, case.envelope
    shape = sweep.demand.shape[:2]
    rear, front = sweep.rear_m[:, :, measure].ravel(), sweep.front_m[:, :, measure].ravel()
    track = 0.5 * (envelope.track_front_m + envelope.track_rear_m)
    side = np.sign(front - rear)[:, None] * 0.5 * track
    at_m = np.column_stack([front, front, rear, rear])
    offset = side * np.array([-1.0, 1.0, -1.0, 1.0])
    segment = np.repeat(np.arange(shape[0]), 2)
    lifted = np.where(sweep.lifted[:, :, measure], sweep.wheel[:, :, measure], -1).ravel()
    if name is CheckName.ARTICULATION:
        weights = np.broadcast_to([1.0, -1.0, -1.0, 1.0], at_m.shape)
    else:
        tilts = _tilts(case, segment, (at_m, offset))
        weights = np.degrees(tip_weights(name, (envelope.wheelbase_m, track), tilts, lifted))
    basis = _rests_on(name, case, sweep.basis[:, :, measure].ravel(), (segment, 0.5 * (rear + front)))
    return height_sd(case, Stance(segment, at_m, offset, weights, basis)).reshape(shape)


def _rests_on(name: CheckName, case: Case, basis: UInt8, where: tuple[Int64, Float64]) -> UInt8:
    """Say what the differences between the wheels rest on.

    On a survey-grade line those along it are surveyed; those across are the elevation model's, if there is one.
    """
    stations = case.scene.site.terrain.stations
    surveyed = (stations.basis[station_near(case, *where)] == Basis.SURVEYED) & (basis >= Basis.DEM)
    beside = (name is not CheckName.PITCH_OVER) & ~np.isnan(station_cell(case, *where))
    return np.where(surveyed, np.where(beside, np.uint8(Basis.DEM), np.uint8(Basis.SURVEYED)), basis)


def _tilts(case: Case, segment: Int64, points: tuple[Float64, Float64]) -> tuple[Float64, Float64]:
    """Give pitch and roll of the poses, rad, from the ground under the wheels; 0 where it is not known."""
    at_m, offset = points
    front_left, front_right, rear_left, rear_right = ground_at(
        case.scene.site.terrain.profiles, segment[:, None], at_m, offset
    ).T
    rise = np.nan_to_num(front_left + front_right - rear_left - rear_right) / 2.0
    pitch = np.arcsin(np.clip(rise / case.envelope.wheelbase_m, -1.0, 1.0))
    lean = np.nan_to_num(front_left - front_right + rear_left - rear_right) / 2.0
    track = 0.5 * (case.envelope.track_front_m + case.envelope.track_rear_m)
    return pitch, np.arctan(lean / track * np.cos(pitch))


def tip_weights(
    name: CheckName, size: tuple[float, float], tilts: tuple[Float64, Float64], lifted: NDArray[np.int8]
) -> Float64:
    """Give the derivatives of roll or pitch-over by the heights under the four wheels, rad/m, shape (rows, 4).

    Parameters
    ----------
    name
        ``roll`` or ``pitch_over``.
    size
        Wheelbase and mean track, m.
    tilts
        Pitch (+ nose up) and roll (+ right side down), rad, one a row.
    lifted
        The wheel in the air (``terms.Wheel``), −1 for none.
    """
    length, track = size
    pitch, roll = (tilt[:, None] for tilt in tilts)
    nose = np.cos(pitch) * np.array([0.5, 0.5, -0.5, -0.5]) / length
    sides = np.cos(pitch) * np.array([0.5, -0.5, 0.5, -0.5]) / track
    lean = np.cos(roll) ** 2 * sides - np.sin(roll) * np.cos(roll) * np.tan(pitch) * nose
    if name is CheckName.ROLL:
        weights = lean
    else:
        over = np.cos(roll) * nose / np.cos(pitch) ** 2 + np.sin(roll) * np.tan(pitch) * lean
        weights = over / (np.cos(roll) ** 2 + np.tan(pitch) ** 2)
    three = _on_three(name, size)
    for wheel in range(4):
        here = lifted == wheel
        weights[here, wheel] = 0.0
        weights[np.ix_(here, [3 - wheel, (wheel + 2) % 4, wheel ^ 1])] = three
    return np.asarray(weights)


def _on_three(name: CheckName, size: tuple[float, float]) -> Float64:
    """Give the derivatives on three wheels: across from the lifted one, on its own side, beside it; shape (3,)."""
    length, track = size
    if name is not CheckName.ROLL:
        return np.array([1.0, 0.0, -1.0]) / length
    return np.array([length / track + track / length, -length / track, -track / length]) / math.hypot(length, track)
