"""What the report says of room and water: tight places by set-up, and where water crosses."""

import math
from typing import Any

import numpy as np

from pipeline.products.facts import Facts
from pipeline.products.plain import WATER_CAUTION, clean, counts, rounded

__all__ = ["room_report"]


def room_report(facts: Facts) -> dict[str, Any]:
    """Gather the totals; widths and depths in metres."""
    return {"room": [_setup(facts, envelope.setup) for envelope in facts.envelopes], "water": _water(facts)}


def _setup(facts: Facts, setup: str) -> dict[str, Any]:
    """Count the tight places of a set-up in both directions."""
    own = facts.lines[facts.lines["setup"] == setup]
    blocked = own["missing_m"] > 0
    passes = own[~blocked]
    gaps = np.append(passes[["left_m", "right_m"]].to_numpy(dtype=np.float64).ravel(), math.inf)
    return {
        "setup": clean(setup),
        "tight_places": len(own),
        "none_passes": int(blocked.sum()),
        "one_reverse_would_do": int(own.loc[blocked, "shunt"].fillna(value=False).sum()),
        "least_room_where_it_passes_m": rounded(float(np.nanmin(gaps)), 2),
    }


def _water(facts: Facts) -> dict[str, Any]:
    """Count the crossings, and say what the limits are."""
    table = facts.crossings
    return {
        "caution": WATER_CAUTION,
        "crossings": len(table),
        "by_kind": counts(table["kind"]),
        "matched_with_the_survey": int(table["obstacle_id"].notna().sum()),
        "deepest_now_m": rounded(float(np.nanmax([*table["depth_now_m"], -math.inf])), 2),
    }
