"""What meets a driver along a loop: features of the ground, places for a spotter, turn-rounds."""

from collections.abc import Hashable, Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from pipeline.survey.model import Network
from pipeline.technique.line_advice import Line, Lines, told_of
from pipeline.technique.passing_advice import Ways, way_past
from pipeline.technique.settings import Advice, Techniques, Thing, Turn, thing_key
from pipeline.technique.wording import Described, Spot, at_a_glance, call_texts
from pipeline.terms import Direction, ObstacleKind, Technique, Verdict

__all__ = ["Event", "Known", "Spot", "feature_events", "spotter_events", "turn_round_events"]

_CARRY_ON_M = 3.0
"""A stretch that goes on in the next segment within this distance is one: about a wheelbase."""
_GAP, _BRANCH = thing_key(ObstacleKind.GAP), thing_key(ObstacleKind.BRANCH)
_SPOTTER = "stop; move only at the spotter's sign"
_TURN_ROUND = "one vehicle at a time; a person outside for every metre in reverse"


@dataclass(frozen=True, slots=True)
class Event:
    """One thing that a driver meets."""

    at_m: float
    """Distance along the loop where it begins."""
    end_m: float
    """Where it ends."""
    spot: Spot
    word: str
    """What it is, in a word or two."""
    coming: str
    """What is coming, with its size; of a spotter, why."""
    before: str
    """What to do before it."""
    technique: Technique | None
    score: float
    """Intensity × weight."""
    spotter: bool = False
    who: tuple[str, ...] = ()
    """Set-ups that need the spotter; none when all of the loop do."""
    kept: bool = False
    """Never thinned out."""
    past: frozenset[str] = frozenset()
    """``obstacle_id`` of what leaves little room there, as far as ``before`` tells the line past it."""


class _Stretch(NamedTuple):
    """A feature before it is put into words."""

    at_m: float
    end_m: float
    spot: Spot
    technique: Technique
    intensity: float
    feature: Described
    thing: str | None
    """``obstacle_id`` of a surveyed thing."""


def _along(table: pd.DataFrame, legs: pd.DataFrame, lengths: pd.Series) -> pd.DataFrame:
    """Place rows with ``from_m`` and ``to_m`` along the loop: one row for every leg that passes them."""
    placed = legs[["seq", "segment_id", "direction", "start_m"]].merge(table, on=["segment_id", "direction"])
    whole = placed["segment_id"].map(lengths).astype(np.float64)
    forward = placed["direction"] == Direction.WITH
    begin = placed["from_m"].where(forward, whole - placed["to_m"])
    return placed.assign(
        at_m=placed["start_m"] + begin,
        end_m=placed["start_m"] + begin + placed["to_m"] - placed["from_m"],
        chainage_m=placed["from_m"].where(forward, placed["to_m"]),
    ).sort_values(["at_m", "seq"], kind="stable")


def _lengths_of(network: Network) -> pd.Series:
    """Give the plan length of every segment by id, m."""
    lengths: pd.Series = network.segments.set_index("segment_id")["length_m"]
    return lengths


@dataclass(frozen=True, slots=True)
class Known:
    """What was worked out for the set-ups of one loop; ``None`` where it was not."""

    setups: tuple[str, ...] = ()
    ways: Ways | None = None
    """The ways past things on the trail."""
    lines: Lines | None = None
    """The lines past tight places."""


NOTHING_KNOWN = Known()


