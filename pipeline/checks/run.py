"""All checks of all set-ups on all segments in both directions, as one table."""

from collections.abc import Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pipeline.checks.articulation import Articulation
from pipeline.checks.check import Check
from pipeline.checks.clearance import CLEARANCE_CHECKS
from pipeline.checks.grip.traction import Climb, Descent, Slide
from pipeline.checks.limits import Limits
from pipeline.checks.made import Columns, Made, alike, make
from pipeline.checks.passage import Height, Turn, Width
from pipeline.checks.prepared import Prepared, prepare
from pipeline.checks.scene import Scene
from pipeline.checks.site import CheckSite
from pipeline.checks.soft import Soft
from pipeline.checks.stability import PitchOver, Roll
from pipeline.checks.water import Ford
from pipeline.spread import Mapper, serial
from pipeline.tables import CHECKS, empty, validate
from pipeline.terms import Direction
from pipeline.vehicle.envelope_model import Envelope

__all__ = ["ALL_CHECKS", "MadeChecks", "checks_of", "checks_table", "make_checks", "run_checks"]

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
    Soft(),
)
"""Every check that is made, in the order of the table."""

_DIRECTIONS = np.array([direction.value for direction in Direction], dtype=object)

MadeChecks = tuple[tuple[Made, ...], ...]


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
    return checks_table(prepared, make_checks(prepared))


def make_checks(prepared: Prepared, before: tuple[Prepared, MadeChecks] | None = None) -> MadeChecks:
    """Make all checks of all set-ups, column by column.

    Parameters
    ----------
    prepared
        Site and set-ups.
    before
        What *prepared* was made from by :func:`pipeline.checks.prepared.prepare_again`, and its checks.

    Returns
    -------
    tuple
        One a set-up and, within, one a check in the order of :data:`ALL_CHECKS`.
    """
    known = list(zip(before[0].cases(), before[1], strict=True)) if before and before[1] else []
    made = []
    for case in prepared.cases():
        same = next((own for other, own in known if alike(case, other)), (None,) * len(ALL_CHECKS))
        made.append(tuple(make(check, case, one) for check, one in zip(ALL_CHECKS, same, strict=True)))
    return tuple(made)


def checks_table(prepared: Prepared, made: MadeChecks) -> pd.DataFrame:
    """Lay out the checks of all set-ups: contract CHECKS, as of :func:`run_checks`."""
    if not made:
        return empty(CHECKS)
    columns = [one.columns for own in made for one in own]
    return validate(_table(prepared.scene, prepared.envelopes, columns), CHECKS)


def _table(scene: Scene, envelopes: Sequence[Envelope], columns: Sequence[Columns]) -> pd.DataFrame:
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
