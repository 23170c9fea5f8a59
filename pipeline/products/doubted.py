"""Which verdicts doubt made worse: those that the demand alone would not have given."""

from collections.abc import Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pipeline.checks.limits import Limits
from pipeline.checks.verdict import ROUNDING
from pipeline.products.facts import Facts
from pipeline.terms import Verdict
from pipeline.vehicle.envelope_model import Envelope

__all__ = ["doubted"]


def doubted(facts: Facts) -> pd.DataFrame:
    """Give the checks whose verdict the chance of being over the limit made worse.

    Returns
    -------
    Rows of CHECKS; none where the facts hold no limits. What is ``unsurveyed`` is never worsened by doubt.
    """
    if facts.limits is None:
        return facts.checks.iloc[:0]
    steps, doubt = facts.limits.thresholds, facts.limits.doubt
    rows = facts.checks[facts.checks["p_over"].ge(doubt.watch) & (facts.checks["verdict"] != Verdict.UNSURVEYED.value)]
    used = rows["utilisation"].to_numpy(dtype=np.float64) / _shares(facts.limits, facts.envelopes, rows) - ROUNDING
    plain = np.select(
        [used <= steps.ample, used <= steps.watch, used <= steps.spot],
        [Verdict.AMPLE.rank, Verdict.WATCH.rank, Verdict.SPOT.rank],
        default=Verdict.BARRED.rank,
    )
    ranks = rows["verdict"].map({verdict.value: verdict.rank for verdict in Verdict}).to_numpy()
    return rows[ranks > plain]


def _shares(limits: Limits, envelopes: Sequence[Envelope], rows: pd.DataFrame) -> NDArray[np.float64]:
    """Give the share of the limit that the driver of each row may use."""
    shares = np.ones(len(rows))
    for envelope in envelopes:
        own = (rows["setup"] == envelope.setup).to_numpy()
        shares[own] = limits.shares(envelope.driver, rows["check"].to_numpy(dtype=object)[own])
    return shares
