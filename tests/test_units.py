"""Conversions against published pairs and their own inverses."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline import units


@pytest.mark.parametrize(
    ("percent", "degrees"),
    [(0.0, 0.0), (100.0, 45.0), (60.0, 30.9638), (-100.0, -45.0), (57.7350269, 30.0), (173.2050808, 60.0)],
)
def test_percent_to_degrees(percent: float, degrees: float) -> None:
    """100 % is 45°; 57.735 % and 173.205 % are the tangents of 30° and 60° (any table of tangents)."""
    assert units.percent_to_degrees(percent) == pytest.approx(degrees, abs=1e-4)


@given(st.floats(-89.0, 89.0))
def test_there_and_back(degrees: float) -> None:
    """A grade comes back as the angle it was made of."""
    assert units.grade_to_degrees(units.degrees_to_grade(degrees)) == pytest.approx(degrees, abs=1e-9)


def test_arrays_and_missing_values() -> None:
    """Arrays keep their shape, missing values stay missing, scalars stay scalars."""
    grades = np.array([[0.0, 1.0], [np.nan, -1.0]], dtype=np.float32)
    degrees = units.grade_to_degrees(grades)
    np.testing.assert_allclose(degrees, [[0.0, 45.0], [np.nan, -45.0]])
    assert degrees.dtype == np.float64
    assert isinstance(units.grade_to_degrees(1.0), float)
    assert isinstance(units.degrees_to_grade(45.0), float)


def test_constants() -> None:
    """Standard gravity (3rd CGPM, 1901), international foot and inch (1959), km/h by definition."""
    assert units.GRAVITY == 9.80665
    assert units.FOOT_M == 0.3048
    assert pytest.approx(units.FOOT_M) == units.INCH_M * 12
    assert math.isclose(36.0 * units.KMH, 10.0)
