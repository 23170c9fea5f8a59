"""A site judged: the set-ups rolled over it, all their checks, and the verdicts."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.checks.limits import Limits
from pipeline.checks.prepared import Prepared, prepare, prepare_again
from pipeline.checks.run import ALL_CHECKS, MadeChecks, checks_table, make_checks
from pipeline.checks.site import CheckSite
from pipeline.checks.verdict import verdicts_table
from pipeline.ground.model import Ground
from pipeline.spread import Mapper, serial
from pipeline.tables import VERDICTS
from pipeline.terms import Direction
from pipeline.vehicle.envelope_model import Envelope

__all__ = ["Judged", "judge_again", "judge_setups"]


@dataclass(frozen=True, slots=True)
class Judged:
    """A site judged: what the checks worked out and the two tables made from it."""

    prepared: Prepared
    checks: pd.DataFrame
    """Contract CHECKS."""
    verdicts: pd.DataFrame
    """Contract VERDICTS."""
    made: MadeChecks = ()
    """The checks before they were laid out; empty when they are not kept."""

    def verdicts_of(self, setup: str) -> pd.DataFrame:
        """Take the verdicts of one set-up without their geometry: by segment and direction, in order."""
        count = len(self.prepared.envelopes)
        first = np.arange(self._number(setup), len(self._segments()) * count, count)
        columns = [name for name in VERDICTS.names if name != "geometry"]
        rows = np.column_stack([2 * first, 2 * first + 1]).ravel()
        return pd.DataFrame(self.verdicts[columns].take(rows))

    def checks_at(self, setup: str, of: pd.DataFrame) -> pd.DataFrame:
        """Take the rows of one set-up that *of* names by ``segment_id``, ``direction`` and ``check``, one for each."""
        count = len(self.prepared.envelopes)
        segment = pd.Index(self.prepared.scene.site.network.segments["segment_id"]).get_indexer(
            pd.Index(of["segment_id"])
        )
        way = (of["direction"] != Direction.WITH.value).to_numpy(np.int64)
        check = pd.Index([one.name.value for one in ALL_CHECKS]).get_indexer(pd.Index(of["check"]))
        rows = ((segment * count + self._number(setup)) * 2 + way) * len(ALL_CHECKS) + check
        return self.checks.take(rows)

    def _segments(self) -> list[str]:
        """Give the segments in order."""
        return list(self.prepared.scene.site.network.segments["segment_id"])

    def _number(self, setup: str) -> int:
        """Give the number of a set-up."""
        return [envelope.setup for envelope in self.prepared.envelopes].index(setup)


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
    return _judged(prepare(site, envelopes, limits, mapper), None)


def judge_again(
    before: Judged, envelopes: Sequence[Envelope], ground: Ground | None = None, mapper: Mapper = serial
) -> Judged:
    """Check set-ups on a site that was judged, doing again only what the change touches.

    Parameters
    ----------
    before
        The site judged.
    envelopes
        The set-ups now.
    ground
        Another state of the ground; ``None`` where it stays.
    mapper
        Spreads the blocks of work.

    Returns
    -------
    Judged
        As :func:`judge_setups` gives for that ground, number for number and word for word.
    """
    return _judged(prepare_again(before.prepared, envelopes, ground, mapper), before)


def _judged(prepared: Prepared, before: Judged | None) -> Judged:
    """Make checks and verdicts; those of *before* are kept where they hold."""
    made = make_checks(prepared, None if before is None else (before.prepared, before.made))
    checks = checks_table(prepared, made)
    network = prepared.scene.site.network
    return Judged(prepared, checks, verdicts_table(checks, network, prepared.limits, prepared.drivers), made)
