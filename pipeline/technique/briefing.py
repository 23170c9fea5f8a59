"""The calls of a drive sheet: numbered, in driving order, what is coming and what to do before it."""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from pipeline.survey.model import Network
from pipeline.tables import CALLS, TECHNIQUES, empty, validate
from pipeline.technique.events import Event, Known, feature_events, spotter_events, turn_round_events
from pipeline.technique.grouping import grouped
from pipeline.technique.inventory import detailed_table
from pipeline.technique.line_advice import Lines
from pipeline.technique.passing_advice import Ways
from pipeline.technique.pinches import Passed, pinch_events
from pipeline.technique.settings import Calls, Techniques
from pipeline.technique.wording import lead_text, spoken
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
    passings: pd.DataFrame | None = None
    """Contract PASSINGS; ``None`` where the ways past things were not worked out."""
    lines: gpd.GeoDataFrame | None = None
    """Contract LINES; ``None`` where the lines past tight places were not worked out."""


def calls_table(inputs: CallInputs) -> gpd.GeoDataFrame:
    """Write the calls of every loop.

    Parameters
    ----------
    inputs
        Loops with their legs, the network, what it exercises, the checks that ask for a spotter, the ways past things.

    Returns
    -------
    gpd.GeoDataFrame
        Contract CALLS. ``at_m`` is the place of the first feature; the text says how far before it the driver acts.
        What follows closely belongs to the same call, so that no call stands nearer to the next than can be read;
        a spotter or a turn-round has a call of its own. Nothing is left out: a call gives advice on its most
        demanding features and names the others.
    """
    details = _details(inputs)
    rows: list[dict[str, object]] = []
    for loop, rank in inputs.loops[["loop", "rank"]].itertuples(index=False):
        legs = inputs.legs[(inputs.legs["loop"] == loop) & (inputs.legs["rank"] == rank)].sort_values("seq")
        events = _events(inputs, details, legs, inputs.setups_of_loop.get(str(loop), ()))
        for number, group in enumerate(_grouped(events, inputs.settings.calls), start=1):
            rows.append({"loop": loop, "rank": rank, "call": number, **_call(group, inputs.settings.calls)})
    return validate(_table(rows, inputs.network), CALLS)


def _details(inputs: CallInputs) -> pd.DataFrame:
    """Add to the inventory what a call must know: size, side, key of the advice, name."""
    details = detailed_table(inputs.network, inputs.terrain, inputs.settings)
    wanted = inputs.techniques[list(TECHNIQUES.names)].drop_duplicates()
    return details.merge(wanted, on=list(TECHNIQUES.names), how="inner")


def _events(inputs: CallInputs, details: pd.DataFrame, legs: pd.DataFrame, setups: tuple[str, ...]) -> list[Event]:
    """List everything that meets the drivers of one loop, in driving order."""
    known = _known(inputs, setups)
    features = list(feature_events(details, legs, inputs.network, inputs.settings, known))
    found = [
        *turn_round_events(legs, inputs.network),
        *features,
        *_pinches(inputs, legs, known, features),
        *spotter_events(inputs.checks, legs, setups, inputs.network),
    ]
    return sorted(found, key=lambda event: (event.at_m, not event.kept))


def _known(inputs: CallInputs, setups: tuple[str, ...]) -> Known:
    """Take what was worked out for the set-ups of one loop."""
    ways = None if inputs.passings is None else Ways.of(inputs.passings, setups, inputs.settings.passings)
    return Known(setups, ways, None if inputs.lines is None else Lines.of(inputs.lines, setups))


def _pinches(inputs: CallInputs, legs: pd.DataFrame, known: Known, features: Sequence[Event]) -> Iterator[Event]:
    """Yield the tight places that no feature tells of."""
    rule = inputs.settings.tight_place
    if rule is None or known.lines is None:
        return
    told = {Passed(*event.spot[:2], thing) for event in features for thing in event.past}
    yield from pinch_events(legs, inputs.network, rule, known.lines, told)


def _grouped(events: Sequence[Event], rule: Calls) -> list[Group]:
    """Put events, in driving order, together into calls."""
    groups = grouped([(event.at_m, event.kept) for event in events], rule)
    return [[events[number] for number in group] for group in groups]


def _call(group: Group, rule: Calls) -> dict[str, object]:
    """Write one call: the most demanding features with size and advice, in driving order, the rest by name."""
    ranked = sorted((event for event in group if not event.kept), key=lambda event: -event.score)
    skills = [event.technique for event in ranked if event.technique is not None]
    turns = [event for event in group if event.kept and not event.spotter]
    first = group[0]
    lone = [first] if all(event.spotter or event.at_m - first.at_m > rule.merge_m for event in group) else []
    named = sorted([*turns, *ranked[: max(rule.named - len(turns) - len(lone), 0)]], key=group.index)
    return {
        "at_m": first.at_m,
        "segment_id": first.spot.segment_id,
        "direction": first.spot.direction,
        "chainage_m": first.spot.chainage_m,
        "technique": skills[0].value if skills else None,
        "coming": _coming(group, named, rule.merge_m),
        "before": lead_text(rule.lead_m, first.at_m) + _advice([*lone, *named]),
        "spotter": any(event.spotter for event in group),
    }


def _coming(group: Group, named: Sequence[Event], merge_m: float) -> str:
    """Say what is coming, in the order it is met: what stands here, why a spotter, what is farther on, how many others.

    A call begins with what stands at its place, in a word where that is not among the named ones.
    """
    first = group[0]
    here = [] if first in named or first.spotter else [first.word]
    here += [event.coming for event in named if event.at_m - first.at_m <= merge_m]
    on = [(event.at_m - first.at_m, event.coming) for event in named if event.at_m - first.at_m > merge_m]
    farther = [f"{metres:.0f} m on: {text}" for metres, text in on]
    told = [first, *named]
    others = Counter(event.word for event in group if event not in told and not event.spotter)
    more = [f"also {spoken(_counted(others))}"] if others else []
    return "; ".join([*_counted(Counter(here)), *_spotters(group), *farther, *more])


def _spotters(group: Group) -> Iterator[str]:
    """Say why a spotter stands there, and for whom where that is not every set-up of the loop."""
    reasons: dict[tuple[str, ...], list[str]] = {}
    for event in group:
        if event.spotter:
            reasons.setdefault(event.who, []).append(event.coming)
    for who, why in reasons.items():
        yield f"spotter{f' for {spoken(who)}' if who else ''}: {', '.join(dict.fromkeys(why))}"


def _counted(texts: Counter[str]) -> list[str]:
    """Write each text once, with how many there are."""
    return [text if count == 1 else f"{count} × {text}" for text, count in texts.items()]


def _advice(told: Sequence[Event]) -> str:
    """Join the advice on the events of a call, each under its word where there are several.

    The spotter's own line stands only where nothing else is at the place: the sheet has a column for the spotter.
    """
    texts = dict.fromkeys((event.word, event.before) for event in told)
    if len(texts) == 1:
        return next(text for _, text in texts)
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
