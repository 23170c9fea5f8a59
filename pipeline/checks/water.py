"""Ford: depth and flow of the water against the set-up."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.check import Case, Outcome, unknown_where
from pipeline.checks.obstacles import Things
from pipeline.terms import Basis, CheckName, ObstacleKind

__all__ = ["Ford"]

Float64 = NDArray[np.float64]
Texts = NDArray[np.object_]


@dataclass(frozen=True, slots=True)
class Ford:
    """Water on the trail: depth, m, against the smaller of fording depth and still-water limit; and its flow.

    With a known speed also depth × speed, m²/s, against the limit of the vehicle's class, and the speed against
    ``max_flow_m_s``; the worst of the three is told. Without a speed the water is taken as still, and the basis says
    so; a speed over its limit bars whether or not the depth is known. Limits of Australian Rainfall and Runoff,
    Project 10 Stage 2 (Shand et al. 2011): draft criteria for vehicles that stand in water, not endorsed by their
    authors as depths for driving, which the drivers' shares allow for.
    """

    name: CheckName = CheckName.FORD

    def evaluate(self, case: Case) -> Outcome:
        """Hold tagged fords and surveyed water against the set-up."""
        tags, segments = case.scene.tags, case.scene.length_m.size
        water = case.scene.things.of(ObstacleKind.WATER)
        pools, deepless = _pools(case, water, segments)
        tagged = _deep(case, np.where(tags.ford, tags.depth_m, np.nan))
        worst = tagged.worse_of(pools)
        wet = tags.ford | np.isin(np.arange(segments), water.row)
        known = ~np.isnan(worst.utilisation[:, 0])
        dry_basis = np.where(tags.surveyed, np.uint8(Basis.SURVEYED), np.uint8(Basis.ASSUMED))
        dry_note = np.where(tags.surveyed, "no water found", "no ford is tagged")
        dry = (~wet)[:, None]
        return replace(
            worst,
            demand=np.where(dry, 0.0, worst.demand),
            limit=np.where(dry, _depth_limit(case), worst.limit),
            utilisation=np.where(dry, 0.0, worst.utilisation),
            basis=np.where(dry, dry_basis[:, None], worst.basis),
            note=np.where(np.broadcast_to(dry, (segments, 2)), dry_note[:, None], ""),
            unknown=np.broadcast_to(
                unknown_where(
                    (deepless != "", deepless),
                    (wet & ~known, "a ford of unknown depth"),
                ),
                (segments, 2),
            ),
        )


def _depth_limit(case: Case) -> float:
    """Smaller of the maker's fording depth and the still-water limit of the class, m."""
    own = case.envelope.fording_depth_m
    return case.envelope.fording_still_m if own is None else min(own, case.envelope.fording_still_m)


def _deep(case: Case, depth_m: Float64) -> Outcome:
    """Hold tagged depths against the depth limit."""
    wide = np.column_stack([depth_m, depth_m])
    return Outcome.of(wide, np.array(_depth_limit(case)), "m", basis=Basis.TAG)


def _pools(case: Case, water: Things, segments: int) -> tuple[Outcome, Texts]:
    """Find the worst surveyed water of every segment, and what has no depth."""
    shape = (segments, 2)
    worst = Outcome.of(np.full(shape, np.nan), np.full(shape, np.nan), "m")
    deepless = np.full(segments, "", dtype=object)
    open_water = water.where(np.isnan(water.depth_m))
    for row, label, at in zip(open_water.row[::-1], open_water.label[::-1], open_water.at_m[::-1], strict=True):
        deepless[row] = f"{label} at {at:.1f} m has no depth"
    demands = (
        (water.depth_m, _depth_limit(case), "m"),
        (water.depth_m * water.flow_m_s, case.envelope.fording_flow_m2_s, "m²/s"),
        (water.flow_m_s, case.limits.max_flow_m_s, "m/s"),
    )
    for demand, limit, unit in demands:
        worst = worst.worse_of(_deepest(water, demand, (segments, limit), unit))
    return worst, deepless


def _deepest(water: Things, demand: Float64, sizes: tuple[int, float], unit: str) -> Outcome:
    """Find the largest demand of every segment; where nobody measured the flow, still water is an assumption."""
    segments, limit = sizes
    most, at_m = np.full((segments, 2), np.nan), np.full((segments, 2), np.nan)
    basis = np.full((segments, 2), Basis.SURVEYED, dtype=np.uint8)
    order = np.argsort(np.nan_to_num(demand, nan=-1.0), kind="stable")
    order = order[~np.isnan(demand[order])]
    most[water.row[order]] = demand[order][:, None]
    at_m[water.row[order]] = water.at_m[order][:, None]
    assumed = np.isnan(water.flow_m_s[order])
    basis[water.row[order]] = np.where(assumed, np.uint8(Basis.ASSUMED), np.uint8(Basis.SURVEYED))[:, None]
    return Outcome.of(most, np.array(limit), unit, at_m=at_m, basis=basis)
