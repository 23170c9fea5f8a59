"""Ford: depth and flow of the water, as it is now, against the set-up."""

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.check import Case, Outcome, ratio, unknown_where
from pipeline.checks.ford.hazard import hazard_class
from pipeline.checks.ford.places import EXPECTED, NOTICED_M, Waters, waters_of
from pipeline.terms import Basis, CheckName

__all__ = ["CAVEAT", "Ford"]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]
Texts = NDArray[np.object_]
Flags = NDArray[np.bool_]

CAVEAT = "limits are draft criteria for standing vehicles, not depths to drive in"
"""What Project 10 says of its own limits, for a sentence."""
_SLACK = 1e-6
STREAM_M2 = 100_000.0
"""Catchment from which on a stream may run all year where nobody has looked. Judgement, no source: headwater streams
that do begin at some ten hectares in wet country."""
SEEN_M = 0.005
"""A rise of less reads as none."""


@dataclass(frozen=True, slots=True)
class Ford:
    """Water on the trail: depth, m, against the smaller of fording depth and still-water limit; and its flow.

    The water is that of the day: as surveyed or tagged, and what the rain has added since (``ford.places``). With a
    known speed also depth × speed, m²/s, against the limit of the vehicle's class, and the speed against
    ``max_flow_m_s``; the worst of the three is told. Without a speed the water is taken as still, and the basis says
    so; a speed over its limit bars whether or not the depth is known. Limits of Australian Rainfall and Runoff,
    Project 10 Stage 2 (Shand et al. 2011): draft criteria for vehicles that stand in water, not endorsed by their
    authors as depths for driving, which the drivers' shares allow for.

    Water that only the elevation model lets one expect asks what it is estimated at; where that is more than the driver
    may use, the check cannot be made: nobody has seen it, and a culvert may take it. Nor can it in any weather where
    the flow path of a stream (:data:`STREAM_M2`) crosses a trail that nobody has surveyed and no tag calls a ford.
    """

    name: CheckName = CheckName.FORD

    def evaluate(self, case: Case) -> Outcome:
        """Hold the water on every segment against the set-up."""
        tags, segments = case.scene.tags, case.scene.length_m.size
        waters = waters_of(case.scene)
        expected = np.isin(waters.label, EXPECTED)
        stream = expected & (waters.catchment_m2 >= STREAM_M2) & (waters.label == EXPECTED[0])
        stream &= ~tags.surveyed[waters.row]
        take = ~expected | stream | (waters.depth_now_m >= NOTICED_M)
        waters, stream = waters.where(take), stream[take]
        wet = np.isin(np.arange(segments), waters.row)
        unseen = stream | _unseen(waters, case)
        deepless, open_water = _deepless(waters, segments), _open(waters, unseen, stream, segments)
        worst = _worst(waters.where(~unseen), case)
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
                    (open_water != "", open_water),
                    (wet & ~known, "a ford of unknown depth"),
                ),
                (segments, 2),
            ),
        )


def _depth_limit(case: Case) -> float:
    """Smaller of the maker's fording depth and the still-water limit of the class, m."""
    own = case.envelope.fording_depth_m
    return case.envelope.fording_still_m if own is None else min(own, case.envelope.fording_still_m)


def _asked(waters: Waters, case: Case) -> tuple[Float64, Float64, Float64]:
    """Give depth, depth × speed and speed of every place, their limits, and the share of each that is used."""
    demands = np.stack([waters.depth_now_m, waters.depth_now_m * waters.flow_now_m_s, waters.flow_now_m_s])
    limits = np.array([_depth_limit(case), case.envelope.fording_flow_m2_s, case.limits.max_flow_m_s])
    return demands, limits, ratio(demands, np.broadcast_to(limits[:, None], demands.shape))


def _unseen(waters: Waters, case: Case) -> Flags:
    """Tell which places nobody has seen under water, where more of it is expected than the driver may use."""
    share = float(case.limits.shares(case.envelope.driver, [CheckName.FORD.value])[0])
    most = np.nan_to_num(_asked(waters, case)[2], nan=0.0).max(axis=0)
    return np.asarray(np.isin(waters.label, EXPECTED) & (most > share))


