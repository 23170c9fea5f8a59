"""What the elevation model says of water on the trails: flow paths across them, hollows on them, how wet they lie."""

from dataclasses import dataclass, fields
from typing import Self

import numpy as np
from numpy.typing import NDArray

__all__ = ["Drainage", "FlowCrossings"]

Float64 = NDArray[np.float64]
Int64 = NDArray[np.int64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class FlowCrossings:
    """Places where a flow path crosses a trail or a hollow lies on it; arrays (places,), by segment, then chainage."""

    row: Int64
    """Row of the segment."""
    at_m: Float64
    """Chainage where the most water crosses, or where the hollow is deepest, m."""
    from_m: Float64
    """Chainage where the stretch begins along which water crosses, runs or stands; at most ``at_m``."""
    to_m: Float64
    """Chainage where it ends; at least ``at_m``."""
    x: Float64
    y: Float64
    hollow: Flags
    """A hollow lies on the trail; else a flow path crosses it."""
    catchment_m2: Float64
    """Area that drains there, m²."""
    least: Flags
    """The model ends, or has a void, above: the catchment is at least that large."""
    hollow_m: Float64
    """Depth of the trail below the rim of the hollow, m; 0 where none lies on it."""
    dammed_m: Float64
    """How deep the model lets water stand behind the trail before it runs over, m: it shows no culvert. 0 for none."""

    def of(self, pick: Flags | Int64) -> Self:
        """Take some of the places, by flags or indices."""
        return type(self)(*(getattr(self, one.name)[pick] for one in fields(self)))


@dataclass(frozen=True, slots=True)
class Drainage:
    """How a network lies to the water; per-segment arrays are parallel to ``network.segments``.

    A wetness index is ln(a ÷ tan β), with a the catchment per metre of contour, m, and β the slope downhill (Beven and
    Kirkby 1979). It grows with the cell, so that only indices of one build can be compared: ``twi - twi_land`` says how
    much wetter a trail lies than the land round it.
    """

    cell_m: float
    """Side of the cells that water was led over, m."""
    twi: Float64
    """Wetness index, mean along the segment; NaN where it is not known: no heights, a bridge, a tunnel."""
    twi_high: Float64
    """The index that a tenth of the segment's length is above; NaN likewise."""
    twi_land: float
    """Mean of the index over all the land looked at; NaN without heights."""
    hollow_m: Float64
    """Deepest place of the segment below the rim of a hollow that fills, m; 0 for none, NaN where it is not known."""
    hollow_share: Float64
    """Share of its length that lies in such hollows, 0 … 1; NaN likewise."""
    crossings: FlowCrossings
