"""General flood-hazard classes of AIDR Guideline 7-3 (2017), table 2."""

import numpy as np
import pytest

from pipeline.checks.ford.hazard import hazard_class


@pytest.mark.parametrize(
    ("depth", "flow", "name"),
    [
        (0.3, 1.0, "H1"),  # 0.3 m²/s at 0.3 m: all three at most
        (0.15, 2.0, "H1"),
        (0.31, 0.0, "H2"),
        (0.5, 1.2, "H2"),
        (0.3, 1.01, "H2"),
        (0.51, 0.0, "H3"),
        (1.2, 0.5, "H3"),
        (0.5, 1.3, "H4"),
        (2.0, 0.5, "H4"),
        (0.5, 2.0, "H4"),
        (0.1, 2.1, "H5"),
        (4.0, 1.0, "H5"),
        (1.0, 4.0, "H5"),
        (4.1, 0.0, "H6"),
        (1.0, 4.1, "H6"),
        (2.5, 2.0, "H6"),
    ],
)
def test_lowest_class_whose_limits_all_hold(depth: float, flow: float, name: str) -> None:
    """Depth × speed, depth and speed together; a limit counts as inside."""
    assert hazard_class(depth, flow) == name


def test_never_a_lower_class_for_deeper_or_faster_water() -> None:
    """Monotone in both."""
    number = np.vectorize(lambda name: int(name[1]))
    classes = number(hazard_class(*np.meshgrid(np.linspace(0.0, 5.0, 101), np.linspace(0.0, 5.0, 101))))
    assert (np.diff(classes, axis=0) >= 0).all()
    assert (np.diff(classes, axis=1) >= 0).all()


def test_water_that_nobody_timed_counts_as_still() -> None:
    """As the still-water limits do."""
    assert hazard_class(0.3, np.nan) == "H1"
