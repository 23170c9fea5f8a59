"""How far the demands of a pose on four wheels may be off: roll, tipping lengthwise, twist.

Derivatives by the heights under the wheels, with the wheelbase L, the mean track T, pitch β and roll φ of the pose:

- twist: 1, −1, −1, 1 for the wheels FL, FR, RL, RR;
- tipping sideways, all wheels on the ground: ± cos²φ · cosβ ÷ 2T, as the body leans as the mean of both axles and the
  demand over a side edge is the roll itself;
- tipping lengthwise: ± cosβ ÷ 2L;
- on three wheels the other axle alone carries the roll, and the edge between the wheel beside the lifted one and the
  wheel of its own side decides: with D² = L² + T² the weights are (L÷T + T÷L) ÷ D across from the lifted wheel,
  − L ÷ (T·D) on its own side and − T ÷ (L·D) beside it; lengthwise ± 1 ÷ L for the wheels beside and across.

Left out: what the warp of the frame moves the edges by, and the rise of the lengthwise demand on ground that also falls
to the side (a few hundredths).
"""

import math

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.beside import ground_at
from pipeline.checks.check import Case
from pipeline.checks.doubt_heights import Stance, height_sd, station_cell, station_near
from pipeline.checks.four_wheels import PITCH, ROLL, TWIST
from pipeline.terms import Basis, CheckName

__all__ = ["MEASURE", "four_wheel_sd"]

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
        weights = np.degrees(_tip_weights(name, (envelope.wheelbase_m, track), tilts, lifted))
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
    """Give the cosines of pitch and roll of the poses, from the ground under the wheels; 1 where it is not known."""
    at_m, offset = points
    ground = ground_at(case.scene.site.terrain.profiles, segment[:, None], at_m, offset)
    along = np.abs(at_m[:, 0] - at_m[:, 2]) / case.envelope.wheelbase_m
    pitch = np.clip(np.nan_to_num(along, nan=1.0), 0.0, 1.0)
    across = 0.5 * (ground[:, 0] - ground[:, 1] + ground[:, 2] - ground[:, 3]) / np.abs(offset[:, 1] - offset[:, 0])
    roll = 1.0 / np.hypot(1.0, np.nan_to_num(across * pitch))
    return pitch, roll


def _tip_weights(
    name: CheckName, size: tuple[float, float], tilts: tuple[Float64, Float64], lifted: NDArray[np.int8]
) -> Float64:
    """Give the derivatives of roll or pitch by the heights under the four wheels, rad/m, shape (rows, 4)."""
    length, track = size
    pitch, roll = tilts
    diagonal = math.hypot(length, track)
    if name is CheckName.ROLL:
        standing = np.array([0.5, -0.5, 0.5, -0.5]) / track
        across, behind, beside = length / track + track / length, -length / track, -track / length
        three, scale = np.array([across, behind, beside]) / diagonal, roll**2 * pitch
    else:
        standing = np.array([0.5, 0.5, -0.5, -0.5]) / length
        three, scale = np.array([1.0, 0.0, -1.0]) / length, pitch
    weights = np.tile(standing, (lifted.size, 1))
    for wheel in range(4):
        here = lifted == wheel
        weights[here, wheel] = 0.0
        weights[np.ix_(here, [3 - wheel, (wheel + 2) % 4, wheel ^ 1])] = three
    return weights * scale[:, None]
