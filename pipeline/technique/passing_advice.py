"""The way past a surveyed thing in the words of a call: once where all set-ups of the loop do the same, else each."""

import math
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple, Self

import pandas as pd

from pipeline.checks.passing.words import CREEP_KMH, ON_LINE_M, at_an_angle
from pipeline.technique.settings import PassingTexts, thing_key
from pipeline.technique.wording import Described, Spot
from pipeline.terms import ObstacleKind, Passing

__all__ = ["Ways", "way_past"]

_WALK_KMH = 5.0
"""Nobody drives on to a thing faster than one walks: a bound above that is not told."""
_DOWN = [thing_key(kind) for kind in (ObstacleKind.HOLE, ObstacleKind.DITCH, ObstacleKind.RUT)]


class _Way(NamedTuple):
    """What one set-up does about one thing."""

    passing: Passing
    wheels: str
    """Side whose wheels meet it; empty where none do."""
    angled: bool
    shift_m: float
    """Right of the middle in travel, to the decimetre; 0 on it."""
    speed_kmh: float
    """inf where the springs do not mind."""


@dataclass(frozen=True, slots=True)
class Ways:
    """The ways past things for the set-ups of one loop."""

    setups: tuple[str, ...]
    of_thing: Mapping[tuple[str, str, str], Mapping[str, _Way]]
    """Obstacle, segment and direction → set-up → way."""
    texts: PassingTexts

    @classmethod
    def of(cls, passings: pd.DataFrame, setups: Sequence[str], texts: PassingTexts) -> Self:
        """Read the rows of some set-ups out of contract PASSINGS."""
        found: dict[tuple[str, str, str], dict[str, _Way]] = {}
        for row in passings[passings["setup"].isin(setups)].to_dict("records"):
            key = str(row["obstacle_id"]), str(row["segment_id"]), str(row["direction"])
            found.setdefault(key, {})[str(row["setup"])] = _way(row)
        return cls(tuple(dict.fromkeys(setups)), found, texts)

    def round_it(self, thing: str, spot: Spot) -> frozenset[str]:
        """Name the set-ups whose way a thing is in, if all of them go round it; none otherwise."""
        known = self.of_thing.get((thing, spot.segment_id, spot.direction), {})
        return frozenset(known if all(way.passing is Passing.ROUND for way in known.values()) else ())


def _way(row: Mapping[Hashable, Any]) -> _Way:
    """Read one row."""
    shift = 0.0 if pd.isna(row["shift_m"]) else float(row["shift_m"])
    return _Way(
        passing=Passing(row["passing"]),
        wheels="" if pd.isna(row["wheels"]) else str(row["wheels"]),
        angled=at_an_angle(row["reason"]),
        shift_m=0.0 if abs(shift) < ON_LINE_M else round(shift, 1),
        speed_kmh=math.inf if pd.isna(row["speed_kmh"]) else float(row["speed_kmh"]),
    )


def way_past(ways: Ways, thing: str, spot: Spot, feature: Described) -> str | None:
    """Say what the set-ups of a loop do about a thing.

    Parameters
    ----------
    ways
        What was worked out.
    thing
        Its ``obstacle_id``.
    spot
        Where a leg passes it.
    feature
        What it is.

    Returns
    -------
    str or None
        ``None`` where nothing was worked out for any of them.
    """
    known = ways.of_thing.get((thing, spot.segment_id, spot.direction), {})
    if not known:
        return None
    slowed = [known.get(setup) for setup in ways.setups]
    told = [ways.texts.clear if way is None else _text(way, ways.texts, feature) for way in _at_one_pace(slowed)]
    if len(set(told)) == 1:
        return told[0]
    return "; ".join(f"{setup}: {text}" for setup, text in zip(ways.setups, told, strict=True))


def _at_one_pace(ways: Sequence[_Way | None]) -> list[_Way | None]:
    """Give set-ups that do the same the speed of the slowest of them: they drive one behind the other."""
    slowest: dict[tuple[object, ...], float] = {}
    for way in ways:
        if way is not None:
            slowest[way[:-1]] = min(way.speed_kmh, slowest.get(way[:-1], math.inf))
    return [None if way is None else way._replace(speed_kmh=slowest[way[:-1]]) for way in ways]


def _text(way: _Way, texts: PassingTexts, feature: Described) -> str:
    """Write one way."""
    side = "right" if way.shift_m > 0.0 else "left"
    if way.passing is Passing.TREAD:
        return ", ".join([*_trodden(way, texts, feature), *_keep(way, texts, side), *_pace(way, texts)])
    if way.passing is Passing.ROUND:
        return texts.beside.format(side=side)
    if way.passing is Passing.STRADDLE:
        return ", ".join([texts.straddle, *_keep(way, texts, side)])
    return texts.barred if way.passing is Passing.BARRED else texts.unsurveyed


def _trodden(way: _Way, texts: PassingTexts, feature: Described) -> list[str]:
    """Say which wheels take it, and how both of an axle do."""
    both = way.wheels == "both"
    told = [texts.tread.format(wheels=f"{way.wheels} wheels", over=_over(feature, both=both))]
    if both and feature.key != thing_key(ObstacleKind.RUT):
        told.append(texts.angled if way.angled else texts.square)
    return told


def _over(feature: Described, *, both: bool) -> str:
    """Say how wheels take a thing."""
    if feature.key in _DOWN:
        return "through"
    if feature.key == thing_key(ObstacleKind.STEP):
        return "up" if feature.side >= 0 else "down"
    return "over" if both else "on"


def _keep(way: _Way, texts: PassingTexts, side: str) -> list[str]:
    """Say how far off the middle."""
    return [texts.keep.format(shift=f"{abs(way.shift_m):.1f} m", side=side)] if way.shift_m else []


def _pace(way: _Way, texts: PassingTexts) -> list[str]:
    """Say how slowly."""
    if way.speed_kmh >= _WALK_KMH:
        return []
    if way.speed_kmh < CREEP_KMH:
        return [texts.creep]
    return [texts.pace.format(speed=f"{math.floor(way.speed_kmh * 10.0) / 10.0:g} km/h")]
