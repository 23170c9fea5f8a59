"""A change in words: what it does to set-up and ground, and why it changes a verdict."""

import math
from collections.abc import Hashable, Iterator, Mapping
from typing import Any, NamedTuple, Self

import numpy as np

from pipeline.checks.limits import Limits
from pipeline.checks.sentence import STRAIGHT_PER_M, WORDS
from pipeline.ground.model import Ground
from pipeline.terms import CheckName
from pipeline.vehicle.envelope_model import Envelope

__all__ = ["Side", "change_sentence", "effect_text"]

ALIKE = 0.005
"""Figures that differ by less than this share read the same."""
_CURVE = "1/m"
_TOLD = (CheckName.ROLL, CheckName.CLIMB, CheckName.DESCENT, CheckName.SLIDE, CheckName.APPROACH)
"""Checks whose shares stand for those of a driver: one of each kind."""


class Side(NamedTuple):
    """One check before or after a change."""

    demand: float
    limit: float
    share: float
    """Share of the limit that the driver may use."""
    used: float
    """Utilisation ÷ share; NaN when not known."""
    p_over: float
    unit: str
    known: bool
    reason: str

    @classmethod
    def of(cls, row: Mapping[Hashable, Any], share: float) -> Self:
        """Take one side from a row of CHECKS."""
        demand, limit, utilisation, p_over = (
            float(str(row[name])) for name in ("demand", "limit", "utilisation", "p_over")
        )
        used, known = utilisation / share, not math.isnan(utilisation)
        return cls(demand, limit, share, used, p_over, str(row["unit"]), known, str(row["reason"]))


def change_sentence(check: CheckName, before: Side, after: Side) -> str:
    """Say in one line why a verdict changes: how much of the limit is used, and which of its parts moved.

    Parameters
    ----------
    check
        The check that makes the difference.
    before, after
        Its figures.
    """
    if not after.known:
        return after.reason
    if not before.known:
        return f"{after.reason}; before: {before.reason}"
    word = WORDS.get(check, check.value.replace("_", " "))
    used = f"{_per_cent(before.used)} → {_per_cent(after.used)} of what the driver may use"
    return f"{word} {used}: {'; '.join(_causes(before, after)) or 'the same figures'}"


def _causes(before: Side, after: Side) -> Iterator[str]:
    """Yield what moved, largest cause first in the order of the sum."""
    if before.unit != after.unit:
        yield f"before {_share_of(before)}, after {_share_of(after)}"
        return
    if _differ(before.limit, after.limit):
        yield f"limit {_pair(before.limit, after.limit, before.unit)}"
    if _differ(before.demand, after.demand):
        yield f"demand {_pair(before.demand, after.demand, before.unit)}"
    if _differ(before.share, after.share):
        yield f"the driver may use {_per_cent(before.share)} → {_per_cent(after.share)} of the limit"
    chances = [_chance(p) for p in (before.p_over, after.p_over) if not math.isnan(p)]
    if len(set(chances)) > 1:
        yield f"{' → '.join(chances)} chance of being over the limit"


def _share_of(side: Side) -> str:
    demand, limit = (_figure(value, side.unit, _places(side.unit)) for value in (side.demand, side.limit))
    return f"{demand} of {limit}"


def _differ(one: float, other: float) -> bool:
    return abs(other - one) > ALIKE * max(abs(one), abs(other))


def _pair(one: float, other: float, unit: str) -> str:
    """Write two figures with as many digits as tell them apart."""
    least = _places(unit)
    written = [(_figure(one, unit, places), _figure(other, unit, places)) for places in range(least, least + 3)]
    return " → ".join(next((pair for pair in written if pair[0] != pair[1]), written[0]))


def _places(unit: str) -> int:
    """Give the digits behind the point that a figure usually has."""
    return 1 if unit in ("°", _CURVE) else 2


def _figure(value: float, unit: str, places: int) -> str:
    """Write a figure; what would read as nothing gets the digits that it has, a curvature is told as its radius."""
    if unit == _CURVE:
        return f"radius {1.0 / value:.{places}f} m" if value > STRAIGHT_PER_M else "nearly straight"
    told = f"{value:.1g}" if 0.0 < abs(value) < 0.5 * 10.0**-places else f"{value:.{places}f}"
    return f"{told}°" if unit == "°" else f"{told} {unit}".rstrip()


