"""The site judged under other weather: the verdict of every segment and set-up then, and what decides it."""

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass

import pandas as pd

from pipeline.checks.judged import Judged, judge_again
from pipeline.ground.model import Ground
from pipeline.spread import Mapper, serial
from pipeline.tables import OUTLOOKS, empty, validate

__all__ = ["Outlook", "judge_outlooks", "outlooks_table"]


@dataclass(frozen=True, slots=True)
class Outlook:
    """Another weather."""

    name: str
    """Name of the outlook; no two share one."""
    ground: Ground
    """The ground under it."""


def outlooks_table(judged: Judged, outlooks: Sequence[Outlook], mapper: Mapper = serial) -> pd.DataFrame:
    """Judge the same set-ups under every other weather.

    Parameters
    ----------
    judged
        The site and its set-ups under the weather of the day.
    outlooks
        The other weathers.
    mapper
        Spreads what has to be rolled again: runs on which a thing is passed another way.

    Returns
    -------
    DataFrame
        Contract OUTLOOKS: by outlook, then in the order of the verdicts of the day.
    """
    return judge_outlooks(judged, outlooks, mapper)[0]


def judge_outlooks(
    judged: Judged, outlooks: Sequence[Outlook], mapper: Mapper = serial, kept: Collection[str] = ()
) -> tuple[pd.DataFrame, dict[str, Judged]]:
    """Judge the same set-ups under every other weather, and keep the site as judged under some of them.

    Parameters
    ----------
    judged, outlooks, mapper
        As for :func:`outlooks_table`.
    kept
        Names of the outlooks that are asked for whole.

    Returns
    -------
    DataFrame
        As :func:`outlooks_table` gives it.
    dict of str to Judged
        The site under each of *kept*.
    """
    envelopes, whole, tables = judged.prepared.envelopes, {}, []
    for one in outlooks:
        then = judge_again(judged, envelopes, one.ground, mapper)
        tables += list(_told(then, one.name))
        if one.name in kept:
            whole[one.name] = then
    if not tables:
        return empty(OUTLOOKS), whole
    kinds = {column.name: column.kind.dtype for column in OUTLOOKS.columns}
    table = pd.concat(tables, ignore_index=True)[list(OUTLOOKS.names)].astype(kinds)
    return validate(table, OUTLOOKS), whole


def _told(then: Judged, outlook: str) -> Iterator[pd.DataFrame]:
    """Yield the verdicts under one weather, with the sentence of the check that decides; nothing without set-ups."""
    if then.prepared.envelopes:
        verdicts = pd.DataFrame(then.verdicts.drop(columns="geometry"))
        yield verdicts.assign(outlook=outlook, reason=then.checks_at(verdicts)["reason"].to_numpy())
