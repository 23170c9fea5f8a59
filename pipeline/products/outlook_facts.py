"""What other weather does: verdicts counted beside those of the day, and who can still drive which loop.

Loops stay those of the day. A set-up can still drive one where every leg is open to it as the search wants it: not
barred, and known.
"""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import pandas as pd

from pipeline.products.facts import Facts
from pipeline.products.gpx import loop_title
from pipeline.products.lines import rows
from pipeline.products.loop_facts import goes_round, legs_round, own_rows
from pipeline.products.plain import clean, text
from pipeline.terms import CheckName, Verdict

__all__ = [
    "Hindrance",
    "LoopUnder",
    "SetUpUnder",
    "loop_line",
    "loops_under",
    "outlook_lines",
    "outlook_summary",
    "setups_under",
]

_HINDERS = (Verdict.BARRED.value, Verdict.UNSURVEYED.value)
_RANK = {verdict.value: verdict.rank for verdict in Verdict}


@dataclass(frozen=True, slots=True)
class SetUpUnder:
    """The verdicts of one set-up under one other weather, both directions of every segment."""

    setup: str
    counts: Mapping[str, int]
    """Number of every verdict."""
    before: Mapping[str, int]
    """The same on the day."""
    worse: int
    """Verdicts that are worse than on the day."""
    better: int
    same: int


@dataclass(frozen=True, slots=True)
class Hindrance:
    """A leg that a set-up cannot drive under another weather."""

    segment_id: str
    name: str
    """Name of the segment; empty without one."""
    direction: str
    verdict: str
    check: str
    at_m: float
    """Chainage of the worst point; NaN when there is none."""
    reason: str


@dataclass(frozen=True, slots=True)
class LoopUnder:
    """One loop and one of its set-ups under one other weather."""

    outlook: str
    loop: str
    """As the table of the loops writes it."""
    rank: int
    title: str
    setup: str
    verdict: str
    """Worst of its legs."""
    hindrances: tuple[Hindrance, ...]
    """Legs that it cannot drive, in driving order; none where it still can drive the loop."""


def setups_under(facts: Facts, outlook: str) -> tuple[SetUpUnder, ...]:
    """Count the verdicts of every set-up under one outlook, beside those of the day; worked out once."""
    key = ("setups_under", outlook)
    if key not in facts.worked_out:
        facts.worked_out[key] = tuple(_setups_under(facts, outlook))
    found: tuple[SetUpUnder, ...] = facts.worked_out[key]
    return found


def loops_under(facts: Facts, outlook: str) -> tuple[LoopUnder, ...]:
    """Tell of every loop and each of its set-ups what it meets under one outlook, by loop; worked out once."""
    key = ("loops_under", outlook)
    if key not in facts.worked_out:
        facts.worked_out[key] = tuple(_loops_under(facts, outlook))
    found: tuple[LoopUnder, ...] = facts.worked_out[key]
    return found


def _setups_under(facts: Facts, outlook: str) -> Iterator[SetUpUnder]:
    key = ["segment_id", "setup", "direction"]
    then = facts.outlooks[facts.outlooks["outlook"] == outlook]
    both = then.merge(pd.DataFrame(facts.verdicts[[*key, "verdict"]]), on=key, suffixes=("", "_day"), sort=False)
    for envelope in facts.envelopes:
        own = both[both["setup"] == envelope.setup]
        shift = own["verdict"].map(_RANK) - own["verdict_day"].map(_RANK)
        yield SetUpUnder(
            setup=clean(envelope.setup),
            counts=_counts(own["verdict"]),
            before=_counts(own["verdict_day"]),
            worse=int((shift > 0).sum()),
            better=int((shift < 0).sum()),
            same=int((shift == 0).sum()),
        )


def _counts(verdicts: pd.Series) -> dict[str, int]:
    """Count every verdict, in order of severity."""
    found = verdicts.value_counts()
    return {verdict.value: int(found.get(verdict.value, 0)) for verdict in Verdict}


