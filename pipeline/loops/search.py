"""Finds the requested loops: one block a request, then the tables."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import geopandas as gpd
import pandas as pd

from pipeline.errors import SettingsError
from pipeline.loops.answers import answers_of
from pipeline.loops.ask.change import Change, in_words
from pipeline.loops.ask.mend import changes_of, possible
from pipeline.loops.ask.pairs import pairs_of
from pipeline.loops.assemble import LoopRecord, assemble, make_record
from pipeline.loops.day.session import session_rows, session_table
from pipeline.loops.explain import say_found, say_none
from pipeline.loops.group.tables import GroupRows, group_rows, group_tables
from pipeline.loops.names import request_faults
from pipeline.loops.plan import make_plan
from pipeline.loops.request import FoundLoops, LoopInputs, LoopNote, LoopRequest
from pipeline.loops.value.aims import aim_faults
from pipeline.loops.value.practice_table import practice_table
from pipeline.spread import Mapper, serial
from pipeline.tables import PRACTICE, empty, validate
from pipeline.terms import Driver

__all__ = ["Again", "find_loops", "together"]

Row = dict[str, object]
Again = Callable[[Sequence[tuple[str, Driver]]], LoopInputs]
"""Judges set-ups once more with other drivers, each named with the new one."""


@dataclass(frozen=True, slots=True)
class _Block:
    """One request with everything it needs, for a worker."""

    inputs: LoopInputs
    request: LoopRequest


@dataclass(frozen=True, slots=True)
class _Found:
    """What a block gives."""

    records: tuple[LoopRecord, ...]
    practice: tuple[Row, ...]
    session: tuple[Row, ...]
    group: tuple[GroupRows, ...]
    text: str
    changes: tuple[Change, ...]
    """Where nothing was found: what would give a loop."""


def find_loops(
    inputs: LoopInputs, requests: Sequence[LoopRequest], mapper: Mapper = serial, again: Again | None = None
) -> FoundLoops:
    """Find the loops that are asked for.

    Parameters
    ----------
    inputs
        Network, checks, verdicts, techniques, drivers, settings; nothing of it is changed.
    requests
        The loops wanted, each with its own set-ups.
    mapper
        Spreads the requests over workers; every mapper gives the same answer.
    again
        Judges the site with other drivers; it is asked only for loops that are not found otherwise, to tell whether a
        more practised driver would give one.

    Returns
    -------
    FoundLoops
        Tables of the loops in the order of the requests, and one note a request.

    Raises
    ------
    SettingsError
        With every name in the requests that nothing answers to, and every set-up without a driver.
    """
    faults = request_faults(requests, inputs.network, inputs.drivers, "loops")
    faults += aim_faults(requests, inputs.practice.aims, "loops")
    if faults:
        raise SettingsError(faults)
    blocks = [_Block(inputs, request) for request in requests]
    found = mapper(_search, blocks)
    loops, legs = assemble([record for one in found for record in one.records], inputs.network)
    group = group_tables([rows for one in found for rows in one.group], inputs.network)
    return FoundLoops(
        loops=loops,
        legs=legs,
        notes=tuple(_note(block, one, again) for block, one in zip(blocks, found, strict=True)),
        practice=_practice_table([row for one in found for row in one.practice]),
        session=session_table(row for one in found for row in one.session),
        bypasses=group.bypasses,
        convoy=group.convoy,
    )


def together(founds: Sequence[FoundLoops], order: Sequence[str]) -> FoundLoops:
    """Put the tables of several searches together.

    Parameters
    ----------
    founds
        Of loops with names of their own; at least one.
    order
        The names of all loops in the order of the tables.
    """
    if len(founds) == 1:
        return founds[0]
    place = {name: number for number, name in enumerate(order)}

    def joined(name: str) -> pd.DataFrame:
        tables = [getattr(found, name) for found in founds]
        # A table without rows says nothing of the kinds of its columns that another would not say better.
        whole = pd.concat([table for table in tables if len(table)] or tables[:1], ignore_index=True)
        names = whole["loop"].map(place)
        return pd.DataFrame(whole.iloc[names.argsort(kind="stable")].reset_index(drop=True))

    crs = founds[0].loops.crs
    return FoundLoops(
        loops=gpd.GeoDataFrame(joined("loops"), geometry="geometry", crs=crs),
        legs=joined("legs"),
        practice=joined("practice"),
        session=joined("session"),
        bypasses=gpd.GeoDataFrame(joined("bypasses"), geometry="geometry", crs=crs),
        convoy=joined("convoy"),
        notes=tuple(sorted((note for found in founds for note in found.notes), key=lambda note: place[note.loop])),
    )


def _search(block: _Block) -> _Found:
    """Find the loops of one request."""
    inputs, request = block.inputs, block.request
    plan = make_plan(inputs, request)
    answers = answers_of(plan)
    ranked = list(enumerate(answers, start=1))
    return _Found(
        records=tuple(make_record(plan, answer, rank) for rank, answer in ranked),
        practice=tuple(row for rank, answer in ranked for row in practice_table(plan, answer, rank)),
        session=tuple(row for rank, answer in ranked for row in session_rows(plan, answer, rank, inputs)),
        group=tuple(group_rows(inputs, plan, answer, rank) for rank, answer in ranked),
        text=say_found(plan, answers) if answers else say_none(plan, inputs.network),
        changes=() if answers else tuple(changes_of(inputs, plan)),
    )


def _note(block: _Block, found: _Found, again: Again | None) -> LoopNote:
    """Say what is proven of a loop, or why there is none and what would give one."""
    if found.records:
        return LoopNote(block.request.name, found=True, text=found.text)
    changes = [*found.changes, *_drivers(block, again)]
    told = in_words(changes) or _two(block)
    return LoopNote(block.request.name, found=False, text=f"{found.text} {told}")


def _two(block: _Block) -> str:
    """Say that no single change gives a loop, and which two do."""
    alone = "No single change of the request, the group or the ground gives one"
    pairs = pairs_of(block.inputs, block.request)
    return f"{alone}; two together do: {'; or '.join(pairs)}." if pairs else f"{alone}, nor do two."


def _drivers(block: _Block, again: Again | None) -> list[Change]:
    """Look whether a more practised driver in one set-up gives a loop; the least step up that does."""
    changes = []
    for setup in block.request.setups if again is not None else ():
        now = block.inputs.drivers[setup]
        for rank, driver in enumerate(list(Driver)[now.rank + 1 :], start=1):
            if again is not None and possible(again([(setup, driver)]), block.request):
                changes.append(Change.group(float(rank), f"a driver who is {_DRIVERS[driver]} in {setup}"))
                break
    return changes


_DRIVERS = {Driver.FIRST_TIMER: "a first-timer", Driver.PRACTISED: "practised", Driver.EXPERT: "an expert"}


def _practice_table(rows: Sequence[Row]) -> pd.DataFrame:
    """Lay out what the loops teach."""
    return validate(pd.DataFrame(rows, columns=list(PRACTICE.names)), PRACTICE) if rows else empty(PRACTICE)
