"""The calls of a drive sheet: numbered, in driving order, what is coming and what to do before it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from pipeline.survey.model import Network
from pipeline.tables import CALLS, TECHNIQUES, empty, validate
from pipeline.technique.events import Event, feature_events, spotter_events, turn_round_events
from pipeline.technique.inventory import detailed_table
from pipeline.technique.settings import Calls, Techniques
from pipeline.technique.wording import lead_text
from pipeline.terrain.model import Terrain

__all__ = ["CallInputs", "calls_table"]

Group = list[Event]


@dataclass(frozen=True, slots=True)
class CallInputs:
    """What the calls are made from."""

    loops: gpd.GeoDataFrame
    """Contract LOOPS."""
    legs: pd.DataFrame
    """Contract LEGS."""
    network: Network
    terrain: Terrain
    techniques: pd.DataFrame
    """Contract TECHNIQUES."""
    checks: pd.DataFrame
    """Contract CHECKS."""
    setups_of_loop: Mapping[str, tuple[str, ...]]
    """Set-ups that drive each loop, by its name."""
    settings: Techniques


def calls_table(inputs: CallInputs) -> gpd.GeoDataFrame:
    """Write the calls of every loop.

    Parameters
    ----------
    inputs
        Loops with their legs, the network, what it exercises, and the checks that ask for a spotter.

    Returns
    -------
    gpd.GeoDataFrame
        Contract CALLS. ``at_m`` is the place of the feature; the text says how far before it the driver acts. What
        begins within a few metres is one call. Where calls lie too close together the less demanding ones are left
        out; those for a spotter and for turning round never are.
    """
    details = _details(inputs)
    rows: list[dict[str, object]] = []
    for loop, rank in inputs.loops[["loop", "rank"]].itertuples(index=False):
        legs = inputs.legs[(inputs.legs["loop"] == loop) & (inputs.legs["rank"] == rank)].sort_values("seq")
        events = _events(inputs, details, legs, inputs.setups_of_loop.get(str(loop), ()))
        groups = _thinned(_grouped(events, inputs.settings.calls.merge_m), inputs.settings.calls.spacing_m)
        for number, group in enumerate(groups, start=1):
            rows.append({"loop": loop, "rank": rank, "call": number, **_call(group, inputs.settings.calls)})
    return validate(_table(rows, inputs.network), CALLS)


def _details(inputs: CallInputs) -> pd.DataFrame:
    """Add to the inventory what a call must know: size, side, key of the advice, name."""
    details = detailed_table(inputs.network, inputs.terrain, inputs.settings)
    wanted = inputs.techniques[list(TECHNIQUES.names)].drop_duplicates()
    return details.merge(wanted, on=list(TECHNIQUES.names), how="inner")


def _events(inputs: CallInputs, details: pd.DataFrame, legs: pd.DataFrame, setups: tuple[str, ...]) -> list[Event]:
    """List everything that meets the drivers of one loop, in driving order."""
    found = [
        *turn_round_events(legs, inputs.network),
        *feature_events(details, legs, inputs.network, inputs.settings),
        *spotter_events(inputs.checks, legs, setups, inputs.network),
    ]
    return sorted(found, key=lambda event: (event.at_m, not event.kept))


def _grouped(events: Sequence[Event], merge_m: float) -> list[Group]:
    """Put together what begins within *merge_m* of the first event of a call."""
    groups: list[Group] = []
    for event in events:
        if groups and event.at_m - groups[-1][0].at_m <= merge_m:
            groups[-1].append(event)
        else:
            groups.append([event])
    return groups


def _thinned(groups: Sequence[Group], spacing_m: float) -> list[Group]:
    """Leave out the less demanding of calls that lie closer than *spacing_m*; kept events stay in any case."""
    order = sorted(range(len(groups)), key=lambda k: (not _is_kept(groups[k]), -_score(groups[k]), k))
    chosen: list[int] = []
    for k in order:
        at = groups[k][0].at_m
        if _is_kept(groups[k]) or all(abs(groups[other][0].at_m - at) >= spacing_m for other in chosen):
            chosen.append(k)
    return [groups[k] for k in sorted(chosen)]


def _is_kept(group: Group) -> bool:
    """Tell whether a call may never be left out."""
    return any(event.kept for event in group)


def _score(group: Group) -> float:
    """Give the score of the most demanding event of a call."""
    return max(event.score for event in group)


def _call(group: Group, rule: Calls) -> dict[str, object]:
    """Write one call: the most demanding events with advice, in driving order, the rest by name."""
    ranked = sorted(group, key=lambda event: (not event.kept, -event.score))
    kept = sum(event.kept for event in group)
    named = sorted(ranked[: max(rule.named, kept)], key=group.index)
    others = list(dict.fromkeys(event.word for event in group if event not in named))
    skills = [event.technique for event in ranked if event.technique is not None]
    first = group[0]
    coming = [event.coming for event in named] + ([f"also {', '.join(others)}"] if others else [])
    return {
        "at_m": first.at_m,
        "segment_id": first.spot.segment_id,
        "direction": first.spot.direction,
        "chainage_m": first.spot.chainage_m,
        "technique": skills[0].value if skills else None,
        "coming": "; ".join(dict.fromkeys(coming)),
        "before": lead_text(rule.lead_m, first.at_m) + _advice(named),
        "spotter": any(event.spotter for event in group),
    }


def _advice(named: Sequence[Event]) -> str:
    """Join the advice on the events of a call, each under its word where there are several."""
    texts = dict.fromkeys((event.word, event.before) for event in named)
    if len(texts) == 1:
        return named[0].before
    return ". ".join(f"{word[:1].upper()}{word[1:]}: {text.rstrip('.')}" for word, text in texts)


def _table(rows: Sequence[Mapping[str, object]], network: Network) -> gpd.GeoDataFrame:
    """Lay out the calls as a table, each with its point on the segment."""
    frame = empty(CALLS, crs=network.crs)
    if not rows:
        return frame
    data = pd.DataFrame(rows, columns=list(CALLS.names))
    typed = data.astype({column.name: column.kind.dtype for column in CALLS.columns})
    lines = network.segments.set_index("segment_id").geometry.loc[typed["segment_id"]].to_numpy()
    points = shapely.force_2d(shapely.line_interpolate_point(lines, typed["chainage_m"].to_numpy(dtype=np.float64)))
    return gpd.GeoDataFrame(typed, geometry=points, crs=network.crs)