def _loops_under(facts: Facts, outlook: str) -> Iterator[LoopUnder]:
    around = [segment for way in facts.bypasses["way"] for segment, _ in legs_round(way)]
    driven = facts.outlooks["segment_id"].isin([*facts.legs["segment_id"], *around])
    then = facts.outlooks[driven & (facts.outlooks["outlook"] == outlook)]
    found = {(row.segment_id, row.setup, row.direction): row for row in rows(then)}
    names = dict(zip(facts.segments["segment_id"], facts.segments["name"], strict=True))
    for loop in rows(facts.loops):
        own = facts.legs[(facts.legs["loop"] == loop.loop) & (facts.legs["rank"] == loop.rank)].sort_values("seq")
        for setup in facts.loop_setups.get(loop.loop, ()):
            met = [found[segment, setup, direction] for segment, direction in _ways_of(facts, own, setup)]
            hindered = [row for row in met if row.verdict in _HINDERS]
            yield LoopUnder(
                outlook=outlook,
                loop=loop.loop,
                rank=int(loop.rank),
                title=loop_title(loop.loop, loop.rank),
                setup=clean(setup),
                verdict=max((row.verdict for row in met), key=_RANK.__getitem__),
                hindrances=tuple(
                    Hindrance(
                        segment_id=clean(row.segment_id),
                        name=text(names.get(row.segment_id)),
                        direction=row.direction,
                        verdict=row.verdict,
                        check=row.check.replace("_", " "),
                        at_m=row.at_m,
                        reason=clean(row.reason),
                    )
                    for row in hindered
                ),
            )


def _ways_of(facts: Facts, legs: pd.DataFrame, setup: str) -> list[tuple[str, str]]:
    """List what a set-up drives of a loop, each segment and direction once: its ways round in place of those legs."""
    own = legs[[not goes_round(verdicts, setup) for verdicts in legs["verdicts"]]]
    first = legs.iloc[0]
    round_ = own_rows(facts.bypasses, first["loop"], first["rank"])
    ways = [way for row in rows(round_[round_["setup"] == setup]) for way in legs_round(row.way)]
    return list(dict.fromkeys([*zip(own["segment_id"], own["direction"], strict=True), *ways]))


def outlook_lines(facts: Facts) -> dict[tuple[str, int], tuple[str, ...]]:
    """Say for every loop and rank who can still drive it, a line an outlook, of the reasons only the figures.

    What lies behind the figures of a ford stays with them: nobody is told a depth without what it is a limit of.
    """
    lines: dict[tuple[str, int], tuple[str, ...]] = {}
    for one in facts.outlooked:
        told = defaultdict(list)
        for under in loops_under(facts, one.name):
            told[under.loop, under.rank].append(f"{under.setup} {loop_line(_brief(under))}")
        for loop, own in told.items():
            line = f"{clean(one.name)}, {clean(one.words)}: {'; '.join(own)}."
            lines[loop] = (*lines.get(loop, ()), line)
    return lines


def _brief(under: LoopUnder) -> LoopUnder:
    """Cut the reasons down to their figures."""
    whole = CheckName.FORD.value
    cut = (one if one.check == whole else replace(one, reason=one.reason.split("; ")[0]) for one in under.hindrances)
    return replace(under, hindrances=tuple(cut))


def outlook_summary(facts: Facts) -> Iterator[str]:
    """Yield a line an outlook: verdicts worse and better than on the day, and who can no longer drive which loop."""
    for one in facts.outlooked:
        setups = setups_under(facts, one.name)
        worse, better = sum(setup.worse for setup in setups), sum(setup.better for setup in setups)
        yield (
            f"under {clean(one.name)}, {clean(one.words)}: {worse} verdicts worse than on the day, {better} better"
            f"{_stopped(loops_under(facts, one.name))}"
        )


def _stopped(unders: Sequence[LoopUnder]) -> str:
    """Say who can no longer drive which loop; nothing where there are no loops."""
    stopped = defaultdict(list)
    for under in unders:
        if under.hindrances:
            stopped[under.title].append(under.setup)
    if stopped:
        return "; no longer driven: " + ", ".join(f"{loop} ({'; '.join(setups)})" for loop, setups in stopped.items())
    return "; every loop can still be driven" if unders else ""


def loop_line(under: LoopUnder) -> str:
    """Say in a line what a set-up can do on a loop: ``still drives it (spot at worst)``, or what stops it first."""
    if not under.hindrances:
        return f"still drives it ({under.verdict} at worst)"
    first, more = under.hindrances[0], len(under.hindrances) - 1
    place = f"{first.segment_id} {first.name}".strip()
    besides = f"; and {more} more leg{'s' if more > 1 else ''}" if more else ""
    return f"cannot drive it: {first.verdict} on {place} ({first.direction}): {first.reason}{besides}"
