"""Rows of the ground beside the line: how many, across which samples, at which points, how high."""

import numpy as np
import pytest
from numpy.typing import NDArray

from pipeline.terrain.dem import Samples
from pipeline.terrain.model import TerrainParameters
from pipeline.terrain.strip import level_strip, place_beside, rises, row_samples, strip_offsets

Floats = NDArray[np.float64]

THREE = TerrainParameters(strip_every=2, strip_across_m=(-1.0, 0.0, 0.5))


def ground(height: Floats, east: float = 0.0, north: float = 0.0, model: int | NDArray[np.int64] = 0) -> Samples:
    """Make samples of one gradient."""
    full = np.full(height.size, 1.0)
    return Samples(height, east * full, north * full, np.broadcast_to(np.asarray(model, dtype=np.int64), height.shape))


@pytest.mark.parametrize(
    ("samples", "rows"), [(1, [0]), (2, [0, 1]), (5, [0, 4]), (6, [0, 5]), (7, [0, 5, 6]), (11, [0, 5, 10])]
)
def test_a_row_every_fifth_sample_and_at_the_last(samples: int, rows: list[int]) -> None:
    """Whatever the length of a run, its first and last sample have a row, and none has two."""
    offsets = np.array([0, samples])
    assert row_samples(offsets, 5).tolist() == rows
    assert strip_offsets(offsets, 5).tolist() == [0, len(rows)]


def test_rows_of_several_runs_count_through_all_samples() -> None:
    """Runs of 4, 1 and 3 samples with a row every 2."""
    offsets = np.array([0, 4, 5, 8])
    assert row_samples(offsets, 2).tolist() == [0, 2, 3, 4, 5, 7]
    assert strip_offsets(offsets, 2).tolist() == [0, 3, 4, 6]
    strip = level_strip(offsets, THREE)
    assert strip.rise_m.shape == (6, 3)
    assert not strip.rise_m.any()
    assert strip.across_m.tolist() == [-1.0, 0.0, 0.5]


@pytest.mark.parametrize("bearing", [0.0, 30.0, 90.0, 200.0, 315.0])
def test_points_lie_square_to_a_straight_line(bearing: float) -> None:
    """Right of the direction is the bearing and 90°: at 0 ° to the east; places left of the line are negative."""
    turn = np.radians(bearing)
    along = np.arange(7.0)
    beside = place_beside(along * np.sin(turn), along * np.cos(turn), np.array([0, 7]), THREE)
    x, y = beside.x.reshape(4, 2), beside.y.reshape(4, 2)
    for k, place in enumerate((-1.0, 0.5)):
        assert x[:, k] == pytest.approx(along[::2] * np.sin(turn) + place * np.sin(turn + np.pi / 2.0), abs=1e-12)
        assert y[:, k] == pytest.approx(along[::2] * np.cos(turn) + place * np.cos(turn + np.pi / 2.0), abs=1e-12)


def test_a_kink_turns_the_rows_step_by_step() -> None:
    """A right angle from north to east: the row on it stands at 45°, those a row away are square to their leg."""
    x = np.array([0.0, 0.0, 0.0, 0.0, 0.0, 1.0, 2.0, 3.0, 4.0])
    y = np.array([0.0, 1.0, 2.0, 3.0, 4.0, 4.0, 4.0, 4.0, 4.0])
    beside = place_beside(x, y, np.array([0, 9]), THREE)
    bearing = np.degrees(np.arctan2(beside.right_x, beside.right_y)) - 90.0
    assert bearing == pytest.approx([0.0, 0.0, 45.0, 90.0, 90.0])


def test_runs_do_not_lend_each_other_their_direction() -> None:
    """Two runs, one north and one east: the chord at the end of the first does not reach into the second."""
    x, y = np.array([0.0, 0.0, 0.0, 9.0, 10.0, 11.0]), np.array([0.0, 1.0, 2.0, 0.0, 0.0, 0.0])
    beside = place_beside(x, y, np.array([0, 3, 6]), THREE)
    assert beside.right_x.tolist() == [1.0, 1.0, 0.0, 0.0]
    assert beside.right_y.tolist() == [0.0, 0.0, -1.0, -1.0]


def test_a_run_without_direction_has_no_ground_beside_it() -> None:
    """A single sample: nobody knows what lies to its right; the line itself is the line."""
    beside = place_beside(np.array([3.0]), np.array([4.0]), np.array([0, 1]), THREE)
    rise = rises(beside, ground(np.array([7.0])), ground(np.array([8.0, 9.0])), THREE)
    assert np.isnan(rise[0]).tolist() == [True, False, True]
    assert rise[0, 1] == 0.0


def rise_of(line: Samples, around: Samples) -> Floats:
    """Give the rise of a run of two samples to the north."""
    beside = place_beside(np.zeros(2), np.array([0.0, 1.0]), np.array([0, 2]), THREE)
    return rises(beside, line, around, THREE)


def test_rise_is_over_the_model_on_the_line() -> None:
    """Difference of two heights of one model, 0 on the line."""
    rise = rise_of(ground(np.array([10.0, 20.0])), ground(np.array([9.0, 10.5, 18.0, 21.0])))
    assert rise.tolist() == [[-1.0, 0.0, 0.5], [-2.0, 0.0, 1.0]]


def test_another_model_beside_the_line_is_no_step() -> None:
    """Its heights are 47 m off: the plane of the line's own gradient (0.2 to the east) stands in; voids stay voids."""
    line = ground(np.array([10.0, 20.0]), east=0.2, north=5.0)
    around = ground(np.array([57.0, 10.5, np.nan, 67.0]), model=np.array([1, 0, -1, 1]))
    rise = rise_of(line, around)
    assert rise[0].tolist() == pytest.approx([-0.2, 0.0, 0.5])
    assert rise[1, 1:].tolist() == pytest.approx([0.0, 0.1])
    assert np.isnan(rise[1, 0])


def test_a_line_in_a_void_has_no_rise() -> None:
    """Ground beside it is known, but over nothing."""
    line = ground(np.array([np.nan, 20.0]), model=np.array([-1, 0]))
    line.gradient_x[0] = np.nan
    rise = rise_of(line, ground(np.array([9.0, 10.5, 18.0, 21.0])))
    assert np.isnan(rise[0]).tolist() == [True, False, True]
    assert rise[1].tolist() == [-2.0, 0.0, 1.0]
