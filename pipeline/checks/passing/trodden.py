"""The side view over one trodden thing on level ground: whether the body gets over it, how far springs may give.

The ground there is not level, and the sweep over the profiles has the last word; this tells the ways past a thing
apart, whatever stands near it.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.limits import Limits
from pipeline.checks.obstacles import RUT_LENGTH_M, Things, as_bumps
from pipeline.checks.side_body import body_of
from pipeline.kernels.obstacle_bumps import STEP, Bumps, lay_bumps
from pipeline.kernels.pose import sweep
from pipeline.kernels.pose_records import Runs, Swept
from pipeline.terms import Basis, CheckName
from pipeline.vehicle.envelope_model import Envelope

__all__ = ["SIDE_CHECKS", "OverIt", "nothing_over", "over_trodden"]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]
Flags = NDArray[np.bool_]

SIDE_CHECKS = (CheckName.APPROACH, CheckName.BREAKOVER, CheckName.DEPARTURE, CheckName.BELLY)
"""In the order of the kernel."""
GIVEN_M = (0.0, 0.02, 0.05, 0.10)
"""How far the body is let down, m: close together where little is left. What lies between them is interpolated, on the
careful side because utilisation rises ever faster."""
_STEP_M = 0.1
_STRIDE = 2
_LEVEL_M = 1.0
"""Level ground before and behind the vehicle, m."""


@dataclass(frozen=True, slots=True)
class OverIt:
    """What the side view says; arrays of shape (things, 2), column 0 in the digitised direction."""

    used: Float64
    """Worst utilisation ÷ share of the driver."""
    check: Int64
    """Which of :data:`SIDE_CHECKS` that is."""
    demand: Float64
    """What is asked there, rad; m of the belly."""
    limit: Float64
    """What the set-up has for it, likewise."""
    give_m: Float64
    """How far the springs may give before one is over, m; at most the last of :data:`GIVEN_M`, 0 where one is."""


def nothing_over(things: int) -> OverIt:
    """Say of so many things that no set-up is known to get over them."""
    shape = (things, 2)
    blank = np.full(shape, np.nan)
    return OverIt(np.full(shape, np.inf), np.zeros(shape, dtype=np.int64), blank, blank.copy(), np.zeros(shape))


def over_trodden(things: Things, lift: Float64, under: Flags, envelope: Envelope, limits: Limits) -> OverIt:
    """Roll a set-up over each thing.

    Parameters
    ----------
    things
        Of known height.
    lift
        Share of its height by which the middle of an axle rises or sinks.
    under
        The body passes over it too.
    envelope
        The set-up.
    limits
        Required gap, reach of a step, shares of the driver.
    """
    count = things.row.size
    if count == 0:
        return nothing_over(0)
    bumps = as_bumps(things, (np.arange(count), np.zeros(count), np.ones(count, dtype=np.int64)), limits.step_fade_m)
    whole = np.where(np.isin(bumps.shape, (STEP,)), 0.0, np.minimum(bumps.length, _longest(envelope, limits)))
    looks = np.column_stack([bumps.height, whole, bumps.shape, lift, under])
    kinds, which = np.unique(looks, axis=0, return_inverse=True)
    swept = _swept(kinds, envelope, limits, GIVEN_M[:1])[0]
    shares = limits.shares(envelope.driver, SIDE_CHECKS)
    used = swept.utilisation / shares
    check = used.argmax(axis=-1)
    worst = np.full((len(GIVEN_M), *check.shape), np.inf)
    worst[0] = used.max(axis=-1)
    passes = (worst[0] <= 1.0).any(axis=-1)
    if passes.any():
        lower = _swept(kinds[passes], envelope, limits, GIVEN_M[1:])
        worst[1:, passes] = [(one.utilisation / shares).max(axis=-1) for one in lower]
    demand, limit = (np.take_along_axis(part, check[..., None], -1)[..., 0] for part in (swept.demand, swept.limit))
    back = which.ravel()
    return OverIt(worst[0][back], check[back], demand[back], limit[back], _give(worst)[back])


def _longest(envelope: Envelope, limits: Limits) -> float:
    """Length from which a longer thing changes nothing: the whole vehicle is in it."""
    vehicle = envelope.length_front_m + envelope.wheelbase_m + envelope.length_rear_m
    return max(vehicle + 2.0 * limits.step_fade_m + 1.0, RUT_LENGTH_M)


def _swept(kinds: Float64, envelope: Envelope, limits: Limits, given: Sequence[float]) -> list[Swept]:
    """Roll over each of *kinds* (height, length, shape, lift, under) with the body let down by each of *given*."""
    height, length, shape, lift, under = np.ascontiguousarray(kinds.T)
    count = height.size
    vehicle = envelope.length_front_m + envelope.wheelbase_m + envelope.length_rear_m
    half = np.ceil((vehicle + float(length.max()) / 2.0 + limits.step_fade_m + _LEVEL_M) / _STEP_M) * _STEP_M
    samples = 2 * round(half / _STEP_M) + 1
    offsets = np.arange(count + 1, dtype=np.int64) * samples
    start = np.full(count, -half)
    x = start[0] + np.arange(samples) * _STEP_M
    fade = limits.step_fade_m
    # The elevation model shows a step as a slope; the shape of a step sharpens that.
    smeared = np.where((shape == STEP)[:, None], np.clip((x / fade + 1.0) / 2.0, 0.0, 1.0) * height[:, None], 0.0)
    basis = np.full(count * samples, Basis.SURVEYED, dtype=np.uint8)
    bumps = Bumps(
        run=np.arange(count),
        at=np.zeros(count),
        height=height,
        length=length,
        shape=shape.astype(np.int64),
        basis=np.full(count, Basis.SURVEYED, dtype=np.uint8),
        fade=fade,
    )
    ground = (smeared.ravel(), basis)
    wheel = lay_bumps(ground, offsets, start, _STEP_M, bumps._replace(height=height * lift))[0]
    below = lay_bumps(ground, offsets, start, _STEP_M, bumps.take(under > 0.0))[0]
    own = np.zeros(count), np.full(count, 2.0 * half)
    runs = Runs(offsets, wheel, below, basis, *own, _STEP_M)
    return [sweep(runs, body_of(envelope, limits, down), _STRIDE) for down in given]


def _give(worst: Float64) -> Float64:
    """Find how far the body may be let down before the worst utilisation is 1, m."""
    given = np.array(GIVEN_M)[:, None, None]
    over = worst > 1.0
    first = np.where(over.any(axis=0), over.argmax(axis=0), len(GIVEN_M))
    before = np.clip(first - 1, 0, len(GIVEN_M) - 2)[None]
    low, high = (np.take_along_axis(worst, before + k, axis=0)[0] for k in (0, 1))
    from_m, to_m = (np.take_along_axis(np.broadcast_to(given, worst.shape), before + k, axis=0)[0] for k in (0, 1))
    share = np.divide(1.0 - low, high - low, out=np.zeros(low.shape), where=(high > low) & np.isfinite(low))
    between = from_m + share * (to_m - from_m)
    return np.where(first == 0, 0.0, np.where(first == len(GIVEN_M), GIVEN_M[-1], between))
