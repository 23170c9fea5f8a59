"""Where water crosses a segment, as the map page carries it."""

from typing import Any

from pipeline.products.facts import Facts
from pipeline.products.map_codes import LARGE, Sayings, codes, tenths
from pipeline.products.plain import WATER_CAUTION

__all__ = ["crossings"]


def crossings(facts: Facts, index: dict[str, int]) -> dict[str, Any]:
    """Rows of the crossings, by segment, by chainage; none in large networks.

    A row is: chainage in 0.1 m, saying of the reason, its figures.
    """
    table = facts.crossings.sort_values("at_m", kind="stable")
    sayings = Sayings()
    found: list[list[list[Any]]] = [[] for _ in index]
    if len(facts.segments) > LARGE:
        table = table.iloc[:0]
    columns = (
        codes(table["segment_id"], list(index)).tolist(),
        tenths(table["at_m"]),
        map(sayings.code, table["reason"]),
    )
    for segment, at, reason in zip(*columns, strict=True):
        found[segment].append([at, *reason])
    return {"rows": found, "sayings": sayings.words, "caution": WATER_CAUTION}