def _open(waters: Waters, unseen: Flags, stream: Flags, segments: int) -> Texts:
    """Say of each segment what may stand or run in the first of its places that nobody has seen under water."""
    texts = np.full(segments, "", dtype=object)
    for k in np.flatnonzero(unseen)[::-1]:
        at, now, area = waters.at_m[k], waters.depth_now_m[k], waters.catchment_m2[k] / 1e4
        place = f"a {waters.label[k]} at {at:.0f} m"
        texts[waters.row[k]] = (
            f"{place} drains {area:.1f} ha: a stream may run there in any weather, and nobody has looked"
            if stream[k]
            else f"{place} may be {now:.2f} m deep after this rain on {area:.1f} ha; "
            "nobody has seen it so, and a culvert or a drain may take it"
        )
    return texts


def _worst(waters: Waters, case: Case) -> Outcome:
    """Find what the water of every segment asks most of: depth, depth × speed, or speed."""
    demands, limits, used = _asked(waters, case)
    which = np.nan_to_num(used, nan=-1.0).argmax(axis=0)
    most = used[which, np.arange(which.size)]
    place = _first_worst(waters.row, most, case.scene.length_m.size)
    none, at = place < 0, np.maximum(place, 0)

    def told(values: Float64) -> Float64:
        """Lay values of places out by segment, for both directions."""
        column = np.where(none, np.nan, values[at]) if values.size else np.full(place.size, np.nan)
        return np.column_stack([column, column])

    units = np.array(["m", "m²/s", "m/s"], dtype=object)
    outcome = Outcome.of(
        told(demands[which, np.arange(which.size)]),
        told(limits[which]),
        "m",
        at_m=told(waters.at_m),
        basis=np.nan_to_num(told(waters.basis.astype(np.float64)), nan=0.0).astype(np.uint8),
        more=_both(np.where(none, "", _words(waters, case)[at] if waters.row.size else "")),
    )
    return replace(outcome, unit=_both(np.where(none, "m", units[which[at]] if which.size else "m")))


def _first_worst(row: Int64, used: Float64, segments: int) -> Int64:
    """Find the place of each segment that uses most of its limit, the first of equals; −1 where none is known."""
    known = np.flatnonzero(~np.isnan(used))
    order = known[np.lexsort((-known, used[known]))]
    place = np.full(segments, -1)
    place[row[order]] = order
    return place


def _deepless(waters: Waters, segments: int) -> Texts:
    """Name the first surveyed water of each segment that has no depth."""
    texts = np.full(segments, "", dtype=object)
    for k in np.flatnonzero(np.isnan(waters.depth_m) & np.isfinite(waters.at_m))[::-1]:
        texts[waters.row[k]] = f"{waters.label[k]} at {waters.at_m[k]:.1f} m has no depth"
    return texts


def _words(waters: Waters, case: Case) -> Texts:
    """Say of every place what its depth rests on, and its general hazard class."""
    hazard = hazard_class(waters.depth_now_m, waters.flow_now_m_s)
    seen = np.where(case.scene.tags.surveyed[waters.row], "dry when surveyed", "which nobody has surveyed")
    return np.array([_told(waters, k, str(hazard[k]), str(seen[k])) for k in range(waters.row.size)], dtype=object)


def _told(waters: Waters, k: int, hazard: str, seen: str) -> str:
    """Tell one place; *seen* says what a survey found where water is only expected."""
    known, now = waters.depth_m[k], waters.depth_now_m[k]
    if np.isnan(now):
        return CAVEAT
    area = waters.catchment_m2[k]
    catchment = "an assumed catchment" if np.isnan(area) else f"{area / 1e4:.1f} ha"
    parts = []
    if waters.label[k] in EXPECTED:
        parts = [f"{waters.label[k]} from {catchment}, estimated after rain, {seen}"]
    elif now - known >= SEEN_M:
        source = "tagged" if waters.id[k] is None else "surveyed"
        rounded_up = math.ceil(now * 100.0 - _SLACK) / 100.0
        parts = [f"{known:.2f} m as {source}, {rounded_up:.2f} m now by the rain on {catchment}"]
    return "; ".join((*parts, f"flood hazard {hazard} (AIDR 2017)", CAVEAT))


def _both(column: Texts) -> Texts:
    """Give both directions the same texts."""
    return np.column_stack([column, column]).astype(object)
