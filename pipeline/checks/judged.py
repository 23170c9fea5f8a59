"""A site judged: the set-ups rolled over it, all their checks, and the verdicts."""

from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd

from pipeline.checks.limits import Limits
from pipeline.checks.prepared import Prepared, prepare
from pipeline.checks.run import checks_of
from pipeline.checks.site import CheckSite
from pipeline.checks.verdict import verdicts_table
from pipeline.spread import Mapper, serial
from pipeline.vehicle.envelope_model import Envelope

__all__ = ["Judged", "judge_setups"]


@dataclass(frozen=True, slots=True)
class Judged:
    """A site judged: what the checks worked out and the two tables made from it."""

    prepared: Prepared
    checks: pd.DataFrame
    """Contract CHECKS."""
    verdicts: pd.DataFrame
    """Contract VERDICTS."""


def judge_setups(site: CheckSite, envelopes: Sequence[Envelope], limits: Limits, mapper: Mapper = serial) -> Judged:
    """Check every segment against every set-up.

    Parameters
    ----------
    site
        Network, terrain and ground.
    envelopes
        The set-ups.
    limits
        Margins, shares, thresholds, what counts as known.
    mapper
        Spreads the blocks of work; the numbers are the same for every mapper.
    """
    prepared = prepare(site, envelopes, limits, mapper)
    checks = checks_of(prepared)
    return Judged(prepared, checks, verdicts_table(checks, site.network, limits, prepared.drivers))
