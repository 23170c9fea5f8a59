"""The ground beside the line: heights across every run, relative to the line itself."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.terrain.dem import Samples
from pipeline.terrain.model import Strip, TerrainParameters

__all__ = ["Beside", "level_strip", "place_beside", "rises", "row_samples", "strip_offsets"]

Int64 = NDArray[np.int64]
Float64 = NDArray[np.float64]


def strip_offsets(offsets: Int64, every: int) -> Int64:
    """Give the offsets of the rows of a strip: one row every *every* samples, and one at the last sample.

    Parameters
    ----------
    offsets
        Run ``r`` owns samples ``offsets[r]:offsets[r + 1]``.
    every
        Samples from one row to the next.
    """
    last = np.maximum(np.diff(offsets) - 1, 0)
    return np.concatenate(([0], np.cumsum(-(-last // every) + 1))).astype(np.int64)


def row_samples(offsets: Int64, every: int) -> Int64:
    """Give the sample that each row of a strip lies across, counted through all runs.

    Parameters
    ----------
    offsets, every
        As for :func:`strip_offsets`.
    """
    rows = strip_offsets(offsets, every)
    run = np.repeat(np.arange(rows.size - 1), np.diff(rows))
    inside = (np.arange(rows[-1]) - rows[run]) * every
    return np.asarray(np.minimum(offsets[run] + inside, offsets[run + 1] - 1))


def level_strip(offsets: Int64, parameters: TerrainParameters | None = None) -> Strip:
    """Make a strip that is level across everywhere.

    Parameters
    ----------
    offsets
        Run ``r`` owns samples ``offsets[r]:offsets[r + 1]``.
    parameters
        Spacing of the rows and places across.
    """
    chosen = parameters or TerrainParameters()
    rows = strip_offsets(offsets, chosen.strip_every)
    across = np.array(chosen.strip_across_m, dtype=np.float64)
    return Strip(across, chosen.strip_every, rows, np.zeros((int(rows[-1]), across.size), dtype=np.float32))


@dataclass(frozen=True, slots=True)
class Beside:
    """The points beside the line, before they have heights; rows one after another, the line itself left out."""

    sample: Int64
    """Sample that each row lies across, shape (rows,)."""
    right_x: Float64
    """Easting of the unit vector to the right of the run, shape (rows,); NaN where the run has no direction."""
    right_y: Float64
    x: Float64
    """Easting of every point, m, shape (rows × places,)."""
    y: Float64


def place_beside(x: Float64, y: Float64, offsets: Int64, parameters: TerrainParameters) -> Beside:
    """Place the points beside runs.

    Parameters
    ----------
    x, y
        Samples of all runs, m.
    offsets
        Run ``r`` owns samples ``offsets[r]:offsets[r + 1]``.
    parameters
        Spacing of the rows and places across.

    Returns
    -------
    Beside
        Rows stand square to the chord from the row before to the row after, so that a kink of the line turns them
        step by step.
    """
    every = parameters.strip_every
    sample = row_samples(offsets, every)
    counts = np.diff(strip_offsets(offsets, every))
    behind = np.maximum(sample - every, np.repeat(offsets[:-1], counts))
    ahead = np.minimum(sample + every, np.repeat(offsets[1:] - 1, counts))
    east, north = x[ahead] - x[behind], y[ahead] - y[behind]
    length = np.hypot(east, north)
    length[length == 0.0] = np.nan
    right_x, right_y = north / length, -east / length
    across = _away(parameters)
    side_x, side_y = (np.nan_to_num(side)[:, None] * across for side in (right_x, right_y))
    return Beside(
        sample=sample,
        right_x=right_x,
        right_y=right_y,
        x=(x[sample][:, None] + side_x).ravel(),
        y=(y[sample][:, None] + side_y).ravel(),
    )


def rises(beside: Beside, line: Samples, around: Samples, parameters: TerrainParameters) -> Float64:
    """Give the heights beside the line over the ground on it.

    Parameters
    ----------
    beside
        The points.
    line
        The ground at the samples of the runs.
    around
        The ground at the points.
    parameters
        Places across.

    Returns
    -------
    ndarray
        Rise, m, shape (rows, places across), both heights from the same elevation model; NaN where either is
        missing. Where a point lies in another model than the line, the plane that touches the ground on the line
        takes its place: two models never agree to the centimetre, and a step between them is none of the ground's.
    """
    sample, away = beside.sample, _away(parameters)
    shape = (sample.size, away.size)
    slope = line.gradient_x[sample] * beside.right_x + line.gradient_y[sample] * beside.right_y
    model = around.model.reshape(shape)
    elsewhere = (model >= 0) & (model != line.model[sample][:, None])
    rise = around.height.reshape(shape) - line.height[sample][:, None]
    rise = np.where(elsewhere, slope[:, None] * away, rise)
    rise[np.isnan(beside.right_x)] = np.nan
    whole = np.zeros((sample.size, len(parameters.strip_across_m)))
    whole[:, np.array(parameters.strip_across_m) != 0.0] = rise
    return whole


def _away(parameters: TerrainParameters) -> Float64:
    """Give the places across that are not on the line, m."""
    across = np.array(parameters.strip_across_m, dtype=np.float64)
    return np.asarray(across[across != 0.0])