def feature_events(
    details: pd.DataFrame, legs: pd.DataFrame, network: Network, settings: Techniques, known: Known = NOTHING_KNOWN
) -> Iterator[Event]:
    """Yield the features of the ground along one loop.

    Parameters
    ----------
    details
        The inventory with size, side, key and name.
    legs
        Legs of the loop in driving order.
    network
        Segments.
    settings
        Texts, weights and the intensity from which a stretch of ground or a surveyed thing is called.
    known
        The ways past things and the lines past tight places.
    """
    advice = settings.advice()
    for stretch in _called(details, legs, network, settings):
        feature = stretch.feature._replace(length_m=stretch.end_m - stretch.at_m)
        rule = advice[feature.key]
        coming, before = call_texts(rule, feature)
        lines = _lines_past(stretch, known)
        told = _way(stretch, feature, known) if not lines else told_of(lines, known.setups)
        yield Event(
            at_m=stretch.at_m,
            end_m=stretch.end_m,
            spot=stretch.spot,
            word=feature.key.removeprefix(thing_key("")),
            coming=coming,
            before=_with_besides(told, rule) if told else before,
            technique=stretch.technique,
            score=stretch.intensity * rule.weight,
            past=frozenset(line.thing for line in lines if line.thing is not None),
        )


def _called(details: pd.DataFrame, legs: pd.DataFrame, network: Network, settings: Techniques) -> list[_Stretch]:
    """List the features that are demanding enough for a call."""
    surveyed = details["key"].str.startswith(thing_key(""))
    least = np.where(surveyed, settings.calls.thing_from_intensity, settings.calls.from_intensity)
    return _carried_on(_along(details[details["intensity"] >= least], legs, _lengths_of(network)))


def _way(stretch: _Stretch, feature: Described, known: Known) -> str | None:
    """Say the way of the set-ups past a thing on the trail."""
    if known.ways is None or stretch.thing is None:
        return None
    return way_past(known.ways, stretch.thing, stretch.spot, feature)


def _with_besides(told: str, rule: Advice) -> str:
    """Add to what was worked out what the settings want done besides."""
    besides = rule.besides if isinstance(rule, Thing | Turn) else None
    return f"{told}; {besides}" if besides else told


def _lines_past(stretch: _Stretch, known: Known) -> list[Line]:
    """Find the lines that a gap, a branch, a tight turn or a thing that is gone round asks for.

    A gap between two trunks and a turn have those of what is tight there; a branch only those that lead round it; what
    lies on the trail only where all set-ups that it is in the way of go round it, each on a line past it.
    """
    if known.lines is None:
        return []
    key, way, thing = stretch.feature.key, stretch.spot[:2], stretch.thing
    if thing is not None:
        lines = known.lines.past(way, thing)
        if key in (_GAP, _BRANCH):
            return lines
        round_it = frozenset() if known.ways is None else known.ways.round_it(thing, stretch.spot)
        return lines if round_it and round_it <= {line.setup for line in lines} else []
    if key == _GAP or stretch.technique is Technique.TIGHT_TURN:
        far = stretch.spot.chainage_m + (stretch.end_m - stretch.at_m) * Direction(stretch.spot.direction).sign
        return known.lines.at(way, *sorted((stretch.spot.chainage_m, far)))
    return []


def _carried_on(placed: pd.DataFrame) -> list[_Stretch]:
    """Join stretches that go on from one leg into the next."""
    found: list[_Stretch] = []
    latest: dict[tuple[str, int], int] = {}
    for row in placed.to_dict("records"):
        stretch = _stretch(row)
        kind = stretch.feature.key, stretch.feature.side
        before = latest.get(kind)
        if before is not None and _goes_on(found[before], stretch):
            found[before] = _joined(found[before], stretch)
        else:
            latest[kind] = len(found)
            found.append(stretch)
    return found


def _stretch(row: Mapping[Hashable, Any]) -> _Stretch:
    """Read one row of the inventory along a loop."""
    name = None if pd.isna(row["name"]) else str(row["name"])
    return _Stretch(
        at_m=row["at_m"],
        end_m=row["end_m"],
        spot=Spot(row["segment_id"], row["direction"], row["chainage_m"]),
        technique=Technique(row["technique"]),
        intensity=row["intensity"],
        feature=Described(row["key"], row["size"], row["end_m"] - row["at_m"], row["side"], name),
        thing=None if pd.isna(row["thing"]) else str(row["thing"]),
    )


