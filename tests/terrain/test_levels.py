"""Joining sources of heights along a run."""

import numpy as np
import pytest

from pipeline.terrain.levels import join_levels

RAMP = 0.05 * np.arange(12.0)


def test_a_difference_of_datums_vanishes_and_the_grade_goes_on() -> None:
    """45 m between ellipsoidal and orthometric heights on one even ramp: the ramp comes back."""
    source = np.repeat([3, 0], [5, 7])
    z = RAMP + np.where(source == 3, 45.0, 0.0)
    joined = join_levels(z, source, np.array([0, 12]), np.array([0]))
    assert joined == pytest.approx(RAMP + 45.0)
    assert join_levels(z, source, np.array([0, 12]), np.array([8])) == pytest.approx(RAMP)


def test_two_borders_in_one_run_and_none_in_the_next() -> None:
    """Each run is joined by itself; a run with one source is left alone."""
    source = np.array([0, 0, 0, 1, 1, 1, 0, 0, 0, 0, 0, 0])
    z = RAMP + np.where(source == 1, -2.0, 0.0)
    z[9:] += 7.0
    joined = join_levels(z, source, np.array([0, 9, 12]), np.array([4, 9]))
    assert joined[:9] == pytest.approx(RAMP[:9] - 2.0)
    assert joined[9:].tolist() == z[9:].tolist()


def test_runs_with_different_sources_do_not_touch() -> None:
    """A change of source between two runs is no border."""
    source, z = np.repeat([0, 1], 6), np.concatenate((RAMP[:6], RAMP[:6] + 30.0))
    assert join_levels(z, source, np.array([0, 6, 12]), np.array([0, 6])).tolist() == z.tolist()


def test_across_a_gap_nothing_is_joined() -> None:
    """Where heights are missing between two sources, both sides stay."""
    source = np.array([0, 0, 0, -1, 1, 1])
    z = np.array([0.0, 0.1, 0.2, np.nan, 50.0, 50.1])
    joined = join_levels(z, source, np.array([0, 6]), np.array([0]))
    assert np.array_equal(joined, z, equal_nan=True)


def test_a_single_sample_of_a_source_goes_on_level() -> None:
    """Where neither side has a second sample, the profile goes on level."""
    joined = join_levels(np.array([10.0, 99.0]), np.array([0, 1]), np.array([0, 2]), np.array([0]))
    assert joined.tolist() == [10.0, 10.0]


def test_a_real_slope_inside_one_source_stays() -> None:
    """A step within one source is ground, and is kept."""
    z = np.where(np.arange(10) < 5, 0.0, 0.4)
    assert join_levels(z, np.zeros(10, dtype=np.int64), np.array([0, 10]), np.array([0])).tolist() == z.tolist()


def test_a_brow_at_the_border_is_not_planed_off() -> None:
    """Up 30 %, then down 30 %, the border at the top: within 3 cm of going on, so nothing is shifted."""
    z = 0.03 * np.minimum(np.arange(10.0), 9.0 - np.arange(10.0))
    source = np.repeat([0, 1], 5)
    assert join_levels(z, source, np.array([0, 10]), np.array([0])).tolist() == z.tolist()
