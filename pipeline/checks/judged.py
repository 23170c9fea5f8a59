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
        setups = [envelope.setup for envelope in self.prepared.envelopes]
        first = np.arange(setups.index(setup), len(self._segments()) * len(setups), len(setups))
        columns = [name for name in VERDICTS.names if name != "geometry"]
        rows = np.column_stack([2 * first, 2 * first + 1]).ravel()
        return pd.DataFrame(self.verdicts[columns].take(rows))

    def checks_at(self, of: pd.DataFrame) -> pd.DataFrame:
        """Take the check of every row of *of*, by ``segment_id``, ``setup``, ``direction`` and ``check``."""
        setups = [envelope.setup for envelope in self.prepared.envelopes]
        names = [one.name.value for one in ALL_CHECKS]
        rows = np.zeros(len(of), dtype=np.int64)
        for column, words in (
            ("segment_id", self._segments()),
            ("setup", setups),
            ("direction", [way.value for way in Direction]),
            ("check", names),
        ):
            rows = rows * len(words) + pd.Index(words).get_indexer(pd.Index(of[column]))
        return self.checks.take(rows)

    def _segments(self) -> list[str]:
        """Give the segments in order."""
        return list(self.prepared.scene.site.network.segments["segment_id"])


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
