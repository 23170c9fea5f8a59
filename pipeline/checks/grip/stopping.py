"""Stopping distances: how far a set-up rolls on after its driver has decided to stop, at the steepest descent."""

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pipeline.checks.check import Case
from pipeline.checks.grip.formulas import left_lengthwise
from pipeline.checks.grip.speed import braking_distance
from pipeline.checks.grip.station_slopes import ways
from pipeline.checks.prepared import Prepared
from pipeline.checks.slopes import slopes_unknown
from pipeline.tables import STOPPING, empty, validate
from pipeline.terms import Direction
from pipeline.units import KMH, grade_to_degrees

__all__ = ["stopping_table"]

Float64 = NDArray[np.float64]
Flags = NDArray[np.bool_]

_Columns = dict[str, NDArray[np.generic]]

_DIRECTIONS = np.array([direction.value for direction in Direction], dtype=object)


def stopping_table(prepared: Prepared) -> pd.DataFrame:
    """Work out where every set-up stops on the steepest descent of every segment, in both directions.

    Parameters
    ----------
    prepared
        Site and set-ups.

    Returns
    -------
    DataFrame
        Contract STOPPING; segments with known slopes only, rows by segment, set-up, direction. A segment that never
        falls in a direction is braked on as if level.

    Notes
    -----
    Speed and reaction are the driver's (``limits.motion``). Distances lie along the slope; the reaction is driven at
    the same speed. What the side slope of the station takes of the adhesion is not there for braking (friction
    circle). Formula: :func:`pipeline.checks.grip.speed.braking_distance`.
    """
    if not prepared.envelopes:
        return empty(STOPPING)
    cases = prepared.cases()
    known = (slopes_unknown(cases[0]) == "")[:, 0]
    ids = prepared.scene.site.network.segments["segment_id"].to_numpy(object)
    descents = _descents(cases[0], known)
    columns = [{**descents, **_distances(case, descents, known)} for case in cases]
    # (set-up, segment, direction) → (segment, set-up, direction)
    data = {name: np.stack([one[name] for one in columns]).swapaxes(0, 1).ravel() for name in columns[0]}
    data["segment_id"] = np.repeat(ids[known], 2 * len(cases))
    data["setup"] = np.tile(np.repeat([one.setup for one in prepared.envelopes], 2), known.sum()).astype(object)
    data["direction"] = np.tile(_DIRECTIONS, len(cases) * known.sum())
    kinds = {column.name: column.kind.dtype for column in STOPPING.columns}
    frame = pd.DataFrame({name: pd.Series(data[name], dtype=kinds[name]) for name in STOPPING.names})
    return validate(frame, STOPPING)


def _descents(case: Case, known: Flags) -> _Columns:
    """Find the steepest descent of every known segment in both directions, and the side slope there."""
    slopes = case.scene.slopes
    falls = [-grade for grade in ways(slopes.grade)]
    worst = slopes.worst(falls)
    steepest = worst.take(*falls)[known]
    falling = steepest > 0.0
    return {
        "grade_deg": grade_to_degrees(np.maximum(steepest, 0.0)),
        "at_m": np.where(falling, slopes.at_m(worst)[known], np.nan),
        "across": np.where(falling, worst.take(slopes.across)[known], 0.0),
    }


def _distances(case: Case, descents: _Columns, known: Flags) -> _Columns:
    """Work out the distances of one set-up, shape (known segments, 2)."""
    motion, ground = case.limits.motion[case.envelope.driver], case.scene.site.ground
    speed, aside = motion.speed_kmh * KMH, np.asarray(descents["across"], dtype=np.float64)
    downhill = np.tan(np.radians(descents["grade_deg"]))

    def brakes(mu: Float64) -> Float64:
        # The load is cos(roll) of what it is without a side slope: √(1 + across²) = 1/cos(roll).
        left = left_lengthwise(mu[known, None], aside) / np.sqrt(1.0 + aside**2)
        return braking_distance(speed, left, downhill)

    return {
        "speed_kmh": np.full(downhill.shape, motion.speed_kmh),
        "reaction_m": np.full(downhill.shape, speed * motion.reaction_s),
        "brake_low_m": brakes(ground.mu_low),
        "brake_typical_m": brakes(ground.mu_typical),
    }
