"""All checks of all set-ups on all segments in both directions, as one table."""

from collections.abc import Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pipeline.checks.articulation import Articulation
from pipeline.checks.check import Case, Check, Outcome
from pipeline.checks.clearance import CLEARANCE_CHECKS
from pipeline.checks.doubt.demand import demand_sd, p_over, worsened
from pipeline.checks.grip.traction import Climb, Descent, Slide
from pipeline.checks.limits import Limits
from pipeline.checks.passage import Height, Turn, Width
from pipeline.checks.passing.on_things import with_things
from pipeline.checks.prepared import Prepared, prepare
from pipeline.checks.scene import Scene
from pipeline.checks.sentence import reasons, with_chance
from pipeline.checks.site import CheckSite
from pipeline.checks.stability import PitchOver, Roll
from pipeline.checks.verdict import WORDS, effective_utilisation, verdict_codes
from pipeline.checks.water import Ford
from pipeline.spread import Mapper, serial
from pipeline.tables import CHECKS, empty, validate
from pipeline.terms import Basis, Direction, Verdict
from pipeline.vehicle.envelope_model import Envelope

__all__ = ["ALL_CHECKS", "checks_of", "run_checks"]

ALL_CHECKS: tuple[Check, ...] = (
    *CLEARANCE_CHECKS,
    Roll(),
    PitchOver(),
    Slide(),
    Climb(),
    Descent(),
    Articulation(),
    Turn(),
    Width(),
    Height(),
    Ford(),
)
"""Every check that is made, in the order of the table."""

_BASIS_WORDS = np.array([Basis(k).word for k in sorted(Basis)], dtype=object)
_DIRECTIONS = np.array([direction.value for direction in Direction], dtype=object)

_Columns = dict[str, NDArray[np.generic]]


def run_checks(site: CheckSite, envelopes: Sequence[Envelope], limits: Limits, mapper: Mapper = serial) -> pd.DataFrame:
    """Hold every set-up against every segment, in both directions, whatever its status.

    Parameters
    ----------
    site
        Network, terrain and ground.
    envelopes
        The set-ups.
    limits
        Margins, shares, thresholds, what counts as known.
    mapper
        Spreads the profile sweeps; the table is the same for every mapper.

    Returns
    -------
    DataFrame
        Contract CHECKS; rows by segment, set-up (in the order given), direction, check.
    """
    return checks_of(prepare(site, envelopes, limits, mapper))


def checks_of(prepared: Prepared) -> pd.DataFrame:
    """Make all checks of all set-ups.

    Parameters
    ----------
    prepared
        Site and set-ups.

    Returns
    -------
    DataFrame
        As of :func:`run_checks`.
    """
    if not prepared.envelopes:
        return empty(CHECKS)
    columns = [_columns(check, case) for case in prepared.cases() for check in ALL_CHECKS]
    return validate(_table(prepared.scene, prepared.envelopes, columns), CHECKS)


def _columns(check: Check, case: Case) -> _Columns:
    """Make one check for one set-up; arrays of shape (segments, 2)."""
    outcome = with_things(check.evaluate(case), check.name, case)
    driver = case.envelope.driver
    share = float(case.limits.shares(driver, [check.name.value])[0])
    effective = effective_utilisation(outcome.utilisation, share)
    alone = verdict_codes(outcome, effective, case.limits)
    known = alone != Verdict.UNSURVEYED.rank
    sd = np.where(known, demand_sd(check.name, case, outcome), np.nan)
    p = p_over(outcome, sd)
    codes = worsened(alone, p, case.limits)
    told = with_chance(reasons(check.name, outcome, effective, driver, known), p, codes != alone)
    return {
        **_numbers(outcome, known),
        "demand_sd": sd,
        "p_over": p,
        "check": np.full(codes.shape, check.name.value, dtype=object),
        "unit": outcome.unit,
        "verdict": WORDS[codes],
        "basis": _BASIS_WORDS[np.where(known & (outcome.basis <= max(Basis)), outcome.basis, Basis.NONE)],
        "reason": np.array(told, dtype=object).reshape(codes.shape),
    }


def _numbers(outcome: Outcome, known: NDArray[np.bool_]) -> _Columns:
    """Give the numbers of the rows that are known; the others have none, so that nobody takes a part for the whole."""
    numbers = {name: getattr(outcome, name) for name in ("demand", "limit", "limit_typical", "utilisation", "at_m")}
    return {name: np.where(known, values, np.nan) for name, values in numbers.items()}


def _table(scene: Scene, envelopes: Sequence[Envelope], columns: list[_Columns]) -> pd.DataFrame:
    """Lay the columns of all set-ups and checks out in rows."""
    setups, checks = len(envelopes), len(ALL_CHECKS)
    segments = scene.length_m.size
    # (set-up, check, segment, direction) → (segment, set-up, direction, check)
    shape = (setups, checks, segments, 2)
    data: dict[str, NDArray[np.generic]] = {}
    for name in CHECKS.names:
        if name in columns[0]:
            stacked = np.stack([column[name] for column in columns]).reshape(shape)
            data[name] = stacked.transpose(2, 0, 3, 1).ravel()
    ids = scene.site.network.segments["segment_id"].to_numpy(object)
    names = np.array([envelope.setup for envelope in envelopes], dtype=object)
    data["segment_id"] = np.repeat(ids, setups * 2 * checks)
    data["setup"] = np.tile(np.repeat(names, 2 * checks), segments)
    data["direction"] = np.tile(np.repeat(_DIRECTIONS, checks), segments * setups)
    kinds = {column.name: column.kind.dtype for column in CHECKS.columns}
    return pd.DataFrame({name: pd.Series(data[name], dtype=kinds[name]) for name in CHECKS.names})
