"""How a set-up stands at the worst place of each segment: what a drawing of it needs.

Where the check that decides was found by rolling the set-up over the ground, its worst pose is taken, on the run that
it was found on. Where it was not (grip, room, water), the set-up stands on the segment's own run with its middle at the
worst place, or as close to it as the run leaves it room.
"""

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pipeline.checks.check import Case
from pipeline.checks.prepared import Prepared
from pipeline.checks.rolling.four_wheels import PITCH, ROLL, TWIST
from pipeline.checks.rolling.stand import Stood, Wanted, stand_on
from pipeline.kernels.pose_records import APPROACH, BELLY, BREAKOVER, DEPARTURE
from pipeline.tables import POSES, empty, validate
from pipeline.terms import CheckName, Direction, Verdict, Wheel

__all__ = ["LARGE", "Poses", "make_poses"]

Int64 = NDArray[np.int64]
Texts = NDArray[np.object_]

LARGE = 5000
"""Networks of more segments have poses only where a spotter is asked for or the way is barred."""
SAME_M = 1e-6
"""Worst points this close are the same."""

_SIDE_VIEW = {
    CheckName.APPROACH: APPROACH,
    CheckName.BREAKOVER: BREAKOVER,
    CheckName.DEPARTURE: DEPARTURE,
    CheckName.BELLY: BELLY,
}
_FOUR_WHEELS = {CheckName.ROLL: ROLL, CheckName.PITCH_OVER: PITCH, CheckName.ARTICULATION: TWIST}
_WHEELS = tuple(wheel.word for wheel in Wheel)


@dataclass(frozen=True, slots=True)
class Poses:
    """Poses with the ground round them; arrays are parallel to the rows of the table."""

    table: pd.DataFrame
    """Contract POSES."""
    step_m: float
    """Distance along the ground between the heights."""
    first_m: NDArray[np.float64]
    """Where the first height lies, m in travel from below the middle of the front axle, shape (poses,); negative."""
    ground_m: NDArray[np.float32]
    """Heights over the mean of the ground under the four wheels, m, shape (poses, places, 3): under the left wheels,
    the middle and the right wheels, in travel; NaN where there is none, and beyond the reach of the set-up. The
    middle is the ground that the body passes over. Where the ground beside the middle is not known under every
    wheel, heights are over the mean of the middle below both axles."""


def make_poses(prepared: Prepared, verdicts: gpd.GeoDataFrame) -> Poses:
    """Stand every set-up at the worst place of every segment, both ways.

    Parameters
    ----------
    prepared
        Site and set-ups, rolled over.
    verdicts
        Contract VERDICTS: the checks that decide, and where.

    Returns
    -------
    Poses
        A row where the deciding check has a place and the set-up can stand there; in networks of more than
        :data:`LARGE` segments only of verdicts ``spot`` and ``barred``. In the order of *verdicts*.
    """
    site = prepared.scene.site
    wanted = _wanted_rows(verdicts, len(site.network.segments))
    stood = []
    for case in prepared.cases():
        own = wanted[verdicts["setup"].to_numpy(object)[wanted] == case.envelope.setup]
        if own.size:
            stood.append(stand_on(_wanted(case, verdicts, own), case))
    places = max((one.ground.shape[1] for one in stood), default=0)
    stood = [one._replace(ground=_widened(one.ground, places)) for one in stood]
    if not stood:
        return Poses(empty(POSES), site.terrain.profiles.step_m, np.zeros(0), np.zeros((0, 0, 3), dtype=np.float32))
    together = Stood._make(np.concatenate(column) for column in zip(*stood, strict=True))
    order = np.argsort(together.row)
    together = Stood._make(column[order] for column in together)
    return Poses(_table(together, verdicts), site.terrain.profiles.step_m, together.first_m, together.ground)


def _wanted_rows(verdicts: gpd.GeoDataFrame, segments: int) -> Int64:
    """Rows of the verdicts that have a place and are asked for."""
    wanted = verdicts["at_m"].notna()
    if segments > LARGE:
        wanted &= verdicts["verdict"].isin([Verdict.SPOT.value, Verdict.BARRED.value])
    return np.flatnonzero(wanted)


def _wanted(case: Case, verdicts: gpd.GeoDataFrame, rows: Int64) -> Wanted:
    """Say where a set-up shall stand: in the worst pose where one was rolled, else with its middle at the worst point.

    A check can have a worse point of another kind than what was rolled (a thing that the side view does not show): then
    the worst pose is not at the place that the verdict tells.
    """
    chosen = verdicts.iloc[rows]
    ids = case.scene.site.network.segments["segment_id"]
    segment = pd.Index(ids).get_indexer(chosen["segment_id"])
    direction = (chosen["direction"] == Direction.AGAINST.value).to_numpy(np.int64)
    at, check = chosen["at_m"].to_numpy(np.float64), chosen["check"].to_numpy(object)
    run, rear, front = segment.astype(np.int64), np.full(rows.size, np.nan), np.full(rows.size, np.nan)
    for swept, columns in ((case.sweep, _SIDE_VIEW), (case.four, _FOUR_WHEELS)):
        for name, column in columns.items():
            pick = (segment, direction, column)
            rolled = (check == name.value) & (np.abs(swept.at_m[pick] - at) < SAME_M)
            run = np.where(rolled, swept.run[pick], run)
            rear, front = np.where(rolled, swept.rear_m[pick], rear), np.where(rolled, swept.front_m[pick], front)
    start = case.scene.site.terrain.profiles.start_m[run]
    return Wanted(rows, run, direction, at - start, rear - start, front - start)


def _widened(ground: NDArray[np.float32], places: int) -> NDArray[np.float32]:
    """Fill the ground of a set-up up to the places of the longest one."""
    return np.pad(ground, ((0, 0), (0, places - ground.shape[1]), (0, 0)), constant_values=np.float32(np.nan))


def _table(stood: Stood, verdicts: gpd.GeoDataFrame) -> pd.DataFrame:
    """Lay poses out as the contract has it."""
    told = verdicts.iloc[stood.row].reset_index(drop=True)
    lifted = np.array([*_WHEELS, None], dtype=object)[stood.lifted]
    data = {
        **{name: told[name] for name in ("segment_id", "setup", "direction", "check", "at_m")},
        "rear_m": stood.rear_m,
        "front_m": stood.front_m,
        "pitch_deg": np.degrees(stood.pitch),
        "roll_deg": np.degrees(stood.roll),
        "twist_m": stood.twist,
        **{f"{word.replace(' ', '_')}_m": heights for word, heights in zip(_WHEELS, stood.wheels.T, strict=True)},
        "lifted": lifted,
        "stability_deg": np.degrees(stood.stability),
    }
    columns = {column.name: pd.Series(data[column.name], dtype=column.kind.dtype) for column in POSES.columns}
    return validate(pd.DataFrame(columns), POSES)
