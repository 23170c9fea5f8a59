"""Writes loops that were found into the tables LOOPS and LEGS."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from shapely import LineString, MultiLineString

from pipeline.loops.day.timeline import timeline
from pipeline.loops.moves import sum_up
from pipeline.loops.plan import Plan
from pipeline.loops.solve.hunt import Answer
from pipeline.loops.value.objective import UNITS_PER_POINT
from pipeline.survey.model import Network
from pipeline.tables import LEGS, LOOPS, empty, validate
from pipeline.terms import Direction, Objective

__all__ = ["GOES_ROUND", "LoopRecord", "assemble", "make_record"]

DM = 10.0
GOES_ROUND = "goes round"
"""Stands for the verdict of a set-up that takes a bypass."""


@dataclass(frozen=True, slots=True)
class LoopRecord:
    """One loop as rows of the tables."""

    row: dict[str, object]
    """A row of LOOPS without its geometry."""
    legs: list[dict[str, object]]
    """Rows of LEGS."""


def make_record(plan: Plan, answer: Answer, rank: int) -> LoopRecord:
    """Sum up one loop from the unrounded values of its moves."""
    request = plan.request
    moves = [plan.moves[number] for number in answer.numbers]
    sums = [sum_up(move, plan.traversals, plan.terms) for move in moves]
    unit = DM if request.objective is Objective.SAFEST else float(UNITS_PER_POINT)
    value, bound = answer.value / unit, answer.bound / unit
    difference = abs(bound - value)
    row: dict[str, object] = {
        "loop": request.name,
        "rank": rank,
        "objective": request.objective.value,
        "length_m": sum(one.length_m for one in sums),
        "time_min": sum(one.minutes for one in sums),
        "worst_utilisation": max(one.utilisation for one in sums),
        "exposure": sum(one.exposure_m for one in sums),
        "value": value,
        "bound": bound,
        "gap": difference / abs(value) if value else difference,
        "proven": answer.proven,
        "bound_name": answer.bound_name,
        "aim": request.aim,
        "laps": request.laps,
        "outlook": request.outlook,
    }
    return LoopRecord(row, list(_legs(plan, answer, rank)))


def _legs(plan: Plan, answer: Answer, rank: int) -> Iterator[dict[str, object]]:
    """Yield the legs of the first lap."""
    gone = {number: {one.setup for one in plan.moves[number].rounds} for number in answer.numbers}
    away = [gone[number] for number in answer.numbers for _ in plan.moves[number].path]
    first = [leg for leg in timeline(plan, answer) if leg.lap == 1]
    for seq, (at, round_) in enumerate(zip(first, away, strict=True), start=1):
        leg = plan.traversals[at.number]
        yield {
            "loop": plan.request.name,
            "rank": rank,
            "seq": seq,
            "segment_id": leg.segment_id,
            "direction": leg.direction.value,
            "start_m": at.start_m,
            "start_min": at.start_min,
            "verdicts": "; ".join(
                f"{setup}: {GOES_ROUND if place in round_ else verdict}"
                for place, (setup, verdict) in enumerate(leg.verdicts)
            ),
        }


def assemble(records: Sequence[LoopRecord], network: Network) -> tuple[gpd.GeoDataFrame, pd.DataFrame]:
    """Make the tables LOOPS and LEGS, checked against their contracts."""
    if not records:
        return empty(LOOPS, crs=network.crs), empty(LEGS)
    legs = pd.DataFrame([leg for record in records for leg in record.legs], columns=list(LEGS.names))
    segments = network.segments
    shapes = dict(zip(segments["segment_id"], shapely.force_2d(segments.geometry.to_numpy()), strict=True))
    loops = gpd.GeoDataFrame(
        pd.DataFrame([record.row for record in records], columns=list(LOOPS.names)),
        geometry=[_driven_line(record, shapes) for record in records],
        crs=network.crs,
    )
    return validate(loops, LOOPS), validate(legs, LEGS)


def _driven_line(record: LoopRecord, shapes: dict[str, LineString]) -> LineString | MultiLineString:
    """Join the legs in driving order and direction; a multi-part line where ends do not meet exactly."""
    parts = []
    for leg in record.legs:
        points = shapely.get_coordinates(shapes[str(leg["segment_id"])])
        parts.append(points if leg["direction"] == Direction.WITH else points[::-1])
    met = all(np.array_equal(a[-1], b[0]) for a, b in pairwise(parts))
    if not met:
        return MultiLineString([LineString(part) for part in parts])
    return LineString(np.concatenate([parts[0], *(part[1:] for part in parts[1:])]))
