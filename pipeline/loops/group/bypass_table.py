"""Rows of the table BYPASSES: who goes round what, on which way, and why."""

from collections.abc import Iterator, Sequence

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from shapely import LineString, MultiLineString

from pipeline.loops.group.detours import Detour, detours
from pipeline.loops.plan import Plan
from pipeline.loops.request import LoopInputs
from pipeline.loops.solve.hunt import Answer
from pipeline.loops.traversals import Traversal
from pipeline.survey.model import Network
from pipeline.tables import BYPASSES, empty, validate
from pipeline.terms import Direction

__all__ = ["bypass_rows", "bypasses_frame"]

Row = dict[str, object]


def bypass_rows(inputs: LoopInputs, plan: Plan, answer: Answer, rank: int) -> list[Row]:
    """Make the rows of BYPASSES of one loop, without their geometry."""
    found = detours(plan, answer)
    deciding = _deciding(inputs, {one.setup for one in found}) if found else {}
    return [_row(plan, answer, one, deciding) | {"rank": rank} for one in found]


def _row(plan: Plan, answer: Answer, one: Detour, deciding: dict[tuple[str, str, str], str]) -> Row:
    """Make one row but for its rank."""
    way = [plan.traversals[part] for part in one.path]
    chain = [plan.traversals[part] for part in plan.moves[answer.numbers[one.leg]].path]
    return {
        "loop": plan.request.name,
        "rank": 0,
        "bypass": one.number,
        "setup": one.setup,
        "split_node": one.split_node,
        "meet_node": one.meet_node,
        "split_m": one.split_m,
        "meet_m": one.meet_m,
        "way": "; ".join(f"{leg.segment_id} {leg.direction.value}" for leg in way),
        "length_m": one.length_m,
        "time_min": one.minutes,
        "others_min": one.others_min,
        "waits_min": one.waits_min,
        "worst_utilisation": max((leg.utilisations[one.place] for leg in way), default=0.0),
        "reason": "; ".join(_reasons(chain, one, deciding)),
    }


def _reasons(chain: Sequence[Traversal], one: Detour, deciding: dict[tuple[str, str, str], str]) -> Iterator[str]:
    """Yield what the set-up may not drive of a chain, with the check that decides."""
    for leg in chain:
        if not leg.may(one.place):
            verdict = leg.verdicts[one.place][1] or "unsurveyed"
            check = deciding.get((leg.segment_id, one.setup, leg.direction.value))
            yield f"{leg.segment_id} {leg.direction.value}: {verdict}" + (f" ({check})" if check else "")


def _deciding(inputs: LoopInputs, setups: set[str]) -> dict[tuple[str, str, str], str]:
    """Give the check that decides each verdict of the set-ups, with its utilisation and place."""
    table = inputs.verdicts.loc[inputs.verdicts["setup"].isin(setups)]
    columns = ["segment_id", "setup", "direction", "check", "utilisation", "at_m"]
    return {
        (segment, setup, direction): _words(check, utilisation, at_m)
        for segment, setup, direction, check, utilisation, at_m in table[columns].itertuples(index=False, name=None)
    }


def _words(check: str, utilisation: float, at_m: float) -> str:
    """Say which check decides."""
    text = check.replace("_", " ")
    if np.isfinite(utilisation):
        text += f", utilisation {utilisation:.2f}"
    if np.isfinite(at_m):
        text += f", at {at_m:.0f} m"
    return text


def bypasses_frame(rows: Sequence[Row], network: Network) -> gpd.GeoDataFrame:
    """Make the table BYPASSES, checked against its contract.

    Who waits has a line of no length at the node.
    """
    if not rows:
        return empty(BYPASSES, crs=network.crs)
    segments, nodes = network.segments, network.nodes
    shapes = dict(zip(segments["segment_id"], shapely.force_2d(segments.geometry.to_numpy()), strict=True))
    places = dict(zip(nodes["node_id"].tolist(), shapely.force_2d(nodes.geometry.to_numpy()), strict=True))
    lines = [_line(str(row["way"]), shapes) or _standing(places[row["split_node"]]) for row in rows]
    frame = pd.DataFrame(rows, columns=list(BYPASSES.names))
    return validate(gpd.GeoDataFrame(frame, geometry=lines, crs=network.crs), BYPASSES)


def _line(way: str, shapes: dict[str, LineString]) -> LineString | MultiLineString | None:
    """Join the legs of a way in driving order and direction; ``None`` for no way."""
    parts = []
    for leg in filter(None, way.split("; ")):
        segment, _, direction = leg.rpartition(" ")
        points = shapely.get_coordinates(shapes[segment])
        parts.append(points if direction == Direction.WITH else points[::-1])
    if not parts:
        return None
    merged = shapely.line_merge(MultiLineString([LineString(part) for part in parts]), directed=True)
    return merged if merged.geom_type == "LineString" else MultiLineString([LineString(part) for part in parts])


def _standing(place: shapely.Point) -> LineString:
    """Give the line of those who stay where they are."""
    return LineString([place, place])
