"""Bounds of the runoff settings."""

import pytest

from pipeline.ground.runoff import Runoff
from tests.ground.worlds import surfaces

SHIPPED = surfaces().runoff.model_dump()


@pytest.mark.parametrize(
    "change",
    [{"curve_number": 0.85}, {"hours": 0.0}, {"manning_n": 0.5}, {"bed_grade": 2.0}, {"width_m": 0.0}],
)
def test_wrong_units_are_refused(change: dict[str, float]) -> None:
    """Per cent for a share, no time at all, a grade in per cent."""
    with pytest.raises(ValueError, match=next(iter(change))):
        Runoff(**{**SHIPPED, **change})


def test_roughness_is_that_of_a_stony_brook() -> None:
    """Chow 1959, mountain streams with cobbles and large boulders: 0.04 to 0.07 (from memory, not verified)."""
    assert 0.04 <= SHIPPED["manning_n"] <= 0.07
