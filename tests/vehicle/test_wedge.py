"""The body that published angles describe."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.vehicle.geometry import (
    Tyres,
    approach_angle,
    breakover_angle,
    departure_angle,
    lowest_between,
    tangent_angle,
)
from pipeline.vehicle.wedge import Published, wedge_underbody

TYRES = Tyres(2.8, 0.38)
WAGON = Published(30.0, 22.0, 24.0, 0.21, 0.9, 1.1)


@settings(max_examples=60, derandomize=True, deadline=None)
@given(st.floats(15.0, 45.0), st.floats(10.0, 30.0), st.floats(15.0, 45.0), st.floats(0.12, 0.35), st.floats(0.7, 1.2))
def test_angles_are_the_published_ones(
    approach: float, breakover: float, departure: float, clearance: float, overhang: float
) -> None:
    """Whatever the figures, the body has exactly the published angles, or a smaller one where the clearance cuts."""
    body = wedge_underbody(Published(approach, breakover, departure, clearance, overhang, overhang), TYRES)
    assert approach_angle(body, TYRES) == pytest.approx(approach, abs=1e-6)
    assert departure_angle(body, TYRES) == pytest.approx(departure, abs=1e-6)
    assert breakover_angle(body, TYRES, along=False) == pytest.approx(breakover, abs=1e-6)
    assert lowest_between(body, TYRES) <= clearance + 1e-12
    assert np.all(np.diff(body[:, 0]) <= 0.0)


def test_straight_lines_leave_the_curve_by_a_hair() -> None:
    """Between the points the breakover is lower by less than a tenth of a degree, on the careful side."""
    body = wedge_underbody(WAGON, TYRES)
    along = breakover_angle(body, TYRES)
    assert 21.9 < along <= 22.0 + 1e-9


def test_no_body_with_these_figures_is_lower() -> None:
    """Lowering any point of the body by a millimetre breaks one of the published figures."""
    body = wedge_underbody(WAGON, TYRES)
    for point in range(len(body)):
        x, z = body[point]
        low = z - 0.001
        if x > 0:
            broken = tangent_angle(x, low, 0.38) < 30.0
        elif x < -2.8:
            broken = tangent_angle(-2.8 - x, low, 0.38) < 24.0
        else:
            broken = tangent_angle(-x, low, 0.38) + tangent_angle(2.8 + x, low, 0.38) < 22.0
        assert broken or low < 0.21


def test_apex_lies_midway_at_its_closed_form() -> None:
    """Midway each tyre sees half the breakover: h = (L/2)·tan(B/2) + r·(1 − 1/cos(B/2))."""
    body = wedge_underbody(WAGON, TYRES)
    middle = body[np.argmin(np.abs(body[:, 0] + 1.4))]
    half = np.radians(11.0)
    assert middle[0] == pytest.approx(-1.4)
    assert middle[1] == pytest.approx(1.4 * np.tan(half) + 0.38 * (1 - 1 / np.cos(half)), abs=1e-9)


def test_figures_that_disagree_give_the_lower_body() -> None:
    """A clearance above what the angles leave does not raise the body: 0.40 m cannot go with a breakover of 12°."""
    body = wedge_underbody(Published(20.0, 12.0, 20.0, 0.40, 0.8, 0.8), TYRES)
    assert breakover_angle(body, TYRES) == pytest.approx(12.0, abs=1e-6)
    assert lowest_between(body, TYRES) < 0.15


def test_overhang_that_the_tyre_outreaches() -> None:
    """A bumper behind the place where the ramp touches the tyre cannot have its angle: it lies at the clearance."""
    body = wedge_underbody(Published(60.0, 22.0, 24.0, 0.21, 0.30, 1.1), TYRES)
    np.testing.assert_array_equal(body[0], [0.30, 0.21])
    assert np.all(body[:, 1] > 0.0)
