"""What a drive sheet says about stopping, and about how sure its verdicts are."""

import math
from collections.abc import Sequence

import pandas as pd

from pipeline.products.doubted import doubted
from pipeline.products.facts import Facts
from pipeline.products.lines import Leg, rows
from pipeline.products.plain import MISSING, clean, odds
from pipeline.terms import Support

__all__ = ["CANNOT_STOP", "doubt_lines", "fitness_lines", "stop_speeds", "stops"]

CANNOT_STOP = "cannot stop"

_SAYS = {Support.CANNOT: "says nothing about", Support.DOUBTFUL: "tells only clear cases of"}
"""What the elevation model does to a check."""


def stops(facts: Facts, legs: Sequence[Leg], setups: Sequence[str]) -> tuple[str, ...]:
    """Say for every leg how soon the worst of the set-ups stops at low grip, whole metres, rounded up."""
    table = facts.stopping[facts.stopping["setup"].isin(setups)]
    total = table["reaction_m"] + table["brake_low_m"]
    worst = total.groupby([table["segment_id"], table["direction"]]).max().to_dict()
    return tuple(_distance(worst.get((leg.segment_id, leg.direction.value), math.nan)) for leg in legs)


def stop_speeds(facts: Facts, setups: Sequence[str]) -> str:
    """Say from what speed the set-ups stop: once where all drive alike, else each."""
    table = facts.stopping[facts.stopping["setup"].isin(setups)]
    fastest = table.groupby("setup")["speed_kmh"].max().to_dict()
    told = {setup: f"{fastest[setup]:.0f} km/h" for setup in setups if setup in fastest}
    if len(set(told.values())) < 2:
        return next(iter(told.values()), "the driver's speed")
    return " and ".join(f"{speed} ({clean(setup)})" for setup, speed in told.items())


def _distance(metres: float) -> str:
    if math.isnan(metres):
        return MISSING
    return CANNOT_STOP if math.isinf(metres) else f"{math.ceil(metres - 1e-6)} m"


def fitness_lines(facts: Facts, setups: Sequence[str]) -> tuple[str, ...]:
    """Say what the elevation model cannot carry of the checks of these set-ups: a line a cell size and kind of lack."""
    table = facts.fitness[facts.fitness["setup"].isin(setups)]
    return tuple(
        f"{_ground(cell)} {words} {_checks(table[(table['support'] == support) & (table['cell_m'] == cell)], setups)}."
        for support, words in _SAYS.items()
        for cell in sorted(set(table.loc[table["support"] == support, "cell_m"]))
    )


def _ground(cell_m: float) -> str:
    return f"The elevation model ({cell_m:g} m cells)" if cell_m > 0 else "The survey-grade line"


def _checks(own: pd.DataFrame, setups: Sequence[str]) -> str:
    """List checks, each with the set-ups it concerns where those are not all."""
    told = []
    for check, group in own.groupby("check", sort=False):
        names = list(dict.fromkeys(group["setup"]))
        whose = "" if len(names) == len(setups) else f" ({'; '.join(map(clean, names))})"
        told.append(str(check).replace("_", " ") + whose)
    return ", ".join(told)


def doubt_lines(facts: Facts, legs: Sequence[Leg], setups: Sequence[str]) -> tuple[str, ...]:
    """List the verdicts of the legs that doubt made worse, a line a check, with the chance of being over the limit."""
    ways = pd.MultiIndex.from_tuples([(leg.segment_id, leg.direction.value) for leg in legs])
    found = doubted(facts)
    found = found[found["setup"].isin(setups)]
    own = found[pd.MultiIndex.from_frame(found[["segment_id", "direction"]]).isin(ways)]
    return tuple(_doubted(str(check), own[own["check"] == check]) for check in dict.fromkeys(own["check"]))


def _doubted(check: str, own: pd.DataFrame) -> str:
    """Say where one check was made worse: the worst chance of each segment."""
    worst = own.sort_values("p_over", ascending=False, kind="stable").drop_duplicates("segment_id")
    places = (f"{clean(row.segment_id)} ({row.verdict}: {odds(row.p_over)})" for row in rows(worst))
    return f"{check.replace('_', ' ')} on {', '.join(places)}"
