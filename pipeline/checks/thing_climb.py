"""The climb on to things: the edge that a wheel meets, against the edge that the set-up climbs there."""

import numpy as np
from numpy.typing import NDArray

from pipeline.checks.check import Case, Outcome, ratio
from pipeline.checks.obstacles import IN_PROFILE
from pipeline.checks.passing_choice import choose, codes_of
from pipeline.terms import Basis, Passing

__all__ = ["climb_on_things"]

Float64 = NDArray[np.float64]


def climb_on_things(case: Case) -> Outcome:
    """Hold the things that a wheel must go over against what the set-up climbs on to, and keep the worst of a segment.

    Parameters
    ----------
    case
        Site and set-up.

    Returns
    -------
    Outcome
        Edges in m; where no wheel need climb anything utilisation is NaN. What is straddled or gone round asks
        nothing.
    """
    choice = choose(case.scene.things.of(*IN_PROFILE), case.envelope, case.limits)
    here, climb = choice.things, choice.climb
    met = (
        np.isin(choice.passing, codes_of(Passing.TREAD, Passing.BARRED, Passing.UNSURVEYED))
        & choice.lines.tread[:, None]
    )
    used = np.where(met & (climb.edge_m > 0.0), ratio(climb.edge_m, climb.limit_m), np.nan)
    guessed = np.where(np.isnan(here.length_m), Basis.ASSUMED, Basis.SURVEYED).astype(np.uint8)
    segments = case.scene.length_m.size
    worst = np.column_stack([_worst(here.row, used[:, way], segments) for way in (0, 1)])
    pick, none = np.maximum(worst, 0), worst < 0

    def take(values: Float64) -> Float64:
        wide = values if values.ndim == 2 else np.column_stack([values, values])
        found = wide[pick, np.arange(2)] if len(wide) else np.full(pick.shape, np.nan)
        return np.where(none, np.nan, found)

    labels = np.append(here.label, "")[np.where(none, -1, pick)]
    return Outcome.of(
        take(climb.edge_m),
        take(climb.limit_m),
        "m",
        utilisation=take(used),
        at_m=take(here.at_m),
        basis=np.where(none, np.uint8(Basis.NONE), np.append(guessed, np.uint8(0))[pick]),
        more=np.where(none, "", "the edge that a wheel meets at " + labels + ", momentum not counted"),
    )


def _worst(row: NDArray[np.int64], used: Float64, segments: int) -> NDArray[np.int64]:
    """Find the thing of each segment with the largest utilisation, the first of equal ones; −1 where there is none."""
    found = np.full(segments, -1, dtype=np.int64)
    known = np.flatnonzero(~np.isnan(used))
    order = known[np.lexsort((-known, used[known]))]
    found[row[order]] = order
    return found
