"""Other weather, as the map page carries it: digits and numbers as for the day, and sentences where they differ."""

from typing import Any

import pandas as pd

from pipeline.products.facts import Facts
from pipeline.products.map_codes import LARGE, Sayings, codes, judged, keys
from pipeline.products.outlook_facts import loop_line, loops_under
from pipeline.products.plain import clean

__all__ = ["outlooks"]


def outlooks(facts: Facts, index: dict[str, int], setups: list[str]) -> dict[str, Any]:
    """Gather the verdicts under every outlook, what decides them, and who can still drive the loops.

    ``why`` holds rows by segment: set-up and direction, saying, figures; only of what is told otherwise on the day,
    and none in large networks. ``loops`` holds for every loop of the page a row a set-up: its name, whether it can
    still drive it, and a line on that.
    """
    reasons = Sayings()
    found = [
        {
            "name": clean(one.name),
            "words": clean(one.words),
            "judged": judged(facts.outlooks[facts.outlooks["outlook"] == one.name], index, setups),
            "why": _why(facts, one.name, (index, setups), reasons),
            "loops": _loops(facts, one.name),
        }
        for one in facts.outlooked
    ]
    return {"all": found, "reasons": reasons.words}


def _why(
    facts: Facts, outlook: str, numbers: tuple[dict[str, int], list[str]], reasons: Sayings
) -> list[list[list[Any]]]:
    """Give the sentences of the checks that decide, by segment, where the day has another."""
    index, setups = numbers
    found: list[list[list[Any]]] = [[] for _ in index]
    if len(facts.segments) > LARGE:
        return found
    then = facts.outlooks[facts.outlooks["outlook"] == outlook]
    key = ["segment_id", "setup", "direction", "check"]
    day = pd.DataFrame(facts.checks[[*key, "reason"]])
    both = then.merge(day, on=key, how="left", suffixes=("", "_day"), sort=False)
    told = both[both["reason"] != both["reason_day"]]
    columns = (codes(told["segment_id"], list(index)).tolist(), keys(told, setups).tolist(), told["reason"])
    for segment, number, reason in zip(*columns, strict=True):
        found[segment].append([number, *reasons.code(reason)])
    return found


def _loops(facts: Facts, outlook: str) -> list[list[list[Any]]]:
    """Give what every loop of the page comes to under one outlook."""
    names = list(zip(facts.loops["loop"], facts.loops["rank"].tolist(), strict=True))
    found: list[list[list[Any]]] = [[] for _ in names]
    for under in loops_under(facts, outlook):
        found[names.index((under.loop, under.rank))].append([under.setup, not under.hindrances, loop_line(under)])
    return found
