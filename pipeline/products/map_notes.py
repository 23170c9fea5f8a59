"""Ways past things in the way, and stopping distances, as the map page carries them."""

import math
from typing import Any

import numpy as np
import pandas as pd

from pipeline.products.facts import Facts
from pipeline.products.map_codes import LARGE, Sayings, Words, codes, keys, tenths, whole
from pipeline.products.plain import clean, text
from pipeline.terms import Passing

__all__ = ["PASSINGS", "passings", "stopping"]

PASSINGS = [passing.value for passing in Passing]
NEVER = -1
"""Stands for a braking distance without end."""


def passings(facts: Facts, index: dict[str, int], setups: list[str]) -> dict[str, Any]:
    """Rows of the passings, by segment, in the order of the chainage; none in large networks.

    A row is: set-up and direction, chainage in 0.1 m, name of the thing, passing, saying of the reason (which
    need not begin with the passing again), its figures.
    """
    table = facts.passings.sort_values("at_m", kind="stable")
    names, things, reasons = _names(facts), Words(), Sayings()
    found: list[list[list[Any]]] = [[] for _ in index]
    if len(facts.segments) > LARGE:
        table = table.iloc[:0]
    columns = (
        codes(table["segment_id"], list(index)).tolist(),
        keys(table, setups).tolist(),
        tenths(table["at_m"]),
        [things.number(names[one]) for one in table["obstacle_id"]],
        codes(table["passing"], PASSINGS).tolist(),
        (
            reasons.code(reason.removeprefix(f"{word}: "))
            for word, reason in zip(table["passing"], table["reason"], strict=True)
        ),
    )
    for segment, key, at, thing, passing, reason in zip(*columns, strict=True):
        found[segment].append([key, at, thing, passing, *reason])
    return {"words": PASSINGS, "things": things.words, "reasons": reasons.words, "rows": found}


def _names(facts: Facts) -> dict[str, str]:
    """Call every thing by its kind and, where it has one, its name."""
    own = facts.obstacles[facts.obstacles["obstacle_id"].isin(facts.passings["obstacle_id"])]
    columns = (own["obstacle_id"], own["kind"], own["name"])
    return {one: clean(f"{kind} {text(name)}") for one, kind, name in zip(*columns, strict=True)}


def stopping(facts: Facts, index: dict[str, int], setups: list[str]) -> list[list[list[Any]]]:
    """Rows of the stopping distances, by segment; none in large networks.

    A row is: set-up and direction, steepest descent in 0.1°, its chainage in 0.1 m, speed in 0.1 km/h, stopping
    distance at low and at typical grip in 0.1 m, rounded up; −1 where it cannot stop.
    """
    table = facts.stopping
    found: list[list[list[Any]]] = [[] for _ in index]
    if len(facts.segments) > LARGE:
        return found
    columns = (
        keys(table, setups).tolist(),
        whole(10 * table["grade_deg"]),
        tenths(table["at_m"]),
        whole(10 * table["speed_kmh"]),
        *(_distance(table, column) for column in ("brake_low_m", "brake_typical_m")),
    )
    segments = codes(table["segment_id"], list(index)).tolist()
    for segment, *row in zip(segments, *columns, strict=True):
        found[segment].append(row)
    return found


def _distance(table: pd.DataFrame, brake: str) -> list[int]:
    """Sum reaction and braking in 0.1 m, rounded up."""
    metres = (table["reaction_m"] + table[brake]).to_numpy(dtype=np.float64)
    return [math.ceil(10 * value - 1e-6) if math.isfinite(value) else NEVER for value in metres.tolist()]