def _goes_on(first: _Stretch, second: _Stretch) -> bool:
    """Tell whether a stretch is the continuation of one on another leg."""
    other_leg = first.spot[:2] != second.spot[:2]
    return other_leg and not first.feature.key.startswith(thing_key("")) and second.at_m - first.end_m <= _CARRY_ON_M


def _joined(first: _Stretch, second: _Stretch) -> _Stretch:
    """Make one stretch of two, as hard as the harder one."""
    pick = min if first.technique is Technique.TIGHT_TURN else max
    return first._replace(
        end_m=max(first.end_m, second.end_m),
        intensity=max(first.intensity, second.intensity),
        feature=first.feature._replace(size=pick(first.feature.size, second.feature.size)),
    )


def spotter_events(
    checks: pd.DataFrame, legs: pd.DataFrame, setups: tuple[str, ...], network: Network
) -> Iterator[Event]:
    """Yield the places where a spotter stands outside: checks with the verdict ``spot`` for any set-up of the loop.

    Parameters
    ----------
    checks
        Contract CHECKS.
    legs
        Legs of the loop.
    setups
        Set-ups of the loop.
    network
        Segments. A check without a place counts for the whole leg and is called where the leg begins.
    """
    spots = checks[(checks["verdict"] == Verdict.SPOT) & checks["setup"].isin(setups)]
    whole = spots["segment_id"].map(_lengths_of(network)).astype(np.float64)
    entry = whole.where(spots["direction"] == Direction.AGAINST, 0.0)
    place = spots["at_m"].fillna(entry).clip(0.0, whole)
    placed = _along(spots.assign(from_m=place, to_m=place).drop(columns="at_m"), legs, _lengths_of(network))
    for _, group in placed.groupby(["seq", "check"], sort=False):
        yield _spotter(group, setups)


def _spotter(group: pd.DataFrame, setups: tuple[str, ...]) -> Event:
    """Make one event of a check of one leg, for all set-ups that need the spotter; the worst one gives the place."""
    ranked = group.sort_values("utilisation", ascending=False, kind="stable", na_position="last")
    worst: Mapping[Hashable, Any] = ranked.to_dict("records")[0]
    who = tuple(dict.fromkeys(group["setup"].astype(str)))
    return Event(
        at_m=worst["at_m"],
        end_m=worst["at_m"],
        spot=Spot(worst["segment_id"], worst["direction"], worst["chainage_m"]),
        word="spotter",
        coming=at_a_glance(worst["reason"]),
        before=_SPOTTER,
        technique=None,
        score=1.0 if pd.isna(worst["utilisation"]) else worst["utilisation"],
        spotter=True,
        who=() if len(who) == len(set(setups)) else who,
        kept=True,
    )


def turn_round_events(legs: pd.DataFrame, network: Network) -> Iterator[Event]:
    """Yield the places where a loop goes back on the segment it came by.

    Parameters
    ----------
    legs
        Legs of the loop.
    network
        Segments and nodes; a node's name is told.
    """
    lengths = _lengths_of(network)
    ends = network.segments.set_index("segment_id")[["node_a", "node_b"]].to_dict("index")
    names = network.nodes.set_index("node_id")["name"].to_dict()
    for came, back in pairwise(legs.sort_values("seq").to_dict("records")):
        if came["segment_id"] != back["segment_id"] or came["direction"] == back["direction"]:
            continue
        forward = came["direction"] == Direction.WITH
        name = names.get(ends[came["segment_id"]]["node_b" if forward else "node_a"])
        chainage = float(lengths[came["segment_id"]]) if forward else 0.0
        yield Event(
            at_m=back["start_m"],
            end_m=back["start_m"],
            spot=Spot(back["segment_id"], back["direction"], chainage),
            word="turn round",
            coming="turn round" if pd.isna(name) else f"turn round at {name}",
            before=_TURN_ROUND,
            technique=None,
            score=1.0,
            kept=True,
        )
