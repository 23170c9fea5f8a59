"""Writes loops that were found into the tables LOOPS and LEGS."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from shapely import LineString, MultiLineString

from pipeline.loops.hunt import Answer
from pipeline.loops.objective import UNITS_PER_POINT
from pipeline.loops.plan import Plan
from pipeline.survey.model import Network
from pipeline.tables import LEGS, LOOPS, empty, validate
from pipeline.terms import Direction, Objective

__all__ = ["LoopRecord", "assemble", "make_record"]

DM = 10.0


@dataclass(frozen=True, slots=True)
class LoopRecord:
    """One loop as rows of the tables."""

    row: dict[str, object]
    """A row of LOOPS without its geometry."""
    legs: list[dict[str, object]]
    """Rows of LEGS."""


def make_record(plan: Plan, answer: Answer, rank: int) -> LoopRecord:
    """Sum up one loop from the unrounded values of its traversals."""
    request = plan.request
    legs = [plan.traversals[number] for number in answer.numbers]
    lengths = np.array([leg.length_m for leg in legs])
    utilisation = np.array([leg.utilisation for leg in legs])
    unit = DM if request.objective is Objective.SAFEST else float(UNITS_PER_POINT)
    value, bound = answer.value / unit, answer.bound / unit
    difference = abs(bound - value)
    row: dict[str, object] = {
        "loop": request.name,
        "rank": rank,
        "objective": request.objective.value,
        "length_m": float(lengths.sum()),
        "time_min": float(sum(leg.minutes for leg in legs)),
        "worst_utilisation": float(utilisation.max()),
        "exposure": float((lengths * np.maximum(0.0, utilisation - request.comfort_floor)).sum()),
        "value": value,
        "bound": bound,
        "gap": difference / abs(value) if value else difference,
        "proven": answer.proven,
    }
    starts = np.concatenate(([0.0], np.cumsum(lengths)[:-1]))
    rows: list[dict[str, object]] = [
        {
            "loop": request.name,
            "rank": rank,
            "seq": seq,
            "segment_id": leg.segment_id,
            "direction": leg.direction.value,
            "start_m": float(start),
            "verdicts": "; ".join(f"{setup}: {verdict}" for setup, verdict in leg.verdicts),
        }
        for seq, (leg, start) in enumerate(zip(legs, starts, strict=True), start=1)
    ]
    return LoopRecord(row, rows)


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
