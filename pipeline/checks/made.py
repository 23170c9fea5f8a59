"""One check of one set-up as columns of the table; made anew only where something else came out.

Grip, rain and drivers change few checks. What a check finds is always worked out; how sure it is, and its sentences,
cost most and are kept where the same was found for the same vehicle.
"""

from collections.abc import Mapping
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.check import Case, Check, Outcome
from pipeline.checks.doubt.demand import demand_sd, p_over, worsened
from pipeline.checks.passing.on_things import with_things
from pipeline.checks.sentence import reasons, with_chance
from pipeline.checks.verdict import WORDS, effective_utilisation, verdict_codes
from pipeline.terms import Basis, Driver, Verdict
from pipeline.vehicle.envelope_model import Envelope

__all__ = ["Made", "alike", "make"]

Columns = Mapping[str, NDArray[np.generic]]

_BASIS_WORDS = np.array([Basis(k).word for k in sorted(Basis)], dtype=object)
_BESIDE_THE_VEHICLE = {"setup", "driver", "warnings"}


@dataclass(frozen=True, slots=True)
class Made:
    """One check of one set-up."""

    outcome: Outcome
    """What it found, things in the way counted."""
    driver: Driver
    sd: NDArray[np.float64]
    """Standard deviation of the demand, also where the demand is not known in full."""
    columns: Columns
    """Columns of the table CHECKS, each of shape (segments, 2)."""


def alike(case: Case, other: Case) -> bool:
    """Tell whether two cases on one site have the same vehicle, sweeps and room; ground and driver may differ."""
    found = case.sweep is other.sweep and case.four is other.four and case.room is other.room
    return found and all(
        np.array_equal(getattr(case.envelope, column.name), getattr(other.envelope, column.name))
        for column in fields(Envelope)
        if column.name not in _BESIDE_THE_VEHICLE
    )


def make(check: Check, case: Case, known: Made | None = None) -> Made:
    """Make one check for one set-up.

    Parameters
    ----------
    check
        The check.
    case
        The set-up on its site.
    known
        The same check of a case that is :func:`alike`; what holds for both is taken from there.
    """
    outcome = with_things(check.evaluate(case), check.name, case)
    driver = case.envelope.driver
    if known is None or not _same(outcome, known.outcome):
        sd = demand_sd(check.name, case, outcome)
    elif driver is known.driver:
        return known
    else:
        sd = known.sd
    return Made(outcome, driver, sd, _columns(check, case, outcome, sd))


def _same(one: Outcome, other: Outcome) -> bool:
    """Tell whether two outcomes agree in everything; what is missing in both agrees."""
    pairs = ((getattr(one, column.name), getattr(other, column.name)) for column in fields(Outcome))
    return all(np.array_equal(ours, theirs, equal_nan=ours.dtype.kind == "f") for ours, theirs in pairs)


def _columns(check: Check, case: Case, outcome: Outcome, doubt: NDArray[np.float64]) -> Columns:
    """Lay out one check; *doubt* is the standard deviation of its demand."""
    driver = case.envelope.driver
    share = float(case.limits.shares(driver, [check.name.value])[0])
    effective = effective_utilisation(outcome.utilisation, share)
    alone = verdict_codes(outcome, effective, case.limits)
    known = alone != Verdict.UNSURVEYED.rank
    sd = np.where(known, doubt, np.nan)
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


def _numbers(outcome: Outcome, known: NDArray[np.bool_]) -> Columns:
    """Give the numbers of the rows that are known; the others have none, so that nobody takes a part for the whole."""
    numbers = {name: getattr(outcome, name) for name in ("demand", "limit", "limit_typical", "utilisation", "at_m")}
    return {name: np.where(known, values, np.nan) for name, values in numbers.items()}
