"""``comparisons.html``: what a change of load, suspension, driver or rain does to the verdicts, on one page."""

import math
from collections.abc import Iterator
from dataclasses import dataclass

from markupsafe import Markup

from pipeline.checks.comparison.changes import Compared
from pipeline.products.cautioned import setup_warnings
from pipeline.products.facts import Facts
from pipeline.products.lines import rows
from pipeline.products.plain import CAUTION, clean, text, utilised
from pipeline.products.sheet_facts import conditions_text
from pipeline.products.templating import render, source
from pipeline.terms import Direction, Verdict

__all__ = ["Changed", "Comparison", "comparison_page", "comparisons"]


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


def comparison_page(facts: Facts) -> str:
    """Write the page of all comparisons that were asked for."""
    return render(
        "comparisons.html.j2",
        style=Markup(source("comparisons.css")),  # noqa: S704 — our own file
        site=clean(facts.site),
        caution=CAUTION,
        conditions=conditions_text(facts),
        comparisons=list(comparisons(facts)),
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
