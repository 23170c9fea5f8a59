"""The ways past the things in the way, as a table, each with its reason in a sentence."""

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pipeline.checks.limits import Limits
from pipeline.checks.obstacles import goes_down
from pipeline.checks.passing.choice import Choice, lowest_of
from pipeline.checks.passing.words import reasons_of
from pipeline.checks.prepared import Prepared
from pipeline.tables import PASSINGS, empty, validate
from pipeline.terms import Direction, Passing
from pipeline.units import KMH
from pipeline.vehicle.envelope_model import Envelope

__all__ = ["passings_table"]

Float64 = NDArray[np.float64]
Texts = NDArray[np.object_]

_WORDS = np.array([passing.value for passing in Passing], dtype=object)
_TREAD = list(Passing).index(Passing.TREAD)
_SIDES = ["both", "left", "right"]
_WAYS = np.array([way.value for way in Direction], dtype=object)


def passings_table(prepared: Prepared) -> pd.DataFrame:
    """Tell every set-up the way past every thing that lies in its way.

    Parameters
    ----------
    prepared
        Site and set-ups.

    Returns
    -------
    DataFrame
        Contract PASSINGS; rows by set-up (in the order given), segment, chainage, direction. Things beside the way of
        a set-up have no row.
    """
    ids = prepared.scene.site.network.segments["segment_id"].to_numpy(object)
    each = zip(prepared.choices, prepared.envelopes, strict=True)
    parts = [_rows(choice, envelope, prepared.limits, ids) for choice, envelope in each]
    if not any(len(part) for part in parts):
        return empty(PASSINGS)
    return validate(pd.concat(parts, ignore_index=True), PASSINGS)


def _rows(choice: Choice, envelope: Envelope, limits: Limits, ids: Texts) -> pd.DataFrame:
    """Lay out the ways of one set-up."""
    here, passing = choice.things, choice.passing
    sign = np.array([way.sign for way in Direction])
    shift = choice.shift_m * sign
    limited = (passing == _TREAD) & np.isfinite(choice.speed_m_s)
    data = {
        "obstacle_id": np.repeat(here.id, 2),
        "segment_id": np.repeat(ids[here.row], 2),
        "setup": np.full(passing.size, envelope.setup, dtype=object),
        "direction": np.tile(_WAYS, here.row.size),
        "at_m": np.repeat(here.at_m, 2),
        "passing": _WORDS[passing].ravel(),
        # A line on the middle is on it to the centimetre, not to the last digit of a shift of nothing.
        "shift_m": (np.round(shift, 3) + 0.0).ravel(),
        "wheels": _wheels(choice).ravel(),
        "spare_m": _spare(choice, envelope).ravel(),
        "speed_kmh": np.where(limited, choice.speed_m_s / KMH, np.nan).ravel(),
        "reason": np.array(reasons_of(choice, envelope, limits), dtype=object),
    }
    kinds = {column.name: column.kind.dtype for column in PASSINGS.columns}
    return pd.DataFrame({name: pd.Series(data[name], dtype=kinds[name]) for name in PASSINGS.names})


def _wheels(choice: Choice) -> Texts:
    """Name the side whose wheels meet each thing, as the driver sees it; nothing where none does."""
    left, right = choice.lines.left, choice.lines.right
    ways = [np.select([a & b, a, b], _SIDES, default="") for a, b in ((left, right), (right, left))]
    named = np.column_stack(ways).astype(object)
    named[(choice.passing != _TREAD) | (named == "")] = None
    return named


def _spare(choice: Choice, envelope: Envelope) -> Float64:
    """Room left: air over what is straddled (beside it, where it goes down), of the climb, beside it, m."""
    here = choice.things
    down = goes_down(here)
    over = np.where(down, choice.lines.between_m, lowest_of(envelope)[1] - np.abs(here.height_m))
    climb = np.where(choice.climb.edge_m > 0.0, choice.climb.limit_m - choice.climb.edge_m, np.nan)
    by_way = [over[:, None], climb, choice.lines.free_m[:, None]]
    return np.select([choice.passing == k for k in range(3)], by_way, default=np.nan)
