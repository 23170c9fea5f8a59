"""The worst place of each group."""

from itertools import pairwise

import numpy as np
import pytest

from pipeline.kernels.check_worst import first_largest

pytestmark = pytest.mark.kernel


def test_first_of_equal_values_counts() -> None:
    """Of equal largest values the first is found, so that the place told does not depend on the order of work."""
    assert first_largest(np.array([1.0, 3.0, 3.0, 2.0]), np.array([0, 4])).tolist() == [1]


def test_missing_values_and_empty_groups() -> None:
    """NaN is passed over; a group of NaN and an empty group have no worst place."""
    values = np.array([np.nan, 2.0, np.nan, np.nan])
    assert first_largest(values, np.array([0, 2, 2, 4])).tolist() == [1, -1, -1]


def test_agrees_with_numpy() -> None:
    """On random groups it is numpy's nanargmax."""
    rng = np.random.default_rng(1)
    values = rng.normal(size=200)
    offsets = np.array([0, 3, 50, 51, 200])
    expected = [a + int(np.nanargmax(values[a:b])) for a, b in pairwise(offsets)]
    assert first_largest(values, offsets).tolist() == expected
