"""Outcomes and what they are made of."""

import numpy as np

from pipeline.checks.check import STUCK, Outcome, ratio, unknown_where


def test_ratio_knows_missing_and_nothing() -> None:
    """Demand ÷ limit; missing stays missing, and a limit of nothing is far over whatever is asked."""
    found = ratio(np.array([1.0, np.nan, 1.0, 0.0]), np.array([2.0, 1.0, np.nan, 0.0]))
    np.testing.assert_array_equal(found, [0.5, np.nan, np.nan, STUCK])


def test_worse_of_takes_each_place_by_itself() -> None:
    """The larger utilisation wins place by place, known beats unknown, and no reason for not knowing is lost."""
    one = Outcome.of(np.array([[0.2, np.nan]]), np.array(1.0), "m", unknown=np.array([["", "dark"]], dtype=object))
    two = Outcome.of(np.array([[0.5, 0.1]]), np.array(1.0), "°", unknown=np.array([["fog", ""]], dtype=object))
    worst = one.worse_of(two)
    assert worst.utilisation.tolist() == [[0.5, 0.1]]
    assert worst.unit.tolist() == [["°", "°"]]
    assert worst.unknown.tolist() == [["fog", "dark"]]


def test_first_reason_that_holds() -> None:
    """The first reason of the list that holds for a segment is told."""
    told = unknown_where(
        (np.array([True, False, False]), "a"), (np.array([True, True, False]), np.array(["x", "y", "z"], dtype=object))
    )
    assert told.tolist() == [["a"], ["y"], [""]]
