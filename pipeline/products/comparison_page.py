"""``comparisons.html``: what changes of load, suspension, driver, rain or of all weather do, on one page."""

import math
from collections.abc import Iterator
from dataclasses import dataclass

from markupsafe import Markup

from pipeline.checks.comparison.changes import Compared
from pipeline.products.cautioned import setup_warnings
from pipeline.products.facts import Facts
from pipeline.products.lines import rows
from pipeline.products.outlook_facts import LoopUnder, SetUpUnder, loop_line, loops_under, setups_under
from pipeline.products.plain import CAUTION, clean, text, utilised
from pipeline.products.sheet_facts import conditions_text
from pipeline.products.templating import render, source
from pipeline.terms import Direction, Verdict

__all__ = ["Changed", "Comparison", "OutlookPart", "comparison_page", "comparisons", "outlooks"]


_USED = " of what the driver may use: "
"""Ends what a sentence says of check and use, which have columns of their own on the page."""


@dataclass(frozen=True, slots=True)
class Changed:
    """One verdict that a change makes better or worse."""

    segment_id: str
    name: str
    direction: str
    before: str
    after: str
    worse: bool
    check: str
    used: str
    """Utilisation ÷ share of the driver, before and after."""
    reason: str


@dataclass(frozen=True, slots=True)
class Comparison:
    """One comparison, ready to print."""

    name: str
    setup: str
    warnings: tuple[str, ...]
    change: str
    effect: str
    better: int
    worse: int
    same: int
    changed: tuple[Changed, ...]
    """What gets worse first, the severest on top."""


@dataclass(frozen=True, slots=True)
class OutlookPart:
    """One other weather, ready to print."""

    name: str
    words: str
    setups: tuple[SetUpUnder, ...]
    loops: tuple[tuple[LoopUnder, str], ...]
    """Every loop and set-up, with a line on what it comes to."""


def comparison_page(facts: Facts) -> str:
    """Write the page of all comparisons and outlooks that were asked for."""
    return render(
        "comparisons.html.j2",
        style=Markup(source("comparisons.css")),  # noqa: S704 — our own file
        site=clean(facts.site),
        caution=CAUTION,
        conditions=conditions_text(facts),
        comparisons=list(comparisons(facts)),
        outlooks=list(outlooks(facts)),
        warnings=setup_warnings(facts),
        verdicts=[verdict.value for verdict in Verdict],
    )


def outlooks(facts: Facts) -> Iterator[OutlookPart]:
    """Lay every other weather out, in the order of the settings."""
    for one in facts.outlooked:
        yield OutlookPart(
            name=clean(one.name),
            words=clean(one.words),
            setups=setups_under(facts, one.name),
            loops=tuple((under, loop_line(under)) for under in loops_under(facts, one.name)),
        )


def comparisons(facts: Facts) -> Iterator[Comparison]:
    """Lay every comparison out, in the order of the settings."""
    names = dict(zip(facts.segments["segment_id"], facts.segments["name"], strict=True))
    for compared in facts.compared:
        yield Comparison(
            name=clean(compared.name),
            setup=clean(compared.setup),
            warnings=setup_warnings(facts, [compared.setup]),
            change=clean(compared.change).replace("_", " "),
            effect=clean(compared.effect),
            better=compared.better,
            worse=compared.worse,
            same=compared.same,
            changed=tuple(sorted(_changed(facts, compared, names), key=_order)),
        )


def _changed(facts: Facts, compared: Compared, names: dict[str, object]) -> Iterator[Changed]:
    """Walk the verdicts that one comparison changes."""
    for row in rows(facts.comparisons[facts.comparisons["comparison"] == compared.name]):
        yield Changed(
            segment_id=clean(row.segment_id),
            name=text(names.get(row.segment_id)),
            direction=row.direction,
            before=row.before,
            after=row.after,
            worse=Verdict(row.after).rank > Verdict(row.before).rank,
            check=row.check.replace("_", " "),
            used=f"{_used(row.used_before)} → {_used(row.used_after)}",
            reason=clean(row.reason).rpartition(_USED)[2],
        )


def _used(share: float) -> str:
    return "not known" if math.isnan(share) else utilised(share)


def _order(changed: Changed) -> tuple[bool, int, str, bool]:
    """Put what gets worse first, the severest on top; then by segment, with the line before against it."""
    return (not changed.worse, -Verdict(changed.after).rank, changed.segment_id, changed.direction != Direction.WITH)
