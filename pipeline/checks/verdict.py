"""Verdicts: of every check for its driver, and of every segment as the worst of its checks."""

from collections.abc import Mapping

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pipeline.checks.check import Outcome
from pipeline.checks.limits import Limits
from pipeline.survey.model import Network
from pipeline.tables import VERDICTS, validate
from pipeline.terms import Driver, Verdict

__all__ = ["effective_utilisation", "verdict_codes", "verdicts_table"]

Float64 = NDArray[np.float64]
Int8 = NDArray[np.int8]
Int64 = NDArray[np.int64]

WORDS = np.array([verdict.value for verdict in Verdict], dtype=object)
"""Words by rank."""


ROUNDING = 1e-9
"""A value at its limit counts as inside, whatever the last binary digit says."""


def effective_utilisation(utilisation: Float64, share: float) -> Float64:
    """Utilisation of what the driver may use."""
    return utilisation / share


def verdict_codes(outcome: Outcome, effective: Float64, limits: Limits) -> Int8:
    """Give the rank of the verdict of every row.

    A known overrun is ``barred`` whatever else is not known; otherwise what is not known in full is ``unsurveyed``.
    """
    steps = limits.thresholds
    effective = effective - ROUNDING
    codes = np.select(
        [effective <= steps.ample, effective <= steps.watch, effective <= steps.spot],
        [Verdict.AMPLE.rank, Verdict.WATCH.rank, Verdict.SPOT.rank],
        default=Verdict.BARRED.rank,
    )
    open_question = (outcome.unknown != "") | np.isnan(effective)
    over = effective > steps.spot
    return np.where(open_question & ~over, Verdict.UNSURVEYED.rank, codes).astype(np.int8)


def verdicts_table(
    checks: pd.DataFrame, network: Network, limits: Limits, drivers: Mapping[str, Driver] | None = None
) -> gpd.GeoDataFrame:
    """Give every segment, set-up and direction the worst of its checks.

    Parameters
    ----------
    checks
        Contract CHECKS. Verdicts are taken as they stand there, those that doubt has worsened too.
    network
        Geometry of the segments.
    limits
        Shares, and the checks whose ``unsurveyed`` does not decide.
    drivers
        Driver of each set-up, for ranking checks of the same verdict by utilisation ÷ share. Set-ups that are not
        named are ranked by the shares of the most careful driver; verdicts do not depend on it.

    Returns
    -------
    GeoDataFrame
        Contract VERDICTS, in the order of *checks*.
    """
    group, count = _groups(checks)
    rank = checks["verdict"].map({verdict.value: verdict.rank for verdict in Verdict}).to_numpy(np.int64)
    accepted = checks["check"].isin([name.value for name in limits.accept_unsurveyed]).to_numpy()
    skipped = accepted & (rank == Verdict.UNSURVEYED.rank)
    effective = np.nan_to_num(_effective(checks, limits, drivers or {}), nan=-1.0)
    # Rows that do not decide go last of their group, so that they decide only where nothing else is there.
    order = np.lexsort((np.arange(group.size), -effective, -rank, skipped, group))
    decides = order[np.searchsorted(group[order], np.arange(count))]
    worst = checks.iloc[decides].reset_index(drop=True)
    shapes = network.segments.set_index("segment_id").geometry
    table = gpd.GeoDataFrame(
        {name: worst[name] for name in VERDICTS.names},
        geometry=shapes.reindex(worst["segment_id"]).to_numpy(),
        crs=network.crs,
    )
    return validate(table, VERDICTS)


def _groups(checks: pd.DataFrame) -> tuple[Int64, int]:
    """Give every row the number of its segment, set-up and direction in order of appearance, and their count."""
    code = np.zeros(len(checks), dtype=np.int64)
    for column in ("segment_id", "setup", "direction"):
        codes, values = pd.factorize(checks[column])
        code = code * max(len(values), 1) + codes
    group, unique = pd.factorize(code)
    return group.astype(np.int64), len(unique)


def _effective(checks: pd.DataFrame, limits: Limits, drivers: Mapping[str, Driver]) -> Float64:
    """Utilisation ÷ share of every row."""
    share = np.ones(len(checks))
    for setup, rows in checks.groupby("setup", sort=False).indices.items():
        driver = drivers.get(str(setup), Driver.FIRST_TIMER)
        names, values = pd.factorize(checks["check"].iloc[rows])
        share[rows] = limits.shares(driver, np.asarray(values, dtype=object))[names]
    return checks["utilisation"].to_numpy(np.float64) / share
