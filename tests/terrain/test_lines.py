"""Centre lines as flat arrays."""

import numpy as np
import pytest

from pipeline.terrain.lines import centre_lines, ragged_pick, subset
from tests.worlds import ORIGIN, at, network_of


def test_lines_lie_in_the_order_of_the_segments_with_their_lengths() -> None:
    """Vertices one line after another; chainage ends at the plan length."""
    network = network_of({"a": at((0, 0), (3, 4)), "b": at((3, 4), (3, 10), (8, 10))})
    centre = centre_lines(network)
    assert centre.lines.offsets.tolist() == [0, 2, 5]
    assert centre.length_m == pytest.approx([5.0, 11.0])
    assert centre.lines.x[2] - ORIGIN[0] == 3.0
    assert np.isnan(centre.z).all()
    assert not centre.surveyed.any()


def test_only_survey_grade_lines_are_surveyed() -> None:
    """Heights of a line count only where its profile says so; flat and high lines may stand side by side."""
    lines = {"a": [(*p, 7.0) for p in at((0, 0), (9, 0))], "b": at((9, 0), (9, 9))}
    centre = centre_lines(network_of(lines, profile={"a": "survey"}))
    assert centre.surveyed.tolist() == [True, False]
    assert centre.z[:2].tolist() == [7.0, 7.0]
    assert np.isnan(centre.z[2:]).all()


def test_a_subset_is_taken_in_the_order_asked() -> None:
    """Rows 2 and 0: their vertices, lengths and marks, in that order."""
    network = network_of({"a": at((0, 0), (3, 4)), "b": at((3, 4), (9, 4)), "c": at((9, 4), (9, 6), (9, 9))})
    part = subset(centre_lines(network), np.array([2, 0]))
    assert part.lines.offsets.tolist() == [0, 3, 5]
    assert part.length_m == pytest.approx([5.0, 5.0])
    assert (part.lines.x - ORIGIN[0]).tolist() == [9.0, 9.0, 9.0, 0.0, 3.0]


def test_ragged_members_are_found_in_the_order_of_the_rows() -> None:
    """Rows of 2, 0 and 3 members, taken backwards."""
    offsets, pick = ragged_pick(np.array([0, 2, 2, 5]), np.array([2, 1, 0]))
    assert offsets.tolist() == [0, 3, 3, 5]
    assert pick.tolist() == [2, 3, 4, 0, 1]
