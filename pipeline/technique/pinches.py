"""Things beside the trail that leave little room, where no feature of the ground tells the line past them."""

from collections.abc import Iterator
from collections.abc import Set as AbstractSet
from typing import NamedTuple

import numpy as np
import pandas as pd

from pipeline.survey.model import Network
from pipeline.technique.events import Event
from pipeline.technique.line_advice import Lines, told_of
from pipeline.technique.settings import TightPlace
from pipeline.technique.stretches import intensity
from pipeline.technique.wording import Spot, room_text
from pipeline.terms import Direction, Technique

__all__ = ["Passed", "pinch_events"]

WORD = "tight place"


class Passed(NamedTuple):
    """A thing as a leg passes it."""

    segment_id: str
    direction: str
    thing: str


def pinch_events(
    legs: pd.DataFrame, network: Network, rule: TightPlace, lines: Lines, told: AbstractSet[Passed]
) -> Iterator[Event]:
    """Yield the things along one loop that leave little room.

    Parameters
    ----------
    legs
        Legs of the loop in driving order.
    network
        Segments and obstacles.
    rule
        Text, weight, and the gap from which such a place is called.
    lines
        The lines past tight places for the set-ups of the loop.
    told
        Those that other calls tell the line past.
    """
    names, lengths = _names(network), network.segments.set_index("segment_id")["length_m"]
    for segment, direction, start_m in legs[["segment_id", "direction", "start_m"]].itertuples(index=False):
        for pinch in lines.pinches((segment, direction)):
            if pinch.gap_m < rule.from_m and Passed(segment, direction, pinch.thing) not in told:
                along = pinch.at_m if direction == Direction.WITH else float(lengths[segment]) - pinch.at_m
                coming = f"{rule.coming.format(size=room_text(pinch.gap_m))} ({names[pinch.thing]})"
                yield Event(
                    at_m=start_m + along,
                    end_m=start_m + along,
                    spot=Spot(segment, direction, pinch.at_m),
                    word=WORD,
                    coming=coming,
                    before=told_of(pinch.lines, lines.setups) or "",
                    technique=Technique.GAP,
                    score=rule.weight * float(intensity(np.array([pinch.gap_m]), rule.from_m, rule.full_m)[0]),
                    past=frozenset([pinch.thing]),
                )


def _names(network: Network) -> dict[str, str]:
    """Name the obstacles by kind and name or id, as a person would find them."""
    table = network.obstacles
    names = table["kind"] + " " + table["name"].where(table["name"].notna(), table["obstacle_id"])
    return dict(zip(table["obstacle_id"], names, strict=True))
