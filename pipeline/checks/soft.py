"""Soft ground: the pressure of the tyres against what the ground bears."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.check import Case, Outcome
from pipeline.checks.obstacles import by_tyre
from pipeline.ground.model import Bearing
from pipeline.terms import Basis, CheckName, ObstacleKind
from pipeline.vehicle.pressure import ground_pressure_kpa

__all__ = ["Soft"]

Float64 = NDArray[np.float64]
UInt8 = NDArray[np.uint8]
Texts = NDArray[np.object_]


@dataclass(frozen=True, slots=True)
class Soft:
    """Nominal ground pressure of the most loaded wheel, kPa, against the low value of what the ground bears.

    The ground of a segment bears what its surface does, as wet as it is; in a hollow what that does a step wetter; a
    surveyed soft spot that a tyre may meet what the settings say of one. The worst counts. The typical value of the
    same ground is told beside it.
    """

    name: CheckName = CheckName.SOFT

    def evaluate(self, case: Case) -> Outcome:
        """Hold the set-up's tyres against the ground of every segment."""
        ground = case.scene.site.ground
        segments = case.scene.length_m.size
        source = np.where(ground.assumed, np.uint8(Basis.ASSUMED), np.uint8(Basis.TAG))
        wet = [f"{word.value} {name}" for word, name in zip(ground.wet, ground.softest, strict=True)]
        lowest = _on(case, ground.bearing, np.full(segments, np.nan), source, _texts("on ", wet))
        sunk = _texts("in a hollow of ", ground.softest)
        hollow = _on(case, ground.hollow_bearing, ground.lie.hollow_m, source, sunk)
        at_m, label = _soft_spot(case, segments)
        there = np.isfinite(at_m)
        spot = Bearing(*(np.where(there, kpa, np.nan) for kpa in ground.spot_bearing))
        surveyed = np.full(segments, Basis.SURVEYED, dtype=np.uint8)
        return lowest.worse_of(hollow).worse_of(_on(case, spot, at_m, surveyed, _texts("in ", label)))


def _texts(before: str, words: Sequence[str] | Texts) -> Texts:
    """Put the same words before each of some."""
    return np.array([before + word for word in words], dtype=object)


def _on(case: Case, bearing: Bearing, at_m: Float64, basis: UInt8, where: Texts) -> Outcome:
    """Hold the tyres against one kind of ground, the same in both directions."""
    shape = (at_m.size, 2)
    return Outcome.of(
        np.full(shape, ground_pressure_kpa(case.envelope)),
        bearing.low[:, None],
        "kPa",
        at_m=at_m[:, None],
        basis=basis[:, None],
        limit_typical=bearing.typical[:, None],
        more=where[:, None],
    )


def _soft_spot(case: Case, segments: int) -> tuple[Float64, Texts]:
    """Find the first soft spot of each segment that a tyre may meet: its chainage, NaN for none, and its name."""
    spots = case.scene.things.of(ObstacleKind.SOFT)
    left, right = by_tyre(spots, case.envelope, case.limits.side_margin_m / 2.0)
    spots = spots.where(left | right)
    at_m, label = np.full(segments, np.nan), np.full(segments, "", dtype=object)
    at_m[spots.row[::-1]], label[spots.row[::-1]] = spots.at_m[::-1], spots.label[::-1]
    return at_m, label
