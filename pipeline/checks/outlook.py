"""The site judged under other weather: the verdict of every segment and set-up then, and what decides it."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import pandas as pd

from pipeline.checks.judged import Judged, judge_again
from pipeline.ground.model import Ground
from pipeline.spread import Mapper, serial
from pipeline.tables import OUTLOOKS, empty, validate

__all__ = ["Outlook", "outlooks_table"]


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
    tables = [table for one in outlooks for table in _tables(judged, one, mapper)]
    if not tables:
        return empty(OUTLOOKS)
    kinds = {column.name: column.kind.dtype for column in OUTLOOKS.columns}
    return validate(pd.concat(tables, ignore_index=True)[list(OUTLOOKS.names)].astype(kinds), OUTLOOKS)


def _tables(judged: Judged, outlook: Outlook, mapper: Mapper) -> Iterator[pd.DataFrame]:
    """Yield the verdicts under one weather, with the sentence of the check that decides."""
    envelopes = judged.prepared.envelopes
    then = judge_again(judged, envelopes, outlook.ground, mapper)
    if envelopes:
        verdicts = pd.DataFrame(then.verdicts.drop(columns="geometry"))
        yield verdicts.assign(outlook=outlook.name, reason=then.checks_at(verdicts)["reason"].to_numpy())
