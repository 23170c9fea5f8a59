"""The protocol of a check, and what every check hands back."""

from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.limits import Limits
from pipeline.checks.passing.choice import Choice
from pipeline.checks.rolling.four_wheels import FourSweep
from pipeline.checks.rolling.swept import SegmentSweep
from pipeline.checks.room.found import Room
from pipeline.checks.scene import Scene
from pipeline.terms import Basis, CheckName
from pipeline.vehicle.envelope_model import Envelope

__all__ = ["Case", "Check", "Outcome", "ratio", "unknown_where"]

Float64 = NDArray[np.float64]
UInt8 = NDArray[np.uint8]
Texts = NDArray[np.object_]
Flags = NDArray[np.bool_]

STUCK = 10.0
"""Utilisation that stands for a limit of nothing at all."""


@dataclass(frozen=True, slots=True)
class Case:
    """One set-up on one site."""

    scene: Scene
    envelope: Envelope
    limits: Limits
    sweep: SegmentSweep
    """What rolling the set-up over the profiles found, in side view."""
    four: FourSweep
    """What rolling it on its four wheels found."""
    choice: Choice
    """Its way past every thing that lies in its way."""
    room: Room
    """The line that leaves it the most room, and what is left beside it."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a check found; arrays of shape (segments, 2), column 0 in the with direction, 1 against."""

    demand: Float64
    """What the ground asks at the worst point."""
    limit: Float64
    """What the set-up can do there."""
    utilisation: Float64
    """Demand ÷ limit of what is known; NaN when nothing is."""
    at_m: Float64
    """Chainage of the worst point; NaN when there is none."""
    basis: UInt8
    """``terms.Basis`` of the demand."""
    unknown: Texts
    """Why the check cannot be made, or not all along; empty where it can."""
    unit: Texts
    """Unit of demand and limit."""
    note: Texts
    """A sentence to stand in place of the numbers; empty where the numbers speak."""
    limit_typical: Float64
    """The limit at the typical value of grip, where ``limit`` is that at its low value; NaN elsewhere."""
    more: Texts
    """What the sentence says besides, after the numbers; empty where there is nothing."""

    @classmethod
    def of(cls, demand: Float64, limit: Float64, unit: str, **parts: NDArray[np.generic] | Basis) -> "Outcome":
        """Make an outcome; what *parts* do not say is worked out or empty.

        Parameters
        ----------
        demand, limit
            Shape (segments, 2), or anything that broadcasts to it.
        unit
            Unit of both.
        parts
            ``utilisation``, ``at_m``, ``basis``, ``unknown``, ``note``, ``limit_typical``, ``more``.
        """
        shape = demand.shape
        wide = np.broadcast_to(limit, shape).astype(np.float64)
        empty = np.full(shape, "", dtype=object)
        return cls(
            demand=demand,
            limit=wide,
            utilisation=np.asarray(parts.get("utilisation", ratio(demand, wide)), dtype=np.float64),
            at_m=np.broadcast_to(np.asarray(parts.get("at_m", np.nan), dtype=np.float64), shape),
            basis=np.broadcast_to(np.asarray(parts.get("basis", Basis.NONE), dtype=np.uint8), shape),
            unknown=np.broadcast_to(np.asarray(parts.get("unknown", empty), dtype=object), shape),
            unit=np.full(shape, unit, dtype=object),
            note=np.broadcast_to(np.asarray(parts.get("note", empty), dtype=object), shape),
            limit_typical=np.broadcast_to(np.asarray(parts.get("limit_typical", np.nan), dtype=np.float64), shape),
            more=np.broadcast_to(np.asarray(parts.get("more", empty), dtype=object), shape),
        )

    def worse_of(self, other: "Outcome") -> "Outcome":
        """Take at each place the outcome with the larger utilisation; both reasons for not knowing are kept."""
        takes = np.nan_to_num(other.utilisation, nan=-1.0) > np.nan_to_num(self.utilisation, nan=-1.0)
        names = ("demand", "limit", "utilisation", "at_m", "basis", "unit", "note", "limit_typical", "more")
        picked = {name: np.where(takes, getattr(other, name), getattr(self, name)) for name in names}
        unknown = np.where(self.unknown == "", other.unknown, self.unknown)
        return replace(self, **picked, unknown=unknown)


class Check(Protocol):
    """One limit that a segment can press on."""

    @property
    def name(self) -> CheckName:
        """Which limit."""
        ...

    def evaluate(self, case: Case) -> Outcome:
        """Hold what the ground asks along every segment, in both directions, against what the set-up can do."""
        ...


def ratio(demand: Float64, limit: Float64) -> Float64:
    """Demand ÷ limit; NaN where either is missing, :data:`STUCK` where the limit leaves nothing."""
    left = limit > 0.0
    quotient: Float64 = np.divide(demand, limit, out=np.full(demand.shape, STUCK), where=left)
    quotient[np.isnan(demand) | np.isnan(limit)] = np.nan
    return quotient


def unknown_where(*reasons: tuple[Flags, Texts | str]) -> Texts:
    """Give each segment the first reason that holds for it, shape (segments, 1); empty where none does."""
    flags = [np.asarray(flag) for flag, _ in reasons]
    texts = [np.broadcast_to(np.asarray(text, dtype=object), flags[0].shape) for _, text in reasons]
    chosen = np.full(flags[0].shape, "", dtype=object)
    for flag, text in zip(reversed(flags), reversed(texts), strict=True):
        chosen = np.where(flag, text, chosen)
    return np.asarray(chosen, dtype=object)[:, None]