def _chance(p: float) -> str:
    """Write a probability in whole per cent, never as none or all."""
    return "under 1 %" if p < 0.01 else "over 99 %" if p > 0.99 else f"{100.0 * p:.0f} %"


def _per_cent(share: float) -> str:
    """Round up, as everywhere, so that an overrun never reads as the limit."""
    return f"{math.ceil(100.0 * share - 1e-6)} %"


def effect_text(before: Envelope, after: Envelope, grounds: tuple[Ground, Ground | None], limits: Limits) -> str:
    """Say what a change does, with the figures that the checks work with.

    Parameters
    ----------
    before, after
        The set-up as it stands and as it would be.
    grounds
        The ground as it is; and after the change, ``None`` where it stays.
    limits
        Shares of the drivers.
    """
    told = [*_load_effects(before, after), *_driver_effects(before, after, limits), *_ground_effects(*grounds)]
    return "; ".join(told) or "none of the figures changes"


def _load_effects(before: Envelope, after: Envelope) -> Iterator[str]:
    """Yield what loads and suspension do to mass, centre of gravity and side view."""
    if before.mass_kg != after.mass_kg:
        yield f"mass {before.mass_kg:.0f} → {after.mass_kg:.0f} kg"
    if _moved(before.cg_m[2], after.cg_m[2]):
        way = "higher" if after.cg_m[2] > before.cg_m[2] else "lower"
        yield f"centre of gravity {abs(after.cg_m[2] - before.cg_m[2]):.3f} m {way}"
    if _moved(before.cg_m[1], after.cg_m[1]):
        side = "left" if after.cg_m[1] > before.cg_m[1] else "right"
        yield f"{abs(after.cg_m[1] - before.cg_m[1]):.3f} m farther {side}"
    if _moved(before.roll_limit_deg, after.roll_limit_deg):
        yield f"static tip angle across {before.roll_limit_deg:.1f}° → {after.roll_limit_deg:.1f}°"
    if _moved(before.clearance_m, after.clearance_m):
        yield f"running clearance {before.clearance_m:.2f} → {after.clearance_m:.2f} m"
    if _moved(before.height_m, after.height_m):
        yield f"overall height {before.height_m:.2f} → {after.height_m:.2f} m"


def _moved(one: float, other: float) -> bool:
    """Tell whether two figures differ in the last place that is printed."""
    return abs(other - one) >= 5e-4


def _driver_effects(before: Envelope, after: Envelope, limits: Limits) -> Iterator[str]:
    """Yield what another driver may use."""
    if before.driver is after.driver:
        return
    names = [check.value for check in _TOLD]
    pairs = zip(names, limits.shares(before.driver, names), limits.shares(after.driver, names), strict=True)
    told = ", ".join(f"{name} {_per_cent(one)} → {_per_cent(other)}" for name, one, other in pairs if one != other)
    yield f"a {after.driver.value} driver instead of {before.driver.value}: share of the limit that may be used: {told}"
    ours, theirs = limits.motion[before.driver], limits.motion[after.driver]
    if ours.speed_kmh != theirs.speed_kmh:
        yield f"speed {ours.speed_kmh:.0f} → {theirs.speed_kmh:.0f} km/h"
    if ours.steering_deg_s != theirs.steering_deg_s:
        yield f"front wheels turned at {ours.steering_deg_s:.0f} → {theirs.steering_deg_s:.0f} °/s"


def _ground_effects(before: Ground, after: Ground | None) -> Iterator[str]:
    """Yield what other ground does to the grip of each surface."""
    if after is None:
        return
    yield f"ground {before.wetness.value} → {after.wetness.value}"
    surfaces = np.array(before.surface, dtype=object)
    low = [
        f"{name} {before.mu_low[surfaces == name].min():.2f} → {after.mu_low[surfaces == name].min():.2f}"
        for name in dict.fromkeys(before.surface)
        if _differ(float(before.mu_low[surfaces == name].min()), float(after.mu_low[surfaces == name].min()))
    ]
    if low:
        yield f"low adhesion {', '.join(low)}"
