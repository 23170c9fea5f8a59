"""Other weather over the tiny world: rain that bars and eases single verdicts, and a day like the day itself."""

from collections.abc import Sequence
from typing import Any

import pandas as pd

from pipeline.products.facts import Outlooked
from pipeline.tables import OUTLOOKS, validate

SHIFTS = (
    ("s2", 1, "with", "barred", 1.31, "climb", "climb asks 31.4° of 24.0°"),
    ("s1", 1, "against", "ample", 0.45, "turn", "turn asks 9.0 m of 20.0 m"),
    ("s4", 0, "with", "barred", 1.07, "slide", "slide asks 0.38 μ of 0.35 μ"),
)
"""What the rain changes: segment, set-up, direction, verdict, utilisation, check, sentence."""


def outlook_of(
    checks: pd.DataFrame, verdicts: pd.DataFrame, setups: Sequence[str], names: Sequence[str]
) -> dict[str, Any]:
    """Give the facts of two outlooks: the first changes :data:`SHIFTS`, the second nothing."""
    key = ["segment_id", "setup", "direction", "check"]
    day = pd.DataFrame(verdicts.drop(columns="geometry")).merge(
        checks[[*key, "reason"]], on=key, how="left", sort=False
    )
    rain = day.copy()
    for segment, setup, direction, *values in SHIFTS:
        if setup < len(setups):
            own = (rain["segment_id"] == segment) & (rain["setup"] == setups[setup]) & (rain["direction"] == direction)
            rain.loc[own, ["verdict", "utilisation", "check", "reason"]] = values
    table = pd.concat([rain.assign(outlook=names[0]), day.assign(outlook=names[1])], ignore_index=True)
    kinds = {column.name: column.kind.dtype for column in OUTLOOKS.columns}
    outlooks = validate(table[list(OUTLOOKS.names)].astype(kinds), OUTLOOKS)
    return {
        "outlooks": outlooks,
        "outlooked": (
            Outlooked(names[0], "ground wet (rain in mm, oldest day first: 0, 4.5, 20)"),
            Outlooked(names[1], "ground damp"),
        ),
    }
