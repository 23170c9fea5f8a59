"""Verdicts before and after a change of load, suspension, driver or rain, and what made the difference."""

from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from pipeline.checks.comparison.words import Side, change_sentence, effect_text
from pipeline.checks.judged import Judged, judge_again
from pipeline.checks.limits import Limits
from pipeline.ground.model import Ground
from pipeline.spread import Mapper, serial
from pipeline.tables import COMPARISONS, empty, validate
from pipeline.terms import CheckName, Driver, Verdict
from pipeline.vehicle.envelope_model import Envelope

__all__ = ["Change", "Compared", "compare_changes"]


@dataclass(frozen=True, slots=True)
class Change:
    """One change: a set-up as it stands and as it would be, perhaps on other ground."""

    name: str
    """Name of the comparison; no two share one."""
    words: str
    """What is changed, as the settings say it."""
    before: Envelope
    """One of the set-ups that were judged."""
    after: Envelope
    ground: Ground | None = None
    """The ground after the change; ``None`` where it stays."""


@dataclass(frozen=True, slots=True)
class Compared:
    """One comparison that was asked for, in sum."""

    name: str
    setup: str
    """The set-up it begins from."""
    change: str
    """What is changed, in words: ``driver first-timer; ground wet``."""
    effect: str
    """What the change does to the set-up or the ground, in a sentence with its figures."""
    better: int
    """Number of verdicts (segment and direction) that get better."""
    worse: int
    same: int


def compare_changes(
    judged: Judged, changes: Sequence[Change], mapper: Mapper = serial
) -> tuple[pd.DataFrame, tuple[Compared, ...]]:
    """Judge every change and hold the verdicts against those of the set-up as it stands.

    Parameters
    ----------
    judged
        The set-ups as they stand.
    changes
        What to change.
    mapper
        Spreads the sweeps of the changed set-ups.

    Returns
    -------
    tuple
        Contract COMPARISONS: one row where a verdict changes, by change, segment and direction; and each change in
        sum, in the order of *changes*. A verdict counts as worse by :class:`pipeline.terms.Verdict`'s order.
    """
    rows: list[dict[str, object]] = []
    sums = []
    for change, after in zip(changes, _judge_changes(judged, changes, mapper), strict=True):
        own = list(_changed(change, judged, after))
        rows += own
        worse = sum(Verdict(str(row["after"])).rank > Verdict(str(row["before"])).rank for row in own)
        count = int((judged.verdicts["setup"] == change.before.setup).sum())
        grounds = (judged.prepared.scene.site.ground, change.ground)
        effect = effect_text(change.before, change.after, grounds, judged.prepared.limits)
        sums.append(
            Compared(change.name, change.before.setup, change.words, effect, len(own) - worse, worse, count - len(own))
        )
    return _table(rows), tuple(sums)


def _judge_changes(judged: Judged, changes: Sequence[Change], mapper: Mapper) -> list[Judged]:
    """Judge all changed set-ups, those on the same ground together; one result a change, in order."""
    found: dict[str, Judged] = {}
    grounds = {id(change.ground): change.ground for change in changes}
    for key, ground in grounds.items():
        same = [change for change in changes if id(change.ground) == key]
        envelopes = [replace(change.after, setup=change.name) for change in same]
        after = judge_again(judged, envelopes, ground, mapper)
        found |= {change.name: after for change in same}
    return [found[change.name] for change in changes]


def _changed(change: Change, before: Judged, after: Judged) -> Iterator[dict[str, object]]:
    """Yield one row where the verdict changes."""
    ours, theirs = before.verdicts_of(change.before.setup), after.verdicts_of(change.name)
    different = (ours["verdict"].to_numpy() != theirs["verdict"].to_numpy()).nonzero()[0]
    ours, theirs = ours.take(different), theirs.take(different)
    verdicts = [side["verdict"].tolist() for side in (ours, theirs)]
    worse = [Verdict(then).rank > Verdict(now).rank for now, then in zip(*verdicts, strict=True)]
    told = ours.assign(check=np.where(worse, theirs["check"], ours["check"]))
    limits, drivers = before.prepared.limits, (change.before.driver, change.after.driver)
    shares = [_shares(limits, driver) for driver in drivers]
    figures = (_figures(before, change.before.setup, told), _figures(after, change.name, told))
    unknown = _left_unknown(verdicts, after.checks_at(theirs)["reason"])
    rows = zip(told["segment_id"], told["direction"], told["check"], unknown, *verdicts, *figures, strict=True)
    for segment, direction, check, left, now, then, *both in rows:
        sides = [Side.of(figure, share[check]) for figure, share in zip(both, shares, strict=True)]
        yield {
            "comparison": change.name,
            "setup": change.before.setup,
            "segment_id": segment,
            "direction": direction,
            "before": now,
            "after": then,
            "check": check,
            "used_before": sides[0].used,
            "used_after": sides[1].used,
            "reason": change_sentence(CheckName(check), *sides) + left,
        }


def _figures(judged: Judged, setup: str, told: pd.DataFrame) -> list[dict[Hashable, Any]]:
    """Take the checks of one set-up that the rows of *told* name."""
    return judged.checks_at(told.assign(setup=setup)).to_dict("records")


def _left_unknown(verdicts: Sequence[Sequence[str]], reasons: Iterable[str]) -> list[str]:
    """Say what is not known where that alone remains of a bar: such a change is not quietly for the better."""
    bared = [now == Verdict.BARRED and then == Verdict.UNSURVEYED for now, then in zip(*verdicts, strict=True)]
    return [f"; but {reason}" if told else "" for reason, told in zip(reasons, bared, strict=True)]


def _shares(limits: Limits, driver: Driver) -> dict[str, float]:
    """Give the shares of one driver by check."""
    names = [name.value for name in CheckName]
    return dict(zip(names, limits.shares(driver, names).tolist(), strict=True))


def _table(rows: Sequence[Mapping[str, object]]) -> pd.DataFrame:
    """Lay out the rows as a table."""
    if not rows:
        return empty(COMPARISONS)
    kinds = {column.name: column.kind.dtype for column in COMPARISONS.columns}
    return validate(pd.DataFrame(rows, columns=list(COMPARISONS.names)).astype(kinds), COMPARISONS)
