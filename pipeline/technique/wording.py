"""The words of a call: sizes with units, sides as the driver sees them, advice from the settings."""

import math
import re
from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

from pipeline.technique.settings import Advice, thing_key
from pipeline.terms import ObstacleKind, Technique

__all__ = ["Described", "Spot", "at_a_glance", "call_texts", "lead_text", "room_text", "size_text", "spoken"]


def _degrees(size: float) -> str:
    return f"{size:.0f}°"


def _radius(size: float) -> str:
    return f"{size:.0f} m" if size >= 10.0 else f"{size:.1f} m"


def _measured(text: str, missing: str) -> Callable[[float], str]:
    """Make a formatter that says so when the size was not surveyed."""
    return lambda size: f"{missing} not measured" if math.isnan(size) else text.format(size)


_SIZES: Mapping[str, Callable[[float], str]] = {
    Technique.TIGHT_TURN: _radius,
    thing_key(ObstacleKind.GAP): _measured("{:.2f} m wide", "width"),
    thing_key(ObstacleKind.BRANCH): _measured("{:.2f} m clear", "height"),
    thing_key(ObstacleKind.WATER): _measured("{:.2f} m deep", "depth"),
    thing_key(ObstacleKind.SOFT): _measured("{:.0f} m long", "length"),
    **{
        thing_key(kind): _measured("{:.2f} m deep", "depth")
        for kind in (ObstacleKind.RUT, ObstacleKind.DITCH, ObstacleKind.HOLE)
    },
    **{
        thing_key(kind): _measured("{:.2f} m high", "height")
        for kind in (ObstacleKind.ROCK, ObstacleKind.LOG, ObstacleKind.STEP)
    },
}
_SIDES = {1: ("right", "left"), -1: ("left", "right"), 0: ("near side", "far side")}
_STEPS = {1: "{:.2f} m up", -1: "{:.2f} m down"}


def size_text(key: str, size: float, side: int = 0) -> str:
    """Write a size with its unit; "… not measured" for a surveyed thing without one.

    Parameters
    ----------
    key
        Key of the advice: a technique, or ``thing`` and the kind of obstacle.
    size
        Degrees for slopes, brows, dips and twists, metres for the rest; NaN when not known.
    side
        Of a step: +1 up, −1 down in the direction of travel.
    """
    if key == thing_key(ObstacleKind.STEP) and side and not math.isnan(size):
        return _STEPS[side].format(size)
    return _SIZES.get(key, _degrees)(size)


def room_text(gap_m: float) -> str:
    """Write how much room is left beside the body, rounded down; nothing where it does not fit."""
    return f"{max(math.floor(gap_m * 100.0 + 1e-6) / 100.0, 0.0):.2f} m"


_CHAINAGE = re.compile(r" at [\d.]+ m\b")
"""Chainage on the segment in the reason of a check: a sheet counts along the loop."""
_KEPT = re.compile(
    r"(?:on three wheels, )?(?P<air>[a-z]+ [a-z]+ (?:in the air|lifts))"
    r"|the (?P<edge>edge) that a wheel meets(?P<where>[^,]*).*"
    r"|(?P<gap>[\d.]+ m between .+)"
    r"|(?P<chance>\d+ % chance of being over) the limit"
)
"""What of the reason, beyond its numbers, a driver must know: a wheel in the air, what the edge is, what is nearest to
what part of the body, how doubtful."""


def at_a_glance(reason: str) -> str:
    """Shorten the reason of a check to what a driver takes in at a glance.

    Parameters
    ----------
    reason
        Sentence of the checks table: numbers first, then what lies behind them, between semicolons. The numbers stay,
        without the chainage on the segment, which means nothing on a sheet that counts along the loop; a wheel in the
        air, the thing that an edge belongs to, what comes nearest to the body, and the chance of being over the limit,
        for which alone a spotter may stand there. The rest is in the checks table.
    """
    numbers, *behind = _CHAINAGE.sub("", reason).split("; ")
    found = filter(None, map(_KEPT.fullmatch, behind))
    kept = ["".join(filter(None, match.groups())) for match in found]
    return f"{numbers} ({', '.join(kept)})" if kept else numbers


class Spot(NamedTuple):
    """A place on the network, as a leg of a loop passes it."""

    segment_id: str
    direction: str
    chainage_m: float


class Described(NamedTuple):
    """A feature as a call describes it."""

    key: str
    """Key of the advice: a technique, or ``thing`` and the kind of obstacle."""
    size: float
    """Degrees or metres; NaN when not known."""
    length_m: float
    """Along the trail."""
    side: int
    """+1 right, −1 left in the direction of travel; of a step +1 up, −1 down."""
    name: str | None
    """Name of the thing, if it has one."""


def call_texts(advice: Advice, feature: Described) -> tuple[str, str]:
    """Say what is coming and what to do before it, with sizes, and sides as seen by the driver.

    Parameters
    ----------
    advice
        Texts of the settings.
    feature
        What fills their places.
    """
    side, low = _SIDES[feature.side]
    values = {
        "size": size_text(feature.key, feature.size, feature.side),
        "length": f"{max(feature.length_m, 1.0):.0f} m",
        "side": side,
        "low": low,
    }
    coming, before = advice.coming.format(**values), advice.before.format(**values)
    return f"{coming} ({feature.name})" if feature.name else coming, before


def lead_text(lead_m: float, at_m: float) -> str:
    """Say where the driver acts on a call: *lead_m* before it, or at the start of the loop if that is nearer, m."""
    lead = min(lead_m, at_m)
    return f"{lead:.0f} m before: " if lead >= 1.0 else "before moving off: " if at_m < 1.0 else "here: "


def spoken(words: Sequence[str]) -> str:
    """Join words as one says them: a, b and c."""
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " and " + words[-1]
