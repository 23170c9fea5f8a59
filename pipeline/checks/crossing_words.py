"""A place where water crosses a trail, in a sentence: what the elevation model shows, what was surveyed."""

import math
from enum import StrEnum
from typing import NamedTuple

__all__ = ["Place", "Shown", "Surveyed", "Wet", "reason_of"]

LONG_M = 10.0
"""A stretch longer than this is told from end to end: there the water runs along the trail."""
NO_DISTANCE_M = 0.5
"""A distance that would be told as 0 m."""
HECTARE_M2 = 10_000.0


class Shown(StrEnum):
    """What the elevation model shows; the words of the column ``kind`` of CROSSINGS."""

    FLOW_PATH = "flow path"
    HOLLOW = "hollow"
    SURVEYED_ONLY = "surveyed only"


class Place(NamedTuple):
    """What the elevation model shows; the meanings are those of ``FlowCrossings``."""

    from_m: float
    to_m: float
    hollow: bool
    catchment_m2: float
    least: bool
    hollow_m: float
    dammed_m: float


class Surveyed(NamedTuple):
    """Water that was surveyed."""

    id: str
    label: str
    apart_m: float
    """How far along the trail from where the elevation model shows it."""
    depth_m: float
    """NaN where nobody measured it."""


class Wet(NamedTuple):
    """What is known of one place."""

    place: Place | None
    water: Surveyed | None
    tagged: bool
    """The segment is tagged as a ford, and this is what the tag means."""
    tag_depth_m: float
    """Depth that the segment is tagged with, m; NaN without."""
    walked: bool
    """The segment was surveyed on foot for obstacles."""
    modelled: bool
    """The elevation model has heights there."""

    @property
    def kind(self) -> Shown:
        """What the elevation model shows."""
        if self.place is None:
            return Shown.SURVEYED_ONLY
        return Shown.HOLLOW if self.place.hollow else Shown.FLOW_PATH

    @property
    def depth_m(self) -> float:
        """Depth as surveyed, else as tagged, m; NaN where neither tells."""
        surveyed = math.nan if self.water is None else self.water.depth_m
        return self.tag_depth_m if math.isnan(surveyed) and self.tagged else surveyed


def reason_of(wet: Wet) -> str:
    """Write the sentence of one place."""
    parts = [_shown(wet), _known(wet), _open(wet)]
    return "; ".join(part for part in parts if part)


def _shown(wet: Wet) -> str:
    """Say what the elevation model shows."""
    place = wet.place
    if place is None:
        return ""
    area = f"{'at least ' if place.least else ''}{_area(place.catchment_m2)}"
    if place.hollow:
        where = f"from {place.from_m:.0f} to {place.to_m:.0f} m"
        return f"the trail lies up to {place.hollow_m:.2f} m below the rim of a hollow {where}, into which {area} drain"
    if place.to_m - place.from_m > LONG_M:
        return f"a flow path of {area} runs along the trail from {place.from_m:.0f} to {place.to_m:.0f} m and over it"
    return f"a flow path of {area} crosses the trail"


def _area(square_m: float) -> str:
    """Write an area with two figures that count."""
    return f"{square_m / HECTARE_M2:.2g} ha" if square_m < 10 * HECTARE_M2 else f"{square_m / HECTARE_M2:.0f} ha"


def _known(wet: Wet) -> str:
    """Say what was surveyed or tagged, and how deep."""
    if wet.water is not None:
        there = (
            " there" if wet.water.apart_m < NO_DISTANCE_M else f" {wet.water.apart_m:.0f} m along the trail from there"
        )
        apart = "" if wet.place is None else there
        return f"surveyed{apart} as {wet.water.label}, {_deep(wet)}"
    if wet.tagged:
        where = ", nobody says where along it" if wet.place is None else ""
        return f"the segment is tagged as a ford{where}, {_deep(wet)}"
    return "no water was surveyed there" if wet.walked else "nobody has surveyed the trail there"


def _deep(wet: Wet) -> str:
    """Say how deep the water is, and who says so."""
    if math.isnan(wet.depth_m):
        return "of unknown depth"
    by_tag = wet.water is not None and math.isnan(wet.water.depth_m)
    return f"{wet.depth_m:.2f} m deep{' by the tag of the segment' if by_tag else ''}"


def _open(wet: Wet) -> str:
    """Say what the elevation model cannot show, or why it shows nothing."""
    if wet.place is None and wet.modelled:
        return "the elevation model shows no flow path and no hollow there"
    if wet.place is None:
        return "no elevation model has heights there"
    if wet.water is not None or wet.tagged:
        return ""
    if wet.place.hollow:
        return "water stands there after rain unless a drain or a culvert, which the model cannot show, takes it away"
    if wet.place.dammed_m > 0.0:
        return (
            f"the model lets it stand {wet.place.dammed_m:.2f} m deep behind the trail before it runs over: a culvert, "
            "which the model cannot show, would take it elsewhere"
        )
    return ""
